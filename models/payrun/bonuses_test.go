package payrun_test

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// bonus records a bonus and returns the key of the fault with which it was refused.
func (f *farm) bonus(t testing.TB, c models.BonusContent, instead *uuid.UUID) (uuid.UUID, string) {
	t.Helper()
	id := models.NewID()
	c.Kind, c.Basis = payroll.Production, "the notice at the shed"
	how := models.Recording{Supersedes: instead}
	if instead != nil {
		how.Reason = "counted again"
	}
	err := f.store.In(t.Context(), f.clerk, func(tx *models.Tx) error {
		how.RecordedAt = tx.Now
		_, _, err := payrun.RecordBonus(tx, id, c, how)
		return err
	})
	var e *models.Error
	if errors.As(err, &e) && len(e.Faults) == 1 {
		return id, e.Faults[0].Key
	}
	if err != nil {
		t.Fatal(err)
	}
	return id, ""
}

// By hand, after 29 CFR 778.209(a): 26.00 over 18 and 8 hours are 18.00 and 8.00; the 18.00 make 1.00 an hour more in a week with two hours of overtime, half of which is owed for
// each, and an hour for a meal and one for a rest period of each of two days that no record shows (Cal. Lab. Code 226.7(c)): 23.00 for that week, and 8.00 in the week that pays, whose
// two such hours are 18.50 each.
func TestABonusOverTwoWeeks(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.hours(t, f.ana, "2026-02-09", 480)
		f.hours(t, f.ana, "2026-02-10", 600)
		f.hours(t, f.ana, "2026-02-16", 480)
		c := models.BonusContent{WorkerID: &f.ana, EarnedFrom: date("2026-02-09"), EarnedThrough: date("2026-02-20"), PayWeek: weekStart, Amount: 26_00, WhatFor: "early picking", Promised: true}
		id, refused := f.bonus(t, c, nil)
		if refused != "" {
			t.Fatal(refused)
		}
		given := models.BonusContent{WorkerID: &f.beto, EarnedFrom: date("2026-02-09"), EarnedThrough: date("2026-02-20"), PayWeek: weekStart, Amount: 50_00, WhatFor: "a gift"}
		f.bonus(t, given, nil)
		request := payrun.DraftRequest{Kind: payrun.Regular, WeekStart: weekStart}
		held := f.draft(t, library, request)
		if s := f.statementsOf(t, held); len(s) != 1 || s[0].Row.WorkerID != f.beto || s[0].Figures.Totals.Gross != 50_00 || s[0].Figures.Lines[0].Authority != "29 CFR 778.211" {
			t.Errorf("while the first week is not paid: %d statements", len(s))
		}
		f.approve(t, library, f.draft(t, library, payrun.DraftRequest{Kind: payrun.Regular, WeekStart: date("2026-02-08")}))
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			held, err = payrun.Redraft(tx, library, held.ID, held.Version)
			return err
		})
		got := map[payroll.Code]payroll.Cents{}
		for _, l := range f.statementsOf(t, held)[0].Figures.Lines {
			if got[l.Code] += l.Amount; l.Code != payroll.AdjustmentLine {
				continue
			}
			want := payroll.Terms{"week": date("2026-02-08").Date, "reason": "early picking", "bonus": payroll.Cents(26_00), "share": payroll.Cents(18_00), "more": payroll.Cents(5_00),
				"minutes": payroll.Minutes(18 * 60), "all": payroll.Minutes(26 * 60), "amount": payroll.Cents(23_00)}
			if diff := cmp.Diff(want, l.Basis.Terms, cmp.Comparer(func(a, b dated.Date) bool { return a == b })); l.Basis.Key != "basis.bonus_share" || diff != "" {
				t.Errorf("%s (-want +got):\n%s", l.Basis.Key, diff)
			}
		}
		if diff := cmp.Diff(map[payroll.Code]payroll.Cents{payroll.HourlyLine: 140_00, payroll.BonusLine: 8_00, payroll.AdjustmentLine: 23_00,
			payroll.MealPremiumLine: 18_50, payroll.RestPremiumLine: 18_50}, got); diff != "" {
			t.Errorf("the week that pays (-want +got):\n%s", diff)
		}
		f.approve(t, library, held)
		if found := f.review(t, library); len(found) != 0 {
			t.Errorf("the review of the week that paid finds %+v", found)
		}
		if _, refused := f.bonus(t, c, nil); refused != "fault.bonus_week_paid" {
			t.Errorf("a second bonus of a week that is paid: %q", refused)
		}
		c.PayWeek = date("2026-02-22")
		if _, refused := f.bonus(t, c, &id); refused != "fault.bonus_week_paid" {
			t.Errorf("in place of one that is paid: %q", refused)
		}
		c.EarnedThrough = date("2026-03-01")
		if _, refused := f.bonus(t, c, nil); refused != "fault.bonus_paid_early" {
			t.Errorf("paid before it is earned: %q", refused)
		}
	})
}
