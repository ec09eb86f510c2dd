package pages

import (
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/plot"
	"palmero/models"
	"palmero/models/bunches"
	"palmero/models/heatday"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// bunchCheckPage is one check, bunch by bunch.
type bunchCheckPage struct {
	bunchLine
	Asked   []bunchPoint
	Each    []bunchSeen
	Palm    string
	Correct string // where it is corrected; "" where the caller may not
	Back    string
}

// bunchSeen is what was seen of one bunch: a mark for each point.
type bunchSeen struct {
	No    int
	Marks []Mark
}

func showBunchCheck(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	p := bunchCheckPage{Back: "/bunches"}
	err = v.view(func(tx *models.Tx) error {
		checks, err := models.List[models.BunchCheck](tx, models.Page{Limit: 1}, models.Equal("id", id), models.LedBy("bunch_checks", v.lead()))
		if err == nil && len(checks) == 0 {
			err = errNotFound
		}
		if err != nil {
			return err
		}
		lines, err := v.bunchLines(tx, checks)
		if err != nil {
			return err
		}
		p.bunchLine = lines[0]
		if p.Content.PalmID != nil {
			palm, err := models.Get[models.PalmContent](tx, *p.Content.PalmID)
			if err != nil {
				return err
			}
			p.Palm = palm.Content.Label
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	p.Asked = v.bunchPoints(p.Standard.Content.Points)
	for i, b := range p.Content.Bunches {
		p.Each = append(p.Each, bunchSeen{i + 1, v.bunchMarks(p.Asked, b.Marks)})
	}
	if v.caller.Role == models.RoleCrewLead {
		q := url.Values{"crew": {p.Content.CrewID.String()}, "on": {p.Content.Workday.String()}}
		p.Back = "/day/bunches?" + q.Encode()
		if p.SupersededBy == nil {
			q.Set("instead", p.ID.String())
			q.Set("enough", "yes")
			p.Correct = "/day/bunches/look?" + q.Encode()
		}
	}
	return show("bunch_check", &p), nil
}

// bunchMarks are what was seen of a bunch, beside its points.
func (v *visit) bunchMarks(points []bunchPoint, seen []models.BunchMark) []Mark {
	marks := make([]Mark, len(points))
	for i, p := range points {
		n := slices.IndexFunc(seen, func(m models.BunchMark) bool { return m.Point == p.Point })
		if n < 0 {
			marks[i] = Mark{"plain", v.say("page.bunch.not_looked", nil)}
			continue
		}
		m := &seen[n]
		words := v.say("page.bunch.no", nil)
		switch {
		case m.Number != nil:
			words = m.Number.String()
		case *m.Yes:
			words = v.say("page.bunch.yes", nil)
		}
		kind := "go"
		if bunches.Judge(p.StandardPoint, m) != bunches.AsAsked {
			kind = "look"
		}
		marks[i] = Mark{kind, words}
	}
	return marks
}

// ownBunches is what was seen of somebody's own bunches.
type ownBunches struct{ Lines []bunchLine }

func showOwnBunches(v *visit) (*answer, error) {
	var p ownBunches
	err := v.view(func(tx *models.Tx) error {
		checks, err := bunches.Latest(tx, bunchesShown, bunches.OfWorker(v.scope.Employer, *v.caller.Worker))
		if err == nil {
			p.Lines, err = v.bunchLines(tx, checks)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("my_bunches", p), nil
}

// bunchResults is what checks come to over some weeks.
type bunchResults struct {
	First, Last, Today dated.Date
	Operations         []bunchSum // with checks in these weeks
	Chosen             *bunchSum  // nil where there were none
	Plot               template.HTML
	Blocks, Others     []bunchSum // of the chosen operation; the others are workers where one crew's are shown, else crews
	Points             []bunchPointSum
	Recent             []bunchLine
	Crew               string // whose checks alone are shown; "" all that the caller may see
	ByWorker           bool

	ask bunches.Results
}

// bunchSum is what the checks of one of a kind come to.
type bunchSum struct {
	bunches.Group
	Name, More string // More stands behind the name, smaller
}

// bunchPointSum is a point with what was found of it in all.
type bunchPointSum struct {
	Name string
	bunches.OperationPoint
}

// ShareOf is how many of a hundred were as asked.
func (p bunchPointSum) ShareOf() int { return bunches.Share(p.AsAsked, p.LookedAt) }

// LastWeek is the share of the latest week with bunches.
func (s bunchSum) LastWeek() int {
	for _, w := range slices.Backward(s.Weeks) {
		if w.LookedAt > 0 {
			return w.Share()
		}
	}
	return -1
}

// Query is the address of the page with one thing changed.
func (p *bunchResults) Query(name, value string) string {
	q := url.Values{}
	if p.Chosen != nil {
		q.Set("operation", p.Chosen.ID.String())
	}
	if p.ask.Crew != nil {
		q.Set("crew", p.ask.Crew.String())
	}
	if p.Last.Before(p.Today) {
		q.Set("until", p.Last.String())
	}
	if value == "" {
		q.Del(name)
	} else {
		q.Set(name, value)
	}
	return "/bunches?" + q.Encode()
}

// Before and After are the addresses of the weeks before and after; After is "" where they are yet to come.
func (p *bunchResults) Before() string { return p.Query("until", p.First.AddDays(-1).String()) }

// After is the address of the weeks after these; "" where they are yet to come.
func (p *bunchResults) After() string {
	if !p.Last.Before(p.Today) {
		return ""
	}
	return p.Query("until", p.Last.AddDays(7*bunches.UsualWeeks).String())
}

func showBunchResults(v *visit) (*answer, error) {
	p := &bunchResults{}
	err := v.view(func(tx *models.Tx) error { return v.readBunchResults(tx, p) })
	if err != nil {
		return nil, err
	}
	if p.Chosen != nil {
		p.Plot = v.plotBunches(p.Chosen)
	}
	return show("bunch_results", p), nil
}

func (v *visit) readBunchResults(tx *models.Tx, p *bunchResults) (err error) {
	if p.Today, err = heatday.Today(tx); err != nil {
		return err
	}
	until := v.day("until")
	if until.IsZero() || until.After(p.Today) {
		until = p.Today
	}
	p.ask = bunches.Results{By: "operation", Lead: v.lead(), Last: until, First: until.AddDays(-7 * (bunches.UsualWeeks - 1))}
	crews, err := models.All[models.CrewContent](tx)
	if err != nil {
		return err
	}
	if id, err := uuid.Parse(v.gin.Query("crew")); err == nil && crews[id] != nil {
		p.ask.Crew, p.Crew = &id, crews[id].Content.Name
	}
	profile, err := tx.Profile()
	if err != nil {
		return err
	}
	p.First = models.WeekOf(p.ask.First, profile.Content.WeekStart)
	p.Last = models.WeekOf(until, profile.Content.WeekStart).AddDays(6)
	operations, err := models.All[models.OperationContent](tx)
	if err != nil {
		return err
	}
	groups, err := p.ask.Find(tx)
	if err != nil {
		return err
	}
	p.Operations = sums(groups, func(id uuid.UUID) (string, string) { return v.catalogue().Operation(operations[id].Content.Code), "" })
	for i := range p.Operations {
		if o := &p.Operations[i]; p.Chosen == nil || o.ID.String() == v.gin.Query("operation") {
			p.Chosen = o
		}
	}
	if p.Chosen == nil {
		return nil
	}
	return v.readBunchParts(tx, p, crews)
}

// readBunchParts reads the chosen operation's parts, by block and by whose bunches they are, and the latest checks.
func (v *visit) readBunchParts(tx *models.Tx, p *bunchResults, crews map[uuid.UUID]*models.Crew) error {
	for _, point := range p.Chosen.Points {
		p.Points = append(p.Points, bunchPointSum{v.pointName(point.NameEN, point.NameES), point})
	}
	blocks, err := models.All[models.BlockContent](tx)
	if err != nil {
		return err
	}
	ask := p.ask
	ask.By, ask.Operation, ask.CountsOnly = "block", &p.Chosen.ID, true
	groups, err := ask.Find(tx)
	if err != nil {
		return err
	}
	p.Blocks = sums(groups, func(id uuid.UUID) (string, string) { return blocks[id].Content.Code, blocks[id].Content.Variety })
	p.ByWorker = p.ask.Crew != nil || p.ask.Lead != nil
	if ask.By = "crew"; p.ByWorker {
		ask.By = "worker"
	}
	if groups, err = ask.Find(tx); err != nil {
		return err
	}
	var names map[uuid.UUID]string
	if p.ByWorker {
		ids := make([]uuid.UUID, len(groups))
		for i := range groups {
			ids[i] = groups[i].ID
		}
		if names, err = workerNames(tx, ids); err != nil {
			return err
		}
	}
	p.Others = sums(groups, func(id uuid.UUID) (string, string) {
		switch {
		case id == uuid.Nil:
			return v.say("page.bunch.nobody_named", nil), ""
		case p.ByWorker:
			return names[id], ""
		}
		return crews[id].Content.Name, ""
	})
	conditions := []models.Condition{models.Equal("operation_id", p.Chosen.ID), models.LedBy("bunch_checks", v.lead()), models.WorkedFrom(p.First), models.WorkedThrough(p.Last)}
	if p.ask.Crew != nil {
		conditions = append(conditions, models.Equal("crew_id", *p.ask.Crew))
	}
	checks, err := bunches.Latest(tx, bunchesShown, conditions...)
	if err == nil {
		p.Recent, err = v.bunchLines(tx, checks)
	}
	return err
}

// sums names groups and puts them in the order of their names.
func sums(groups []bunches.Group, name func(uuid.UUID) (string, string)) []bunchSum {
	all := make([]bunchSum, len(groups))
	for i, g := range groups {
		all[i].Group = g
		all[i].Name, all[i].More = name(g.ID)
	}
	slices.SortFunc(all, func(a, b bunchSum) int { return strings.Compare(a.Name, b.Name) })
	return all
}

// plotBunches draws the weeks of an operation: of a hundred bunches, how many were as asked.
func (v *visit) plotBunches(s *bunchSum) template.HTML {
	var bars []plot.Bar
	for _, w := range s.Weeks {
		bar := plot.Bar{Label: v.shortDay(w.Start), Share: w.Share()}
		if w.LookedAt > 0 {
			bar.Figure = v.percent(w.Share())
		}
		if len(bars) > 0 || w.LookedAt > 0 { // from the first week with a check on
			bars = append(bars, bar)
		}
	}
	terms := payroll.Terms{"operation": s.Name}
	return plot.Bars(plot.Words{ID: "bunch-weeks", Title: v.say("page.bunch.plot", terms), Text: v.say("page.bunch.plot_text", nil)}, bars)
}

// shortDay writes a day without its year.
func (v *visit) shortDay(d dated.Date) string {
	_, month, day := d.Civil()
	return v.say("page.bunch.short_day", payroll.Terms{"day": day, "month": v.say("month."+strconv.Itoa(int(month)), nil)})
}
