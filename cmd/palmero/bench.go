package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"

	"palmero/handlers/measuring"
	"palmero/models"
)

const benchHelp = `Usage: palmero bench [--workers N] [--weeks N] [--history N] [--json] [SETTINGS]

Makes up an employer, takes it through a payroll week, and prints how long each part took, beside a reference: the same rows read and
written by the plainest way that the database knows, with nothing checked, reckoned or explained (PostgreSQL: COPY into a temporary
table and INSERT … SELECT into the same tables, as the same role; SQLite: inserts of many rows).

  --workers N   how many workers the employer has (default 500)
  --weeks N     how many weeks of work and pay lie before the week that is measured (default 4)
  --history N   how many of the workers have those weeks (default all)
  --json        print JSON instead of the table

It works in a database of its own, migrated, whose name has "bench" in it, and refuses one with records that it did not make:

  palmero migrate --database sqlite://bench.db
  palmero bench --database sqlite://bench.db --workers 500 --weeks 4

PostgreSQL gathers its statistics (ANALYZE) after loading and before anything is timed, within the time told for loading.

A week of 1,000 workers is 55,000 rows: 200 weeks of 5,000 are 55 million, and take tens of gigabytes and some hours. Drop the
database when you are done. Its calendar stands at 22 February 2026, whatever the day.
`

// mostWeeks is as far back as the employer's rates reach.
const mostWeeks = 500

func runBench(ctx context.Context, args []string, c console) int {
	return recordsCommand{name: "bench", help: benchHelp, of: byRecords, options: []string{"workers", "weeks", "history", "json"}, closed: true, run: bench}.execute(ctx, args, c)
}

func bench(ctx context.Context, o *recordsOrder) (err error) {
	plan, err := o.plan()
	if err != nil {
		return err
	}
	if !strings.Contains(o.database.DatabaseName(), "bench") {
		return misused{fmt.Errorf("the database %q is not one to measure in: its name has no \"bench\" in it. %s", o.database.DatabaseName(), measuring.Describe(o.database.Dialect))}
	}
	store, err := models.Open(ctx, o.database, models.Options{Now: measuring.Now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	result, err := measuring.Run(ctx, store, o.database, plan, func(weeks int) {
		if weeks%10 == 0 {
			fmt.Fprintf(o.err, "%d of %d weeks\n", weeks, plan.Weeks)
		}
	})
	switch {
	case ctx.Err() != nil:
		return errors.New("it was interrupted; what it had loaded is left in the database, which you may drop")
	case errors.Is(err, measuring.ErrOthers):
		return fmt.Errorf("%w. %s", err, measuring.Describe(o.database.Dialect))
	case err != nil:
		return err
	}
	if _, asked := o.flags["json"]; asked {
		encoder := json.NewEncoder(o.out)
		encoder.SetIndent("", "  ")
		return encoder.Encode(result)
	}
	return printMeasured(o.out, result, plan)
}

func (o *recordsOrder) plan() (p measuring.Plan, err error) {
	count := func(name string, fallback, least, most int) int {
		text, given := o.flags[name]
		if !given {
			return fallback
		}
		n, bad := strconv.Atoi(text)
		if bad != nil || n < least || n > most {
			err = errors.Join(err, misused{fmt.Errorf("--%s: %q is not a number between %d and %d", name, text, least, most)})
		}
		return n
	}
	p.Workers = count("workers", 500, 1, 100_000)
	p.Weeks = count("weeks", 4, 0, mostWeeks)
	p.History = count("history", p.Workers, 0, max(p.Workers, 0))
	return p, err
}

func printMeasured(w io.Writer, r *measuring.Result, plan measuring.Plan) error {
	fmt.Fprintf(w, "%s on %s: %d workers; %d weeks of %d of them before the week, %d rows, loaded in %.0f s\n\n", r.Employer, r.Database, plan.Workers, plan.Weeks, plan.History, r.Loaded, r.Seconds)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "part\trows\tpeople\tseconds\trows/s\tpeople/s\tpeak MiB\treference s\tratio\t")
	for _, p := range r.Parts {
		rows, rowsPerSecond := "-", "-"
		if p.Rows > 0 {
			rows, rowsPerSecond = strconv.Itoa(p.Rows), fmt.Sprintf("%.0f", p.RowsPerSecond())
		}
		fmt.Fprintf(t, "%s\t%s\t%d\t%.2f\t%s\t%.0f\t%d\t%.2f\t%.2f\t\n", p.Name, rows, p.People, p.Seconds, rowsPerSecond, p.PeoplePerSecond(), p.PeakMiB, p.Reference, p.Ratio())
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprint(w, "\nThe people of crew sheets are workers' days. Ratio: seconds by the reference's seconds; below 1 the program is the faster.\n")
	return err
}
