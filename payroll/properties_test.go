package payroll

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// drawWeek draws a week that has nothing wrong, of any of the books, from an hour of work to one that no one survives.
func drawWeek(t *rapid.T) *Week {
	w := &Week{
		Rulebook:    rapid.SampledFrom([]string{"us", "us-ca", "us-az", "us-fl", "us-nv", "us-tx", "us-wa", "orchard", "strict"}).Draw(t, "rulebook"),
		WeekStart:   dated.MustDate("2026-02-15"),
		HourlyRate:  drawRate(t, "hourly_rate", 300_000),
		OfferedRate: drawRate(t, "offered_rate", 250_000),
		SickRate:    drawRate(t, "sick_rate", 300_000),
	}
	leave := Rate(rapid.IntRange(0, 300_000).Draw(t, "leave_rate"))
	w.LeaveRate = &leave
	if rapid.Bool().Draw(t, "sized") {
		size := rapid.SampledFrom([]int{1, 4, 5, 25, 26, 100}).Draw(t, "size")
		w.EmployerSize = &size
	}
	days := rapid.Permutation([]int{0, 1, 2, 3, 4, 5, 6}).Draw(t, "days")
	for _, n := range days[:rapid.IntRange(0, 7).Draw(t, "count")] {
		w.Days = append(w.Days, drawDay(t, w.WeekStart.AddDays(n)))
	}
	for range rapid.IntRange(0, 2).Draw(t, "bonuses") {
		w.Bonuses = append(w.Bonuses, Bonus{rapid.SampledFrom([]BonusKind{Production, Flat}).Draw(t, "kind"), Cents(rapid.IntRange(0, 20_000).Draw(t, "bonus"))})
	}
	if rapid.Bool().Draw(t, "adjusted") {
		w.Adjustments = []Adjustment{{ForWeek: w.WeekStart.AddDays(-7), Amount: Cents(rapid.IntRange(-5_000, 5_000).Draw(t, "adjustment")), Reason: "recount", Authority: "agreed"}}
		w.Reimbursements = []Reimbursement{{"tools", Cents(rapid.IntRange(0, 5_000).Draw(t, "tools"))}}
	}
	settleSickRate(w)
	return w
}

// settleSickRate gives a rate to sick time in a week without work, which would have none.
func settleSickRate(w *Week) {
	if w.SickRate == nil && w.HourlyRate == nil {
		rate := Rate(200_000)
		w.SickRate = &rate
	}
}

func drawRate(t *rapid.T, name string, most int) *Rate {
	if !rapid.Bool().Draw(t, name+" given") {
		return nil
	}
	rate := Rate(rapid.IntRange(0, most).Draw(t, name))
	return &rate
}

func drawDay(t *rapid.T, date dated.Date) Day {
	d := Day{Date: date, OfferedRate: drawRate(t, "day offer", 250_000)}
	for range rapid.IntRange(0, 5).Draw(t, "entries") {
		kind := rapid.SampledFrom([]TimeKind{Piece, Piece, Hourly, Nonproductive, Rest, Recovery, MealPeriod, MealOnDuty}).Draw(t, "kind")
		m := Minutes(rapid.OneOf(rapid.IntRange(0, 60), rapid.IntRange(0, 300)).Draw(t, "minutes"))
		e := Time{Kind: kind, Minutes: &m}
		if kind == Hourly || kind == Nonproductive || kind == MealOnDuty {
			e.Rate = drawRate(t, "rate", 300_000)
		}
		d.Time = append(d.Time, e)
	}
	for range rapid.IntRange(0, 3).Draw(t, "tallies") {
		d.Tallies = append(d.Tallies, drawTally(t))
	}
	d.PeriodsNotProvided = rapid.SliceOfN(rapid.SampledFrom([]Period{MissedMeal, MissedRest, MissedRecovery}), 0, 3).Draw(t, "missed")
	for range rapid.IntRange(0, 2).Draw(t, "reports") {
		m := Minutes(rapid.IntRange(0, 300).Draw(t, "worked"))
		d.Reports = append(d.Reports, Report{Minutes(rapid.IntRange(0, 700).Draw(t, "scheduled")), &m,
			rapid.SampledFrom([]EndedBy{EndedByEmployer, EndedByEmployer, EndedByWorker, BeyondControl}).Draw(t, "by")})
	}
	if rapid.IntRange(0, 3).Draw(t, "absent") == 0 {
		d.SickMinutes, d.LeaveMinutes = Minutes(rapid.IntRange(0, 480).Draw(t, "sick")), Minutes(rapid.IntRange(0, 480).Draw(t, "leave"))
	}
	return d
}

