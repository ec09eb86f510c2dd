package documents

import (
	"math/big"
	"strconv"
	"strings"

	"palmero/payroll"
)

// sum is arithmetic to redo with a pocket calculator, with what it comes to exactly.
type sum struct {
	text  string
	value *big.Rat
	loose bool // text is a sum or a difference, and stands in parentheses within a product
}

// number makes a sum of one number as it is written: "1.15", "460".
func number(decimal string) sum {
	value, ok := new(big.Rat).SetString(decimal)
	if !ok {
		value = new(big.Rat)
	}
	return sum{text: decimal, value: value}
}

func minutes(m payroll.Minutes) sum { return number(strconv.FormatInt(int64(m), 10)) }

// rate writes a rate with two decimals, or as many as it needs.
func rate(r payroll.Rate) sum {
	return number(strings.TrimSuffix(strings.TrimSuffix(r.String(), "0"), "0"))
}

func (s sum) within() string {
	if s.loose {
		return "(" + s.text + ")"
	}
	return s.text
}

func (s sum) times(t sum) sum {
	return sum{text: s.within() + " × " + t.within(), value: new(big.Rat).Mul(s.value, t.value)}
}

// per divides by a number, not by a product.
func (s sum) per(t sum) sum {
	if t.value.Sign() == 0 {
		return sum{text: s.text, value: s.value}
	}
	return sum{text: s.within() + " ÷ " + t.within(), value: new(big.Rat).Quo(s.value, t.value)}
}

func (s sum) plus(t sum) sum {
	return sum{text: s.text + " + " + t.text, value: new(big.Rat).Add(s.value, t.value), loose: true}
}

func (s sum) minus(t sum) sum {
	return sum{text: s.text + " − " + t.within(), value: new(big.Rat).Sub(s.value, t.value), loose: true}
}

// together adds up sums.
func together(all []sum) sum {
	total := all[0]
	for _, s := range all[1:] {
		total = total.plus(s)
	}
	return total
}

// outcome writes what the sum comes to: all decimals where there are four at most, else four and an ellipsis.
func (s sum) outcome() (decimal string, exact bool) {
	decimal = s.value.FloatString(4)
	back, _ := new(big.Rat).SetString(decimal)
	exact = back.Cmp(s.value) == 0
	if !exact {
		scaled := new(big.Int).Quo(new(big.Int).Mul(s.value.Num(), big.NewInt(10_000)), s.value.Denom())
		return new(big.Rat).SetFrac(scaled, big.NewInt(10_000)).FloatString(4) + "…", false
	}
	return strings.TrimSuffix(strings.TrimSuffix(decimal, "0"), "0"), true
}

// arithmetic is how a line came to its amount, from figures that stand on the same statement; false where the amount is
// one that was given.
func arithmetic(s *payroll.Statement, l *payroll.Line) (sum, bool) {
	t := basisTerms{l.Basis.Terms}
	switch key := l.Basis.Key; key {
	case "basis.piece":
		return number(t.pieces("pieces").String()).times(rate(t.rate("rate"))), true
	case "basis.shared_piece", "basis.shared_piece_exact":
		return t.parts().times(rate(t.rate("rate"))), true
	case "basis.hourly", "basis.nonproductive", "basis.rest_floor", "basis.rest_hourly", "basis.missed_rest_floor", "basis.missed_rest_hourly",
		"basis.sick_given", "basis.sick_hourly", "basis.sick_floor", "basis.leave":
		return byTheHour(minutes(t.minutes("minutes")), t.rate("rate")), true
	case "basis.rest_average", "basis.missed_rest_average", "basis.sick_average":
		return minutes(t.minutes("minutes")).times(number(t.cents("pay").String())).per(minutes(t.minutes("hours"))), true
	case "basis.makeup_day", "basis.makeup_week_pieces", "basis.makeup_week_all":
		return dayByDay(l.Days, t.rates("wages")).minus(number(t.money("earned"))), true
	case "basis.guarantee":
		return dayByDay(l.Days, t.rates("offers")).minus(number(t.money("earned"))), true
	case "basis.premium", "basis.premium_flat":
		return minutes(t.minutes("minutes")).times(t.regular(number(t.text("factor")), number(t.text("flat_factor")))), true
	case "basis.missed_hour", "basis.missed_hour_flat":
		time := number(strconv.Itoa(t.int("count"))).times(minutes(t.minutes("minutes")))
		return time.times(t.regular(number("1"), number("1"))), true
	case "basis.reporting", "basis.reporting_flat":
		return number(t.text("quantity")).times(t.regular(number("1"), number("1"))), true
	case "basis.reporting_no_work":
		return dayByDay(l.Days, t.rates("rates")), true
	case "basis.sick_regular":
		return minutes(t.minutes("minutes")).times(regularOf(s)), true
	}
	return sum{}, false
}

