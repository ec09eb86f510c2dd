package payroll

import (
	"math/big"
	"math/bits"
	"strconv"
)

// ratio is an exact quotient. Nearly all fit two machine words; one that outgrows them goes on as a big.Rat, and one
// that outgrows any honest week is beyond, and stays so whatever is done with it.
type ratio struct {
	num, den int64 // den is positive; 0 stands for 1, so that the zero ratio is 0
	wide     *big.Rat
	beyond   bool
}

// maxRatioBits bounds the numbers of a wide ratio, so that a hostile week costs no more than an honest one.
const maxRatioBits = 2048

func whole[T ~int | ~int64](n T) ratio { return ratio{num: int64(n), den: 1} }

func over[T, U ~int | ~int64](num T, den U) ratio { return ratio{num: int64(num), den: int64(den)} }

func (q ratio) denominator() int64 { return max(q.den, 1) }

// mul64 multiplies, and tells whether the product fits.
func mul64(a, b int64) (int64, bool) {
	hi, lo := bits.Mul64(magnitude(a), magnitude(b))
	if hi != 0 || lo > 1<<63-1 {
		return 0, false
	}
	if (a < 0) != (b < 0) {
		return -int64(lo), true
	}
	return int64(lo), true
}

func add64(a, b int64) (int64, bool) {
	c := a + b
	return c, (c > a) == (b > 0)
}

func magnitude(a int64) uint64 {
	if a < 0 {
		return -uint64(a)
	}
	return uint64(a)
}

func (q ratio) reduced() ratio {
	a, b := magnitude(q.num), uint64(q.denominator())
	for b != 0 {
		a, b = b, a%b
	}
	if a <= 1 || a > 1<<63-1 {
		return q
	}
	return ratio{num: q.num / int64(a), den: q.denominator() / int64(a)}
}

func (q ratio) plus(p ratio) ratio {
	if sum, ok := addSmall(q, p); ok {
		return sum
	}
	if q.small() && p.small() {
		if sum, ok := addSmall(q.reduced(), p.reduced()); ok {
			return sum
		}
	}
	return combine(q, p, (*big.Rat).Add)
}

func addSmall(q, p ratio) (ratio, bool) {
	if !q.small() || !p.small() {
		return ratio{}, false
	}
	if q.denominator() == p.denominator() {
		n, ok := add64(q.num, p.num)
		return ratio{num: n, den: q.denominator()}, ok
	}
	a, okA := mul64(q.num, p.denominator())
	b, okB := mul64(p.num, q.denominator())
	d, okD := mul64(q.denominator(), p.denominator())
	n, okN := add64(a, b)
	return ratio{num: n, den: d}, okA && okB && okD && okN
}

func (q ratio) minus(p ratio) ratio { return q.plus(p.times(whole(-1))) }

func (q ratio) times(p ratio) ratio {
	if product, ok := mulSmall(q, p); ok {
		return product
	}
	if q.small() && p.small() {
		if product, ok := mulSmall(q.reduced(), p.reduced()); ok {
			return product
		}
	}
	return combine(q, p, (*big.Rat).Mul)
}

func mulSmall(q, p ratio) (ratio, bool) {
	if !q.small() || !p.small() {
		return ratio{}, false
	}
	n, okN := mul64(q.num, p.num)
	d, okD := mul64(q.denominator(), p.denominator())
	return ratio{num: n, den: d}, okN && okD
}

func (q ratio) small() bool { return q.wide == nil && !q.beyond }

func (q ratio) asRat() *big.Rat {
	if q.wide != nil {
		return q.wide
	}
	return big.NewRat(q.num, q.denominator())
}

func combine(q, p ratio, op func(z, x, y *big.Rat) *big.Rat) ratio {
	if q.beyond || p.beyond {
		return ratio{beyond: true}
	}
	z := op(new(big.Rat), q.asRat(), p.asRat())
	if z.Num().IsInt64() && z.Denom().IsInt64() {
		return ratio{num: z.Num().Int64(), den: z.Denom().Int64()}
	}
	if z.Num().BitLen()+z.Denom().BitLen() > maxRatioBits {
		return ratio{beyond: true}
	}
	return ratio{wide: z}
}

// sign is -1, 0 or 1.
func (q ratio) sign() int {
	switch {
	case q.wide != nil:
		return q.wide.Sign()
	case q.num < 0:
		return -1
	case q.num > 0:
		return 1
	}
	return 0
}

func (q ratio) compare(p ratio) int {
	if q.small() && p.small() && q.num >= 0 && p.num >= 0 {
		qh, ql := bits.Mul64(uint64(q.num), uint64(p.denominator()))
		ph, pl := bits.Mul64(uint64(p.num), uint64(q.denominator()))
		switch {
		case qh == ph && ql == pl:
			return 0
		case qh > ph || (qh == ph && ql > pl):
			return 1
		}
		return -1
	}
	return q.minus(p).sign()
}

// floor returns the greatest integer that is no greater, and the part of 1 left over as a ratio of the same
// denominator; false where the integer does not fit.
func (q ratio) floor() (n int64, rest ratio, ok bool) {
	switch {
	case q.beyond:
		return 0, ratio{}, false
	case q.wide != nil:
		quotient, remainder := new(big.Int).DivMod(q.wide.Num(), q.wide.Denom(), new(big.Int))
		return quotient.Int64(), ratio{wide: new(big.Rat).SetFrac(remainder, q.wide.Denom())}, quotient.IsInt64()
	}
	d := q.denominator()
	n, r := q.num/d, q.num%d
	if r < 0 {
		n, r = n-1, r+d
	}
	return n, ratio{num: r, den: d}, true
}

// roundUp returns the least integer that is no smaller.
func (q ratio) roundUp() (int64, bool) {
	n, rest, ok := q.floor()
	if rest.sign() > 0 {
		return n + 1, ok
	}
	return n, ok
}

// roundHalfUp returns the nearest integer, the upper one of two as near.
func (q ratio) roundHalfUp() (int64, bool) {
	n, rest, ok := q.floor()
	if rest.compare(ratio{num: 1, den: 2}) >= 0 {
		return n + 1, ok
	}
	return n, ok
}

// text writes the ratio exactly, in lowest terms: "60", "250/3".
func (q ratio) text() string {
	switch {
	case q.beyond:
		return "?"
	case q.wide != nil:
		return q.wide.RatString()
	}
	r := q.reduced()
	if r.denominator() == 1 {
		return strconv.FormatInt(r.num, 10)
	}
	return strconv.FormatInt(r.num, 10) + "/" + strconv.FormatInt(r.den, 10)
}