func drawTally(t *rapid.T) Tally {
	tally := Tally{
		Operation: rapid.SampledFrom([]string{"bagging", "pollination"}).Draw(t, "operation"),
		Unit:      rapid.SampledFrom([]string{"bunch", "palm"}).Draw(t, "unit"),
		Pieces:    Pieces(rapid.OneOf(rapid.IntRange(0, 300).AsAny(), rapid.IntRange(0, 300_000).AsAny()).Draw(t, "pieces").(int)),
		Rate:      Rate(rapid.SampledFrom([]int{0, 4_000, 11_500, 12_345, 60_000}).Draw(t, "rate")),
	}
	switch rapid.IntRange(0, 5).Draw(t, "part") {
	case 0:
		lot := Minutes(rapid.IntRange(1, 3_000).Draw(t, "lot"))
		own := Minutes(rapid.IntRange(0, int(lot)).Draw(t, "own"))
		tally.Part = &Part{Minutes: &own, LotMinutes: &lot}
	case 1:
		share := Share(rapid.IntRange(1, sharePerUnit).Draw(t, "share"))
		tally.Part = &Part{Share: &share}
	case 2:
		heads := rapid.IntRange(1, 17).Draw(t, "heads")
		tally.Part = &Part{Heads: &heads}
	}
	return tally
}

func draw(t *rapid.T) (*Week, *Statement) {
	w := drawWeek(t)
	return w, reckonDrawn(t, w)
}

func reckonDrawn(t *rapid.T, w *Week) *Statement {
	s, faults := Reckon(books(), w)
	if len(faults) > 0 {
		t.Fatalf("faults in a good week: %v", faults)
	}
	return s
}

// Money for pieces is rounded half up, so a piece line may stand up to half a cent below its exact amount; the floor is kept to
// within that, and exactly where the pieces come to whole cents.
func TestPayIsNeverBelowTheFloor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWeek(t)
		halves := 1
		if rapid.Bool().Draw(t, "whole cents") {
			wholeCents(w)
			halves = 0
		}
		s := reckonDrawn(t, w)
		worked := map[dated.Date]Minutes{}
		for i := range w.Days {
			worked[w.Days[i].Date] = minutesWorked(&w.Days[i])
		}
		paid, least := whole(s.Totals.StraightTime), ratio{}
		for _, d := range s.Rates.MinimumWage {
			least = least.plus(payOf(worked[d.Date], whole(d.Rate)))
		}
		for _, l := range s.Lines {
			if l.Code == PieceLine || l.Code == SharedPieceLine {
				paid = paid.plus(over(halves, 2))
			}
		}
		if paid.compare(least) < 0 {
			t.Fatalf("straight time %s is below the minimum wage", s.Totals.StraightTime)
		}
	})
}

// wholeCents makes every tally come to whole cents.
func wholeCents(w *Week) {
	for i := range w.Days {
		for j := range w.Days[i].Tallies {
			tally := &w.Days[i].Tallies[j]
			tally.Part = nil
			tally.Rate -= tally.Rate % 100
			tally.Pieces -= tally.Pieces % piecesPerUnit
		}
	}
}

func minutesWorked(d *Day) Minutes {
	var sum Minutes
	for _, e := range d.Time {
		if e.Kind != MealPeriod || *e.Minutes <= 20 {
			sum += *e.Minutes
		}
	}
	return sum
}

