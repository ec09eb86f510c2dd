package pages

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// The fixes of problems that ask for work which nobody recorded, or recorded without its clock times, and for the days between which somebody is employed.
const (
	fixHours  fix = "hours"  // enter the time of a day, or say why there is none
	fixPieces fix = "pieces" // enter a count, or say why there is none
	fixClock  fix = "clock"  // enter the clock times of a bare length
	fixDates  fix = "dates"  // correct the days between which a worker is employed, or say why they are right
	fixWages  fix = "wages"  // look at the rates
	fixRuns   fix = "runs"   // look at the other pay runs
)

// payFixes are the fixes of problems by their codes, for those whose fix does not follow from their kind.
var payFixes = map[string]fix{
	"pay_problem.on_roll_without_time":  fixHours,
	"note.no_time":                      fixHours,
	"note.no_pieces":                    fixPieces,
	"pay_problem.minutes_without_clock": fixClock,
	"pay_problem.not_employed":          fixDates,
	"pay_problem.block_ended":           fixDecide,
	"pay_problem.operation_ended":       fixDecide,
	"note.below_minimum":                fixWages,
	"pay_problem.bonus_week_open":       fixRuns,
	"pay_problem.contract_week_open":    fixRuns,
}

// payUnfixed says, by the code of a problem that has no fix on a page, why: under "page.pay.unfixed." and this.
var payUnfixed = map[string]string{
	"pay_problem.no_final_pay_rule": "find_out",
	"pay_problem.heat_unknown":      "heat",
	"pay_problem.two_rulebooks":     "explains", // once it is confirmed
	"note.makeup_due":               "check",
	"note.day_of_rest":              "find_out",
	"note.rest_short":               "explains",
	"note.meal_due":                 "explains",
	"note.second_meal_due":          "explains",
	"note.meal_short":               "explains",
	"note.meal_late":                "explains",
}

// payFixAt is the page on which a problem is settled that is not about a rulebook; "" where it is none.
func payFixAt(p *listedProblem) string {
	switch p.Fix {
	case fixWages:
		return "/rates"
	case fixRuns:
		return "/pay"
	}
	return ""
}

// payUnfixedWhy says why a problem has no fix; "" where it has one.
func payUnfixedWhy(c *text.Catalogue, p *listedProblem) string {
	if p.Fix != fixNone {
		return ""
	}
	return c.Say("page.pay.unfixed."+cmp.Or(payUnfixed[p.Code], "records"), nil)
}

// payProblemWords says a problem for people at a page: its own words for pages where there are any, and for what the records do not let be reckoned a frame around it.
func payProblemWords(c *text.Catalogue, p *payrun.KeptProblem, otherwise string) string {
	switch key := "page." + p.Code; {
	case p.Question != nil:
		return otherwise
	case c.Has(key):
		return c.Say(key, p.Terms)
	case strings.HasPrefix(p.Code, "fault."):
		return c.Say("page.pay.cannot_reckon", payroll.Terms{"what": otherwise})
	}
	return otherwise
}

// offerWork offers where work may have been on the problem's day, at which operations, and of which kind time may be.
func (v *visit) offerWork(tx *models.Tx, o *openProblem) error {
	gardens, err := models.All[models.GardenContent](tx)
	if err != nil {
		return err
	}
	blocks, err := models.All[models.BlockContent](tx, models.InUseOn(o.Date))
	if err != nil {
		return err
	}
	operations, err := models.All[models.OperationContent](tx, models.InUseOn(o.Date))
	if err != nil {
		return err
	}
	for id, b := range blocks {
		label := b.Content.Code
		if len(gardens) > 1 {
			label = gardens[b.Content.GardenID].Content.Name + ", " + label
		}
		o.Blocks = append(o.Blocks, Option{Value: id.String(), Label: label})
	}
	slices.SortFunc(o.Blocks, byLabel)
	for id, g := range gardens {
		o.Places = append(o.Places, Option{Value: id.String(), Label: v.say("page.pay.no_block", payroll.Terms{"garden": g.Content.Name})})
	}
	slices.SortFunc(o.Places, byLabel)
	o.First["place"] = o.Places[0].Value
	o.Places = append(o.Places, o.Blocks...)
	for id, op := range operations {
		o.Operations = append(o.Operations, Option{Value: id.String(), Label: v.catalogue().Operation(op.Content.Code)})
	}
	slices.SortFunc(o.Operations, byLabel)
	if o.Fix == fixHours {
		o.Operations = slices.Insert(o.Operations, 0, Option{Label: v.say("page.pay.no_operation", nil)})
	}
	for _, kind := range []payroll.TimeKind{payroll.Hourly, payroll.Piece, payroll.Nonproductive} {
		o.TimeKinds = append(o.TimeKinds, Option{Value: string(kind), Label: v.say("time."+string(kind), nil)})
	}
	return nil
}

