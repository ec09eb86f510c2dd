package pages

import (
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/daybook"
	"palmero/models/intake"
	"palmero/payroll"
)

// countPad is the pad on which a crew's pieces of one operation in one block are counted.
type countPad struct {
	*desk
	At     daybook.Cell             // without a worker: the block and the operation
	Op     *models.OperationContent // nil while nobody has said where the crew works
	Code   string
	Rows   []padRow
	Others []daybook.Cell // where else the crew counted today, without workers
	Undo   bool
}

// padRow is one worker's count.
type padRow struct {
	daybook.Person
	Count payroll.Pieces
	Typed string // what stands in the field
	Fault string
}

func showCounts(v *visit) (*answer, error) { return countsAgain(v, newForm(nil)) }

// padPlace is the block and operation that a form or an address names, or those of the place.
func (d *desk) padPlace(block, operation string) (at daybook.Cell) {
	if d.Draft.Place != nil {
		at.Block, at.Operation = d.Draft.Place.BlockID, d.Draft.Place.OperationID
	}
	if id, err := uuid.Parse(block); err == nil && d.BlockCode(id) != "" {
		at.Block = id
	}
	if id, err := uuid.Parse(operation); err == nil && d.Work(id) != nil {
		at.Operation = id
	}
	return at
}

func countsAgain(v *visit, f *Form) (*answer, error) {
	block, operation := v.gin.Query("block"), v.gin.Query("operation")
	if f.Value("block") != "" {
		block, operation = f.Value("block"), f.Value("operation")
	}
	return v.dayPage("day_counts", f, func(tx *models.Tx, d *desk) (any, error) {
		p := &countPad{desk: d, At: d.padPlace(block, operation), Undo: len(d.Draft.Undo) > 0}
		p.Op, p.Code = d.Work(p.At.Operation), d.BlockCode(p.At.Block)
		kept, err := daybook.KeptCounts(tx, d.Key)
		if err != nil {
			return nil, err
		}
		for _, person := range d.People {
			cell := p.At
			cell.Worker = person.ID
			total := d.Draft.Total(cell, kept)
			if !person.Here && total == 0 {
				continue
			}
			row := padRow{Person: person, Count: total, Typed: total.String(), Fault: f.Fault("n." + person.ID.String())}
			if f.Problem != "" && f.Has("n."+person.ID.String()) {
				row.Typed = f.Value("n." + person.ID.String())
			}
			p.Rows = append(p.Rows, row)
		}
		p.Others = elsewhere(d.Draft, kept, p.At)
		return p, nil
	})
}

// elsewhere lists where the crew counted today, but for one place.
func elsewhere(draft *daybook.Draft, kept []daybook.Kept, at daybook.Cell) (others []daybook.Cell) {
	seen := map[daybook.Cell]bool{at: true}
	add := func(c daybook.Cell) {
		c.Worker = uuid.Nil
		if !seen[c] {
			seen[c] = true
			others = append(others, c)
		}
	}
	for _, k := range kept {
		add(k.Cell)
	}
	for _, l := range draft.Tallies {
		add(daybook.Cell{Block: l.BlockID, Operation: l.OperationID})
	}
	return others
}

// count takes what was typed and pressed on the pad. Each count travels as the change from what was shown, so that two who count at once add up.
func count(v *visit) (*answer, error) {
	f, err := v.dayForm("block", "operation", "reason")
	if err != nil {
		return nil, err
	}
	done := "counted"
	var at daybook.Cell
	d, err := v.changeDay(f, func(tx *models.Tx, d *desk, draft *daybook.Draft) (err error) {
		at = d.padPlace(f.Value("block"), f.Value("operation"))
		if f.Value("undo") != "" {
			done = "taken_back"
			_, err = draft.TakeBack()
			return err
		}
		if at.Block == uuid.Nil || at.Operation == uuid.Nil {
			return &models.Error{Kind: models.Conflict, Key: "problem.no_place"}
		}
		kept, err := daybook.KeptCounts(tx, d.Key)
		if err != nil {
			return err
		}
		return countAll(d, draft, f, at, kept)
	})
	if err != nil {
		return v.again(f, err, countsAgain)
	}
	to := "/day/counts" + d.Ask()
	if place := d.Draft.Place; place == nil || at.Block != place.BlockID || at.Operation != place.OperationID {
		mark := "?"
		if strings.Contains(to, "?") {
			mark = "&"
		}
		to += mark + "block=" + at.Block.String() + "&operation=" + at.Operation.String()
	}
	return seeOther(to, done), nil
}

