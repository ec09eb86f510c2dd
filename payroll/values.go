package payroll

import (
	"errors"
	"strconv"
	"strings"
)

// Cents is an amount of money in hundredths of the currency unit.
type Cents int64

// Rate is an amount of money for one hour or one piece, in 1/10,000 of the currency unit.
type Rate int64

// Pieces is a count of pieces in thousandths, so that a weight picked can be counted too.
type Pieces int64

// Minutes is a length of time in whole minutes.
type Minutes int64

const (
	centsPerUnit  = 100
	ratePerUnit   = 10_000
	piecesPerUnit = 1_000
)

// Errors of ParseCents, ParseRate and ParsePieces; the text is for a log, a reader gets the message of the same name
// in their language.
var (
	ErrNotDecimal = errors.New("not a decimal number")
	ErrDecimals   = errors.New("too many decimals")
	ErrOutOfRange = errors.New("beyond the range that can be reckoned")
)

// maxUnits bounds every amount, rate and count that is read, so that the products of a week stay within range.
const maxUnits = 1_000_000_000

// ParseCents reads a decimal string such as "12.40", with two decimals at most.
func ParseCents(s string) (Cents, error) {
	n, err := parseDecimal(s, 2)
	return Cents(n), err
}

// ParseRate reads a decimal string such as "1.1500", with four decimals at most.
func ParseRate(s string) (Rate, error) {
	n, err := parseDecimal(s, 4)
	return Rate(n), err
}

// ParsePieces reads a decimal string such as "160" or "12.5", with three decimals at most.
func ParsePieces(s string) (Pieces, error) {
	n, err := parseDecimal(s, 3)
	return Pieces(n), err
}

// parseDecimal reads an optional minus sign, digits, and at most places decimals, and returns the number in units of
// the last place. It takes no plus sign, no exponent, no leading or trailing point, no surplus leading zero.
func parseDecimal(s string, places int) (int64, error) {
	digits, negative := strings.CutPrefix(s, "-")
	whole, fraction, pointed := strings.Cut(digits, ".")
	if whole == "" || (pointed && fraction == "") || !allDigits(whole) || !allDigits(fraction) {
		return 0, ErrNotDecimal
	}
	if len(whole) > 1 && whole[0] == '0' {
		return 0, ErrNotDecimal
	}
	if len(fraction) > places {
		return 0, ErrDecimals
	}
	if len(whole) > len("1000000000") {
		return 0, ErrOutOfRange
	}
	n, err := strconv.ParseInt(whole+fraction+"000000"[:places-len(fraction)], 10, 64)
	if err != nil {
		return 0, ErrOutOfRange
	}
	limit := int64(maxUnits)
	for range places {
		limit *= 10
	}
	if n > limit {
		return 0, ErrOutOfRange
	}
	if negative {
		n = -n
	}
	return n, nil
}

func allDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// String writes the amount with two decimals: "12.40".
func (c Cents) String() string { return formatDecimal(int64(c), 2) }

// String writes the rate with four decimals: "1.1500".
func (r Rate) String() string { return formatDecimal(int64(r), 4) }

// String writes the count without needless decimals: "160", "12.5".
func (p Pieces) String() string { return trimmed(int64(p), 3) }

// trimmed writes a number of units of the last place without needless decimals.
func trimmed(n int64, places int) string {
	if unit := [...]int64{1, 10, 100, 1_000, 10_000, 100_000, 1_000_000}[places]; n%unit == 0 {
		return strconv.FormatInt(n/unit, 10)
	}
	return strings.TrimSuffix(strings.TrimRight(formatDecimal(n, places), "0"), ".")
}

func formatDecimal(n int64, places int) string {
	sign := ""
	u := uint64(n)
	if n < 0 {
		sign, u = "-", -u
	}
	s := strconv.FormatUint(u, 10)
	if len(s) <= places {
		s = strings.Repeat("0", places+1-len(s)) + s
	}
	return sign + s[:len(s)-places] + "." + s[len(s)-places:]
}

// MarshalText writes the amount as String does.
func (c Cents) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// MarshalText writes the rate as String does.
func (r Rate) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// MarshalText writes the count as String does.
func (p Pieces) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText reads an amount as ParseCents does.
func (c *Cents) UnmarshalText(b []byte) (err error) { *c, err = ParseCents(string(b)); return err }

// UnmarshalText reads a rate as ParseRate does.
func (r *Rate) UnmarshalText(b []byte) (err error) { *r, err = ParseRate(string(b)); return err }

// UnmarshalText reads a count as ParsePieces does.
func (p *Pieces) UnmarshalText(b []byte) (err error) { *p, err = ParsePieces(string(b)); return err }

// Share is a part of 1 in millionths.
type Share int64

const sharePerUnit = 1_000_000

// ParseShare reads a decimal string such as "0.6", above 0 and at most 1, with six decimals at most.
func ParseShare(s string) (Share, error) {
	n, err := parseDecimal(s, 6)
	return Share(n), err
}

// String writes the share without needless decimals: "0.6".
func (s Share) String() string { return trimmed(int64(s), 6) }

// MarshalText writes the share as String does.
func (s Share) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads a share as ParseShare does.
func (s *Share) UnmarshalText(b []byte) (err error) { *s, err = ParseShare(string(b)); return err }

// UnmarshalInteger takes a count given as a JSON integer rather than a decimal string.
func (p *Pieces) UnmarshalInteger(n int64) error {
	if n > maxUnits || n < -maxUnits {
		return ErrOutOfRange
	}
	*p = Pieces(n * piecesPerUnit)
	return nil
}