func TestOrderOfRecordsNeverChangesPay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, want := draw(t)
		shuffled := *w
		shuffled.Days = rapid.Permutation(w.Days).Draw(t, "shuffled days")
		for i := range shuffled.Days {
			d := &shuffled.Days[i]
			d.Time = rapid.Permutation(d.Time).Draw(t, "shuffled time")
			d.Tallies = rapid.Permutation(d.Tallies).Draw(t, "shuffled tallies")
			d.PeriodsNotProvided = rapid.Permutation(d.PeriodsNotProvided).Draw(t, "shuffled periods")
		}
		got := reckonDrawn(t, &shuffled)
		if diff := cmp.Diff(amounts(want), amounts(got)); diff != "" {
			t.Fatalf("another order, another pay:\n%s", diff)
		}
		if diff := cmp.Diff(want.Totals, got.Totals); diff != "" {
			t.Fatalf("another order, other totals:\n%s", diff)
		}
	})
}

// The pieces come to whole cents here: elsewhere a piece line that is rounded down, beside make-up that is rounded up, may move a cent.
func TestOneMorePieceNeverLowersGross(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWeek(t)
		wholeCents(w)
		before := reckonDrawn(t, w)
		if before.Minutes.Overtime+before.Minutes.DoubleTime > 0 {
			return
		}
		for i := range w.Days {
			for j := range w.Days[i].Tallies {
				w.Days[i].Tallies[j].Pieces += piecesPerUnit
				if after := reckonDrawn(t, w); after.Totals.Gross < before.Totals.Gross {
					t.Fatalf("one more piece: %s, was %s", after.Totals.Gross, before.Totals.Gross)
				}
				w.Days[i].Tallies[j].Pieces -= piecesPerUnit
			}
		}
	})
}

func TestSplittingATallyNeverChangesPay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, want := draw(t)
		for i := range w.Days {
			for j := range w.Days[i].Tallies {
				first := w.Days[i].Tallies[j]
				second := first
				second.Pieces = Pieces(rapid.IntRange(0, int(first.Pieces)).Draw(t, "second"))
				first.Pieces -= second.Pieces
				w.Days[i].Tallies[j] = first
				w.Days[i].Tallies = append(w.Days[i].Tallies, second)
			}
		}
		if diff := cmp.Diff(amounts(want), amounts(reckonDrawn(t, w))); diff != "" {
			t.Fatalf("split tallies are paid otherwise:\n%s", diff)
		}
	})
}

// Where all rest is paid at the average of all hours, (E + E/(H−R) × R) / H = E/(H−R): the regular rate is the average, but for the part of a cent by which the
// rest line was rounded up.
func TestTheRegularRateEqualsTheAverage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWeek(t)
		w.Rulebook = "us-ca"
		w.Bonuses = nil // a flat bonus is in the average and not in the regular rate
		s := reckonDrawn(t, w)
		var rest []Line
		for _, l := range s.Lines {
			if l.Code == RestRecoveryLine {
				rest = append(rest, l)
			}
		}
		if len(rest) != 1 || rest[0].Basis.Key != "basis.rest_average" {
			return
		}
		pay := rest[0].Basis.Terms["pay"].(Cents)
		minutes := rest[0].Basis.Terms["hours"].(Minutes)
		gap := perHour(pay+rest[0].Amount, s.Minutes.Worked).minus(perHour(pay, minutes))
		if gap.sign() < 0 || payOf(s.Minutes.Worked, gap).compare(whole(1)) >= 0 {
			t.Fatalf("average %s, regular rate %s", s.Rates.AverageHourly, s.Rates.Regular)
		}
	})
}

func TestLinesAddUpAndExplainThemselves(t *testing.T) {
	english := catalogue(t, "en")
	rapid.Check(t, func(t *rapid.T) {
		_, s := draw(t)
		var sum, reimbursed Cents
		for _, l := range s.Lines {
			if sum += l.Amount; l.Code == ReimbursementLine {
				reimbursed += l.Amount
			}
			if english[l.Basis.Key] == "" || l.Authority == "" {
				t.Fatalf("a line without basis or authority: %+v", l)
			}
			checkTerms(t, english[l.Basis.Key], l.Basis.Terms)
		}
		for _, n := range s.Notes {
			checkTerms(t, english["note."+n.Code], n.Terms)
		}
		if sum != s.Totals.Net || sum-reimbursed != s.Totals.Gross {
			t.Fatalf("lines come to %s, net is %s", sum, s.Totals.Net)
		}
	})
}

