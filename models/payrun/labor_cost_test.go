package payrun

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

func costDay(n int) dated.Date { return dated.MustDate("2026-02-15").AddDays(n) }

func worked(day int, kind payroll.TimeKind, minutes payroll.Minutes, block, operation string) Detail {
	return Detail{Date: costDay(day), Kind: kind, Minutes: &minutes, Block: block, Operation: operation}
}

func counted(day int, block, operation string, pieces payroll.Pieces, rate payroll.Rate, part string) Detail {
	return Detail{Date: costDay(day), Block: block, Operation: operation, Unit: "bunch", Pieces: &pieces, Rate: &rate, Part: part}
}

// Two blocks on Monday, one on Tuesday. The premium of Monday is parted 2 to 1 by the minutes there: 10.00 is 6.67 and 3.33. The make-up of the week follows
// all minutes: 180, 90 and 30 of 300.
func TestLaborCostByHand(t *testing.T) {
	rate := payroll.Rate(10_000)
	detail := []Detail{
		worked(1, payroll.Piece, 180, "A", "thinning"), worked(1, payroll.Piece, 90, "B", "thinning"), worked(1, payroll.MealPeriod, 30, "A", "thinning"),
		worked(2, payroll.Hourly, 30, "B", ""), counted(1, "A", "thinning", 100_000, rate, ""), counted(1, "B", "thinning", 50_000, rate, ""),
		counted(1, "B", "thinning", 90_000, rate, "1/3"),
	}
	days := func(quantities ...string) (q []payroll.DayQuantity) {
		for i, s := range quantities {
			q = append(q, payroll.DayQuantity{Date: costDay(i + 1), Quantity: s})
		}
		return q
	}
	figures := &payroll.Statement{Lines: []payroll.Line{
		{Code: payroll.PieceLine, Operation: "thinning", Unit: "bunch", Rate: &rate, Amount: 150_00, Days: days("150")},
		{Code: payroll.SharedPieceLine, Operation: "thinning", Unit: "bunch", Rate: &rate, Amount: 30_00, Days: days("30")},
		{Code: payroll.HourlyLine, Unit: "minute", Amount: 9_00, Days: []payroll.DayQuantity{{Date: costDay(2), Quantity: "30"}}},
		{Code: payroll.MinimumMakeupLine, Unit: "minute", Amount: 3_00},
		{Code: payroll.MealPremiumLine, Unit: "day", Amount: 10_00, Days: days("1")},
		{Code: payroll.SickLine, Unit: "minute", Amount: 80_00, Days: []payroll.DayQuantity{{Date: costDay(4), Quantity: "480"}}},
		{Code: payroll.AdjustmentLine, Amount: -1_00},
		{Code: payroll.ReimbursementLine, Amount: 5_00},
	}}
	want := []Cost{
		{Other: -1_00, Total: -1_00},
		{Date: costDay(1), Block: "A", Operation: "thinning", Worked: 180, StraightTime: 100_00 + 1_80, Premiums: 6_67, Total: 108_47},
		{Date: costDay(1), Block: "B", Operation: "thinning", Worked: 90, StraightTime: 80_00 + 90, Premiums: 3_33, Total: 84_23},
		{Date: costDay(2), Block: "B", Worked: 30, StraightTime: 9_00 + 30, Total: 9_30},
		{Date: costDay(4), Other: 80_00, Total: 80_00},
	}
	if diff := cmp.Diff(want, LaborCost(figures, detail), cmp.Comparer(func(a, b dated.Date) bool { return a == b })); diff != "" {
		t.Error(diff)
	}
	doubled := SumCosts(want, want)
	if len(doubled) != len(want) || doubled[1].Total != 2*108_47 || doubled[1].Worked != 360 {
		t.Errorf("%+v", doubled)
	}
}

