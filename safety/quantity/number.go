// Package quantity holds exact numbers with their units: what is exactly at a limit stays exactly at it, whether it was given in feet or in metres.
package quantity

import (
	"bytes"
	"errors"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Number is an exact quantity in the unit that its field is named after, such as feet; where it was given in the metric twin
// of that unit it was converted exactly, and remembers. The zero Number is 0. Numbers are values; no operation changes one.
type Number struct {
	value  *big.Rat // nil: 0
	metric bool
}

// The errors of reading a number.
var (
	ErrNotNumber = errors.New("not a JSON number")
	ErrTooFine   = errors.New("more digits than any measurement has")
)

// Bounds on what is read, so that no document makes the arithmetic slow.
const (
	maxDigits   = 40
	maxExponent = 15
)

// unit is a customary unit with its metric twin: customary = metric × num ÷ den + offset.
type unit struct {
	customary, metric string
	num, den, offset  int64
}

// The factors are those that define the units: 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, 1 mph = 0.44704 m/s.
var units = []unit{
	{"_ft", "_m", 10_000, 3_048, 0},
	{"_in", "_mm", 10, 254, 0},
	{"_lb", "_kg", 100_000_000, 45_359_237, 0},
	{"_f", "_c", 9, 5, 32},
	{"_mph", "_m_s", 100_000, 44_704, 0},
}

// Of returns the number i.
func Of(i int64) Number { return Number{value: new(big.Rat).SetInt64(i)} }

// Thousandths returns i ÷ 1000.
func Thousandths(i int64) Number { return Number{value: big.NewRat(i, 1000)} }

// Near returns f rounded half away from zero to so many decimals; f must be finite.
func Near(f float64, places int) Number {
	scale := math.Pow10(places)
	return Number{value: new(big.Rat).SetFrac64(int64(math.Round(f*scale)), int64(scale))}
}

// Parse reads a JSON number.
func Parse(text string) (Number, error) {
	mantissa, exponent, _ := strings.Cut(strings.ToLower(text), "e")
	if !strings.ContainsAny(text, "0123456789") || strings.Trim(text, "0123456789+-.eE") != "" {
		return Number{}, ErrNotNumber
	}
	if exponent != "" {
		if e, err := strconv.Atoi(exponent); err != nil || e > maxExponent || e < -maxExponent {
			return Number{}, ErrTooFine
		}
	}
	if len(mantissa) > maxDigits {
		return Number{}, ErrTooFine
	}
	value, ok := new(big.Rat).SetString(text)
	if !ok {
		return Number{}, ErrNotNumber
	}
	return Number{value: value}, nil
}

// UnmarshalNumber reads a JSON number that a document gives under a name; the name's ending tells the unit.
func (n *Number) UnmarshalNumber(name, text string) error {
	read, err := Parse(text)
	if err != nil {
		return err
	}
	if u := metricUnit(name); u != nil {
		read.value = new(big.Rat).Mul(read.rat(), big.NewRat(u.num, u.den))
		read.value.Add(read.value, new(big.Rat).SetInt64(u.offset))
		read.metric = true
	}
	*n = read
	return nil
}

// metricUnit is the unit in whose metric form a field is named, nil for any other field.
func metricUnit(name string) *unit {
	for i := range units {
		if strings.HasSuffix(name, units[i].metric) {
			return &units[i]
		}
	}
	return nil
}

// Twin returns the name of the metric twin of a field such as "height_ft", "" where it has none.
func Twin(name string) string {
	for _, u := range units {
		if stem, ok := strings.CutSuffix(name, u.customary); ok {
			return stem + u.metric
		}
	}
	return ""
}

// Pointer returns the JSON pointer at which the number was given, from that of its customary field.
func (n *Number) Pointer(customary string) string {
	if twin := Twin(customary); n != nil && n.metric && twin != "" {
		return twin
	}
	return customary
}

// In returns n, which is in the unit of a customary field, as whoever gave other would write it: in metric where that was.
func (n Number) In(field string, other *Number) Number {
	twin := Twin(field)
	if other == nil || !other.metric || twin == "" {
		return n
	}
	u := metricUnit(twin)
	value := new(big.Rat).Sub(n.rat(), new(big.Rat).SetInt64(u.offset))
	return Number{value: value.Mul(value, big.NewRat(u.den, u.num))}
}

// UnmarshalJSON reads a number in the customary unit.
func (n *Number) UnmarshalJSON(b []byte) error {
	return n.UnmarshalNumber("", string(bytes.TrimSpace(b)))
}

// MarshalJSON writes a JSON number with at most six decimals.
func (n Number) MarshalJSON() ([]byte, error) { return []byte(n.decimal(6)), nil }

// String writes a decimal for people, with at most three decimals.
func (n Number) String() string { return n.decimal(3) }

func (n Number) decimal(places int) string {
	s := n.rat().FloatString(places)
	s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

var zero big.Rat

func (n Number) rat() *big.Rat {
	if n.value == nil {
		return &zero
	}
	return n.value
}

// Float returns the nearest binary fraction, for formulas of physics.
func (n Number) Float() float64 { f, _ := n.rat().Float64(); return f }

// Cmp compares: -1 where n is less than m, 0 where they are equal, 1 where it is more.
func (n Number) Cmp(m Number) int {
	a, b := n.rat(), m.rat()
	if a.IsInt() && b.IsInt() {
		return a.Num().Cmp(b.Num()) // most limits are, and need no common denominator
	}
	return a.Cmp(b)
}

// Over tells whether n is more than m.
func (n Number) Over(m Number) bool { return n.Cmp(m) > 0 }

// Under tells whether n is less than m.
func (n Number) Under(m Number) bool { return n.Cmp(m) < 0 }

// Plus returns n + m.
func (n Number) Plus(m Number) Number { return Number{value: new(big.Rat).Add(n.rat(), m.rat())} }

// Minus returns n − m.
func (n Number) Minus(m Number) Number { return Number{value: new(big.Rat).Sub(n.rat(), m.rat())} }

// Times returns n × m.
func (n Number) Times(m Number) Number { return Number{value: new(big.Rat).Mul(n.rat(), m.rat())} }

// Per returns n ÷ m; m must not be 0.
func (n Number) Per(m Number) Number { return Number{value: new(big.Rat).Quo(n.rat(), m.rat())} }

// Round rounds half away from zero to so many decimals.
func (n Number) Round(places int) Number {
	value, _ := new(big.Rat).SetString(n.rat().FloatString(places))
	return Number{value: value}
}

// Max returns the greater of two numbers.
func Max(n, m Number) Number {
	if n.Under(m) {
		return m
	}
	return n
}

// Min returns the lesser of two numbers.
func Min(n, m Number) Number {
	if m.Under(n) {
		return m
	}
	return n
}

// Sum adds numbers up.
func Sum(all []Number) Number {
	var total Number
	for _, n := range all {
		total = total.Plus(n)
	}
	return total
}
