package payroll

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

func drawRatio(t *rapid.T, name string) ratio {
	return ratio{num: rapid.Int64().Draw(t, name), den: rapid.Int64Range(1, math.MaxInt64).Draw(t, name+" den")}
}

// Ratios do what big.Rat does, also where they outgrow a word.
func TestRatiosAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := drawRatio(t, "a"), drawRatio(t, "b"), drawRatio(t, "c")
		x, y, z := a.asRat(), b.asRat(), c.asRat()
		same(t, "a+b×c", a.plus(b.times(c)), new(big.Rat).Add(x, new(big.Rat).Mul(y, z)))
		same(t, "(a−b)×c", a.minus(b).times(c), new(big.Rat).Mul(new(big.Rat).Sub(x, y), z))
		if got, want := a.compare(b), x.Cmp(y); got != want {
			t.Fatalf("compare %d, want %d", got, want)
		}
		if n, ok := a.roundUp(); ok && n > math.MinInt64 && (whole(n).asRat().Cmp(x) < 0 || whole(n-1).asRat().Cmp(x) >= 0) {
			t.Fatalf("%s rounds up to %d", x, n)
		}
		if n, ok := a.roundHalfUp(); ok {
			gap := new(big.Rat).Sub(x, whole(n).asRat())
			if gap.Cmp(big.NewRat(1, 2)) >= 0 || gap.Cmp(big.NewRat(-1, 2)) < 0 {
				t.Fatalf("%s rounds to %d", x, n)
			}
		}
	})
}

func same(t *rapid.T, what string, got ratio, want *big.Rat) {
	if got.asRat().Cmp(want) != 0 {
		t.Fatalf("%s is %s, want %s", what, got.text(), want)
	}
}

func TestRoundingAtTheHalf(t *testing.T) {
	tests := []struct {
		q               ratio
		up, half, exact string
	}{
		{ratio{}, "0", "0", "0"},
		{over(1, 2), "1", "1", "1/2"},
		{over(49, 100), "1", "0", "49/100"},
		{over(3, 1), "3", "3", "3"},
		{over(-1, 2), "0", "0", "-1/2"},
		{over(-3, 2), "-1", "-1", "-3/2"},
		{over(-501, 1000), "0", "-1", "-501/1000"},
	}
	for _, test := range tests {
		up, _ := test.q.roundUp()
		half, _ := test.q.roundHalfUp()
		if itoa(int(up)) != test.up || itoa(int(half)) != test.half || test.q.text() != test.exact {
			t.Errorf("%s: up %d, half up %d", test.q.text(), up, half)
		}
	}
}

// A ratio that no honest week could have stays beyond, and never fits an amount.
func TestRatiosBeyondReason(t *testing.T) {
	q := over(1, 1)
	for n := int64(1 << 62); n > 1<<62-100; n-- {
		q = q.plus(ratio{num: 1, den: n})
	}
	if _, ok := q.roundUp(); ok || !q.beyond {
		t.Error("it fits")
	}
	if _, ok := q.times(whole(0)).roundHalfUp(); ok {
		t.Error("it came back")
	}
	if q.text() != "?" || q.plus(q).text() != "?" {
		t.Error("it has a text")
	}
}
