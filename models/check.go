package models

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/google/uuid"
	"golang.org/x/text/language"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// Longest texts that are kept, in characters: a name or a code, and what somebody says.
const (
	ShortText = 100
	LongText  = 500

	shortText = ShortText
	longText  = LongText
)

// Checker gathers the faults of a document.
type Checker struct {
	tx     *Tx
	faults []payroll.Fault
	err    error
}

// NewChecker begins a check within a transaction, which it asks whether referenced records exist.
func NewChecker(tx *Tx) *Checker { return &Checker{tx: tx} }

// Done returns the faults found, or the error that kept the check from being made.
func (c *Checker) Done() ([]payroll.Fault, error) { return c.faults, c.err }

// Fault notes one fault.
func (c *Checker) Fault(pointer, key string, terms payroll.Terms) {
	c.faults = append(c.faults, payroll.Fault{Pointer: pointer, Key: key, Terms: terms})
}

// Text trims a text and wants it present and no longer than limit characters.
func (c *Checker) Text(pointer string, s *string, limit int) {
	c.OptionalText(pointer, s, limit)
	if *s == "" {
		c.Fault(pointer, "fault.empty", nil)
	}
}

// OptionalText trims a text and wants it no longer than limit characters, free of control characters but for line breaks.
func (c *Checker) OptionalText(pointer string, s *string, limit int) {
	*s = strings.TrimSpace(*s)
	if utf8.RuneCountInString(*s) > limit {
		c.Fault(pointer, "fault.too_long", payroll.Terms{"limit": limit})
	}
	if strings.ContainsFunc(*s, func(r rune) bool { return r < ' ' && r != '\n' || r == 0x7f }) {
		c.Fault(pointer, "fault.control_characters", nil)
	}
}

// Range wants low ≤ n ≤ high.
func (c *Checker) Range(pointer string, n, low, high int64) {
	if n < low || n > high {
		c.Fault(pointer, "fault.not_between", payroll.Terms{"low": int(low), "high": int(high)})
	}
}

// OneOf wants one of a few words.
func (c *Checker) OneOf(pointer, s string, words ...string) {
	for _, w := range words {
		if s == w {
			return
		}
	}
	c.Fault(pointer, "fault.not_one_of", payroll.Terms{"value": s, "allowed": words})
}

// Language wants a language that statements are written in.
func (c *Checker) Language(pointer string, s *string) {
	tag, err := language.Parse(*s)
	if err == nil {
		base, _ := tag.Base()
		*s = base.String()
	}
	c.OneOf(pointer, *s, "en", "es")
}

// earliest is the first day that a record may be about; anything before is a slip of the finger.
var earliest = dated.MustDate("1990-01-01")

// Day wants a plausible day for a record of work: from 1990 to a day after today in the zone furthest ahead. It tells whether it is.
func (c *Checker) Day(pointer string, d dated.Date) bool {
	return c.DayUntil(pointer, d, dated.DateOf(c.tx.Now).AddDays(2))
}

// DayUntil wants a day from 1990 through last, and tells whether it is.
func (c *Checker) DayUntil(pointer string, d, last dated.Date) bool {
	plausible := !d.Before(earliest) && !d.After(last)
	if !plausible {
		c.Fault(pointer, "fault.day_implausible", payroll.Terms{"first": earliest, "last": last})
	}
	return plausible
}

// Planned wants a plausible day that may lie ahead: from 1990 to two years from now.
func (c *Checker) Planned(pointer string, d dated.Date) {
	c.DayUntil(pointer, d, dated.DateOf(c.tx.Now).AddDays(731))
}

// Zone wants a time zone of the IANA database.
func (c *Checker) Zone(pointer, name string) {
	if name == "" || name == "Local" {
		c.Fault(pointer, "fault.unknown_zone", payroll.Terms{"given": name})
		return
	}
	if _, err := Zone(name); err != nil {
		c.Fault(pointer, "fault.unknown_zone", payroll.Terms{"given": name})
	}
}

// Reference wants id to be a record of this employer in a table.
func (c *Checker) Reference(pointer, table string, id uuid.UUID) {
	missing, err := c.tx.Missing(table, []uuid.UUID{id})
	if err != nil {
		c.err = err
		return
	}
	if len(missing) > 0 {
		c.Fault(pointer, "fault.unknown_reference", nil)
	}
}

// Missing returns which of ids are no records of this employer in a table, in one statement.
func (t *Tx) Missing(table string, ids []uuid.UUID) (map[uuid.UUID]bool, error) {
	missing := make(map[uuid.UUID]bool, len(ids))
	for _, id := range ids {
		missing[id] = true
	}
	if len(ids) == 0 {
		return missing, nil
	}
	var found []uuid.UUID
	err := t.DB().Raw("SELECT id FROM "+table+" WHERE employer_id = ? AND id IN ?", t.Employer, ids).Scan(&found).Error
	for _, id := range found {
		delete(missing, id)
	}
	return missing, translate(err)
}

// words wants each of a list to be one of a few words.
func (c *Checker) words(pointer string, list, allowed []string) {
	for i, w := range list {
		c.OneOf(fmt.Sprintf("%s/%d", pointer, i), w, allowed...)
	}
}

// identifiers wants each of a list to be the identifier of a record of this employer in a table.
func (c *Checker) identifiers(pointer, table string, list []string) {
	ids := make([]uuid.UUID, len(list))
	for i, s := range list {
		ids[i], _ = uuid.Parse(s) // what is none is the nil UUID, which names no record
	}
	missing, err := c.tx.Missing(table, ids)
	if err != nil {
		c.err = err
		return
	}
	for i, id := range ids {
		if missing[id] {
			c.Fault(fmt.Sprintf("%s/%d", pointer, i), "fault.unknown_reference", nil)
		}
	}
}
