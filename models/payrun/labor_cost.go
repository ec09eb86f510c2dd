package payrun

import (
	"cmp"
	"math/big"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Cost is what labor cost in one block of a garden, at one operation, on one day. What belongs to no garden, block, operation or day has those empty: time recorded without
// a block, leave, and money for other weeks.
type Cost struct {
	Date         dated.Date      `json:"date,omitzero"`
	Garden       string          `json:"garden"`
	Block        string          `json:"block"`
	Operation    string          `json:"operation"`
	Worked       payroll.Minutes `json:"worked_minutes"`
	StraightTime payroll.Cents   `json:"straight_time"`
	Premiums     payroll.Cents   `json:"premiums"`
	Other        payroll.Cents   `json:"other"`
	Total        payroll.Cents   `json:"total"`
}

// costKey is where and when labor cost.
type costKey struct {
	date                     dated.Date
	garden, block, operation string
}

// compare orders places by day, garden, block and operation.
func (k costKey) compare(o costKey) int {
	return cmp.Or(k.date.Compare(o.date), cmp.Compare(k.garden, o.garden), cmp.Compare(k.block, o.block), cmp.Compare(k.operation, o.operation))
}

// LaborCost lays a statement's gross pay on blocks, operations and days, to the cent. A line of pieces falls on the counts that it pays and a line of hours on the
// time that it pays; premiums, make-up and everything else that was earned in the week follow the worked minutes of their days or, where a line names no
// day, of the week. What does not come out even goes cent by cent to the largest remainders. The order is by day, garden, block and operation.
func LaborCost(figures *payroll.Statement, detail []Detail) []Cost {
	costs := map[costKey]*Cost{}
	at := func(k costKey) *Cost {
		c := costs[k]
		if c == nil {
			c = &Cost{Date: k.date, Garden: k.garden, Block: k.block, Operation: k.operation}
			costs[k] = c
		}
		return c
	}
	for i := range detail {
		if d := &detail[i]; isWorked(d) {
			at(keyOf(d)).Worked += *d.Minutes
		}
	}
	for i := range figures.Lines {
		l := &figures.Lines[i]
		if l.Code == payroll.ReimbursementLine || l.Amount == 0 {
			continue // what repays an expense is no cost of labor
		}
		for _, s := range apportion(l.Amount, weightsOf(l, detail)) {
			at(s.key).add(l.Code, s.amount)
		}
	}
	return inOrder(costs)
}

func (c *Cost) key() costKey { return costKey{c.Date, c.Garden, c.Block, c.Operation} }

func inOrder(costs map[costKey]*Cost) []Cost {
	all := make([]Cost, 0, len(costs))
	for _, c := range costs {
		all = append(all, *c)
	}
	slices.SortFunc(all, func(a, b Cost) int { return a.key().compare(b.key()) })
	return all
}

// SumCosts adds up costs of the same garden, block, operation and day.
func SumCosts(lists ...[]Cost) []Cost {
	sums := map[costKey]*Cost{}
	for _, list := range lists {
		for _, c := range list {
			k := c.key()
			s := sums[k]
			if s == nil {
				s = &Cost{Date: c.Date, Garden: c.Garden, Block: c.Block, Operation: c.Operation}
				sums[k] = s
			}
			s.Worked += c.Worked
			s.StraightTime += c.StraightTime
			s.Premiums += c.Premiums
			s.Other += c.Other
			s.Total += c.Total
		}
	}
	return inOrder(sums)
}

func (c *Cost) add(code payroll.Code, amount payroll.Cents) {
	c.Total += amount
	switch code { // as a statement's totals have it
	case payroll.OvertimePremiumLine, payroll.DoubleTimePremiumLine, payroll.MealPremiumLine, payroll.RestPremiumLine, payroll.ReportingTimeLine:
		c.Premiums += amount
	case payroll.SickLine, payroll.LeaveLine, payroll.AdjustmentLine:
		c.Other += amount
	default:
		c.StraightTime += amount
	}
}

func isWorked(d *Detail) bool { return d.Minutes != nil && d.Kind != payroll.MealPeriod }

func keyOf(d *Detail) costKey { return costKey{d.Date, d.Garden, d.Block, d.Operation} }

// weight is how much of a line falls on one place and day.
type weight struct {
	key   costKey
	share *big.Rat
}

// weightsOf is how a line is parted. Weights add up to nothing where nothing of the kind was recorded; the line is then nobody's.
func weightsOf(l *payroll.Line, detail []Detail) []weight {
	switch l.Code {
	case payroll.AdjustmentLine:
		return nil // for other weeks
	case payroll.PieceLine, payroll.SharedPieceLine:
		if w := pieceWeights(l, detail); len(w) > 0 {
			return w
		}
	case payroll.HourlyLine:
		if w := timeWeights(l, detail, payroll.Hourly, payroll.MealOnDuty); len(w) > 0 {
			return w
		}
	case payroll.NonproductiveLine:
		if w := timeWeights(l, detail, payroll.Nonproductive); len(w) > 0 {
			return w
		}
	}
	return timeWeights(l, detail)
}

// pieceWeights parts a line by the pieces of the counts that it pays.
func pieceWeights(l *payroll.Line, detail []Detail) (weights []weight) {
	for i := range detail {
		d := &detail[i]
		shared := d.Part != ""
		if d.Pieces == nil || d.Operation != l.Operation || d.Unit != l.Unit || shared != (l.Code == payroll.SharedPieceLine) || l.Rate != nil && *d.Rate != *l.Rate {
			continue
		}
		own := big.NewRat(int64(*d.Pieces), 1)
		if part, ok := new(big.Rat).SetString(d.Part); ok && shared {
			own.Mul(own, part)
		}
		weights = append(weights, weight{keyOf(d), own})
	}
	return weights
}

// timeWeights parts a line by minutes of some kinds, or else by all that were worked: what falls on a day by that day's minutes, what names no day
// by the week's. A day without any keeps its part, without a place.
func timeWeights(l *payroll.Line, detail []Detail, kinds ...payroll.TimeKind) (weights []weight) {
	counts := func(d *Detail) bool { return isWorked(d) && (len(kinds) == 0 || slices.Contains(kinds, d.Kind)) }
	for _, q := range daysOf(l) {
		first := len(weights)
		var minutes int64
		for i := range detail {
			d := &detail[i]
			if counts(d) && (q.date.IsZero() || d.Date == q.date) {
				minutes += int64(*d.Minutes)
				weights = append(weights, weight{keyOf(d), big.NewRat(int64(*d.Minutes), 1)})
			}
		}
		if minutes == 0 {
			weights = weights[:first]
			if len(kinds) == 0 {
				weights = append(weights, weight{costKey{date: q.date}, q.quantity})
			}
			continue
		}
		for _, w := range weights[first:] {
			w.share.Mul(w.share, q.quantity).Quo(w.share, big.NewRat(minutes, 1))
		}
	}
	return weights
}

type dayShare struct {
	date     dated.Date // zero: the week
	quantity *big.Rat
}

// daysOf are the days that a line falls on, each with its part of the quantity.
func daysOf(l *payroll.Line) []dayShare {
	var days []dayShare
	for _, d := range l.Days {
		if q, ok := new(big.Rat).SetString(d.Quantity); ok && q.Sign() > 0 {
			days = append(days, dayShare{d.Date, q})
		}
	}
	if len(days) == 0 {
		days = []dayShare{{quantity: big.NewRat(1, 1)}}
	}
	return days
}

// share is what falls on one place and day.
type share struct {
	key    costKey
	amount payroll.Cents
}

// apportion parts an amount by weights, to the cent: everybody's part is cut down, and the cents that are left go to the largest remainders, among equal
// ones to the first in the order of their places. Without weights it is all without a place.
func apportion(amount payroll.Cents, weights []weight) []share {
	sums := map[costKey]*big.Rat{}
	whole := new(big.Rat)
	for _, w := range weights {
		if sums[w.key] == nil {
			sums[w.key] = new(big.Rat)
		}
		sums[w.key].Add(sums[w.key], w.share)
		whole.Add(whole, w.share)
	}
	if whole.Sign() <= 0 {
		return []share{{amount: amount}}
	}
	type part struct {
		share
		rest *big.Rat
	}
	negative := amount < 0
	left := max(amount, -amount)
	total := new(big.Rat).SetInt64(int64(left))
	parts := make([]part, 0, len(sums))
	for key, sum := range sums {
		exact := new(big.Rat).Quo(new(big.Rat).Mul(total, sum), whole)
		down := new(big.Int).Quo(exact.Num(), exact.Denom())
		parts = append(parts, part{share{key, payroll.Cents(down.Int64())}, exact.Sub(exact, new(big.Rat).SetInt(down))})
		left -= payroll.Cents(down.Int64())
	}
	slices.SortFunc(parts, func(a, b part) int {
		return cmp.Or(b.rest.Cmp(a.rest), a.key.compare(b.key))
	})
	shares := make([]share, len(parts))
	for i, p := range parts {
		if payroll.Cents(i) < left {
			p.amount++
		}
		if negative {
			p.amount = -p.amount
		}
		shares[i] = p.share
	}
	return shares
}

// RunLaborCost is what an approved run's labor cost. It adds up to the run's gross pay, less what was voided.
func RunLaborCost(tx *models.Tx, id uuid.UUID) (*Run, []Cost, error) {
	var run Run
	if err := tx.DB().Where("id = ?", id).Take(&run).Error; err != nil {
		return nil, nil, err
	}
	if run.State == Draft {
		return nil, nil, &models.Error{Kind: models.Conflict, Key: "problem.cost_of_draft"}
	}
	costs, err := costsOf(tx, []uuid.UUID{id})
	return &run, costs, err
}

// WeekLaborCost is what labor cost in all approved runs of a week.
func WeekLaborCost(tx *models.Tx, weekStart models.Date) ([]Cost, error) {
	var runs []Run
	if err := tx.DB().Where("week_start = ? AND state <> ?", weekStart, Draft).Find(&runs).Error; err != nil || len(runs) == 0 {
		return []Cost{}, err
	}
	var ids []uuid.UUID
	for _, r := range runs {
		ids = append(ids, r.ID)
	}
	return costsOf(tx, ids)
}

// statementsAtOnce is how many statements are held at a time.
const statementsAtOnce = 500

func costsOf(tx *models.Tx, runs []uuid.UUID) ([]Cost, error) {
	sum := []Cost{}
	for after := int64(0); ; {
		var rows []StatementRow
		err := tx.DB().Select("seq", "heading", "figures", "detail").Where("run_id IN ? AND voided_at IS NULL AND seq > ?", runs, after).
			Order("seq").Limit(statementsAtOnce).Find(&rows).Error
		if err != nil || len(rows) == 0 {
			return sum, err
		}
		lists := [][]Cost{sum}
		for i := range rows {
			costs, err := rows[i].cost()
			if err != nil {
				return nil, err
			}
			lists = append(lists, costs)
			after = rows[i].Seq
		}
		sum = SumCosts(lists...)
	}
}
