package text

import (
	"fmt"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"time"

	"palmero/payroll"
	"palmero/payroll/dated"
)

func (c *Catalogue) writePart(b *strings.Builder, p part, terms payroll.Terms) {
	value, given := terms[p.name]
	switch {
	case p.name == "" || !given:
		b.WriteString(p.text)
	case p.manner == "iso" && c.pages == nil:
		b.WriteString(c.Value(value))
	case p.manner == "iso":
		b.WriteString(iso(value))
	case p.name == "unit":
		b.WriteString(c.Unit(word(value), p.manner == "many" || p.manner == "" && several(terms)))
	case p.name == "operation":
		b.WriteString(c.Operation(word(value)))
	case p.manner == "figure":
		b.WriteString(c.figure(word(value)))
	case p.manner != "":
		b.WriteString(c.Word(p.manner, word(value)))
	default:
		b.WriteString(c.Value(value))
	}
}

// word is a term as the word that it is.
func word(value any) string {
	if s, ok := value.(string); ok {
		return s
	}
	return fmt.Sprint(value)
}

// Unit says a unit of measure, such as "bunch", in the singular or the plural.
func (c *Catalogue) Unit(name string, many bool) string {
	key := "unit." + slug(name)
	if many && c.Has(key+".many") {
		return c.Say(key+".many", nil)
	}
	return c.Word("unit", name)
}

// Operation says an operation of the trade, such as "de-thorning".
func (c *Catalogue) Operation(name string) string { return c.Word("operation", name) }

// Word says a word by the message of its family, or as it is where there is none: Word("unit", "bag").
func (c *Catalogue) Word(family, word string) string {
	key := family + "." + slug(word)
	if c.Has(key) {
		return c.Say(key, nil)
	}
	return word
}

// figure says a value of a rulebook, its keys and words in the reader's.
func (c *Catalogue) figure(value string) string {
	return figureWord.ReplaceAllStringFunc(value, func(word string) string { return c.Word("value", word) })
}

var figureWord = regexp.MustCompile(`[a-z_]+`)

// slug is a word as keys have it: "Leaf pruning" and "leaf-pruning" are leaf_pruning.
func slug(word string) string { return strings.ToLower(slugs.Replace(word)) }

var slugs = strings.NewReplacer(" ", "_", "-", "_")

// several tells whether the terms count other than one piece.
func several(terms payroll.Terms) bool {
	one := payroll.Pieces(1000)
	if n, ok := terms["pieces"].(payroll.Pieces); ok {
		return n != one
	}
	counts, last := 0, one
	for _, v := range terms {
		if n, ok := v.(payroll.Pieces); ok {
			counts, last = counts+1, n
		}
	}
	return counts == 1 && last != one
}

func iso(value any) string {
	if dates, ok := value.([]dated.Date); ok {
		return list(reflect.ValueOf(dates), iso)
	}
	return fmt.Sprint(value)
}

// Value writes a term in the reader's manner: money as $1,184.00, a rate with two decimals or as many as it needs, time as
// 7:30, a count as 1,250, a date as Feb 16, 2026 or 16 feb 2026, the elements of a slice one after another,
// what a pointer points to, and nothing for nil.
func (c *Catalogue) Value(value any) string {
	switch v := value.(type) {
	case string:
		return v
	case payroll.Cents:
		return money(v.String())
	case payroll.Rate:
		return money(trimRate(v.String()))
	case payroll.Minutes:
		return clock(int64(v))
	case payroll.Pieces:
		return minus(group(v.String()))
	case dated.Date:
		return c.date(v)
	case int:
		return minus(strconv.Itoa(v))
	case bool:
		return c.Say("word."+strconv.FormatBool(v), nil)
	case nil:
		return ""
	}
	switch v := reflect.ValueOf(value); {
	case v.Kind() == reflect.Slice:
		return list(v, c.Value)
	case v.Kind() == reflect.Pointer && v.IsNil():
		return ""
	case v.Kind() == reflect.Pointer:
		return c.Value(v.Elem().Interface())
	}
	return fmt.Sprint(value)
}

func list(v reflect.Value, write func(any) string) string {
	all := make([]string, v.Len())
	for i := range all {
		all[i] = write(v.Index(i).Interface())
	}
	return strings.Join(all, ", ")
}

func (c *Catalogue) date(d dated.Date) string {
	if d.IsZero() {
		return ""
	}
	year, month, day := d.Civil()
	return c.Say("date.written", payroll.Terms{
		"month": c.Say("month."+strconv.Itoa(int(month)), nil), "day": strconv.Itoa(day), "year": strconv.Itoa(year),
	})
}

// Weekday says the day of the week of a date, shortly.
func (c *Catalogue) Weekday(d dated.Date) string {
	return c.Say("weekday."+strconv.Itoa(int(d.Weekday())), nil)
}

// Day writes a date with its day of the week.
func (c *Catalogue) Day(d dated.Date) string { return c.Weekday(d) + " " + c.Value(d) }

// Moment writes an instant on the clock of the time's own place, to the minute.
func (c *Catalogue) Moment(t time.Time) string {
	return c.Day(dated.DateOf(t)) + ", " + t.Format("15:04")
}

// Quantity writes a line's quantity with its unit: minutes as hours, and nothing for one of a sum as given.
func (c *Catalogue) Quantity(quantity, unit string) string {
	switch unit {
	case "sum":
		return ""
	case "minute":
		return c.Value(minutesOf(quantity)) + " h"
	}
	n, err := payroll.ParsePieces(quantity)
	if err != nil { // a part of a lot has a fourth decimal
		return quantity + " " + c.Unit(unit, true)
	}
	return c.Count(n, unit)
}

// Count writes a number of pieces with its unit: "64 bunches".
func (c *Catalogue) Count(n payroll.Pieces, unit string) string {
	return c.Value(n) + " " + c.Unit(unit, n != payroll.Pieces(1000))
}

// minutesOf reads a quantity of minutes, which may end in a half.
func minutesOf(quantity string) any {
	if n, err := payroll.ParsePieces(quantity); err == nil && n%1000 == 0 {
		return payroll.Minutes(n / 1000)
	}
	return quantity
}

// trimRate takes the third and fourth decimals off a rate where they are zero.
func trimRate(s string) string { return strings.TrimSuffix(strings.TrimSuffix(s, "0"), "0") }

// money writes a decimal as an amount in dollars. Spanish as written in the United States has the same signs.
func money(decimal string) string {
	if abs, negative := strings.CutPrefix(decimal, "-"); negative {
		return "−$" + group(abs)
	}
	return "$" + group(decimal)
}

// minus writes a number's sign as a minus rather than a hyphen.
func minus(decimal string) string {
	if abs, negative := strings.CutPrefix(decimal, "-"); negative {
		return "−" + abs
	}
	return decimal
}

// group parts the thousands of a decimal.
func group(decimal string) string {
	whole, fraction, pointed := strings.Cut(decimal, ".")
	digits, negative := strings.CutPrefix(whole, "-")
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + "," + digits[i:]
	}
	if negative {
		digits = "-" + digits
	}
	if pointed {
		digits += "." + fraction
	}
	return digits
}

func clock(minutes int64) string {
	sign := ""
	if minutes < 0 {
		sign, minutes = "−", -minutes
	}
	return fmt.Sprintf("%s%d:%02d", sign, minutes/60, minutes%60)
}
