package payroll

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"palmero/payroll/dated"
)

func sickOn(date string, kind SickEventKind, minutes Minutes) SickEvent {
	return SickEvent{Date: dated.MustDate(date), Kind: kind, Minutes: minutes}
}

func ledger(t testing.TB, key string, a SickAccount, size *int, through string) *SickLedger {
	t.Helper()
	book, _ := books().Book(key)
	l, faults := a.Ledger(book, size, dated.MustDate(through))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return l
}

func TestSickLedger(t *testing.T) {
	hired := sickOn("2026-01-01", SickHired, 0)
	hours := func(date string, n Minutes) SickEvent { return sickOn(date, SickWorked, n*60) }
	tests := []struct {
		name, book, through   string
		size                  *int
		events                []SickEvent
		balance, usable, used Minutes
		usableFrom            string
	}{
		{"an hour for thirty", "us-ca", "2026-03-31", nil, []SickEvent{hired, hours("2026-01-05", 60)}, 120, 120, 0, "2026-03-31"},
		{"the day before it may be used", "us-ca", "2026-03-30", nil, []SickEvent{hired, hours("2026-01-05", 60)}, 120, 0, 0, "2026-03-31"},
		{"exact to the minute, rounded down", "us-ca", "2026-06-01", nil, []SickEvent{hired, sickOn("2026-01-05", SickWorked, 59), sickOn("2026-01-06", SickWorked, 30)}, 2, 2, 0, "2026-03-31"},
		{"the bank is full at 80 hours", "us-ca", "2027-12-31", nil, []SickEvent{hired, hours("2026-12-31", 2399), hours("2027-12-01", 3000)}, 4800, 2400, 0, "2026-03-31"},
		{"a bank of ten long days", "us-ca", "2027-12-31", nil, []SickEvent{hired, hours("2026-12-31", 6000)}, 6000, 3000, 0, "2026-03-31"},
		{"40 hours a year", "us-ca", "2026-12-30", nil, []SickEvent{hired, hours("2026-06-01", 2000), sickOn("2026-07-01", SickUsed, 2100)}, 1900, 300, 2100, "2026-03-31"},
		{"a new year of use", "us-ca", "2027-01-01", nil, []SickEvent{hired, hours("2026-06-01", 2000), sickOn("2026-07-01", SickUsed, 2100)}, 1900, 1900, 0, "2026-03-31"},
		{"24 hours a year before 2024", "us-ca", "2023-12-31", nil, []SickEvent{sickOn("2023-01-01", SickHired, 0), hours("2023-06-01", 2000)}, 4000, 1440, 0, "2023-03-31"},
		{"back within a year", "us-ca", "2027-01-10", nil, []SickEvent{hired, hours("2026-01-20", 300), sickOn("2026-01-31", SickLeft, 0), sickOn("2027-01-10", SickHired, 0)}, 600, 0, 0, "2027-03-09"},
		{"back a day too late", "us-ca", "2027-02-01", nil, []SickEvent{hired, hours("2026-01-20", 300), sickOn("2026-01-31", SickLeft, 0), sickOn("2027-02-01", SickHired, 0)}, 0, 0, 0, "2027-05-01"},
		{"gone", "us-ca", "2026-12-01", nil, []SickEvent{hired, hours("2026-05-20", 300), sickOn("2026-05-31", SickLeft, 0)}, 600, 0, 0, ""},
		{"hired twice is hired once", "us-ca", "2026-06-01", nil, []SickEvent{hired, sickOn("2026-02-01", SickHired, 0), hours("2026-02-20", 30)}, 60, 60, 0, "2026-03-31"},
		{"what comes after is not known yet", "us-ca", "2026-06-01", nil, []SickEvent{hired, hours("2026-06-02", 30)}, 0, 0, 0, "2026-03-31"},
		{"a small employer in Arizona", "us-az", "2026-12-01", new(14), []SickEvent{hired, hours("2026-06-01", 1500)}, 3000, 1440, 0, "2026-03-31"},
		{"a larger one", "us-az", "2026-12-01", new(15), []SickEvent{hired, hours("2026-06-01", 1500)}, 3000, 2400, 0, "2026-03-31"},
		{"no sick leave in Texas", "us-tx", "2026-12-01", nil, []SickEvent{hired, hours("2026-06-01", 1500)}, 0, 0, 0, "2026-01-01"},
		{"lent", "us-ca", "2026-02-01", nil, []SickEvent{hired, sickOn("2026-01-20", SickUsed, 60)}, -60, 0, 60, "2026-03-31"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			dayMinutes := Minutes(480)
			if strings.Contains(test.name, "long days") {
				dayMinutes = 600
			}
			l := ledger(t, test.book, SickAccount{Events: test.events, DayMinutes: dayMinutes}, test.size, test.through)
			got := []any{l.Balance, l.Usable, l.UsedThisYear, l.UsableFrom.String()}
			if diff := cmp.Diff([]any{test.balance, test.usable, test.used, test.usableFrom}, got); diff != "" {
				t.Errorf("balance, usable, used, from (-want +got):\n%s", diff)
			}
		})
	}
}

