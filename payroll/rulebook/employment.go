package rulebook

import (
	"slices"

	"palmero/payroll/dated"
)

// HighHeat is the rule of cool-down periods in great heat; lengths in minutes.
type HighHeat struct {
	Fahrenheit int   // the temperature from which it holds
	Minutes    int   // of one period
	Every      int   // one period for so much work; it may fall together with a meal or rest period
	ExtraPast  []int // one period more, that falls together with none, in a day with more work than each of these
}

// Extra returns how many cool-down periods a day of so many minutes of work has beside its meal and rest periods.
func (h *HighHeat) Extra(worked int) int {
	n := 0
	for _, past := range h.ExtraPast {
		if worked > past {
			n++
		}
	}
	return n
}

// DailyCutOff is the hourly pay below which a worker has daily overtime, where the law makes such a difference.
type DailyCutOff struct {
	WithoutBenefits, WithBenefits Wage
}

// PaydayWindow is the time within which the wages of a part of the month are paid; days of the month.
type PaydayWindow struct {
	FromDay, ThroughDay int // of the work; a ThroughDay of 31 is the last day of any month
	PaidFrom, PaidBy    int // of the payment; PaidFrom 0: no earliest day
	NextMonth           bool
}

// ContractorPay is how a farm labor contractor pays.
type ContractorPay struct {
	EveryDays         int
	ThroughDaysBefore int // the payment holds all wages through so many days before it
}

// Rhythm is how often wages are paid at least.
type Rhythm string

// The rhythms.
const (
	Fortnight Rhythm = "fortnight_or_half_month"
	HalfMonth Rhythm = "half_month"
)

func (r Rhythm) protectsLike(held Rhythm) bool { return r == held }

// Item is one entry of a list that the law makes, with the section that asks for it.
type Item struct {
	Name    string
	Section string
}

// DeductionFloor is what a voluntary deduction must leave.
type DeductionFloor string

// MinimumWageFloor leaves the minimum wage for all hours of the pay period.
const MinimumWageFloor DeductionFloor = "minimum_wage_for_all_hours"

// SickCap is a cap on sick leave for employers of a size and above: the greater of hours, in minutes, and days.
type SickCap struct {
	FromSize int
	Minutes  int
	Days     int // 0: counted in hours only
}

// SickLeave is what a chain of books says of paid sick leave.
type SickLeave struct {
	AccrualPer           int      // minutes of work that earn an hour of leave
	WaitingDays          int      // days of employment before leave may be used; 0: none
	UseCap, BankCap      *SickCap // a year; nil: no cap
	ReinstatedWithinDays int      // a bank comes back on rehire within so many days; 0: no such rule
	RateDays             int      // days before an absence over whose full weeks the rate may be averaged; 0: no such rule
}

// SickLeave returns the rules of sick leave on a day for an employer of a size (nil: large), and whether any book of the
// chain has such leave.
func (b *Book) SickLeave(day dated.Date, size *int) (SickLeave, bool) {
	accrual := nearest(b, day, func(b *Book) *dated.Series[int] { return b.sickAccrual })
	if accrual == nil {
		return SickLeave{}, false
	}
	s := SickLeave{AccrualPer: *accrual}
	if v := nearest(b, day, func(b *Book) *dated.Series[int] { return b.sickWaiting }); v != nil {
		s.WaitingDays = *v
	}
	if v := nearest(b, day, func(b *Book) *dated.Series[int] { return b.sickReinstatedIn }); v != nil {
		s.ReinstatedWithinDays = *v
	}
	if v := nearest(b, day, func(b *Book) *dated.Series[int] { return b.sickRateDays }); v != nil {
		s.RateDays = *v
	}
	s.UseCap = capFor(nearest(b, day, func(b *Book) *dated.Series[[]SickCap] { return b.sickUseCap }), size)
	s.BankCap = capFor(nearest(b, day, func(b *Book) *dated.Series[[]SickCap] { return b.sickBankCap }), size)
	return s, true
}

// capFor finds the cap of the largest size that the employer has.
func capFor(caps *[]SickCap, size *int) *SickCap {
	if caps == nil {
		return nil
	}
	var found *SickCap
	for i := range *caps {
		if c := &(*caps)[i]; (size == nil || *size >= c.FromSize) && (found == nil || c.FromSize > found.FromSize) {
			found = c
		}
	}
	return found
}

// StatementItems returns what a wage statement under the chain must show, each item once with every section that asks for
// it, in the order of the books.
func (b *Book) StatementItems(day dated.Date) []Item {
	var all []Item
	for at := b; at != nil; at = at.parent {
		items := on(at.statementItems, day)
		if items == nil {
			continue
		}
		for _, item := range *items {
			i := slices.IndexFunc(all, func(x Item) bool { return x.Name == item.Name })
			if i < 0 {
				all = append(all, item)
			} else {
				all[i].Section += "; " + item.Section
			}
		}
	}
	return all
}

// Deductions returns which deductions the chain allows and refuses, each by the nearest book that lists them, and what a
// voluntary one must leave; a list that no book has is nil. What is refused is not allowed, whatever else a book says.
func (b *Book) Deductions(day dated.Date) (allowed, refused []Item, floor DeductionFloor) {
	if list := nearest(b, day, func(b *Book) *dated.Series[[]Item] { return b.deductions }); list != nil {
		allowed = *list
	}
	if list := nearest(b, day, func(b *Book) *dated.Series[[]Item] { return b.noDeductions }); list != nil {
		refused = *list
		allowed = slices.DeleteFunc(slices.Clone(allowed), func(a Item) bool {
			return slices.ContainsFunc(refused, func(r Item) bool { return r.Name == a.Name })
		})
	}
	if f := nearest(b, day, func(b *Book) *dated.Series[DeductionFloor] { return b.deductionFloor }); f != nil {
		floor = *f
	}
	return allowed, refused, floor
}