// checkTerms fails where a message asks for a term that is not given.
func checkTerms(t interface{ Fatalf(string, ...any) }, message string, terms Terms) {
	for _, name := range placeholders(message) {
		if _, given := terms[name]; !given {
			t.Fatalf("%q has no term %s in %v", message, name, terms)
		}
	}
}

// Raising a rate may move a cent a line, where a line of pieces is rounded down beside make-up that is rounded up. A cent of a
// week's straight time is a cent more in every such stretch of time that is paid at its rate and not worked in it, such as
// hours of reporting time in a week of one minute, so the slack grows with these.
func TestARaiseNeverLowersGross(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWeek(t)
		before := reckonDrawn(t, w)
		raise := Rate(rapid.IntRange(1, 50_000).Draw(t, "raise"))
		what := rapid.SampledFrom([]string{"tallies", "hourly rate", "offered rate", "entries"}).Draw(t, "what")
		raiseRates(w, what, raise)
		after := reckonDrawn(t, w)
		if slack := Cents(len(before.Lines)+len(after.Lines)) * (1 + timesWorked(before)); after.Totals.Gross < before.Totals.Gross-slack {
			t.Fatalf("%s raised by %s: gross %s, was %s", what, raise, after.Totals.Gross, before.Totals.Gross)
		}
	})
}

// timesWorked is how many times the week's work all time comes to that is paid at its rates, rounded up.
func timesWorked(s *Statement) Cents {
	derived := 2 * (s.Minutes.Overtime + s.Minutes.DoubleTime + s.Minutes.Rest + s.Minutes.Recovery)
	for _, l := range s.Lines {
		switch l.Code {
		case MealPremiumLine, RestPremiumLine:
			derived += Minutes(len(l.Days)) * 60
		case ReportingTimeLine, SickLine:
			for _, d := range l.Days {
				quantity, _, _ := strings.Cut(d.Quantity, ".")
				minutes, _ := strconv.Atoi(quantity)
				derived += Minutes(minutes) + 1
			}
		}
	}
	if s.Minutes.Worked == 0 {
		return 0
	}
	least := max(1, min(s.Minutes.Worked, max(s.Minutes.Piece, 1), max(1, s.Minutes.Worked-s.Minutes.Rest-s.Minutes.Recovery)))
	return Cents(derived/least) + 1
}

func raiseRates(w *Week, what string, by Rate) {
	raised := func(r *Rate) *Rate {
		if r == nil {
			return nil
		}
		more := *r + by
		return &more
	}
	switch what {
	case "hourly rate":
		w.HourlyRate = raised(w.HourlyRate)
		return
	case "offered rate":
		w.OfferedRate = raised(w.OfferedRate)
		return
	}
	for i := range w.Days {
		for j := range w.Days[i].Tallies {
			if what == "tallies" {
				w.Days[i].Tallies[j].Rate += by
			}
		}
		for j := range w.Days[i].Time {
			if what == "entries" {
				w.Days[i].Time[j].Rate = raised(w.Days[i].Time[j].Rate)
			}
		}
	}
}

// The same week under the same books gives the same bytes, however often and from a library loaded anew.
func TestTheSameWeekGivesTheSameBytes(t *testing.T) {
	texts := rulebook.Texts()
	texts["orchard.yaml"], texts["strict.yaml"] = []byte(orchard), []byte(strict)
	rapid.Check(t, func(t *rapid.T) {
		w, s := draw(t)
		again, err := rulebook.Parse(texts)
		if err != nil {
			t.Fatal(err)
		}
		other, faults := Reckon(again, w)
		if len(faults) > 0 {
			t.Fatalf("%v", faults)
		}
		first, _ := json.Marshal(s)
		second, _ := json.Marshal(other)
		if !bytes.Equal(first, second) {
			t.Fatalf("%s\n%s", first, second)
		}
	})
}
