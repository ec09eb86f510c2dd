package rulebooks

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// Check says whether local books, given by file name, are good beside the books of a library. Praise has a sentence for
// each that is, reasons what is wrong with the others; one of the two is empty.
func Check(books *rulebook.Library, texts map[string][]byte, c *text.Catalogue) (praise, reasons []string) {
	with, err := books.With(texts)
	if err != nil {
		for _, reason := range apart(err) {
			reasons = append(reasons, told(reason, c))
		}
		return nil, reasons
	}
	for _, file := range slices.Sorted(maps.Keys(texts)) {
		book, _ := with.Book(strings.TrimSuffix(file, ".yaml"))
		if !book.IsLocal() {
			reasons = append(reasons, fmt.Sprintf("%s: %s", file, c.Say("rulebook.not_local", nil)))
			continue
		}
		praise = append(praise, good(file, book, c))
	}
	if len(reasons) > 0 {
		return nil, reasons
	}
	return praise, nil
}

func good(file string, book *rulebook.Book, c *text.Catalogue) string {
	var rules []string
	for _, p := range book.Parameters() {
		rules = append(rules, speaker{c}.Rule(p.Name))
	}
	return c.Say("rulebook.good", payroll.Terms{"file": file, "key": book.Key(), "parent": book.ParentKey(), "rules": strings.Join(rules, "; ")})
}

// apart takes joined errors apart.
func apart(err error) []error {
	several, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return []error{err}
	}
	var all []error
	for _, e := range several.Unwrap() {
		all = append(all, apart(e)...)
	}
	return all
}

// told says why a book is refused: that it protects less in the reader's language, what is wrong with the file as its
// reader has it.
func told(reason error, c *text.Catalogue) string {
	var l *rulebook.Loosening
	if !errors.As(reason, &l) {
		return reason.Error()
	}
	s := speaker{c}
	key := "rulebook.looser"
	if l.Past {
		key = "rulebook.looser_past"
	}
	day := l.Day.String()
	if l.Day.IsZero() {
		day = c.Say("rulebook.since_ever", nil)
	}
	return l.Book + ".yaml: " + c.Say(key, payroll.Terms{"rule": s.Rule(l.Parameter), "value": s.Figure(l.Value), "day": day, "held": s.Figure(l.Held), "forebear": l.Forebear})
}