// What labor cost is told garden by garden; a statement from before gardens were told apart is of the one garden that it names.
func TestLaborCostKeepsGardensApart(t *testing.T) {
	north, south := counted(0, "A-1", "bagging", 100_000, 4400, ""), counted(0, "A-1", "bagging", 300_000, 4400, "")
	north.Garden, south.Garden = "Norte", "Sur"
	rate := payroll.Rate(4400)
	figures := &payroll.Statement{Lines: []payroll.Line{{Code: payroll.PieceLine, Operation: "bagging", Unit: "bunch", Rate: &rate, Amount: 176_00}}}
	var got []string
	for _, c := range SumCosts(LaborCost(figures, []Detail{south, north})) {
		got = append(got, c.Garden+" "+c.Block+" "+c.Total.String())
	}
	if want := []string{"Norte A-1 44.00", "Sur A-1 132.00"}; !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	detail := []Detail{{Block: "A-1"}, {Block: "A-2", Garden: "Sur"}}
	for gardens, want := range map[string]string{`["Norte"]`: "Norte", `["Norte", "Sur"]`: "", `[]`: ""} {
		row := &StatementRow{Heading: models.Document(`{"gardens": ` + gardens + `}`)}
		detail[0].Garden = ""
		if err := row.placeDetail(detail); err != nil || detail[0].Garden != want || detail[1].Garden != "Sur" {
			t.Errorf("%s: %+v, %v", gardens, detail, err)
		}
	}
}

// Whatever the lines and the detail, the costs add up to what was earned, to the cent, and no line's part has the wrong sign.
func TestLaborCostAddsUp(t *testing.T) {
	codes := []payroll.Code{
		payroll.PieceLine, payroll.SharedPieceLine, payroll.HourlyLine, payroll.NonproductiveLine, payroll.BonusLine, payroll.MinimumMakeupLine,
		payroll.RestRecoveryLine, payroll.OvertimePremiumLine, payroll.MealPremiumLine, payroll.ReportingTimeLine, payroll.SickLine, payroll.AdjustmentLine,
		payroll.ReimbursementLine,
	}
	kinds := []payroll.TimeKind{payroll.Piece, payroll.Hourly, payroll.Nonproductive, payroll.Rest, payroll.MealPeriod, payroll.MealOnDuty}
	blocks, operations := []string{"", "A", "B"}, []string{"", "thinning", "pollination"}
	rapid.Check(t, func(t *rapid.T) {
		rate := payroll.Rate(rapid.IntRange(1, 3).Draw(t, "rate")) * 10_000
		var detail []Detail
		for range rapid.IntRange(0, 12).Draw(t, "details") {
			day, block, operation := rapid.IntRange(0, 6).Draw(t, "day"), rapid.SampledFrom(blocks).Draw(t, "block"), rapid.SampledFrom(operations).Draw(t, "operation")
			if rapid.Bool().Draw(t, "counted") {
				part := rapid.SampledFrom([]string{"", "1/3", "0.25", "0/240"}).Draw(t, "part")
				detail = append(detail, counted(day, block, operation, payroll.Pieces(rapid.IntRange(0, 500_000).Draw(t, "pieces")), rate, part))
			} else {
				detail = append(detail, worked(day, rapid.SampledFrom(kinds).Draw(t, "kind"), payroll.Minutes(rapid.IntRange(0, 600).Draw(t, "minutes")), block, operation))
			}
		}
		figures := &payroll.Statement{}
		var earned payroll.Cents
		for range rapid.IntRange(0, 8).Draw(t, "lines") {
			l := payroll.Line{
				Code: rapid.SampledFrom(codes).Draw(t, "code"), Operation: rapid.SampledFrom(operations).Draw(t, "operation"), Unit: "bunch",
				Amount: payroll.Cents(rapid.IntRange(-50, 1_000_000).Draw(t, "amount")),
			}
			if l.Code == payroll.PieceLine {
				l.Rate = &rate
			}
			for range rapid.IntRange(0, 3).Draw(t, "days") {
				l.Days = append(l.Days, payroll.DayQuantity{Date: costDay(rapid.IntRange(0, 6).Draw(t, "on")), Quantity: fmt.Sprint(rapid.IntRange(0, 600).Draw(t, "quantity"))})
			}
			if l.Code != payroll.ReimbursementLine {
				earned += l.Amount
			}
			figures.Lines = append(figures.Lines, l)
			for _, s := range apportion(l.Amount, weightsOf(&l, detail)) {
				if s.amount*l.Amount < 0 {
					t.Fatalf("%v of %v", s.amount, l.Amount)
				}
			}
		}
		var sum payroll.Cents
		for _, c := range LaborCost(figures, detail) {
			if c.Total != c.StraightTime+c.Premiums+c.Other {
				t.Fatalf("%+v", c)
			}
			sum += c.Total
		}
		if sum != earned {
			t.Fatalf("%v of %v", sum, earned)
		}
	})
}
