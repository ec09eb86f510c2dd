package daybook

import (
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
)

// Cell is what one worker does at one operation in one block.
type Cell struct {
	Worker    uuid.UUID `json:"worker"`
	Block     uuid.UUID `json:"block"`
	Operation uuid.UUID `json:"operation"`
}

// step is what stood in a cell before a change.
type step struct {
	Command uuid.UUID          `json:"command,omitzero"` // that changed it
	Cell    Cell               `json:"cell"`
	Lines   []intake.TallyLine `json:"lines,omitempty"`
}

// mostSteps is how many changes of counts can be taken back.
const mostSteps = 30

// Kept is a count of the crew's day that was sent and stands.
type Kept struct {
	ID     uuid.UUID
	Pieces payroll.Pieces
	Cell   Cell `gorm:"embedded"`
}

// KeptCounts reads the counts that came in on the crew's sheets of the day and stand, parts of lots left out. The sheets come first: SQLite, without statistics, would go through every count there is
// to find those without a lot.
func KeptCounts(tx *models.Tx, k Key) ([]Kept, error) {
	var kept []Kept
	err := tx.DB().Raw(`SELECT t.id, t.pieces, t.worker_id AS worker, t.block_id AS block, t.operation_id AS operation
		FROM tallies t WHERE t.employer_id = @employer AND t.superseded_by IS NULL AND t.lot_id IS NULL
			AND t.sheet_id IN (SELECT s.id FROM crew_sheets s WHERE s.employer_id = @employer AND s.workday = @day AND s.crew_id = @crew)
		ORDER BY t.seq`, map[string]any{"employer": tx.Employer, "day": k.Day, "crew": k.Crew}).Scan(&kept).Error
	return kept, err
}

func (c Cell) holds(l intake.TallyLine) bool {
	return l.WorkerID == c.Worker && l.BlockID == c.Block && l.OperationID == c.Operation
}

// Total is what a cell comes to: what was sent, as the draft corrects it, and what is new.
func (d *Draft) Total(c Cell, kept []Kept) payroll.Pieces {
	var total payroll.Pieces
	for _, k := range d.uncorrected(c, kept) {
		total += k.Pieces
	}
	for _, l := range d.Tallies {
		if c.holds(l) {
			total += l.Pieces
		}
	}
	return total
}

// uncorrected are the counts of a cell that were sent and that the draft does not correct.
func (d *Draft) uncorrected(c Cell, kept []Kept) (left []Kept) {
	for _, k := range kept {
		corrected := slices.ContainsFunc(d.Tallies, func(l intake.TallyLine) bool { return l.Supersedes != nil && *l.Supersedes == k.ID })
		if k.Cell == c && !corrected {
			left = append(left, k)
		}
	}
	return left
}

// Add changes a cell by so many pieces, fewer where they are negative, so that two who count at once add up.
func (d *Draft) Add(c Cell, more payroll.Pieces, kept []Kept, reason string) error {
	return d.count(c, d.Total(c, kept)+more, kept, reason)
}

// count brings a cell to a total. What is more than before is a new count; to come below what was sent corrects what was sent, and needs a reason.
func (d *Draft) count(c Cell, total payroll.Pieces, kept []Kept, reason string) error {
	if total < 0 {
		return models.FaultAt("/pieces", "fault.negative", nil)
	}
	if total == d.Total(c, kept) {
		return nil
	}
	before := step{d.command, c, d.linesOf(c)}
	d.Tallies = slices.DeleteFunc(d.Tallies, func(l intake.TallyLine) bool { return c.holds(l) && l.Supersedes == nil })
	switch more := total - d.Total(c, kept); {
	case more > 0:
		line := intake.TallyLine{ID: models.NewID(), WorkerID: c.Worker, BlockID: c.Block, OperationID: c.Operation, Pieces: more}
		if i := slices.IndexFunc(before.Lines, func(l intake.TallyLine) bool { return l.Supersedes == nil }); i >= 0 {
			line.ID = before.Lines[i].ID
		}
		d.Tallies = append(d.Tallies, line)
	case more < 0 && reason == "":
		return models.FaultAt("/reason", "fault.count_sent", payroll.Terms{"sent": d.Total(c, kept)})
	case more < 0:
		d.lower(c, -more, kept, reason)
	}
	d.Undo = append(d.Undo, before)
	d.Undo = d.Undo[max(0, len(d.Undo)-mostSteps):]
	return nil
}

// linesOf are the lines of a cell, apart from the draft.
func (d *Draft) linesOf(c Cell) (lines []intake.TallyLine) {
	for _, l := range d.Tallies {
		if c.holds(l) {
			lines = append(lines, l)
		}
	}
	return lines
}

// lower takes pieces off what was sent: off the corrections that wait already, then off the counts themselves, the last one first.
func (d *Draft) lower(c Cell, less payroll.Pieces, kept []Kept, reason string) {
	for i := range d.Tallies {
		if l := &d.Tallies[i]; c.holds(*l) {
			part := min(less, l.Pieces)
			l.Pieces, l.Reason = l.Pieces-part, reason
			less -= part
		}
	}
	left := d.uncorrected(c, kept)
	for i := len(left) - 1; i >= 0 && less > 0; i-- {
		part := min(less, left[i].Pieces)
		less -= part
		d.Tallies = append(d.Tallies, intake.TallyLine{
			ID: models.NewID(), WorkerID: c.Worker, BlockID: c.Block, OperationID: c.Operation, Pieces: left[i].Pieces - part,
			Correction: intake.Correction{Supersedes: &left[i].ID, Reason: reason},
		})
	}
}

// TakeBack undoes the last change of a count, and says of which cell.
func (d *Draft) TakeBack() (Cell, error) {
	if len(d.Undo) == 0 {
		return Cell{}, &models.Error{Kind: models.Conflict, Key: "problem.nothing_to_undo"}
	}
	last := d.Undo[len(d.Undo)-1]
	d.Undo = d.Undo[:len(d.Undo)-1]
	d.putBack(last)
	return last.Cell, nil
}

// TakeBackOf undoes the change of a count that one command made, unless the same was counted again since.
func (d *Draft) TakeBackOf(command uuid.UUID) error {
	i := slices.IndexFunc(d.Undo, func(s step) bool { return s.Command == command })
	if i < 0 {
		return &models.Error{Kind: models.Conflict, Key: "problem.nothing_to_undo"}
	}
	was := d.Undo[i]
	d.Undo = slices.Delete(d.Undo, i, i+1)
	if slices.ContainsFunc(d.Undo[i:], func(s step) bool { return s.Cell == was.Cell }) {
		return &models.Error{Kind: models.Conflict, Key: "problem.counted_since"}
	}
	d.putBack(was)
	return nil
}

// putBack brings a cell to what stood in it before a change.
func (d *Draft) putBack(was step) {
	d.Tallies = slices.DeleteFunc(d.Tallies, was.Cell.holds)
	d.Tallies = append(d.Tallies, was.Lines...)
}
