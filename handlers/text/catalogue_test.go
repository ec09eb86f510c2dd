package text

import (
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"palmero/payroll"
	"palmero/payroll/dated"
)

func TestLanguagesSayTheSame(t *testing.T) {
	en, es := For(English), For(Spanish)
	if diff := cmp.Diff(en.Keys(), es.Keys()); diff != "" {
		t.Fatalf("keys of English (-) and Spanish (+) differ:\n%s", diff)
	}
	for _, key := range en.Keys() {
		if diff := cmp.Diff(placeholders(en.messages[key]), placeholders(es.messages[key])); diff != "" {
			t.Errorf("%s: placeholders of English (-) and Spanish (+) differ:\n%s", key, diff)
		}
	}
}

// placeholders lists those of a message, once each. A unit is one whether it is said in the singular or the plural.
func placeholders(m message) []string {
	var all []string
	for _, p := range m {
		switch {
		case p.name == "unit":
			all = append(all, p.name)
		case p.name != "":
			all = append(all, p.text)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

func TestLoadRefuses(t *testing.T) {
	for name, tc := range map[string]struct {
		files map[string]string
		want  string
	}{
		"two files": {map[string]string{"a": `{"x.y":"1"}`, "b": `{"x.y":"2"}`}, "catalogue/en/b.json: x.y: already in catalogue/en/a.json"},
		"twice":     {map[string]string{"a": `{"x.y":"1","x.y":"2"}`}, `duplicate object member name "x.y"`},
		"empty":     {map[string]string{"a": `{"x":" "}`}, "x: nothing is said"},
		"number":    {map[string]string{"a": `{"x":1}`}, "x: not a text"},
		"list":      {map[string]string{"a": `[]`}, "not a JSON object"},
		"two":       {map[string]string{"a": `{} {}`}, "more than one JSON object"},
		"cut":       {map[string]string{"a": `{"x":"y"`}, "unexpected EOF"},
		"open":      {map[string]string{"a": `{"x":"a {b"}`}, "is no placeholder"},
		"space":     {map[string]string{"a": `{"x":"a {b c}"}`}, "is no placeholder"},
		"nameless":  {map[string]string{"a": `{"x":"a {:iso}"}`}, "is no placeholder"},
		"close":     {map[string]string{"a": `{"x":"a } b"}`}, "a closing brace"},
	} {
		t.Run(name, func(t *testing.T) {
			from := fstest.MapFS{}
			for file, content := range tc.files {
				from["catalogue/en/"+file+".json"] = &fstest.MapFile{Data: []byte(content)}
			}
			if _, err := load(from, English); err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("error %v, want %q", err, tc.want)
			}
		})
	}
}

// catalogueOf is a catalogue of a few messages beside the words that values need.
func catalogueOf(t *testing.T, lang string, messages map[string]string) *Catalogue {
	t.Helper()
	c, err := load(files, lang)
	if err != nil {
		t.Fatal(err)
	}
	for key, text := range messages {
		if err := c.add("test", key, text); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

func TestSay(t *testing.T) {
	rate := payroll.Rate(11500)
	day, next := dated.MustDate("2026-02-16"), dated.MustDate("2026-12-01")
	messages := map[string]string{
		"test.value": "[{v}]", "test.iso": "{v:iso}", "test.kind": "{v:not}", "test.unit": "{pieces} {unit}", "test.many": "{unit:many}", "test.one": "{pieces} {unit:one}",
		"test.operation": "{operation}", "test.plain": "plain", "test.share": "{quantity} {unit}",
	}
	for _, tc := range []struct {
		key    string
		terms  payroll.Terms
		en, es string
	}{
		{"test.plain", nil, "plain", "plain"},
		{"test.nowhere", nil, "test.nowhere", "test.nowhere"},
		{"test.value", nil, "[{v}]", "[{v}]"},
		{"test.value", payroll.Terms{"v": "a {v}"}, "[a {v}]", "[a {v}]"},
		{"test.value", payroll.Terms{"v": payroll.Rate(11500)}, "[$1.15]", "[$1.15]"},
		{"test.value", payroll.Terms{"v": payroll.Rate(11550)}, "[$1.155]", "[$1.155]"},
		{"test.value", payroll.Terms{"v": payroll.Rate(169_001)}, "[$16.9001]", "[$16.9001]"},
		{"test.value", payroll.Terms{"v": payroll.Rate(-10_000_0000)}, "[−$10,000.00]", "[−$10,000.00]"},
		{"test.value", payroll.Terms{"v": payroll.Cents(18400)}, "[$184.00]", "[$184.00]"},
		{"test.value", payroll.Terms{"v": payroll.Cents(123456789)}, "[$1,234,567.89]", "[$1,234,567.89]"},
		{"test.value", payroll.Terms{"v": payroll.Cents(-500)}, "[−$5.00]", "[−$5.00]"},
		{"test.value", payroll.Terms{"v": payroll.Minutes(450)}, "[7:30]", "[7:30]"},
		{"test.value", payroll.Terms{"v": payroll.Minutes(-5)}, "[−0:05]", "[−0:05]"},
		{"test.value", payroll.Terms{"v": payroll.Pieces(160_000)}, "[160]", "[160]"},
		{"test.value", payroll.Terms{"v": payroll.Pieces(1_250_500)}, "[1,250.5]", "[1,250.5]"},
		{"test.value", payroll.Terms{"v": day}, "[Feb 16, 2026]", "[16 feb 2026]"},
		{"test.value", payroll.Terms{"v": dated.Date{}}, "[]", "[]"},
		{"test.value", payroll.Terms{"v": []dated.Date{day, next}}, "[Feb 16, 2026, Dec 1, 2026]", "[16 feb 2026, 1 dic 2026]"},
		{"test.iso", payroll.Terms{"v": day}, "2026-02-16", "2026-02-16"},
		{"test.iso", payroll.Terms{"v": []dated.Date{day, next}}, "2026-02-16, 2026-12-01", "2026-02-16, 2026-12-01"},
		{"test.value", payroll.Terms{"v": []string{"a", "b"}}, "[a, b]", "[a, b]"},
		{"test.value", payroll.Terms{"v": -40}, "[−40]", "[−40]"},
		{"test.value", payroll.Terms{"v": int64(7)}, "[7]", "[7]"},
		{"test.value", payroll.Terms{"v": nil}, "[]", "[]"},
		{"test.value", payroll.Terms{"v": &rate}, "[$1.15]", "[$1.15]"},
		{"test.value", payroll.Terms{"v": (*payroll.Rate)(nil)}, "[]", "[]"},
		{"test.value", payroll.Terms{"v": true}, "[yes]", "[sí]"},
		{"test.kind", payroll.Terms{"v": "list"}, "(it is a list)", "(es una lista)"},
		{"test.kind", payroll.Terms{"v": "heap"}, "heap", "heap"},
		{"test.unit", payroll.Terms{"pieces": payroll.Pieces(1000), "unit": "bunch"}, "1 bunch", "1 racimo"},
		{"test.unit", payroll.Terms{"pieces": payroll.Pieces(160_000), "unit": "bunch"}, "160 bunches", "160 racimos"},
		{"test.unit", payroll.Terms{"pieces": payroll.Pieces(1500), "unit": "Box"}, "1.5 boxes", "1.5 cajas"},
		{"test.unit", payroll.Terms{"pieces": payroll.Pieces(2000), "unit": "crate"}, "2 crate", "2 crate"},
		{"test.one", payroll.Terms{"pieces": payroll.Pieces(2000), "unit": "palm"}, "2 palm", "2 palma"},
		{"test.many", payroll.Terms{"unit": "palm"}, "palms", "palmas"},
		{"test.share", payroll.Terms{"quantity": payroll.Pieces(60_000), "unit": "bunch"}, "60 bunches", "60 racimos"},
		{"test.operation", payroll.Terms{"operation": "de-thorning"}, "de-thorning", "desespinado"},
		{"test.operation", payroll.Terms{"operation": "Leaf pruning"}, "leaf pruning", "poda de palmas"},
		{"test.operation", payroll.Terms{"operation": "mending fences"}, "mending fences", "mending fences"},
	} {
		for lang, want := range map[string]string{English: tc.en, Spanish: tc.es} {
			c := catalogueOf(t, lang, messages)
			if got := c.Say(tc.key, tc.terms); got != want {
				t.Errorf("%s %s %v: %q, want %q", lang, tc.key, tc.terms, got, want)
			}
		}
	}
}

// Pages are read by people only, so no date of theirs is ISO; all else they say alike.
func TestPagesWriteDatesInTheReadersManner(t *testing.T) {
	terms := payroll.Terms{"topic": "lift_operator", "date": dated.MustDate("2026-02-16")}
	for _, tc := range []struct{ lang, all, pages string }{
		{English, "The training in running a lift held through 2026-02-16. Renew it first.", "The training in running a lift held through Feb 16, 2026. Renew it first."},
		{Spanish, "La capacitación en manejo de elevadores valía hasta el 2026-02-16. Renuévela primero.", "La capacitación en manejo de elevadores valía hasta el 16 feb 2026. Renuévela primero."},
	} {
		if got := For(tc.lang).Say("reason.training_expired", terms); got != tc.all {
			t.Errorf("%s: %q, want %q", tc.lang, got, tc.all)
		}
		if got := ForPages(tc.lang).Say("reason.training_expired", terms); got != tc.pages {
			t.Errorf("%s on pages: %q, want %q", tc.lang, got, tc.pages)
		}
	}
}

func TestWeekday(t *testing.T) {
	monday := dated.MustDate("2026-02-16")
	if en, es := For(English).Weekday(monday), For(Spanish).Weekday(monday); en != "Mon" || es != "lun" {
		t.Errorf("%s, %s", en, es)
	}
}

func TestForAnyOtherLanguageIsEnglish(t *testing.T) {
	for lang, want := range map[string]string{"en": "en", "es": "es", "": "en", "fr": "en"} {
		if got := For(lang).Language(); got != want {
			t.Errorf("For(%q) speaks %s", lang, got)
		}
	}
}

func TestMatch(t *testing.T) {
	for _, tc := range []struct {
		accept    string
		preferred []string
		want      string
	}{
		{"", nil, "en"},
		{"es", nil, "es"},
		{"es-MX,es;q=0.9,en;q=0.8", nil, "es"},
		{"en-US,es;q=0.5", nil, "en"},
		{"fr;q=1, es-419;q=0.5", nil, "es"},
		{"fr", nil, "en"},
		{"*", nil, "en"},
		{"en", []string{"es"}, "es"},
		{"es", []string{"", "en"}, "en"},
		{"es", []string{"fr"}, "es"},
		{"es", []string{"!", ""}, "es"},
		{";;;q=,", nil, "en"},
		{strings.Repeat("x-", 10_000), nil, "en"},
	} {
		if got := Match(tc.accept, tc.preferred...); got != tc.want {
			t.Errorf("Match(%.40q, %q) = %s, want %s", tc.accept, tc.preferred, got, tc.want)
		}
	}
}

// Two readers at once never hear each other's language. Worth most under the race detector.
func TestLanguagesNeverMix(t *testing.T) {
	var wg sync.WaitGroup
	for i := range 8 {
		lang, want := English, "Did you mean “a”?"
		if i%2 == 1 {
			lang, want = Spanish, "¿Quiso decir «a»?"
		}
		wg.Go(func() {
			for range 500 {
				if got := For(lang).Say("input.unknown_meant", payroll.Terms{"field": "b", "meant": "a"}); !strings.HasSuffix(got, want) {
					t.Errorf("%s: %q", lang, got)
					return
				}
			}
		})
	}
	wg.Wait()
}

func BenchmarkSay(b *testing.B) {
	c := For(English)
	terms := payroll.Terms{"value": "1.23456", "places": 4}
	for b.Loop() {
		c.Say("input.decimals", terms)
	}
}
