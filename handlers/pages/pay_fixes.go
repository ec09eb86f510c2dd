package pages

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
)

// openProblem is what the fix of a problem needs.
type openProblem struct {
	listedProblem
	Version int64             // of the kept record that the fix changes
	First   map[string]string // what stands in the form at first
	Detail  []payrun.Detail   // what is recorded of the worker's day
	Reasons []Option          // of a question about a break
	Also    int               // how many others of the day ask the same
	AlsoSum payroll.Cents     // what their premiums come to
	Tallies []Option          // that may be corrected
	Started string            // of an open entry, on the garden's clock
	Rates   []Option          // where a rate may hold
	Langs   []Option

	Places, Blocks, Operations, TimeKinds []Option         // of work that nobody recorded
	Length                                *payroll.Minutes // of an entry without clock times
}

// openProblem reads what the fix of a problem needs.
func (v *visit) openProblem(tx *models.Tx, run *payrun.Run, p *listedProblem, all []payrun.KeptProblem) (*openProblem, error) {
	o := &openProblem{listedProblem: *p, First: map[string]string{}}
	if p.WorkerID != uuid.Nil && !p.Date.IsZero() {
		so, err := payrun.Preview(tx.Batch(), v.Books, p.WorkerID, run.WeekStart.Date)
		if err != nil {
			return nil, err
		}
		o.Detail = slices.DeleteFunc(so.Detail, func(d payrun.Detail) bool { return d.Date != p.Date })
	}
	switch p.Fix {
	case fixBreak:
		v.offerReasons(o, all)
	case fixCount:
		return o, v.offerTallies(tx, o)
	case fixTime:
		return o, v.offerEnd(tx, o)
	case fixRate:
		return o, v.offerRate(tx, o)
	case fixHand:
		return o, v.offerHand(tx, o)
	case fixHours, fixPieces:
		return o, v.offerWork(tx, o)
	case fixClock:
		return o, v.offerClock(tx, o)
	case fixDates:
		return o, v.offerDates(tx, o)
	}
	return o, nil
}

func (v *visit) offerReasons(o *openProblem, all []payrun.KeptProblem) {
	o.Reasons = []Option{{Value: string(payrun.PremiumOwed), Label: v.say("break_answer.owed", nil)}}
	for _, reason := range payrun.ReasonsFor(o.Question) {
		o.Reasons = append(o.Reasons, Option{Value: string(reason), Label: v.say("break_answer."+string(reason), nil)})
	}
	others := alike(&o.KeptProblem, all)
	o.Also, o.AlsoSum = len(others), sumOf(others)
	if o.Answer != nil {
		o.First["answer"], o.First["note"] = string(o.Answer.Outcome), o.Answer.Note
		if o.Answer.Reason != "" {
			o.First["answer"] = string(o.Answer.Reason)
		}
	}
}

// offerTallies offers the worker's own counts of the day to correct. Parts of lots are corrected with the whole lot, on its sheet.
func (v *visit) offerTallies(tx *models.Tx, o *openProblem) error {
	day := models.Day(o.Date)
	tallies, err := intake.WorkerTallies(tx, o.WorkerID, day, day, models.Page{Limit: mostCounts})
	for _, t := range tallies {
		if t.SupersededBy != nil || t.InLot || t.Operation != o.Terms["operation"] {
			continue
		}
		if block, ok := o.Terms["block"]; ok && t.Block != block {
			continue
		}
		c := v.catalogue()
		o.Tallies = append(o.Tallies, Option{Value: t.ID.String(), Label: c.Operation(t.Operation) + ", " + t.Block + ": " + c.Count(t.Pieces, t.Unit)})
	}
	return err
}

