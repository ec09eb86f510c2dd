// Package progress tells how a season goes: what was worked of what there is to do, and what its labor cost, by operation, block and week.
package progress

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Season is a year's work: that of the weeks which begin in it.
type Season struct {
	Year        int
	First, Last dated.Date // of the first week and of the last, both whole
	Settled     dated.Date // the last day of the weeks whose regular pay is approved; zero while there are none
	Operations  []*Operation
	Unplaced    payroll.Cents // what labor of settled weeks cost without an operation or a block: time without a place, leave, money for other weeks
	Total       payroll.Cents // all that labor of settled weeks cost

	settled map[dated.Date]bool
}

// Gardens are the names of the gardens that have blocks, in order.
func (op *Operation) Gardens() (names []string) {
	for _, b := range op.Blocks {
		if !slices.Contains(names, b.Garden) {
			names = append(names, b.Garden)
		}
	}
	return names
}

// Part is how far something is, and what it cost.
type Part struct {
	Worked   payroll.Pieces
	Expected payroll.Pieces // 0: unknown
	Paid     payroll.Pieces // of those worked, the ones in weeks whose pay is approved
	Cost     payroll.Cents  // of the labor of those weeks
}

// Share is how many percent of what is expected were worked, rounded down; -1 where nobody knows what to expect. Work that is done in several passes goes past 100.
func (p *Part) Share() int {
	if p.Expected <= 0 {
		return -1
	}
	return int(p.Worked * 100 / p.Expected)
}

// Each is what labor cost a piece, to the nearest ten-thousandth; nil where nothing of it is paid yet.
func (p *Part) Each() *payroll.Rate {
	if p.Paid <= 0 {
		return nil
	}
	each := payroll.Rate((int64(p.Cost)*100*1000 + int64(p.Paid)/2) / int64(p.Paid))
	return &each
}

func (p *Part) add(other Part) {
	p.Worked += other.Worked
	p.Expected += other.Expected
	p.Paid += other.Paid
	p.Cost += other.Cost
}

// Operation is an operation of the season.
type Operation struct {
	ID         uuid.UUID
	Code, Unit string
	Part
	Blocks []*Block // by garden and code; those that have ended only where they were worked
	Weeks  []Week   // from the season's first, every one until the last with work

	gone bool // it ended, so that nothing more is to come of it in the season
}

// Block is how far an operation is in a block.
type Block struct {
	Garden, Code, Variety string
	Palms                 int64
	EndedOn               dated.Date // its last day, where that is behind
	Part
}

// Week is what was worked in a week.
type Week struct {
	Start dated.Date
	Part
}

// Read reads a season.
func Read(tx *models.Tx, year int) (*Season, error) {
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	s := &Season{Year: year, settled: map[dated.Date]bool{}}
	s.First, s.Last = weeksOf(year, profile)
	if err := s.readSettled(tx); err != nil {
		return nil, err
	}
	blocks, err := s.readPlaces(tx)
	if err != nil {
		return nil, err
	}
	if err := s.count(tx, blocks); err != nil {
		return nil, err
	}
	if err := s.cost(tx); err != nil {
		return nil, err
	}
	s.leaveOut()
	return s, nil
}

// leaveOut drops what had ended and was not worked in the season.
func (s *Season) leaveOut() {
	for _, op := range s.Operations {
		op.Blocks = slices.DeleteFunc(op.Blocks, func(b *Block) bool { return !b.EndedOn.IsZero() && b.untouched() })
	}
	s.Operations = slices.DeleteFunc(s.Operations, func(op *Operation) bool { return op.gone && op.untouched() })
}

// untouched tells whether nothing was worked and nothing paid.
func (p *Part) untouched() bool { return p.Worked == 0 && p.Cost == 0 }

// weeksOf returns the first day of the first week that begins in a year, and the last of the last.
func weeksOf(year int, profile *models.EmployerProfile) (first, last dated.Date) {
	first = firstWeek(year, profile)
	return first, firstWeek(year+1, profile).AddDays(-1)
}

func firstWeek(year int, profile *models.EmployerProfile) dated.Date {
	return models.WeekOf(dated.NewDate(year, 1, 7), profile.Content.WeekStart)
}

// readSettled reads which weeks' regular pay is approved.
func (s *Season) readSettled(tx *models.Tx) error {
	var starts []models.Date
	err := tx.DB().Model(&payrun.Run{}).Where("kind = ? AND state <> ? AND week_start BETWEEN ? AND ?", payrun.Regular, payrun.Draft, models.Day(s.First), models.Day(s.Last)).
		Order("week_start").Pluck("week_start", &starts).Error
	for _, d := range starts {
		s.settled[d.Date] = true
		s.Settled = d.AddDays(6)
	}
	return err
}

