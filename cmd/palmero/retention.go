package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/evidence"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

const retentionHelp = `Usage: palmero retention [EMPLOYER] [--language en|es] [SETTINGS]

Says how long the records have to be kept, those of pay, of leave and of safety: for each rulebook that a garden names, the
period for each kind of record with the provision that asks for it, and for each table what there is and until when all of
it is kept. Where no book names a period for a kind, the longest of all goes for it. Nothing in this program deletes a
record, of whatever age. What is counted from the certification of an H-2A contract is counted from the work here, which
keeps longer.

  --language         the language of the report: en (the default) or es

It is no legal advice: an open claim, audit or contract keeps records longer.
`

func runRetention(ctx context.Context, args []string, c console) int {
	return recordsCommand{name: "retention", help: retentionHelp, of: byRecords, names: []string{"EMPLOYER"}, options: []string{"language"}, run: retention}.execute(ctx, args, c)
}

func retention(ctx context.Context, o *recordsOrder) error {
	if lang, given := o.flags["language"]; given && !slices.Contains(text.Languages(), lang) {
		return misused{fmt.Errorf("--language %q is not one of %s", lang, strings.Join(text.Languages(), ", "))}
	}
	books, err := rulebook.Load()
	if err != nil {
		return err
	}
	climbing, err := climbs.Load()
	if err != nil {
		return err
	}
	employers, err := o.employers(ctx)
	if err != nil {
		return err
	}
	for _, e := range employers {
		var r *evidence.Retention
		err := o.view(ctx, e, func(tx *models.Tx) (err error) {
			r, err = evidence.FindRetention(tx, books, climbing)
			return err
		})
		if err != nil {
			return fmt.Errorf("%s: %w", e.SignInName, err)
		}
		if err := o.retained(e, r, text.For(o.flags["language"])); err != nil {
			return err
		}
	}
	return nil
}

func (o *recordsOrder) retained(e models.Employer, r *evidence.Retention, words *text.Catalogue) error {
	o.say("%s\n", e.SignInName)
	table := tabwriter.NewWriter(o.out, 0, 0, 2, ' ', 0)
	row := func(cells ...string) { fmt.Fprintln(table, strings.Join(cells, "\t")) }
	heads := func(keys ...string) {
		for i, key := range keys {
			keys[i] = strings.ToUpper(words.Say("retention.head."+key, nil))
		}
		row(keys...)
	}
	heads("kind", "period", "from", "book", "provision")
	for i := range r.Periods {
		p := &r.Periods[i]
		row(kindOf(p, words), periodOf(p, words), words.Say("retention.from."+string(p.From), nil), bookOr(p.Book, words), p.Source.Section+", "+p.Source.Title)
	}
	row("", "", "", "", "")
	heads("records", "number", "kind", "days", "until")
	for _, k := range r.Kept {
		of := "-"
		if k.Records > 0 {
			of = words.Say("retention.days", payroll.Terms{"first": k.First, "last": k.Last})
		}
		row(words.Say("retention.records."+k.What, nil), fmt.Sprint(k.Records), words.Say("retention.kind."+string(k.Kind), nil), of, dayOrDash(k.Until))
	}
	if err := table.Flush(); err != nil {
		return err
	}
	if longest := r.Longest(); longest != nil && !r.Before.IsZero() {
		o.say("\n%s\n", words.Say("retention.before", payroll.Terms{"before": r.Before, "period": periodOf(longest, words), "from": words.Say("retention.from."+string(longest.From), nil),
			"section": longest.Source.Section, "first": r.First}))
	} else {
		o.say("")
	}
	return nil
}

// kindOf says what a period is for: the kind of record, and the topic of a training.
func kindOf(p *evidence.Period, words *text.Catalogue) string {
	kind := words.Say("retention.kind."+string(p.Kind), nil)
	if p.Topic != "" {
		kind += ": " + words.Word("topic", p.Topic)
	}
	return kind
}

// periodOf says how long a period is: in years, or where it does not come to whole ones in months.
func periodOf(p *evidence.Period, words *text.Catalogue) string {
	switch n := 12*p.Years + p.Months; {
	case n == 12:
		return words.Say("retention.year", nil)
	case n == 1:
		return words.Say("retention.month", nil)
	case p.Months != 0:
		return words.Say("retention.months", payroll.Terms{"n": n})
	}
	return words.Say("retention.years", payroll.Terms{"n": p.Years})
}

// bookOr names a book, or the employer's own word.
func bookOr(book string, words *text.Catalogue) string {
	if book == "" {
		return words.Say("retention.own", nil)
	}
	return book
}

func dayOrDash(d dated.Date) string {
	if d.IsZero() {
		return "-"
	}
	return d.String()
}
