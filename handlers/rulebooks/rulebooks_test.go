package rulebooks

import (
	"bytes"
	"encoding/json"
	"regexp"
	"strings"
	"sync"
	"testing"

	"palmero/handlers/text"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

var loaded = sync.OnceValues(rulebook.Load)

func books(t *testing.T) *rulebook.Library {
	t.Helper()
	l, err := loaded()
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func book(t *testing.T, key string) *rulebook.Book {
	t.Helper()
	b, ok := books(t).Book(key)
	if !ok {
		t.Fatalf("no book %s", key)
	}
	return b
}

// word is what a key or a word of a book looks like; anything else is a figure or a section.
var word = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)

// Everything that a book may say has its words in both languages, and no word is left that nothing says.
func TestEveryWordOfTheBooksIsKnown(t *testing.T) {
	said := map[string]bool{"none": true}
	var walk func(f dated.Figure)
	walk = func(f dated.Figure) {
		for _, field := range f.Fields {
			said[field.Key] = true
			walk(field.Figure)
		}
		for _, item := range f.Items {
			walk(item)
		}
		if word.MatchString(f.Text) {
			said[f.Text] = true
		}
	}
	keys := map[string]bool{}
	for _, key := range books(t).Keys() {
		for _, p := range book(t, key).Parameters() {
			for _, v := range p.Values {
				walk(v.Value)
				keys["standing."+string(v.Standing)] = true
			}
			keys["way."+string(p.Way)] = true
		}
		for _, c := range book(t, key).Register() {
			keys["modelled."+string(c.Modelled)] = true
		}
	}
	for w := range said {
		keys["value."+w] = true
	}
	for _, name := range rulebook.RuleNames() {
		keys["rule."+name] = true
	}
	for _, u := range rulebook.Unmodelleds {
		keys["unmodelled."+u.Name] = true
	}
	for _, kind := range []rulebook.LocalKind{rulebook.Ordinance, rulebook.Contract, rulebook.Announcement} {
		keys["local."+string(kind)] = true
	}
	for _, lang := range text.Languages() {
		c := text.For(lang)
		for key := range keys {
			if !c.Has(key) {
				t.Errorf("%s has no words for %s", lang, key)
			}
		}
		for _, key := range c.Keys() {
			family, _, _ := strings.Cut(key, ".")
			if (family == "value" || family == "rule" || family == "unmodelled" || family == "modelled") && !keys[key] {
				t.Errorf("%s has words for %s, which nothing says", lang, key)
			}
		}
	}
}

func TestConsole(t *testing.T) {
	en, es := text.For(text.English), text.For(text.Spanish)
	ca := book(t, "us-ca")
	day := dated.MustDate
	tests := []struct {
		name  string
		write func(b *bytes.Buffer)
		want  []string
		not   string
	}{
		{"list", func(b *bytes.Buffer) { List(b, books(t), en) }, []string{"us       United States, federal\n", "us-ca    California, adds to us\n"}, ""},
		{"history", func(b *bytes.Buffer) { History(b, ca, "minimum_wage", en) }, []string{
			"us-ca minimum_wage.large: Minimum wage, large employers\n", "  Jan 1, 2022 through Dec 31, 2022: 15.00\n    Cal. Lab. Code 1182.12: California Labor Code, minimum wage\n    https://leginfo",
			"us minimum_wage: Minimum wage\n", "    read on a copy or report of the source, read 2026-11-25\n"}, "overtime"},
		{"history in Spanish", func(b *bytes.Buffer) { History(b, ca, "minimum_wage.small", es) }, []string{"del 1 ene 2022 al 31 dic 2022: 14.00", "el valor más alto protege más"}, "The least pay"},
		{"in force", func(b *bytes.Buffer) { InForce(b, ca, day("2022-01-02"), "", en) }, []string{"us-ca minimum_wage.large: 15.00\n", "us minimum_wage: 7.25\n", "us-ca rest: paid apart\n"}, "no value on"},
		{"not announced yet", func(b *bytes.Buffer) { InForce(b, ca, day("2027-01-01"), "minimum_wage", en) }, []string{"us-ca minimum_wage.large: no value on 2027-01-01; the values of the book hold Jul 1, 2014 through Dec 31, 2026.\n"}, "16.90"},
		{"changes", func(b *bytes.Buffer) { Changes(b, ca, day("2021-12-31"), day("2022-01-01"), "overtime", en) }, []string{
			"  2021-12-31  daily 8.5, weekly 45, double time daily none  (Cal. Lab. Code 860, 862)\n  2022-01-01  daily 8, weekly 40, double time daily 12"}, "minimum_wage"},
		{"a value that ends", func(b *bytes.Buffer) { Changes(b, ca, day("2026-12-31"), day("2027-01-01"), "", en) }, []string{"  2027-01-01  no value\n"}, ""},
		{"no changes", func(b *bytes.Buffer) { Changes(b, ca, day("2026-01-01"), day("2026-02-01"), "", es) }, []string{"Nada en este reglamento cambia"}, ""},
		{"register", func(b *bytes.Buffer) { Register(b, []*rulebook.Book{book(t, "us-wa")}, en) }, []string{
			"  rest: reckoned with; always; read on a copy or report of the source; WA-06 (2026-02-15)\n", "  premium_factor: reckoned with (us); always;", "  final_pay.quit: nothing in the book\n"}, "us-ca"},
		{"left out", func(b *bytes.Buffer) { Unmodelled(b, "us-nv", en) }, []string{"  us-nv; NRS 608.018\n", "- Taxes, withholding and contributions.\n  every book; IRS"}, "split shift"},
		{"left out anywhere", func(b *bytes.Buffer) { Unmodelled(b, "", es) }, []string{"turno partido", "us-ca; Cal. Wage Orders sec. 4"}, ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var b bytes.Buffer
			test.write(&b)
			for _, want := range test.want {
				if !strings.Contains(b.String(), want) {
					t.Errorf("%q is not in\n%s", want, &b)
				}
			}
			if test.not != "" && strings.Contains(b.String(), test.not) {
				t.Errorf("%q is in\n%s", test.not, &b)
			}
		})
	}
	if History(&bytes.Buffer{}, book(t, "us-tx"), "sick_leave", en) || InForce(&bytes.Buffer{}, book(t, "us-tx"), day("2026-01-01"), "sick_leave", en) {
		t.Error("something is said of sick leave in Texas")
	}
}