// readPlaces reads operations and blocks, with what is to be expected of each.
func (s *Season) readPlaces(tx *models.Tx) ([]models.Block, error) {
	var operations []models.Operation
	if err := tx.DB().Order("seq").Find(&operations).Error; err != nil {
		return nil, err
	}
	gardens, err := models.All[models.GardenContent](tx)
	if err != nil {
		return nil, err
	}
	var blocks []models.Block
	if err := tx.DB().Find(&blocks).Error; err != nil {
		return nil, err
	}
	slices.SortFunc(blocks, func(a, b models.Block) int { // by bytes, whatever the database's collation
		return cmp.Or(cmp.Compare(gardens[a.Content.GardenID].Content.Name, gardens[b.Content.GardenID].Content.Name), cmp.Compare(a.Content.Code, b.Content.Code))
	})
	now, err := payrun.Today(tx)
	if err != nil {
		return nil, err
	}
	if now.After(s.Last) {
		now = s.Last
	}
	for _, o := range operations {
		op := &Operation{ID: o.ID, Code: o.Content.Code, Unit: o.Content.Unit, gone: !o.Content.InUse(now)}
		for _, b := range blocks {
			block := &Block{Garden: gardens[b.Content.GardenID].Content.Name, Code: b.Content.Code, Variety: b.Content.Variety, Palms: b.Content.Palms, Part: Part{Expected: expected(o.Content.Unit, &b.Content)}}
			if !b.Content.InUse(now) {
				block.EndedOn = b.Content.EndedOn.Date
			}
			op.Blocks = append(op.Blocks, block)
		}
		s.Operations = append(s.Operations, op)
	}
	return blocks, nil
}

// expected is how many pieces of a unit a block has: its palms, or the bunches on them; 0 where that is not known.
func expected(unit string, b *models.BlockContent) payroll.Pieces {
	switch unit {
	case "palm":
		return payroll.Pieces(b.Palms * 1000)
	case "bunch":
		return payroll.Pieces(b.Palms * b.BunchesPerPalm * 1000)
	}
	return 0
}

// count adds what was counted. Of a block that has ended nothing is expected where nobody worked. A block of which nobody knows what to expect makes that unknown for the whole operation, unless nothing was worked there.
func (s *Season) count(tx *models.Tx, blocks []models.Block) error {
	sums, err := models.CountedBetween(tx, s.First, s.Last)
	if err != nil {
		return err
	}
	place := map[uuid.UUID]int{}
	for i := range blocks {
		place[blocks[i].ID] = i
	}
	operations := map[uuid.UUID]*Operation{}
	for _, op := range s.Operations {
		operations[op.ID] = op
	}
	for _, c := range sums {
		op := operations[c.OperationID]
		part := Part{Worked: c.Pieces}
		week := op.week(s.First, c.Workday.Date)
		if s.settled[week.Start] {
			part.Paid = c.Pieces
		}
		week.add(part)
		op.Blocks[place[c.BlockID]].add(part)
	}
	for _, op := range s.Operations {
		op.total()
	}
	return nil
}

// week is the week that a day falls in.
func (op *Operation) week(first, day dated.Date) *Week {
	n := day.DaysSince(first) / 7
	for len(op.Weeks) <= n {
		op.Weeks = append(op.Weeks, Week{Start: first.AddDays(7 * len(op.Weeks))})
	}
	return &op.Weeks[n]
}

func (op *Operation) total() {
	unknown := false
	for _, b := range op.Blocks {
		if !b.EndedOn.IsZero() && b.Worked == 0 {
			b.Expected = 0
		}
		op.add(b.Part)
		unknown = unknown || b.Expected == 0 && b.Worked > 0
	}
	if unknown {
		op.Expected = 0
	}
}

// cost adds what the labor of settled weeks cost.
func (s *Season) cost(tx *models.Tx) error {
	costs, err := payrun.WeekCosts(tx, s.First, s.Last)
	if err != nil {
		return err
	}
	for i := range costs {
		c := &costs[i]
		if !s.settled[c.WeekStart.Date] {
			continue
		}
		amount := Part{Cost: c.Total()}
		s.Total += amount.Cost
		op, block := s.place(c.Operation, c.Block)
		if op == nil || block == nil {
			s.Unplaced += amount.Cost
			continue
		}
		op.add(amount)
		block.add(amount)
		op.week(s.First, c.WeekStart.Date).add(amount)
	}
	return nil
}

// place finds an operation and a block by their codes, nil where there is none. No two blocks of an employer have the same code.
func (s *Season) place(operation, block string) (*Operation, *Block) {
	op := s.Operation(operation)
	if op == nil {
		return nil, nil
	}
	i := slices.IndexFunc(op.Blocks, func(b *Block) bool { return b.Code == block })
	if i < 0 {
		return op, nil
	}
	return op, op.Blocks[i]
}

// Operation is that of a code, nil where there is none.
func (s *Season) Operation(code string) *Operation {
	if i := slices.IndexFunc(s.Operations, func(o *Operation) bool { return o.Code == code }); i >= 0 {
		return s.Operations[i]
	}
	return nil
}

// Main is the operation at which was worked last, nil where there was no work.
func (s *Season) Main() *Operation {
	var main *Operation
	for _, op := range s.Operations {
		if len(op.Weeks) > 0 && (main == nil || len(op.Weeks) > len(main.Weeks) || len(op.Weeks) == len(main.Weeks) && op.Worked > main.Worked) {
			main = op
		}
	}
	return main
}