// PaydayWindow returns the days within which farm work (or, under coverage "general", other work) of a day is paid, and
// whether the chain has such a window. A window without an earliest day begins with the day after the work's last.
func (b *Book) PaydayWindow(worked dated.Date, coverage string) (from, by dated.Date, found bool) {
	windows := nearest(b, worked, func(b *Book) *dated.Series[[]PaydayWindow] {
		if coverage == "general" {
			return b.generalPaydays
		}
		return b.farmPaydays
	})
	if windows == nil {
		return from, by, false
	}
	year, month, day := worked.Civil()
	for _, w := range *windows {
		if day < w.FromDay || day > w.ThroughDay {
			continue
		}
		if w.NextMonth {
			month++
		}
		if by = dated.NewDate(year, month, w.PaidBy); w.PaidFrom > 0 {
			return dated.NewDate(year, month, w.PaidFrom), by, true
		}
		return worked.AddDays(1), by, true
	}
	return from, by, false
}

// GuaranteedShare returns the part of an H-2A contract's hours that must be offered, in millionths, 0 where no book of the
// chain has such a rule.
func (b *Book) GuaranteedShare(day dated.Date) int {
	if share := nearest(b, day, func(b *Book) *dated.Series[int] { return b.guaranteedShare }); share != nil {
		return *share
	}
	return 0
}

// CoolDowns returns the rules of cool-down periods on a day: the least minutes of one for who feels the need (0: no such
// rule), and those of high heat (nil: none).
func (b *Book) CoolDowns(day dated.Date) (onNeed int, heat *HighHeat) {
	if v := nearest(b, day, func(b *Book) *dated.Series[int] { return b.recovery }); v != nil {
		onNeed = *v
	}
	return onNeed, nearest(b, day, func(b *Book) *dated.Series[HighHeat] { return b.highHeat })
}

// readShare reads a part of 1 in millionths.
func readShare(n dated.Node) int {
	share := int(n.Decimal(6))
	if share > 1_000_000 {
		n.Report("is more than the whole; write a part of 1 such as \"0.75\"")
	}
	return share
}

func readHighHeat(n dated.Node) HighHeat {
	f := n.Fields([]string{"fahrenheit", "minutes", "every_hours", "extra_past"})
	h := HighHeat{Fahrenheit: f["fahrenheit"].Int(1), Minutes: f["minutes"].Int(1), Every: readHours(f["every_hours"])}
	for _, item := range f["extra_past"].Items() {
		h.ExtraPast = append(h.ExtraPast, readHours(item))
	}
	return h
}

func readDailyCutOff(n dated.Node) DailyCutOff {
	f := n.Fields([]string{"without_benefits", "with_benefits"})
	return DailyCutOff{readWage(f["without_benefits"]), readWage(f["with_benefits"])}
}

func readPaydays(n dated.Node) []PaydayWindow {
	var all []PaydayWindow
	for _, item := range n.Items() {
		f := item.Fields([]string{"from_day", "through_day", "paid_by", "month"}, "paid_from")
		w := PaydayWindow{FromDay: f["from_day"].Int(1), ThroughDay: f["through_day"].Int(1), PaidBy: f["paid_by"].Int(1),
			NextMonth: f["month"].Word("same", "next") == "next"}
		if f.Has("paid_from") {
			w.PaidFrom = f["paid_from"].Int(1)
		}
		all = append(all, w)
	}
	return all
}

func readContractorPay(n dated.Node) ContractorPay {
	f := n.Fields([]string{"every_days", "through_days_before"})
	return ContractorPay{f["every_days"].Int(1), f["through_days_before"].Int(0)}
}

func readRhythm(n dated.Node) Rhythm {
	return Rhythm(n.Word(string(Fortnight), string(HalfMonth)))
}

func readItems(n dated.Node) []Item {
	var all []Item
	for _, item := range n.Items() {
		f := item.Fields([]string{"item", "section"})
		all = append(all, Item{f["item"].Text(), f["section"].Text()})
	}
	return all
}

// hasAllOf tells whether a list has every item of another.
func hasAllOf(list, other []Item) bool {
	for _, item := range other {
		if !slices.ContainsFunc(list, func(x Item) bool { return x.Name == item.Name }) {
			return false
		}
	}
	return true
}

func readDeductionFloor(n dated.Node) DeductionFloor {
	return DeductionFloor(n.Word(string(MinimumWageFloor)))
}

func readSickCaps(n dated.Node) []SickCap {
	var all []SickCap
	for _, item := range n.Items() {
		f := item.Fields([]string{"from_size", "hours"}, "days")
		c := SickCap{FromSize: f["from_size"].Int(1), Minutes: readHours(f["hours"])}
		if f.Has("days") {
			c.Days = f["days"].Int(1)
		}
		all = append(all, c)
	}
	return all
}

// sickCapsProtectLike tells whether no size of employer has a lower cap than under the other list.
func sickCapsProtectLike(local, held []SickCap) bool {
	for _, at := range append(slices.Clone(local), held...) {
		mine, theirs := capFor(&local, &at.FromSize), capFor(&held, &at.FromSize)
		if mine != nil && (theirs == nil || mine.Minutes < theirs.Minutes || mine.Days < theirs.Days) {
			return false
		}
	}
	return true
}