func TestWhatIsAskedFor(t *testing.T) {
	for asked, want := range map[string]bool{"": true, "overtime": true, "minimum_wage": true, "minimum_wage.large": true, "minimum": false, "wages": false} {
		if Known(asked) != want {
			t.Errorf("%q is known: %t", asked, !want)
		}
	}
	if !Says(book(t, "us-ca"), "sick_leave") || !Says(book(t, "us-az"), "premium_factor") || Says(book(t, "us-tx"), "sick_leave") {
		t.Error("what a book and its forebears say is told wrongly")
	}
}

func TestPageInBothLanguages(t *testing.T) {
	for lang, want := range map[string][]string{
		"en": {`<html lang="en">`, "Minimum wage, large employers", "What is knowingly not modelled", "In force on Feb 16, 2026", `href="https://leginfo.legislature.ca.gov/`, "CA-01 (2016-03-06)"},
		"es": {`<html lang="es">`, "Salario mínimo, empleadores grandes", "Lo que a sabiendas no está modelado", "Vigente el 16 feb 2026", `lang="en">Head count`},
	} {
		var b bytes.Buffer
		if err := Page(&b, books(t), book(t, "us-ca"), dated.MustDate("2026-02-16"), text.For(lang)); err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			if !strings.Contains(b.String(), w) {
				t.Errorf("%s: %q is not on the page", lang, w)
			}
		}
		if strings.Contains(b.String(), "<no value>") || strings.Contains(b.String(), "ZgotmplZ") || strings.Contains(b.String(), "rulebook.") {
			t.Errorf("%s: something on the page was not told", lang)
		}
	}
	var b bytes.Buffer
	if err := Page(&b, books(t), book(t, "us"), dated.Date{}, text.For("en")); err != nil || strings.Contains(b.String(), "In force on") {
		t.Errorf("without a day: %v", err)
	}
	if !strings.Contains(Policy(), "style-src 'sha256-") {
		t.Error("the policy does not name the style")
	}
}