// countAll brings every worker's count to what was typed, and one of them up or down by the button that was pressed.
func countAll(d *desk, draft *daybook.Draft, f *Form, at daybook.Cell, kept []daybook.Kept) error {
	type change struct {
		cell daybook.Cell
		more payroll.Pieces
		name string
	}
	var changes []change
	for _, p := range d.People {
		name := "n." + p.ID.String()
		if !f.Has(name) {
			continue
		}
		f.Knows(name)
		more := f.Pieces(name) - f.Pieces("was."+p.ID.String())
		switch f.Value("step") {
		case "more:" + p.ID.String():
			more += 1000
		case "less:" + p.ID.String():
			more -= 1000
		}
		cell := at
		cell.Worker = p.ID
		if more != 0 {
			changes = append(changes, change{cell, more, name})
		}
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	var faults []payroll.Fault
	for _, c := range changes {
		err := draft.Add(c.cell, c.more, kept, f.Value("reason"))
		for _, fault := range models.FaultsOf(err) {
			if fault.Pointer == "/pieces" {
				fault.Pointer = "/" + strings.ReplaceAll(c.name, ".", "/")
			}
			faults = append(faults, fault)
		}
		if err != nil && models.KindOf(err) != models.Invalid {
			return err
		}
	}
	return models.Faulty(faults)
}

// lotPage is where a count is noted that several made together.
type lotPage struct {
	*desk
	Lots []intake.LotLine
}

func showLots(v *visit) (*answer, error) {
	return lotsAgain(v, newForm(map[string]string{"parting": intake.ByHeads}))
}

func lotsAgain(v *visit, f *Form) (*answer, error) {
	return v.dayPage("day_lots", f, func(_ *models.Tx, d *desk) (any, error) {
		if f.Problem == "" {
			for _, p := range d.Here() {
				f.Add("who", p.ID.String())
			}
		}
		return &lotPage{d, d.Draft.Lots}, nil
	})
}

func countLot(v *visit) (*answer, error) {
	f, err := v.dayForm("pieces", "parting", "who")
	if err != nil {
		return nil, err
	}
	d, err := v.changeDay(f, func(_ *models.Tx, d *desk, draft *daybook.Draft) error {
		pieces := f.Pieces("pieces")
		parts, err := f.lotParts(d)
		if err != nil {
			return err
		}
		return draft.AddLot(pieces, f.Value("parting"), parts)
	})
	if err != nil {
		return v.again(f, err, lotsAgain)
	}
	return seeOther("/day/lots"+d.Ask(), "lot"), nil
}

// lotParts are the parts of those who are ticked. Parts such as 2 and 1 become shares.
func (f *Form) lotParts(d *desk) (parts []intake.LotPart, err error) {
	var weights []payroll.Pieces
	for _, p := range d.Here() {
		if !f.Holds("who", p.ID.String()) {
			continue
		}
		part, field := intake.LotPart{ID: models.NewID(), WorkerID: p.ID}, "m."+p.ID.String()
		f.Knows(field)
		switch f.Value("parting") {
		case intake.ByMinutes:
			minutes := payroll.Minutes(f.Whole(field))
			part.Minutes = &minutes
		case intake.ByShare:
			weights = append(weights, f.weight(field))
		}
		parts = append(parts, part)
	}
	if err := f.Faulty(); err != nil || len(weights) == 0 {
		return parts, err
	}
	for i, share := range daybook.Shares(weights) {
		parts[i].Share = &share
	}
	return parts, nil
}

// mostWeight is more parts than anybody has in a lot.
const mostWeight = 1_000_000

// weight reads how many parts somebody has, which is more than none.
func (f *Form) weight(field string) payroll.Pieces {
	found := len(f.found)
	n := f.Pieces(field)
	if len(f.found) == found && (n <= 0 || n > mostWeight) {
		f.fault(field, "page.lead.part_needed", nil)
	}
	return n
}