// byTheHour pays minutes at a rate for an hour.
func byTheHour(time sum, r payroll.Rate) sum { return time.times(rate(r)).per(number("60")) }

// dayByDay pays the minutes of each day at its rate; where one rate is given it is that of every day, and the days are taken together.
func dayByDay(days []payroll.DayQuantity, rates []payroll.Rate) sum {
	if len(rates) == 1 {
		times := make([]sum, len(days))
		for i, d := range days {
			times[i] = number(d.Quantity)
		}
		return byTheHour(together(times), rates[0])
	}
	pay := make([]sum, min(len(days), len(rates)))
	for i := range pay {
		pay[i] = byTheHour(number(days[i].Quantity), rates[i])
	}
	return together(pay)
}

// regularOf is the regular rate for a minute, with the flat bonus rate where there is one.
func regularOf(s *payroll.Statement) sum {
	var flat payroll.Cents
	for i := range s.Lines {
		if l := &s.Lines[i]; l.Basis.Key == "basis.bonus_flat" && s.Rates.FlatBonus != nil {
			flat += l.Amount
		}
	}
	r := number((s.Totals.StraightTime - flat).String()).per(minutes(s.Minutes.Worked))
	if flat == 0 {
		return r
	}
	return r.plus(number(flat.String()).per(minutes(s.Minutes.Worked - s.Minutes.Overtime - s.Minutes.DoubleTime)))
}

// basisTerms reads the terms of a basis; one that is not there is zero.
type basisTerms struct{ payroll.Terms }

func (t basisTerms) minutes(name string) payroll.Minutes {
	v, _ := t.Terms[name].(payroll.Minutes)
	return v
}

func (t basisTerms) cents(name string) payroll.Cents {
	v, _ := t.Terms[name].(payroll.Cents)
	return v
}

func (t basisTerms) rate(name string) payroll.Rate {
	v, _ := t.Terms[name].(payroll.Rate)
	return v
}

func (t basisTerms) rates(name string) []payroll.Rate {
	v, _ := t.Terms[name].([]payroll.Rate)
	return v
}

func (t basisTerms) pieces(name string) payroll.Pieces {
	v, _ := t.Terms[name].(payroll.Pieces)
	return v
}

func (t basisTerms) int(name string) int {
	v, _ := t.Terms[name].(int)
	return v
}

func (t basisTerms) text(name string) string {
	v, _ := t.Terms[name].(string)
	if v == "" {
		return "0"
	}
	return v
}

// money is an amount that is told in cents or finer.
func (t basisTerms) money(name string) string {
	if r, ok := t.Terms[name].(payroll.Rate); ok {
		return rate(r).text
	}
	return t.cents(name).String()
}

// regular is the regular rate for a minute times a factor, with the flat bonus rate times its own where there is one.
func (t basisTerms) regular(factor, flatFactor sum) sum {
	r := scaled(factor, number(t.cents("pay").String())).per(minutes(t.minutes("worked")))
	if t.cents("flat_pay") == 0 {
		return r
	}
	return r.plus(scaled(flatFactor, number(t.cents("flat_pay").String())).per(minutes(t.minutes("flat_hours"))))
}

// scaled leaves a factor of one out.
func scaled(factor, s sum) sum {
	if factor.text == "1" {
		return s
	}
	return factor.times(s)
}

// parts adds up the worker's parts of shared lots: "300 × 120/600" is written with a division sign.
func (t basisTerms) parts() sum {
	texts, _ := t.Terms["parts"].([]string)
	parts := make([]sum, 0, len(texts))
	for _, text := range texts {
		parts = append(parts, partSum(text))
	}
	if len(parts) == 0 {
		return number("0")
	}
	return together(parts)
}

func partSum(text string) sum {
	if pieces, heads, ok := strings.Cut(text, " ÷ "); ok {
		return number(pieces).per(number(heads))
	}
	pieces, part, _ := strings.Cut(text, " × ")
	if own, lot, ok := strings.Cut(part, "/"); ok {
		return number(pieces).times(number(own)).per(number(lot))
	}
	return number(pieces).times(number(part))
}