func TestSickEntriesTellTheirStory(t *testing.T) {
	a := SickAccount{DayMinutes: 480, YearBegins: dated.MustDate("2025-07-01"), Events: []SickEvent{
		sickOn("2026-01-01", SickHired, 0), sickOn("2026-04-10", SickWorked, 1800), sickOn("2026-04-11", SickUsed, 61), sickOn("2026-04-12", SickWorked, 100), sickOn("2026-07-01", SickUsed, 2)}}
	l := ledger(t, "us-ca", a, nil, "2026-07-01")
	var got []SickEntry
	for _, e := range l.Entries {
		got = append(got, SickEntry{Change: e.Change, Balance: e.Balance, Beyond: e.Beyond})
	}
	want := []SickEntry{{}, {Change: 60, Balance: 60}, {Change: -61, Balance: -1, Beyond: true}, {Change: 3, Balance: 2}, {Change: -2}}
	if diff := cmp.Diff(want, got, cmp.Comparer(func(a, b dated.Date) bool { return a == b })); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if l.UsedThisYear != 2 {
		t.Errorf("used since July: %d", l.UsedThisYear)
	}
}

func TestBadSickAccounts(t *testing.T) {
	a := SickAccount{DayMinutes: -1, Events: []SickEvent{
		sickOn("2026-01-05", SickWorked, 60), sickOn("2026-01-01", SickHired, -1), sickOn("2026-01-02", "born", 0), sickOn("2026-01-03", SickLeft, 0), sickOn("2026-01-04", SickUsed, 0)}}
	book, _ := books().Book("us-ca")
	_, faults := a.Ledger(book, nil, dated.MustDate("2026-02-01"))
	var got []string
	for _, f := range faults {
		got = append(got, f.Pointer+" "+f.Key)
	}
	want := []string{"/day_minutes fault.negative", "/events/0/date fault.not_employed", "/events/1/date fault.backwards", "/events/1/minutes fault.negative", "/events/2/kind fault.not_one_of", "/events/4/date fault.not_employed"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// A balance carried over stands where it is put; what it has lost already counts toward the year alone, and a rehire that comes too late takes it.
func TestSickLeaveCarriedOver(t *testing.T) {
	hired, carried := sickOn("2024-03-01", SickHired, 0), SickEvent{Date: dated.MustDate("2026-01-31"), Kind: SickCarried, Carried: 36_001}
	counted := sickOn("2025-12-10", SickCounted, 480)
	tests := []struct {
		name     string
		events   []SickEvent
		exact    Seconds
		usable   Minutes
		used     Minutes
		nextYear string
	}{
		{"as it was", []SickEvent{hired, counted, carried}, 36_001, 600, 480, "2026-03-01"},
		{"with a week's work", []SickEvent{hired, counted, carried, sickOn("2026-02-07", SickWorked, 2_401)}, 36_001 + 4_802, 680, 480, "2026-03-01"},
		{"a second short of a minute", []SickEvent{hired, {Date: carried.Date, Kind: SickCarried, Carried: -1}}, -1, 0, 0, "2026-03-01"},
		{"back too late", []SickEvent{sickOn("2022-03-01", SickHired, 0), {Date: dated.MustDate("2023-01-31"), Kind: SickCarried, Carried: 36_000}, sickOn("2023-02-01", SickLeft, 0), sickOn("2026-02-02", SickHired, 0)},
			0, 0, 0, "2026-03-01"},
	}
	for _, test := range tests {
		l := ledger(t, "us-ca", SickAccount{Events: test.events, DayMinutes: 480}, nil, "2026-02-10")
		if diff := cmp.Diff([]any{test.exact, test.usable, test.used, test.nextYear}, []any{l.Exact, l.Usable, l.UsedThisYear, l.NextYear.String()}); diff != "" {
			t.Errorf("%s: exact, usable, used, next year (-want +got):\n%s", test.name, diff)
		}
	}
}

// Splitting the same work over more entries earns the same, and nothing ever passes the cap of the bank.
func TestAccrualDoesNotDependOnTheEntries(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := []SickEvent{sickOn("2026-01-01", SickHired, 0)}
		var sum Minutes
		for range rapid.IntRange(1, 30).Draw(t, "entries") {
			m := Minutes(rapid.IntRange(0, 20_000).Draw(t, "minutes"))
			sum += m
			events = append(events, sickOn("2026-02-01", SickWorked, m))
		}
		book, _ := books().Book("us-ca")
		a := SickAccount{Events: events, DayMinutes: 480}
		l, faults := a.Ledger(book, nil, dated.MustDate("2026-12-31"))
		if want := min(sum/30, 4800); len(faults) > 0 || l.Balance != want {
			t.Fatalf("%v: balance %d of %d minutes worked, want %d", faults, l.Balance, sum, want)
		}
	})
}

// California Labor Code 246(l): the full weeks of the ninety days before.
func TestSickAverageOf(t *testing.T) {
	absence := dated.MustDate("2026-06-10")
	week := func(start string, wages Cents, minutes Minutes) PaidWeek {
		return PaidWeek{dated.MustDate(start), wages, minutes}
	}
	tests := []struct {
		name  string
		weeks []PaidWeek
		want  string
	}{
		{"two weeks", []PaidWeek{week("2026-05-03", 80_000, 2400), week("2026-05-10", 50_000, 1200)}, "1300.00 3600"},
		{"the first that fits", []PaidWeek{week("2026-03-12", 60_000, 1800)}, "600.00 1800"},
		{"a day too early", []PaidWeek{week("2026-03-11", 60_000, 1800)}, "none"},
		{"the last that fits", []PaidWeek{week("2026-06-03", 60_000, 1800)}, "600.00 1800"},
		{"not over yet", []PaidWeek{week("2026-06-04", 60_000, 1800)}, "none"},
		{"nothing worked", []PaidWeek{week("2026-05-03", 0, 0)}, "none"},
	}
	for _, test := range tests {
		got := "none"
		if average, ok := SickAverageOf(test.weeks, absence, 90); ok {
			got = fmt.Sprint(average.Wages, " ", average.Minutes)
		}
		if got != test.want {
			t.Errorf("%s: %s, want %s", test.name, got, test.want)
		}
	}
}
