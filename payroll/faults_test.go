package payroll

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func faultsOf(t *testing.T, w *Week) []string {
	t.Helper()
	s, faults := Reckon(books(), w)
	if (s == nil) == (len(faults) == 0) {
		t.Fatal("neither, or both, a statement and faults")
	}
	english := catalogue(t, "en")
	var got []string
	for _, f := range faults {
		checkTerms(t, english[f.Key], f.Terms)
		got = append(got, f.Pointer+" "+strings.TrimPrefix(f.Key, "fault."))
	}
	return got
}

func TestFaults(t *testing.T) {
	day := func(rest string) string { return `{"days": [{"date": "2026-02-16", ` + rest + `}]}` }
	entry := func(rest string) string { return day(`"time": [{` + rest + `}]`) }
	tally := func(rest string) string {
		return day(`"tallies": [{"operation": "tying", "unit": "bunch", "pieces": "10", "rate": "1"` + rest + `}]`)
	}
	clock := func(start, end string) string {
		return `"kind": "hourly", "start": "` + start + `:00-08:00", "end": "` + end + `:00-08:00"`
	}
	tests := []struct {
		name, week string
		want       []string
	}{
		{"an unknown book", `{"rulebook": "us-xx"}`, []string{"/rulebook rulebook_unknown"}},
		{"an unknown coverage", `{"coverage": "dairy"}`, []string{"/coverage not_one_of"}},
		{"a coverage without rules in the book itself", `{"rulebook": "orchard", "coverage": "general"}`, []string{"/coverage coverage_unknown"}},
		{"an employer of nobody", `{"employer_size": 0}`, []string{"/employer_size below_one"}},
		{"rates below zero", `{"hourly_rate": "-1", "offered_rate": "-1", "sick_rate": "-1", "leave_rate": "-1"}`,
			[]string{"/hourly_rate negative", "/offered_rate negative", "/sick_rate negative", "/leave_rate negative"}},
		{"a day past the last wage known", `{"week_start": "2026-12-27", "days": [{"date": "2026-12-31"}, {"date": "2027-01-01"}]}`, []string{"/days/1/date no_value"}},
		{"a day before the first", `{"week_start": "2014-06-29", "days": [{"date": "2014-06-30"}, {"date": "2014-07-01"}]}`, []string{"/days/0/date no_value"}},
		{"a day before the week", `{"days": [{"date": "2026-02-14"}, {"date": "2026-02-22"}]}`, []string{"/days/0/date day_outside_week", "/days/1/date day_outside_week"}},
		{"a day twice", `{"days": [{"date": "2026-02-15"}, {"date": "2026-02-15"}]}`, []string{"/days/1/date day_twice"}},
		{"exactly twenty-five hours", day(`"time": [{"kind": "hourly", "minutes": 750}, {"kind": "meal", "minutes": 750}]`), nil},
		{"a minute more", day(`"time": [{"kind": "hourly", "minutes": 751}, {"kind": "meal", "minutes": 750}]`), []string{"/days/0/time day_too_long"}},
		{"minutes beyond all reason", entry(`"kind": "piece", "minutes": 9223372036854775807`), []string{"/days/0/time day_too_long"}},
		{"minutes below zero", entry(`"kind": "piece", "minutes": -1`), []string{"/days/0/time/0/minutes negative"}},
		{"an unknown kind", entry(`"kind": "Piece", "minutes": 1`), []string{"/days/0/time/0/kind not_one_of"}},
		{"a rate on piece time", entry(`"kind": "piece", "minutes": 1, "rate": "1"`), []string{"/days/0/time/0/rate rate_not_allowed"}},
		{"a rate below zero", entry(`"kind": "hourly", "minutes": 1, "rate": "-1"`), []string{"/days/0/time/0/rate negative"}},
		{"no length", entry(`"kind": "piece"`), []string{"/days/0/time/0 time_length"}},
		{"one end only", entry(`"kind": "piece", "start": "2026-02-16T06:00:00-08:00"`), []string{"/days/0/time/0 time_length"}},
		{"two lengths", entry(`"kind": "piece", "minutes": 1, "start": "2026-02-16T06:00:00-08:00", "end": "2026-02-16T06:01:00-08:00"`), []string{"/days/0/time/0 time_length"}},
		{"backwards", entry(clock("2026-02-16T07:00", "2026-02-16T06:59")), []string{"/days/0/time/0/end time_backwards"}},
		{"another week's clock", entry(clock("2026-02-26T07:00", "2026-02-26T08:00")), []string{"/days/0/time/0/start time_far", "/days/0/time/0/end time_far"}},
		{"overlapping", day(`"time": [{` + clock("2026-02-16T07:00", "2026-02-16T08:00") + `}, {` + clock("2026-02-16T07:59", "2026-02-16T09:00") + `}]`), []string{"/days/0/time/1 time_overlap"}},
		{"overlapping a long one from before", day(`"time": [{` + clock("2026-02-16T07:00", "2026-02-16T12:00") + `}, {` + clock("2026-02-16T07:59", "2026-02-16T09:00") + `}, {` + clock("2026-02-16T10:00", "2026-02-16T11:00") + `}]`),
			[]string{"/days/0/time/1 time_overlap", "/days/0/time/2 time_overlap"}},
		{"touching", day(`"time": [{` + clock("2026-02-16T07:00", "2026-02-16T08:00") + `}, {` + clock("2026-02-16T08:00", "2026-02-16T09:00") + `}]`), nil},
		{"overlapping across midnight", `{"days": [{"date": "2026-02-16", "time": [{` + clock("2026-02-16T22:00", "2026-02-17T02:00") + `}]}, {"date": "2026-02-17", "time": [{` + clock("2026-02-17T01:00", "2026-02-17T03:00") + `}]}]}`,
			[]string{"/days/1/time/0 time_overlap"}},
		{"blank words", day(`"tallies": [{"operation": " ", "unit": "", "pieces": "10", "rate": "1"}]`), []string{"/days/0/tallies/0/operation empty", "/days/0/tallies/0/unit empty"}},
		{"counts below zero", day(`"tallies": [{"operation": "tying", "unit": "bunch", "pieces": "-1", "rate": "-1"}]`), []string{"/days/0/tallies/0/pieces negative", "/days/0/tallies/0/rate negative"}},
		{"a product beyond range", day(`"tallies": [{"operation": "tying", "unit": "bunch", "pieces": "1000000000", "rate": "1.01"}]`), []string{"/days/0/tallies/0 out_of_range"}},
		{"no way to part", tally(`, "part": {}`), []string{"/days/0/tallies/0/part part_ways"}},
		{"two ways to part", tally(`, "part": {"heads": 2, "share": "0.5"}`), []string{"/days/0/tallies/0/part part_ways"}},
		{"half a way to part", tally(`, "part": {"minutes": 2}`), []string{"/days/0/tallies/0/part part_ways"}},
		{"more minutes than the lot", tally(`, "part": {"minutes": 2, "lot_minutes": 1}`), []string{"/days/0/tallies/0/part/minutes part_over_lot"}},
		{"all of the lot", tally(`, "part": {"minutes": 2, "lot_minutes": 2}`), nil},
		{"a lot of no minutes", tally(`, "part": {"minutes": 0, "lot_minutes": 0}`), []string{"/days/0/tallies/0/part/lot_minutes below_one"}},
		{"a lot of a crew's lifetime", tally(`, "part": {"minutes": 0, "lot_minutes": 1000001}`), []string{"/days/0/tallies/0/part/lot_minutes out_of_range"}},
		{"a share of nothing", tally(`, "part": {"share": "0"}`), []string{"/days/0/tallies/0/part/share share_range"}},
		{"a share of more than all", tally(`, "part": {"share": "1.000001"}`), []string{"/days/0/tallies/0/part/share share_range"}},
		{"no heads", tally(`, "part": {"heads": 0}`), []string{"/days/0/tallies/0/part/heads below_one"}},
		{"an unknown period", day(`"periods_not_provided": ["meal", "nap"]`), []string{"/days/0/periods_not_provided/1 not_one_of"}},
		{"an unknown meal", day(`"meals_waived": ["third"]`), []string{"/days/0/meals_waived/0 not_one_of"}},
		{"a meal twice", day(`"meals_waived": ["first", "first"]`), []string{"/days/0/meals_waived/1 listed_twice"}},
		{"reports without their minutes", day(`"reports": [{"scheduled_minutes": 1, "ended_by": "worker"}, {"scheduled_minutes": -1, "worked_minutes": 1501, "ended_by": "boss"}]`),
			[]string{"/days/0/reports/0/worked_minutes report_worked", "/days/0/reports/1/scheduled_minutes negative", "/days/0/reports/1/worked_minutes day_too_long", "/days/0/reports/1/ended_by not_one_of"}},
		{"sick time without a rate", day(`"sick_minutes": 60`), []string{"/sick_rate sick_rate"}},
		{"an average of nothing", `{"sick_average": {"wages": "-1", "minutes": 0}}`, []string{"/sick_average/wages negative", "/sick_average/minutes below_one"}},
		{"what reaches over many weeks", `{"adjustments": [{"for_week": "2026-02-08", "amount": "1", "reason": "x", "authority": "y", "spread": {"bonus": "-1", "share": "-1", "minutes": -1, "all_minutes": 99999999}},
			{"for_week": "2026-02-08", "amount": "1", "reason": "x", "authority": "y", "guarantee": {"guaranteed": -1, "counted": -1, "rate": "-1"}}]}`,
			[]string{"/adjustments/0/spread/bonus negative", "/adjustments/0/spread/share negative", "/adjustments/0/spread/minutes negative", "/adjustments/0/spread/all_minutes out_of_range",
				"/adjustments/1/guarantee/guaranteed negative", "/adjustments/1/guarantee/counted negative", "/adjustments/1/guarantee/rate negative"}},
		{"leave without a rate", day(`"leave_minutes": 60`), []string{"/leave_rate leave_rate"}},
		{"sick and leave beyond a day", `{"sick_rate": "1", "leave_rate": "1", "days": [{"date": "2026-02-16", "sick_minutes": 1501, "leave_minutes": -1}]}`,
			[]string{"/days/0/sick_minutes day_too_long", "/days/0/leave_minutes negative"}},
		{"sums", `{"bonuses": [{"kind": "gift", "amount": "-1"}], "reimbursements": [{"kind": "", "amount": "-1"}], "adjustments": [{"for_week": "2026-02-08", "amount": "1", "reason": "", "authority": ""}]}`,
			[]string{"/bonuses/0/kind not_one_of", "/bonuses/0/amount negative", "/adjustments/0/reason empty", "/adjustments/0/authority empty", "/reimbursements/0/kind empty", "/reimbursements/0/amount negative"}},
		{"a week that outgrows all bounds", `{"days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 1500, "rate": "1000000000"}]}]}`, []string{" out_of_range"}},
		{"everything at once", `{"rulebook": "no", "employer_size": -1, "days": [{"date": "2026-03-16", "time": [{"kind": "x"}]}]}`,
			[]string{"/rulebook rulebook_unknown", "/employer_size below_one", "/days/0/date day_outside_week", "/days/0/time/0/kind not_one_of", "/days/0/time/0 time_length"}},
	}
	var reached []string
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := faultsOf(t, week(t, test.week))
			if diff := cmp.Diff(test.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			reached = append(reached, got...)
		})
	}
	crowd := week(t, `{"days": [{"date": "2026-02-16"}]}`)
	crowd.Days[0].Tallies = make([]Tally, mostEntries+1)
	reached = append(reached, faultsOf(t, crowd)...)
	// those of bonuses over several weeks and of the sick-leave ledger are reached by the tests of these
	reached = append(reached, "/weeks bonus_no_hours", "/events not_employed", "/events backwards")
	for _, key := range keysWritten(t, "fault") {
		if !slices.ContainsFunc(reached, func(s string) bool { return "fault."+s[strings.Index(s, " ")+1:] == key }) {
			t.Errorf("no test reaches %s", key)
		}
	}
}

// The terms of a missing value name the book, the parameter and the day, as the law's absence must.
func TestAMissingValueIsNamed(t *testing.T) {
	_, faults := Reckon(books(), week(t, `{"week_start": "2026-12-27", "days": [{"date": "2027-01-01"}]}`))
	if len(faults) != 1 {
		t.Fatal(faults)
	}
	terms := faults[0].Terms
	if terms["book"] != "us-ca" || terms["parameter"] != "minimum_wage.large" || terms["date"] != faultDate {
		t.Errorf("terms %v", terms)
	}
}