// Whether there was work of which nothing is recorded.
const (
	workWas  = "was"
	workNone = "none"
)

// settleWork enters what was left out, or keeps the reason why nothing was.
func (v *visit) settleWork(f *Form, run uuid.UUID, p *payrun.KeptProblem, enter func(*Form, *payrun.KeptProblem) error) error {
	switch f.Value("was") {
	case workWas:
		return enter(f, p)
	case workNone:
		if strings.TrimSpace(f.Value("decision")) == "" {
			f.fault("decision", "page.fault.why_none", nil)
			return f.Faulty()
		}
		return v.in(func(tx *models.Tx) error { return payrun.DecideProblem(tx, run, p.No, f.Value("decision")) })
	}
	f.fault("was", "page.fault.choose", nil)
	return f.Faulty()
}

// clockField is a time of the day in a form; ok is false where it is empty or none.
func (f *Form) clockField(name string) (at time.Time, ok bool) {
	at = readField(f, name, "page.input.not_clock", func(s string) (time.Time, error) { return time.Parse(clock, s) })
	return at, f.Value(name) != "" && f.Fault(name) == ""
}

// workdayClock tells the time of clocks in a workday.
type workdayClock struct {
	day   dated.Date
	begin int // minutes after midnight
	zone  *time.Location
}

// at is a time of the workday; before the workday begins on the clock it is of the next day.
func (w workdayClock) at(clock time.Time) time.Time {
	minutes, day := clock.Hour()*60+clock.Minute(), w.day
	if minutes < w.begin {
		day = day.AddDays(1)
	}
	return models.WorkdayBegin(day, minutes, w.zone)
}

// until is the next such time after an instant.
func (w workdayClock) until(clock, after time.Time) time.Time {
	at := w.at(clock)
	if !at.After(after) {
		at = models.WorkdayBegin(dated.DateOf(at).AddDays(1), clock.Hour()*60+clock.Minute(), w.zone)
	}
	return at
}

func workdayClockOf(tx *models.Tx, day dated.Date, garden uuid.UUID) (w workdayClock, err error) {
	profile, err := tx.Profile()
	if err != nil {
		return w, err
	}
	g, err := models.Get[models.GardenContent](tx, garden)
	if err != nil {
		return w, err
	}
	zone, err := models.Zone(g.Content.TimeZone)
	return workdayClock{day, int(profile.Content.WorkdayStart), zone}, err
}

