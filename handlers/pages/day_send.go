package pages

import (
	"net/http"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/failures"
	"palmero/models"
	"palmero/models/daybook"
	"palmero/models/intake"
	"palmero/payroll"
)

// sendPage is what waits to be sent, line by line.
type sendPage struct {
	*desk
	Lines []waitingLine
}

// waitingLine is one line in words.
type waitingLine struct {
	ID      uuid.UUID
	Who     string
	Words   string
	Runs    bool     // time without an end, which waits for it
	Refused []string // why it was not taken in
}

func showSending(v *visit) (*answer, error) { return sendingAgain(v, newForm(nil)) }

func sendingAgain(v *visit, f *Form) (*answer, error) { return v.sending(f, nil) }

func (v *visit) sending(f *Form, refused []daybook.Refusal) (*answer, error) {
	return v.dayPage("day_send", f, func(_ *models.Tx, d *desk) (any, error) {
		p := &sendPage{desk: d}
		p.tell(v)
		for _, r := range refused {
			words := v.inPageWords(r.Fault.Key, &failures.Failure{Terms: r.Fault.Terms})
			if !p.refuse(r.Line, words) {
				f.Faults = append(f.Faults, FieldFault{"", words})
			}
		}
		return p, nil
	})
}

func (p *sendPage) refuse(line uuid.UUID, words string) bool {
	for i := range p.Lines {
		if p.Lines[i].ID == line {
			p.Lines[i].Refused = append(p.Lines[i].Refused, words)
			return true
		}
	}
	return false
}

// tell puts the draft's lines into words.
func (p *sendPage) tell(v *visit) {
	c := v.catalogue()
	add := func(id uuid.UUID, who string, words ...string) *waitingLine {
		words = compact(words)
		p.Lines = append(p.Lines, waitingLine{ID: id, Who: who, Words: strings.Join(words, ", ")})
		return &p.Lines[len(p.Lines)-1]
	}
	for _, w := range p.Draft.NewWorkers {
		add(w.ID, w.Name, v.say("page.day.new_hand", nil))
	}
	for _, l := range p.Draft.Time {
		words := []string{v.say("time."+string(l.Kind), nil), p.Clock(l.Start) + "–" + p.Clock(l.End)}
		if l.OperationID != nil {
			words = append(words, c.Operation(p.Work(*l.OperationID).Code), p.BlockCode(*l.BlockID))
		}
		add(l.ID, p.Name(l.WorkerID), words...).Runs = l.End == nil
	}
	for _, l := range p.Draft.Tallies {
		work := p.Work(l.OperationID)
		words := []string{c.Count(l.Pieces, work.Unit), c.Operation(work.Code), p.BlockCode(l.BlockID)}
		if l.Supersedes != nil {
			words = append(words, v.say("page.day.corrects", payroll.Terms{"reason": l.Reason}))
		}
		add(l.ID, p.Name(l.WorkerID), words...)
	}
	for i := range p.Draft.Lots {
		l := &p.Draft.Lots[i]
		add(l.ID, p.NamesOf(*l), v.say("page.day.lot_of", payroll.Terms{"count": len(l.Parts)}), c.Count(l.Pieces, p.Work(l.OperationID).Unit), c.Operation(p.Work(l.OperationID).Code), p.BlockCode(l.BlockID))
	}
	for _, l := range p.Draft.Breaks {
		add(l.ID, p.Name(l.WorkerID), v.say("page.day.fact."+string(l.Fact), nil))
	}
}

// NamesOf are those who have a part of a lot.
func (d *desk) NamesOf(l intake.LotLine) string {
	names := make([]string, len(l.Parts))
	for i, part := range l.Parts {
		names[i] = d.Name(part.WorkerID)
	}
	return strings.Join(names, ", ")
}

func compact(words []string) (kept []string) {
	for _, w := range words {
		if w != "" {
			kept = append(kept, w)
		}
	}
	return kept
}

// sendDay sends what is complete, or takes one line out.
func sendDay(v *visit) (*answer, error) {
	f, err := v.dayForm("drop")
	if err != nil {
		return nil, err
	}
	if f.Value("drop") != "" {
		d, err := v.changeDay(f, func(_ *models.Tx, _ *desk, draft *daybook.Draft) error {
			line := f.Ref("drop")
			if err := f.Faulty(); err != nil {
				return err
			}
			return draft.Drop(line)
		})
		if err != nil {
			return v.again(f, err, sendingAgain)
		}
		return seeOther("/day/send"+d.Ask(), "dropped"), nil
	}
	var d *desk
	var done *daybook.Done
	err = v.in(func(tx *models.Tx) (err error) {
		if d, err = v.desk(tx, f.Value("crew"), f.Value("on")); err == nil {
			done, err = daybook.Send(tx, d.Key, f.command())
		}
		return err
	})
	switch {
	case err != nil:
		return v.again(f, err, sendingAgain)
	case len(done.Sent.Refused) > 0:
		return v.sentInPart(f, done.Sent)
	}
	return seeOther("/day/send"+d.Ask(), "sent"), nil
}

// sentInPart says which lines stay, and why. The form is a new one: what was good is sent.
func (v *visit) sentInPart(f *Form, sent *daybook.Sent) (*answer, error) {
	again := newForm(map[string]string{"crew": f.Value("crew"), "on": f.Value("on")})
	again.Problem = v.say("page.day.sent_in_part", payroll.Terms{"count": sent.Recorded})
	a, err := v.sending(again, sent.Refused)
	if err == nil {
		a.status = http.StatusUnprocessableEntity
	}
	return a, err
}