// correctCount puts another count in the place of one.
func (v *visit) correctCount(f *Form) error {
	id, pieces := f.Ref("tally"), f.Pieces("pieces")
	if f.Value("tally") == "" {
		f.fault("tally", "page.fault.choose", nil)
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	return v.in(func(tx *models.Tx) error {
		old, err := recordOf[models.TallyContent](tx, id)
		if err != nil {
			return err
		}
		_, _, err = intake.RecordTally(tx, intake.SingleTally{Workday: old.Content.Workday, RecordedAt: tx.Now, TallyLine: intake.TallyLine{
			ID: f.ID, WorkerID: old.Content.WorkerID, BlockID: old.Content.BlockID, OperationID: old.Content.OperationID, Pieces: pieces,
			Correction: intake.Correction{Supersedes: &old.ID, Reason: f.Value("reason")},
		}})
		return err
	})
}

// recordOf reads a record of work.
func recordOf[C any](tx *models.Tx, id uuid.UUID) (*models.Recorded[C], error) {
	found, err := models.List[models.Recorded[C]](tx, models.Page{Limit: 1}, models.Equal("id", id))
	if err == nil && len(found) == 0 {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	return &found[0], nil
}

// entryOf is the time entry that a problem is about, with the clock of its garden.
func entryOf(tx *models.Tx, p *payrun.KeptProblem) (*models.TimeEntry, *time.Location, error) {
	id, err := uuid.Parse(p.Subject)
	if err != nil {
		return nil, nil, err
	}
	entry, err := recordOf[models.TimeEntryContent](tx, id)
	if err != nil {
		return nil, nil, err
	}
	garden, err := models.Get[models.GardenContent](tx, entry.Content.GardenID)
	if err != nil {
		return nil, nil, err
	}
	zone, err := models.Zone(garden.Content.TimeZone)
	return entry, zone, err
}

func (v *visit) offerEnd(tx *models.Tx, o *openProblem) error {
	entry, zone, err := entryOf(tx, &o.KeptProblem)
	if err == nil && entry.Content.StartedAt != nil {
		o.Started = entry.Content.StartedAt.In(zone).Format(clock)
	}
	return err
}

// clock is a time of the day, as a field for one sends it.
const clock = "15:04"

// endTime puts an entry with its end in the place of an open one. An end that is not after the start is of the next day.
func (v *visit) endTime(f *Form, p *payrun.KeptProblem) error {
	end := readField(f, "end", "page.input.not_clock", func(s string) (time.Time, error) { return time.Parse(clock, s) })
	if f.Value("end") == "" {
		f.fault("end", "page.fault.end_needed", nil)
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	return v.in(func(tx *models.Tx) error {
		entry, zone, err := entryOf(tx, p)
		if err != nil {
			return err
		}
		c := entry.Content
		start := c.StartedAt.In(zone)
		at := time.Date(start.Year(), start.Month(), start.Day(), end.Hour(), end.Minute(), 0, 0, zone)
		if !at.After(start) {
			at = time.Date(start.Year(), start.Month(), start.Day()+1, end.Hour(), end.Minute(), 0, 0, zone)
		}
		_, _, err = intake.RecordTime(tx, intake.SingleTime{Workday: c.Workday, GardenID: c.GardenID, RecordedAt: tx.Now, TimeLine: intake.TimeLine{
			ID: f.ID, WorkerID: c.WorkerID, Kind: c.Kind, BlockID: c.BlockID, OperationID: c.OperationID, Start: c.StartedAt, End: &at,
			Correction: intake.Correction{Supersedes: &entry.ID, Reason: f.Value("reason")},
		}})
		return err
	})
}

// rateOf is the operation and the block that a problem wants a rate of.
func rateOf(p *payrun.KeptProblem) (operation, block uuid.UUID, err error) {
	const n = 36 // characters of an identifier
	if len(p.Subject) != 2*n {
		return operation, block, errNotFound
	}
	if operation, err = uuid.Parse(p.Subject[:n]); err == nil {
		block, err = uuid.Parse(p.Subject[n:])
	}
	return operation, block, err
}

// Where a rate holds that is given for a block without one.
const (
	rateInBlock = "block"
	rateAll     = "all"
)

func (v *visit) offerRate(tx *models.Tx, o *openProblem) error {
	_, id, err := rateOf(&o.KeptProblem)
	if err != nil {
		return err
	}
	block, err := models.Get[models.BlockContent](tx, id)
	if err != nil {
		return err
	}
	o.First["effective_on"], o.First["where"] = o.Date.String(), rateInBlock
	terms := payroll.Terms{"block": block.Content.Code, "operation": o.Terms["operation"]}
	o.Rates = []Option{{Value: rateInBlock, Label: v.say("page.pay.rate_in_block", terms)}, {Value: rateAll, Label: v.say("page.pay.rate_all", terms)}}
	return nil
}

// giveRate records a piece rate.
func (v *visit) giveRate(f *Form, p *payrun.KeptProblem) error {
	operation, block, err := rateOf(p)
	if err != nil {
		return err
	}
	c := models.PieceRateContent{OperationID: operation, BlockID: &block, Rate: f.Rate("rate"), EffectiveOn: models.Day(f.Day("effective_on"))}
	if f.Value("where") == rateAll {
		c.BlockID = nil
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	return v.in(func(tx *models.Tx) error {
		_, _, err := models.Record(tx, f.ID, c, models.Recording{RecordedAt: tx.Now})
		return err
	})
}

// Whom an unnamed hand turns out to be.
const (
	handKnown = "known"
	handNew   = "new"
)

func (v *visit) offerHand(tx *models.Tx, o *openProblem) error {
	w, err := models.Get[models.WorkerContent](tx, o.WorkerID)
	if err != nil {
		return err
	}
	c := w.Content
	o.Version = w.Version
	o.First["name"], o.First["address"], o.First["language"], o.First["started_on"] = c.Name, c.Address, c.Language, c.StartedOn.String()
	o.Langs = []Option{{Value: "en", Label: v.say("page.language_itself.en", nil)}, {Value: "es", Label: v.say("page.language_itself.es", nil)}}
	return nil
}

// settleHand says who a hand is that was known by name only: a worker who is on the books, or a new one.
func (v *visit) settleHand(f *Form, p *payrun.KeptProblem) error {
	known, started := f.Whole("number"), f.Day("started_on")
	switch f.Value("is") {
	case handKnown:
		if f.Value("number") == "" {
			f.fault("number", "page.fault.number_needed", nil)
		}
	case handNew:
		if strings.TrimSpace(f.Value("address")) == "" {
			f.fault("address", "fault.address_needed", nil)
		}
	default:
		f.fault("is", "page.fault.choose", nil)
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	return v.in(func(tx *models.Tx) error {
		w, err := models.Get[models.WorkerContent](tx, p.WorkerID)
		if err != nil {
			return err
		}
		c := w.Content
		if f.Value("is") == handKnown {
			same, err := workerByNumber(tx, known)
			if err != nil {
				return err
			}
			if same == nil {
				return models.FaultAt("/number", "page.fault.no_such_worker", payroll.Terms{"number": strconv.FormatInt(known, 10)})
			}
			c.SameAs = &same.ID
		} else {
			c.Provisional, c.Name, c.Address, c.Language, c.StartedOn = false, f.Value("name"), f.Value("address"), f.Value("language"), models.Day(started)
		}
		_, err = models.Update(tx, p.WorkerID, f.Version, c)
		return err
	})
}

// workerByNumber finds a worker by the short number; nil where there is none.
func workerByNumber(tx *models.Tx, number int64) (*models.Worker, error) {
	found, err := models.List[models.Worker](tx, models.Page{Limit: 1}, models.Equal("number", number))
	if err != nil || len(found) == 0 {
		return nil, err
	}
	return &found[0], nil
}