// enterHours records time of the problem's day: one stretch of a kind, parted by a meal period where one is given.
func (v *visit) enterHours(f *Form, p *payrun.KeptProblem) error {
	place, operation := f.Ref("place"), f.Ref("operation")
	start, starts := f.clockField("start")
	end, ends := f.clockField("end")
	mealFrom, mealStarts := f.clockField("meal_from")
	mealTo, mealEnds := f.clockField("meal_to")
	if err := f.Faulty(); err != nil {
		return err
	}
	switch {
	case !starts:
		f.fault("start", "page.fault.start_needed", nil)
	case !ends:
		f.fault("end", "page.fault.end_needed", nil)
	case mealStarts && !mealEnds:
		f.fault("meal_to", "page.fault.end_needed", nil)
	case mealEnds && !mealStarts:
		f.fault("meal_from", "page.fault.start_needed", nil)
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	return v.in(func(tx *models.Tx) error {
		line := intake.TimeLine{ID: f.ID, WorkerID: p.WorkerID, Kind: payroll.TimeKind(f.Value("kind"))}
		if operation != uuid.Nil {
			line.OperationID = &operation
		}
		garden, err := gardenOf(tx, place, &line)
		if err != nil {
			return err
		}
		w, err := workdayClockOf(tx, p.Date, garden)
		if err != nil {
			return err
		}
		from := w.at(start)
		until := w.until(end, from)
		lines := []intake.TimeLine{stretch(line, "", from, until)}
		if mealStarts {
			meal := line
			meal.Kind, meal.BlockID, meal.OperationID = payroll.MealPeriod, nil, nil
			mealBegin := w.until(mealFrom, from)
			mealEnd := w.until(mealTo, mealBegin)
			if !mealEnd.Before(until) {
				return models.FaultAt("/meal_to", "page.fault.meal_outside", nil)
			}
			lines = []intake.TimeLine{stretch(line, "", from, mealBegin), stretch(meal, "meal", mealBegin, mealEnd), stretch(line, "after", mealEnd, until)}
		}
		for _, l := range lines {
			if _, _, err := intake.RecordTime(tx, intake.SingleTime{Workday: models.Day(p.Date), GardenID: garden, RecordedAt: tx.Now, TimeLine: l}); err != nil {
				return err
			}
		}
		return nil
	})
}

// stretch is a line from one time to another. Those that one form makes have identifiers that follow from the form's, so that they are made once.
func stretch(l intake.TimeLine, part string, from, until time.Time) intake.TimeLine {
	if part != "" {
		l.ID = uuid.NewSHA1(l.ID, []byte(part))
	}
	l.Start, l.End = &from, &until
	return l
}

// gardenOf is the garden of a place that was chosen: a block, which goes into the line, or the garden itself.
func gardenOf(tx *models.Tx, place uuid.UUID, line *intake.TimeLine) (uuid.UUID, error) {
	blocks, err := models.List[models.Block](tx, models.Page{Limit: 1}, models.Equal("id", place))
	if err != nil {
		return uuid.Nil, err
	}
	if len(blocks) == 0 {
		_, err := models.Get[models.GardenContent](tx, place)
		return place, err
	}
	line.BlockID = &place
	return blocks[0].Content.GardenID, nil
}

// enterPieces records a count of the problem's day.
func (v *visit) enterPieces(f *Form, p *payrun.KeptProblem) error {
	block, operation, pieces := f.Ref("block"), f.Ref("operation"), f.Pieces("pieces")
	if err := f.Faulty(); err != nil {
		return err
	}
	return v.in(func(tx *models.Tx) error {
		_, _, err := intake.RecordTally(tx, intake.SingleTally{Workday: models.Day(p.Date), RecordedAt: tx.Now, TallyLine: intake.TallyLine{ID: f.ID, WorkerID: p.WorkerID,
			BlockID: block, OperationID: operation, Pieces: pieces}})
		return err
	})
}

// offerClock tells the length that was recorded.
func (v *visit) offerClock(tx *models.Tx, o *openProblem) error {
	entry, _, err := entryOf(tx, &o.KeptProblem)
	if err == nil && entry.Content.Minutes != nil {
		o.Length = entry.Content.Minutes
	}
	return err
}

// giveClock puts an entry with its clock times in the place of a bare length.
func (v *visit) giveClock(f *Form, p *payrun.KeptProblem) error {
	start, starts := f.clockField("start")
	end, ends := f.clockField("end")
	if f.Faulty() == nil && !starts {
		f.fault("start", "page.fault.start_needed", nil)
	}
	if f.Faulty() == nil && !ends {
		f.fault("end", "page.fault.end_needed", nil)
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	return v.in(func(tx *models.Tx) error {
		entry, _, err := entryOf(tx, p)
		if err != nil {
			return err
		}
		c := entry.Content
		w, err := workdayClockOf(tx, c.Workday.Date, c.GardenID)
		if err != nil {
			return err
		}
		from := w.at(start)
		until := w.until(end, from)
		_, _, err = intake.RecordTime(tx, intake.SingleTime{Workday: c.Workday, GardenID: c.GardenID, RecordedAt: tx.Now, TimeLine: intake.TimeLine{
			ID: f.ID, WorkerID: c.WorkerID, Kind: c.Kind, BlockID: c.BlockID, OperationID: c.OperationID, Start: &from, End: &until,
			Correction: intake.Correction{Supersedes: &entry.ID, Reason: f.Value("reason")},
		}})
		return err
	})
}

func (v *visit) offerDates(tx *models.Tx, o *openProblem) error {
	w, err := models.Get[models.WorkerContent](tx, o.WorkerID)
	if err != nil {
		return err
	}
	o.Version = w.Version
	o.First["started_on"] = w.Content.StartedOn.String()
	if !w.Content.EndedOn.IsZero() {
		o.First["ended_on"] = w.Content.EndedOn.String()
	}
	return nil
}

// giveDates corrects the days between which a worker is employed.
func (v *visit) giveDates(f *Form, p *payrun.KeptProblem) error {
	started, ended := f.Day("started_on"), f.Day("ended_on")
	if err := f.Faulty(); err != nil {
		return err
	}
	return v.in(func(tx *models.Tx) error {
		w, err := models.Get[models.WorkerContent](tx, p.WorkerID)
		if err != nil {
			return err
		}
		c := w.Content
		c.StartedOn, c.EndedOn = models.Day(started), models.Day(ended)
		_, err = models.Update(tx, p.WorkerID, f.Version, c)
		return err
	})
}

// Unanswered is the message of what is paid while nobody answers a question about a break.
func (o *openProblem) Unanswered() string {
	if o.Question.Premium == 0 {
		return "page.pay.unanswered_free"
	}
	return "page.pay.unanswered"
}
