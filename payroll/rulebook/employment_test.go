package rulebook

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/payroll/dated"
)

var today = dated.MustDate("2026-11-25")

// Cal. Lab. Code 201(a), 202 and 203; the other books have no clock of their own yet.
func TestFinalPay(t *testing.T) {
	ca := book(t, "us-ca").FinalPay(today)
	if ca.Discharge == nil || ca.Quit == nil || ca.LateDays != 30 {
		t.Fatalf("California has %+v", ca)
	}
	last := dated.MustDate("2026-09-25")
	for _, test := range []struct {
		name   string
		clock  *FinalPayClock
		notice int
		want   string
	}{
		{"discharge", ca.Discharge, 0, "2026-09-25"},
		{"quit without notice", ca.Quit, 0, "2026-09-28"},
		{"quit with an hour of notice too little", ca.Quit, 71, "2026-09-28"},
		{"quit with notice", ca.Quit, 72, "2026-09-25"},
	} {
		if got := test.clock.Due(last, test.notice).String(); got != test.want {
			t.Errorf("%s is due on %s, want %s", test.name, got, test.want)
		}
	}
	if ca.Discharge.Source.Section != "Cal. Lab. Code 201(a)" || ca.Quit.Source.Section != "Cal. Lab. Code 202" {
		t.Errorf("the clocks rest on %q and %q", ca.Discharge.Source.Section, ca.Quit.Source.Section)
	}
	if az := book(t, "us-az").FinalPay(today); az.Discharge != nil || az.Quit != nil || az.LateDays != 0 {
		t.Errorf("Arizona has %+v", az)
	}
}