func TestPublic(t *testing.T) {
	d := Public(books(t), book(t, "us-ca"), dated.MustDate("2026-12-31"), dated.MustDate("2027-01-01"), text.For("en"))
	if len(d.Changes) != 2 || d.Changes[0].After != nil || *d.Parent != "us" || d.Local != nil {
		t.Errorf("changes %+v", d.Changes)
	}
	first, err := json.Marshal(d)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"value":{"daily":"8","weekly":"40","double_daily":"12"}`, `"value":26,`, `"from":null,"through":"2018-12-31"`, `"parameter":"minimum_wage.large","title":"Minimum wage, large employers","book":"us-ca"`} {
		if !bytes.Contains(first, []byte(want)) {
			t.Errorf("%s is not in the document", want)
		}
	}
	second, _ := json.Marshal(Public(books(t), book(t, "us-ca"), dated.MustDate("2026-12-31"), dated.MustDate("2027-01-01"), text.For("en")))
	if !bytes.Equal(first, second) {
		t.Error("the same book gives other bytes")
	}
	if bare := Public(books(t), book(t, "us-ca"), dated.Date{}, dated.Date{}, text.For("en")); bare.InForce != nil || bare.Changes != nil {
		t.Error("something is in force on no day")
	}
	if s := Summaries(books(t)); len(s) != 7 || s[0].Parent != nil || s[1].Title != "Arizona" {
		t.Errorf("summaries %+v", s)
	}
}

const oasis = `
book: oasis
title: The invented city of Oasis
parent: us-ca
local: announcement
sources:
  city: {title: Oasis announcement, section: Oasis 1, link: "https://law.example/oasis"}
parameters:
  minimum_wage:
    about: What the city announced
    way: higher
    values: [{from: 2027-01-01, through: 2027-12-31, value: "17.30", source: city, read: 2026-11-25, standing: read}]
authorities: {}
`

func TestCheck(t *testing.T) {
	tests := []struct{ name, text, lang, praise, reason string }{
		{"good", oasis, "en", "oasis.yaml: good. The book oasis adds to us-ca; of its own it says: Minimum wage.", ""},
		{"below what was", strings.Replace(oasis, "17.30", "16.80", 1), "en", "", "oasis.yaml: Minimum wage: 16.80 on 2027-01-01 protects less than 16.90, the last value that the book us-ca has. A local book may only move the protective way; correct the value or remove it."},
		{"the same in Spanish", strings.Replace(strings.Replace(oasis, "2027-01-01", "2026-01-01", 1), "17.30", "16.80", 1), "es", "", "oasis.yaml: Salario mínimo: 16.80 el 2026-01-01 protege menos que 16.90, lo que tiene el reglamento us-ca."},
		{"since ever", strings.NewReplacer("minimum_wage", "rest", "way: higher", "way: not_comparable", "2027-01-01", "open", `"17.30"`, "included").Replace(oasis), "en", "", "covered by the other pay on since ever protects less than paid apart"},
		{"no local book", strings.Replace(strings.Replace(oasis, "local: announcement\n", "", 1), "us-ca", "us", 1), "en", "", "oasis.yaml: is no local book; say in local"},
		{"a source left out", strings.Replace(oasis, "source: city, ", "", 1), "en", "", "oasis.yaml:12: parameters.minimum_wage.values[0]: lacks source; add it"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			praise, reasons := Check(books(t), map[string][]byte{"oasis.yaml": []byte(test.text)}, text.For(test.lang))
			if got := strings.Join(praise, "\n"); got != test.praise {
				t.Errorf("praise %q, want %q", got, test.praise)
			}
			if got := strings.Join(reasons, "\n"); !strings.Contains(got, test.reason) || (got == "") != (test.reason == "") {
				t.Errorf("reasons %q, want %q", got, test.reason)
			}
		})
	}
}
