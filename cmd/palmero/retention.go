package main

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"

	"palmero/models"
	"palmero/models/evidence"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

const retentionHelp = `Usage: palmero retention [EMPLOYER] [SETTINGS]

Says how long the records have to be kept: for each rulebook that a garden names, the period for each kind of record with
the provision that asks for it, and for each table what there is and until when all of it is kept. Nothing in this
program deletes a record, of whatever age. What is counted from the certification of an H-2A contract is counted from the
work here, which keeps longer.

It is no legal advice: an open claim, audit or contract keeps records longer.
`

func runRetention(ctx context.Context, args []string, c console) int {
	return recordsCommand{name: "retention", help: retentionHelp, of: byRecords, names: []string{"EMPLOYER"}, run: retention}.execute(ctx, args, c)
}

func retention(ctx context.Context, o *recordsOrder) error {
	books, err := rulebook.Load()
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
			r, err = evidence.FindRetention(tx, books)
			return err
		})
		if err != nil {
			return fmt.Errorf("%s: %w", e.SignInName, err)
		}
		if err := o.retained(e, r); err != nil {
			return err
		}
	}
	return nil
}

func (o *recordsOrder) retained(e models.Employer, r *evidence.Retention) error {
	o.say("%s\n", e.SignInName)
	table := tabwriter.NewWriter(o.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "KIND\tYEARS\tFROM\tBOOK\tPROVISION")
	for _, p := range r.Periods {
		fmt.Fprintf(table, "%s\t%d\t%s\t%s\t%s, %s\n", inPlain(string(p.Kind)), p.Years, p.From, p.Book, p.Source.Section, p.Source.Title)
	}
	fmt.Fprintln(table, "\t\t\t\t\nRECORDS\tNUMBER\tKIND\tOF\tALL KEPT UNTIL")
	for _, k := range r.Kept {
		of := "-"
		if k.Records > 0 {
			of = k.First.String() + " to " + k.Last.String()
		}
		fmt.Fprintf(table, "%s\t%d\t%s\t%s\t%s\n", inPlain(k.What), k.Records, inPlain(string(k.Kind)), of, dayOrDash(k.Until))
	}
	if err := table.Flush(); err != nil {
		return err
	}
	if longest := r.Longest(); longest != nil && !r.Before.IsZero() {
		o.say("\nNo record may be deleted before %s: the longest period is %d years (%s), and the first record is of %s.\n", r.Before, longest.Years, longest.Source.Section, r.First)
	} else {
		o.say("")
	}
	return nil
}

func inPlain(word string) string { return strings.ReplaceAll(word, "_", " ") }

func dayOrDash(d dated.Date) string {
	if d.IsZero() {
		return "-"
	}
	return d.String()
}
