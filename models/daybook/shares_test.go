package daybook

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"palmero/payroll"
)

func TestShares(t *testing.T) {
	for _, c := range []struct {
		parts []payroll.Pieces
		want  []payroll.Share
	}{
		{[]payroll.Pieces{2000, 1000, 1000}, []payroll.Share{500_000, 250_000, 250_000}},
		{[]payroll.Pieces{1000, 1000, 1000}, []payroll.Share{333_334, 333_333, 333_333}},
		{[]payroll.Pieces{1000, 2000}, []payroll.Share{333_333, 666_667}},
		{[]payroll.Pieces{500, 1500}, []payroll.Share{250_000, 750_000}},
	} {
		if diff := cmp.Diff(c.want, Shares(c.parts)); diff != "" {
			t.Errorf("%v: %s", c.parts, diff)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		var sum payroll.Share
		for _, share := range Shares(rapid.SliceOfN(rapid.Map(rapid.Int64Range(1, 1_000_000), func(n int64) payroll.Pieces { return payroll.Pieces(n) }), 2, 40).Draw(t, "parts")) {
			sum += share
		}
		if sum != wholeShare {
			t.Fatalf("shares add up to %v", sum)
		}
	})
}
