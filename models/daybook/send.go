package daybook

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
)

// Sent is what became of a sending.
type Sent struct {
	Recorded int       `json:"recorded"` // lines
	Refused  []Refusal `json:"refused"`  // the lines stay in the draft
}

// Refusal is why a line was not taken in; of the nil UUID where it is about none in particular.
type Refusal struct {
	Line  uuid.UUID     `json:"line"`
	Fault payroll.Fault `json:"fault"`
}

func refusals(r *intake.Receipt) (all []Refusal) {
	for _, f := range r.Faults {
		one := Refusal{Fault: f}
		for _, line := range r.Lines {
			if f.Pointer == line.Pointer || strings.HasPrefix(f.Pointer, line.Pointer+"/") {
				one.Line = line.ID
			}
		}
		all = append(all, one)
	}
	return all
}

// Send sends what is complete as a crew sheet of its own, under the command's identifier, as the crew's lead. Good lines are taken in even where others are refused; time that still runs waits for its end.
func Send(tx *models.Tx, k Key, command Command) (*Done, error) {
	return Change(tx, k, command, func(d *Draft) error { return d.send(tx, k, tx.Now) })
}

// send is Send as part of a command, at a moment by the clock of whoever gives it. Time that ended later waits: what was recorded at a moment does not tell of what came after.
func (d *Draft) send(tx *models.Tx, k Key, at time.Time) error {
	s, err := d.sheet(k, at)
	if err != nil {
		return err
	}
	receipt, err := intake.SubmitAsLead(tx, *s, intake.GoodLines)
	if err != nil {
		return err
	}
	d.sent = &Sent{Refused: refusals(receipt)}
	for _, line := range receipt.Lines {
		if line.Outcome != intake.Refused {
			d.sent.Recorded++
		}
	}
	d.leave(receipt)
	return nil
}

// sheet is what is complete at a moment, as a crew sheet.
func (d *Draft) sheet(k Key, at time.Time) (*intake.Sheet, error) {
	if err := d.placed(); err != nil {
		return nil, err
	}
	s := &intake.Sheet{
		ID: d.command, CrewID: k.Crew, Workday: k.Day, GardenID: d.Place.GardenID, RecordedAt: at, Roll: d.Roll,
		NewWorkers: d.NewWorkers, Tallies: d.Tallies, Lots: d.Lots, Breaks: d.Breaks,
	}
	for _, l := range d.Time {
		if l.End != nil && !l.End.After(at.Add(fastClock)) {
			s.Time = append(s.Time, l)
		}
	}
	slices.SortStableFunc(s.Time, func(a, b intake.TimeLine) int { return a.Start.Compare(*b.Start) })
	if len(s.NewWorkers)+len(s.Time)+len(s.Tallies)+len(s.Lots)+len(s.Breaks) == 0 {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.nothing_to_send"}
	}
	return s, nil
}

// leave takes out of the draft what was taken in.
func (d *Draft) leave(r *intake.Receipt) {
	in := map[uuid.UUID]bool{}
	for _, line := range r.Lines {
		in[line.ID] = line.Outcome != intake.Refused
	}
	d.NewWorkers = slices.DeleteFunc(d.NewWorkers, func(l intake.NewWorker) bool { return in[l.ID] })
	d.Time = slices.DeleteFunc(d.Time, func(l intake.TimeLine) bool { return in[l.ID] })
	d.Tallies = slices.DeleteFunc(d.Tallies, func(l intake.TallyLine) bool { return in[l.ID] })
	d.Lots = slices.DeleteFunc(d.Lots, func(l intake.LotLine) bool { return in[l.ID] })
	d.Breaks = slices.DeleteFunc(d.Breaks, func(l intake.BreakLine) bool { return in[l.ID] })
	d.Undo = nil
}

// Moment reads a time of day on the garden's clock as an instant of a workday that begins at so many minutes after midnight; "" is now, cut to the minute.
func Moment(tx *models.Tx, day models.Date, text string, zone *time.Location) (time.Time, error) {
	profile, err := tx.Profile()
	if err != nil {
		return time.Time{}, err
	}
	now := tx.Now.Truncate(time.Minute)
	if text == "" {
		return now, nil
	}
	hour, minute, ok := strings.Cut(text, ":")
	h, err1 := strconv.Atoi(hour)
	m, err2 := strconv.Atoi(minute)
	if !ok || err1 != nil || err2 != nil || h < 0 || h > 23 || m < 0 || m > 59 {
		return time.Time{}, models.FaultAt("/at", "fault.not_a_time", payroll.Terms{"given": text})
	}
	at := models.WorkdayBegin(day.Date, h*60+m, zone)
	if h*60+m < int(profile.Content.WorkdayStart) {
		at = models.WorkdayBegin(day.AddDays(1), h*60+m, zone)
	}
	return at.UTC(), past(tx, at)
}

// fastClock is how much a clock may be ahead without meaning anything by it.
const fastClock = time.Minute

// past wants a moment not to lie ahead.
func past(tx *models.Tx, at time.Time) error {
	if at.After(tx.Now.Truncate(time.Minute).Add(fastClock)) {
		return models.FaultAt("/at", "fault.in_the_future", nil)
	}
	return nil
}