func TestRetention(t *testing.T) {
	tests := map[string][]string{
		"us":    {"payroll 3 record us", "statements 3 record us", "time_records 2 record us", "contractor_copies 3 record us", "h2a 3 certification us"},
		"us-ca": {"payroll 4 record us-ca", "statements 4 record us-ca", "time_records 4 record us-ca", "contractor_copies 3 record us", "h2a 3 certification us", "sick_leave 3 record us-ca"},
		"us-az": {"payroll 4 record us-az", "statements 3 record us", "time_records 4 record us-az", "contractor_copies 3 record us", "h2a 3 certification us", "sick_leave 4 record us-az"},
		"us-wa": {"payroll 3 record us", "statements 3 record us", "time_records 2 record us", "contractor_copies 3 record us", "h2a 3 certification us"},
	}
	for key, want := range tests {
		var got []string
		for _, r := range book(t, key).Retention(today) {
			got = append(got, strings.Join([]string{string(r.Kind), string(rune('0' + r.Years)), string(r.From), r.Book}, " "))
			if r.Source.Section == "" || r.Source.Link == "" {
				t.Errorf("%s keeps %s on no authority", key, r.Kind)
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", key, diff)
		}
	}
	if got := (Keep{Years: 4}).Until(dated.MustDate("2024-02-29")).String(); got != "2028-02-29" {
		t.Errorf("four years from a leap day end on %s", got)
	}
}

// Cal. Lab. Code 205.5 and 204(a), each window at its edges.
func TestPaydayWindows(t *testing.T) {
	tests := []struct{ worked, coverage, want string }{
		{"2026-09-01", "agriculture", "2026-09-16 2026-09-22"},
		{"2026-09-15", "agriculture", "2026-09-16 2026-09-22"},
		{"2026-09-16", "agriculture", "2026-10-01 2026-10-07"},
		{"2026-09-30", "agriculture", "2026-10-01 2026-10-07"},
		{"2026-12-31", "agriculture", "2027-01-01 2027-01-07"},
		{"2026-09-15", "general", "2026-09-16 2026-09-26"},
		{"2026-12-16", "general", "2026-12-17 2027-01-10"},
	}
	for _, test := range tests {
		from, by, ok := book(t, "us-ca").PaydayWindow(dated.MustDate(test.worked), test.coverage)
		if got := from.String() + " " + by.String(); !ok || got != test.want {
			t.Errorf("%s work of %s is paid in %s, want %s", test.coverage, test.worked, got, test.want)
		}
	}
	if _, _, ok := book(t, "us-tx").PaydayWindow(today, "agriculture"); ok {
		t.Error("Texas has a payday window that nobody read")
	}
}

func TestSickLeaveRules(t *testing.T) {
	size := func(n int) *int { return &n }
	tests := []struct {
		book, day string
		size      *int
		want      SickLeave
	}{
		{"us-ca", "2023-12-31", nil, SickLeave{1800, 90, &SickCap{1, 24 * 60, 3}, &SickCap{1, 80 * 60, 10}, 365, 90}},
		{"us-ca", "2024-01-01", size(1), SickLeave{1800, 90, &SickCap{1, 40 * 60, 5}, &SickCap{1, 80 * 60, 10}, 365, 90}},
		{"us-az", "2017-07-01", size(14), SickLeave{1800, 90, &SickCap{1, 24 * 60, 0}, nil, 275, 0}},
		{"us-az", "2026-01-01", size(15), SickLeave{1800, 90, &SickCap{15, 40 * 60, 0}, nil, 275, 0}},
		{"us-az", "2026-01-01", nil, SickLeave{1800, 90, &SickCap{15, 40 * 60, 0}, nil, 275, 0}},
	}
	for _, test := range tests {
		got, ok := book(t, test.book).SickLeave(dated.MustDate(test.day), test.size)
		if diff := cmp.Diff(test.want, got); !ok || diff != "" {
			t.Errorf("%s on %s (-want +got):\n%s", test.book, test.day, diff)
		}
	}
	if _, ok := book(t, "us-az").SickLeave(dated.MustDate("2017-06-30"), nil); ok {
		t.Error("Arizona had sick leave on the day before")
	}
	if _, ok := book(t, "us-tx").SickLeave(today, nil); ok {
		t.Error("Texas has sick leave")
	}
}

// The cut-off is one and a half times the minimum wage of the day, to the tenth of a cent.
func TestDailyCutOffOfNevada(t *testing.T) {
	nv := book(t, "us-nv")
	for day, want := range map[string]DailyCutOff{"2023-07-01": {168_750, 153_750}, "2024-06-30": {168_750, 153_750}, "2024-07-01": {180_000, 180_000}} {
		on := dated.MustDate(day)
		v, err := nv.dailyCutOff.On(on)
		if err != nil || v.Value != want {
			t.Errorf("on %s: %+v, %v", day, v, err)
		}
		if wage, err := nv.MinimumWage(on, nil); err != nil || 3*wage != 2*want.WithoutBenefits {
			t.Errorf("on %s the wage is %d, %v", day, wage, err)
		}
		if low, err := nv.withBenefits.On(on); err == nil && 3*low.Value != 2*want.WithBenefits {
			t.Errorf("on %s the lower tier is %d", day, low.Value)
		}
	}
	if _, err := nv.dailyCutOff.On(dated.MustDate("2023-06-30")); err == nil {
		t.Error("there is a cut-off on the day before the first")
	}
	if nv.Covers("general") {
		t.Error("Nevada's daily overtime outside farming is not modelled, and not refused")
	}
}

// The lower tier of Nevada, retyped.
func TestLowerTierOfNevada(t *testing.T) {
	for day, want := range map[string]Wage{"2019-07-01": 72_500, "2020-06-30": 72_500, "2020-07-01": 80_000, "2021-07-01": 87_500, "2022-07-01": 95_000, "2023-07-01": 102_500, "2024-06-30": 102_500} {
		if v, err := book(t, "us-nv").withBenefits.On(dated.MustDate(day)); err != nil || v.Value != want {
			t.Errorf("on %s: %+v, %v", day, v, err)
		}
	}
}

func TestStatementItemsCiteEverySection(t *testing.T) {
	items := map[string]string{}
	for _, item := range book(t, "us-ca").StatementItems(today) {
		items[item.Name] = item.Section
	}
	for name, want := range map[string]string{
		"hours_worked":        "Cal. Lab. Code 226(a)(2); 29 CFR 500.80(a)(3); 20 CFR 655.122(k)",
		"rest_recovery":       "Cal. Lab. Code 226.2(a)(2)(A)",
		"employer_tax_number": "29 CFR 500.80(d); 20 CFR 655.122(k)",
	} {
		if items[name] != want {
			t.Errorf("%s rests on %q, want %q", name, items[name], want)
		}
	}
	if len(items) != 19 {
		t.Errorf("a statement in California has %d items: %v", len(items), items)
	}
	if len(book(t, "us-tx").StatementItems(today)) != 14 {
		t.Error("a statement in Texas has every federal item and the employer's signature")
	}
}

// Cal. Lab. Code 221, 224 and the letters of the Labor Commissioner.
func TestDeductions(t *testing.T) {
	names := func(items []Item) string {
		var all []string
		for _, item := range items {
			all = append(all, item.Name)
		}
		return strings.Join(all, " ")
	}
	allowed, refused, floor := book(t, "us-ca").Deductions(today)
	if got := names(allowed); got != "required_by_law ordered_by_worker agreed_health_welfare_pension advance_installment" {
		t.Errorf("allowed: %s", got)
	}
	if got := names(refused); got != "wages_paid_back shortage_breakage_loss lump_sum_from_final_pay protective_gear" {
		t.Errorf("refused: %s", got)
	}
	if allowed, refused, other := book(t, "us-tx").Deductions(today); allowed != nil || names(refused) != "protective_gear" || floor != MinimumWageFloor || other != MinimumWageFloor {
		t.Errorf("floors %q and %q, lists of Texas %v, %v", floor, other, allowed, refused)
	}
}

// No book lets a worker pay for protective gear, and each names the provision: 29 CFR 1910.132(h) (from memory), in California Wage Order 14 sec. 9(B) and Lab. Code 2802. A local book
// may neither allow it nor drop the refusal.
func TestNoBookChargesForProtectiveGear(t *testing.T) {
	is := func(item Item) bool { return item.Name == "protective_gear" }
	for _, key := range load(t).Keys() {
		allowed, refused, _ := book(t, key).Deductions(today)
		i := slices.IndexFunc(refused, is)
		if i < 0 || slices.ContainsFunc(allowed, is) {
			t.Errorf("%s allows %v and refuses %v", key, allowed, refused)
			continue
		}
		want := "29 CFR 1910.132(h)"
		if key == "us-ca" {
			want = "Cal. Wage Order 14 sec. 9(B); Cal. Lab. Code 2802"
		}
		if refused[i].Section != want {
			t.Errorf("%s: by %s", key, refused[i].Section)
		}
	}
	charge := [3]string{"open", "open", `[{item: protective_gear, section: Oasis 1}]`}
	for _, parent := range []string{"us", "us-ca", "us-tx"} {
		text := strings.Replace(string(city("deductions.allowed", "not_comparable", charge)["oasis.yaml"]), "parent: us-ca", "parent: "+parent, 1)
		books, err := load(t).With(map[string][]byte{"oasis.yaml": []byte(text)})
		if err != nil {
			continue // the book is refused as a whole
		}
		local, _ := books.Book("oasis")
		if allowed, _, _ := local.Deductions(today); slices.ContainsFunc(allowed, is) {
			t.Errorf("below %s a local book may charge for protective gear", parent)
		}
	}
}

// Cal. Lab. Code 204b and 205; 29 CFR 500.81; 20 CFR 655.122(m).
func TestHowOftenIsPaid(t *testing.T) {
	for name, want := range map[string]string{
		"us-ca paydays.weekly": "7", "us-ca paydays.contractor": "every_days 7, through_days_before 4",
		"us paydays.least_often": "fortnight_or_half_month", "us paydays.least_often_h2a": "half_month",
	} {
		key, parameter, _ := strings.Cut(name, " ")
		p, ok := book(t, key).Parameter(parameter)
		if !ok {
			t.Fatalf("no %s", name)
		}
		if v, err := p.On(today); err != nil || v.Value.String() != want {
			t.Errorf("%s is %v, %v", name, v, err)
		}
	}
}

// 8 CCR 3395(e)(6) and (d)(3).
func TestHighHeat(t *testing.T) {
	ca := book(t, "us-ca")
	v, err := ca.highHeat.On(today)
	if err != nil || v.Value.Fahrenheit != 95 || v.Value.Minutes != 10 || v.Value.Every != 120 {
		t.Fatalf("%+v, %v", v, err)
	}
	for worked, want := range map[int]int{480: 0, 481: 1, 600: 1, 601: 2, 840: 2} {
		if got := v.Value.Extra(worked); got != want {
			t.Errorf("a day of %d minutes has %d more, want %d", worked, got, want)
		}
	}
	if r, err := ca.recovery.On(today); err != nil || r.Value != 5 {
		t.Errorf("a recovery period is %+v, %v", r, err)
	}
}

// 20 CFR 655.122(i): three fourths.
func TestGuaranteedShare(t *testing.T) {
	for _, key := range load(t).Keys() {
		if got := book(t, key).GuaranteedShare(today); got != 750_000 {
			t.Errorf("%s guarantees %d millionths", key, got)
		}
	}
}

// On every day of nine years, for both sizes, no book falls below a forebear.
func TestNoBookIsBelowItsParent(t *testing.T) {
	for _, key := range load(t).Keys() {
		b := book(t, key)
		for _, size := range []int{1, 25, 26} {
			for day := dated.MustDate("2019-01-01"); day.Year() < 2028; day = day.AddDays(1) {
				mine, err := b.MinimumWage(day, &size)
				if err != nil {
					continue
				}
				for _, at := range b.Chain()[1:] {
					if theirs, err := at.MinimumWage(day, &size); err == nil && mine < theirs {
						t.Fatalf("on %s %s pays %d, %s %d", day, key, mine, at.Key(), theirs)
					}
				}
				for _, coverage := range []string{"agriculture", "general"} {
					for _, at := range b.Chain()[1:] {
						if !b.Limits(day, coverage, &size).protectsLike(at.Limits(day, coverage, &size)) {
							t.Fatalf("on %s %s has longer days than %s", day, key, at.Key())
						}
					}
				}
			}
		}
	}
}

// Every value says where it stands, and what a book says comes out as its file has it.
func TestParametersAreShownAsWritten(t *testing.T) {
	for _, key := range load(t).Keys() {
		for _, s := range book(t, key).Parameters() {
			for _, v := range s.Values {
				if v.Source.Link == "" || v.Source.Section == "" || v.ReadOn.IsZero() || v.Standing == "" || v.Value.IsNull() {
					t.Errorf("%s %s from %s is not told in full: %+v", key, s.Name, v.From, v)
				}
			}
		}
	}
	s, ok := book(t, "us-ca").Parameter("overtime.agriculture.large")
	if !ok || s.Values[4].Value.String() != "daily 8, weekly 40, double_daily 12" || s.Values[0].Value.String() != "daily 10, weekly none, double_daily none" {
		t.Errorf("%+v", s)
	}
	if _, ok := book(t, "us-az").Parameter("rest"); ok {
		t.Error("a parent's parameter is shown as the book's own")
	}
}
