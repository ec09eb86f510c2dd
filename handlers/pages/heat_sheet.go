package pages

import (
	"cmp"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/heatday"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// heatSheet is the plan of a day to be posted at the garden, once in each language, whatever that of the reader.
type heatSheet struct {
	heatPlace
	Sheets []postedSheet
}

// postedSheet is the sheet in one language.
type postedSheet struct {
	Language string
	Title    string
	Forecast string // "" where none is known: a line to write on is left
	Rules    []postedRule
	Watch    string
	Watchers string // who watches the others; "" where nobody is named
	Words    map[string]string
}

// postedRule is what is owed, and when.
type postedRule struct{ When, What, Authority string }

// postedWords are the sentences of every sheet.
var postedWords = []string{"when", "what", "source", "forecast", "any_time", "watch_title", "watchers", "signs_title", "signs", "help_title", "who_calls", "phone", "way_here", "caution"}

func showHeatSheet(v *visit) (*answer, error) {
	var page heatSheet
	var plan *heatday.Plan
	names := []string{}
	err := v.view(func(tx *models.Tx) (err error) {
		if page.heatPlace, err = v.heatPlace(tx, newForm(nil)); err != nil {
			return err
		}
		if plan, err = heatday.FindPlan(tx, figuring.Books(), page.Garden.ID, page.On, nil); err != nil || plan.Ready == nil {
			return err
		}
		names, err = namesOfWorkers(tx, plan.Ready.Content.Observers)
		return err
	})
	if err == errNoGarden {
		return show("heat_none", nil), nil
	}
	if err != nil {
		return nil, err
	}
	for _, language := range []string{text.Spanish, text.English} {
		page.Sheets = append(page.Sheets, page.posted(text.ForPages(language), plan, names))
	}
	return show("heat_sheet", page), nil
}

// namesOfWorkers are the names of some workers, in the order of their numbers.
func namesOfWorkers(tx *models.Tx, ids []uuid.UUID) ([]string, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	rows, err := models.List[models.Worker](tx, models.Page{Limit: len(ids)}, models.OneOf("id", ids))
	var names []string
	for i := range rows {
		names = append(names, rows[i].Content.Name)
	}
	return names, err
}

// posted writes the sheet in a catalogue's language.
func (p heatPlace) posted(words *text.Catalogue, plan *heatday.Plan, watchers []string) postedSheet {
	say := func(key string, terms payroll.Terms) string { return words.Say("page.heat.sheet."+key, terms) }
	s := postedSheet{Language: words.Language(), Words: map[string]string{}, Watchers: strings.Join(watchers, ", ")}
	s.Title = say("title", payroll.Terms{"garden": p.Garden.Content.Name, "day": words.Day(p.On)})
	if plan.Ready != nil {
		if t := plan.Ready.Content.ForecastHigh; t != nil {
			s.Forecast = say("degrees", terms(p.Degrees(t)))
		}
		s.Watchers = cmp.Or(s.Watchers, plan.Ready.Content.Observation)
	}
	for _, d := range plan.Asked {
		rule := postedRule{say("always", nil), words.Say("duty."+d.Code, d.Terms), words.Word("authority", d.Authority)}
		switch {
		case d.From != nil:
			rule.When = say("from", terms(p.Degrees(d.From)))
		case d.Over != nil:
			rule.When = say("over", terms(p.Degrees(d.Over)))
		}
		s.Rules = append(s.Rules, rule)
	}
	s.Watch = say("watch", payroll.Terms{"days": plan.NewDays, "away": plan.AwayDays})
	for _, key := range postedWords {
		s.Words[key] = say(key, nil)
	}
	return s
}

func terms(d Degrees) payroll.Terms { return payroll.Terms{"f": d.F, "c": d.C} }

// heatBrief is a garden's day in the heat in a sentence or two, for whoever leads a crew there.
type heatBrief struct {
	Mark  Mark
	Watch string // whom to watch; "" where nobody is to be watched
	Path  string
}

// heatBrief says what holds for a crew in a garden on a day. Garden nil is one that nobody has named yet: the only one that there is, or none.
func (v *visit) heatBrief(tx *models.Tx, garden *models.Garden, day dated.Date, crew uuid.UUID) (*heatBrief, error) {
	if garden == nil {
		gardens, err := models.List[models.Garden](tx, models.Page{Limit: 1})
		if err != nil || len(gardens) != 1 {
			return &heatBrief{Path: "/heat"}, err
		}
		garden = &gardens[0]
	}
	b := &heatBrief{Path: "/heat" + heatQuery(garden.ID, day), Mark: Mark{"look", v.say("page.heat.brief_unknown", nil)}}
	plan, err := heatday.FindPlan(tx, figuring.Books(), garden.ID, day, &crew)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, w := range plan.Watched {
		names = append(names, w.Name)
	}
	if len(names) > 0 {
		b.Watch = v.say("page.heat.brief_watch", payroll.Terms{"names": strings.Join(names, ", ")})
	}
	if plan.Temperature != nil {
		said := terms(degreesOf(plan.Temperature.Number))
		var duties []string
		for _, d := range plan.Duties {
			duties = append(duties, v.say("page.heat.duty."+d.Code, nil))
		}
		said["duties"] = strings.Join(duties, ", ")
		b.Mark = Mark{"plain", v.say("page.heat.brief", said)}
	}
	return b, nil
}
