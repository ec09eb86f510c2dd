package rulebook

import "palmero/payroll/dated"

// FinalPay is when the last wages of who leaves fall due. Nil: no book of the chain has a clock of its own, and the
// regular payday stands.
type FinalPay struct {
	Discharge *FinalPayClock // dismissed or laid off, the end of a season included
	Quit      *FinalPayClock // left of their own accord
	LateDays  int            // days of pay that a wilful delay may cost at most; 0: no such rule
}

// FinalPayClock says how many hours after the end of the work the last wages are due; 0 is at once.
type FinalPayClock struct {
	Hours           int
	NoticeHours     int // notice that shortens the clock; 0: none does
	WithNoticeHours int // hours after the end, where that notice was given
	Source          dated.Source
}

// FinalPay returns when last wages fall due for work that ends on a day, by the nearest book of the chain that says so.
func (b *Book) FinalPay(day dated.Date) FinalPay {
	f := FinalPay{
		Discharge: sourced(b, day, func(b *Book) *dated.Series[FinalPayClock] { return b.discharge }),
		Quit:      sourced(b, day, func(b *Book) *dated.Series[FinalPayClock] { return b.quit }),
	}
	if late := nearest(b, day, func(b *Book) *dated.Series[int] { return b.lateDays }); late != nil {
		f.LateDays = *late
	}
	return f
}

func sourced(b *Book, day dated.Date, pick func(*Book) *dated.Series[FinalPayClock]) *FinalPayClock {
	for at := b; at != nil; at = at.parent {
		if s := pick(at); s != nil {
			if v, err := s.On(day); err == nil {
				clock := v.Value
				clock.Source = v.Source
				return &clock
			}
		}
	}
	return nil
}

// Due returns the last day on which the wages may be paid, for work that ends on a day after so many hours of notice.
// Hours that end within a day are rounded down to it, the safe side for who pays.
func (c *FinalPayClock) Due(last dated.Date, noticeHours int) dated.Date {
	if c.NoticeHours > 0 && noticeHours >= c.NoticeHours {
		return last.AddDays(c.WithNoticeHours / 24)
	}
	return last.AddDays(c.Hours / 24)
}

// protectsLike tells whether no clock runs longer.
func (c FinalPayClock) protectsLike(held FinalPayClock) bool {
	return c.Hours <= held.Hours && (held.NoticeHours == 0 ||
		c.NoticeHours > 0 && c.NoticeHours <= held.NoticeHours && c.WithNoticeHours <= held.WithNoticeHours || c.Hours <= held.WithNoticeHours)
}

func readFinalPayClock(n dated.Node) FinalPayClock {
	f := n.Fields([]string{"hours"}, "notice_hours", "with_notice_hours")
	c := FinalPayClock{Hours: f["hours"].Int(0)}
	if f.Has("notice_hours") != f.Has("with_notice_hours") {
		n.Report("gives one of notice_hours and with_notice_hours; give both or neither")
		return c
	}
	if f.Has("notice_hours") {
		c.NoticeHours, c.WithNoticeHours = f["notice_hours"].Int(1), f["with_notice_hours"].Int(0)
	}
	return c
}
