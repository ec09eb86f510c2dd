package payroll

import (
	"strconv"

	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// BonusShare is the part of a bonus over several weeks that belongs to one of them, and what that week's overtime and other pay at
// its rates come to more by it.
type BonusShare struct {
	Week      dated.Date // first day of the workweek
	Share     Cents      // of the bonus
	More      Cents      // premiums, rest and other pay that rise with the share; never negative
	Spread    Spread     // how the share was found
	Authority string
}

// Adjustment returns what the week is owed, for the pay week in which the bonus is paid.
func (s BonusShare) Adjustment(reason string) Adjustment {
	return Adjustment{ForWeek: s.Week, Amount: s.Share + s.More, Reason: reason, Authority: s.Authority, Spread: &s.Spread}
}

// SpreadBonus spreads a bonus that was earned over several weeks back over them: in proportion to the hours worked or, for a
// flat bonus where the book says so, to those that were no overtime. Each week is reckoned with its share and without; what
// it comes to more beside the share is owed too, and where it comes to less, as make-up to the minimum wage was paid before, nothing
// is taken back. The shares add up to the bonus; odd cents go to the first weeks. It returns a share for each week in the order
// given, or what is wrong.
func SpreadBonus(books *rulebook.Library, bonus Bonus, weeks []*Week) ([]BonusShare, []Fault) {
	before := make([]*Statement, len(weeks))
	hours := make([]Minutes, len(weeks))
	var all Minutes
	var faults []Fault
	for i, w := range weeks {
		s, wrong := Reckon(books, w)
		faults = append(faults, below("/weeks/"+strconv.Itoa(i), wrong)...)
		if len(wrong) > 0 {
			continue
		}
		before[i], hours[i] = s, bonusHours(books, bonus.Kind, w, s)
		all += hours[i]
	}
	c := checker{reckoning: &reckoning{}}
	c.number(int64(bonus.Amount), centsLimit, "amount")
	if bonus.Kind != Production && bonus.Kind != Flat {
		c.notOneOf(string(bonus.Kind), []string{string(Production), string(Flat)}, "kind")
	}
	if faults = append(faults, c.faults...); len(faults) == 0 && all == 0 {
		faults = []Fault{{Pointer: "/weeks", Key: "fault.bonus_no_hours", Terms: Terms{}}}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return shareOut(books, bonus, weeks, before, hours, all)
}

// below sets the pointers of a part's faults below where the part stands.
func below(at string, faults []Fault) []Fault {
	for i := range faults {
		faults[i].Pointer = at + faults[i].Pointer
	}
	return faults
}

// bonusHours are the hours of a week over which a bonus is spread.
func bonusHours(books *rulebook.Library, kind BonusKind, w *Week, s *Statement) Minutes {
	book, _ := books.Governing(w.Rulebook)
	if rules, _ := book.Rules(w.WeekStart); kind == Flat && rules.FlatBonus == rulebook.NonOvertimeHours {
		return s.Minutes.Worked - s.Minutes.Overtime - s.Minutes.DoubleTime
	}
	return s.Minutes.Worked
}

func shareOut(books *rulebook.Library, bonus Bonus, weeks []*Week, before []*Statement, hours []Minutes, all Minutes) ([]BonusShare, []Fault) {
	shares := make([]BonusShare, len(weeks))
	left := bonus.Amount
	for i, w := range weeks {
		exact, _, _ := over(bonus.Amount, all).times(whole(hours[i])).floor()
		shares[i] = BonusShare{Week: w.WeekStart, Share: Cents(exact)}
		left -= shares[i].Share
	}
	for i := 0; left > 0; i++ {
		if hours[i] > 0 {
			shares[i].Share++
			left--
		}
	}
	for i, w := range weeks {
		with := *w
		with.Bonuses = append(append([]Bonus{}, w.Bonuses...), Bonus{bonus.Kind, shares[i].Share})
		s, faults := Reckon(books, &with)
		if len(faults) > 0 {
			return nil, below("/weeks/"+strconv.Itoa(i), faults)
		}
		shares[i].Spread = Spread{Bonus: bonus.Amount, Share: shares[i].Share, Minutes: hours[i], AllMinutes: all}
		shares[i].More = max(0, s.Totals.Gross-before[i].Totals.Gross-shares[i].Share)
		book, _ := books.Governing(w.Rulebook)
		shares[i].Authority = book.Authority(string(BonusLine), string(w.Coverage))
	}
	return shares, nil
}
