package main

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"runtime/debug"
	"slices"
	"strings"

	"palmero/handlers/documents"
	"palmero/handlers/reckoning"
	"palmero/handlers/strictjson"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

const reckonHelp = `Usage: palmero reckon [--language en|es] [--indent | --explain]

Reckons worker-weeks, without a database. It reads them as JSON from standard input: one document, which may take
several lines, or one per line (NDJSON). For each it writes one statement per line, in the same order.

A week that cannot be reckoned gets an error in its place, which points at every field to correct:

  {"error":{"title":"…","errors":[{"pointer":"/days/0/tallies/0/pieces","detail":"…"}]}}

The other weeks are reckoned all the same, and the exit status is then 1. It is 2 if the command itself is wrong.

  --language   the language of reasons, notes and errors: en (the default) or es
  --indent     write the statement over several lines, to be read; for one document only
  --explain    write each week as text instead: every line with arithmetic to redo with a pocket calculator, the
               provision it rests on, and where to read that

Example:

  echo '{"rulebook":"us-ca","week_start":"2026-02-15","days":[{"date":"2026-02-16",
    "time":[{"kind":"piece","minutes":450}],
    "tallies":[{"operation":"pollination","unit":"bunch","pieces":160,"rate":"1.15"}]}]}' | palmero reckon --indent

Local labor and safety codes govern; a statement shows its sources and is no legal advice.
`

// runReckon reads worker-weeks from in and writes statements to out. It returns the exit status.
func runReckon(args []string, in io.Reader, out, errOut io.Writer) int {
	flags := flag.NewFlagSet("reckon", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	language := flags.String("language", text.English, "")
	indent := flags.Bool("indent", false, "")
	explain := flags.Bool("explain", false, "")
	switch err := flags.Parse(args); {
	case errors.Is(err, flag.ErrHelp):
		fmt.Fprint(out, reckonHelp)
		return done
	case err != nil:
		return streamMisuse("reckon", errOut, err.Error())
	case flags.NArg() > 0:
		return streamMisuse("reckon", errOut, fmt.Sprintf("%q is not expected; weeks are read from standard input", flags.Arg(0)))
	case *indent && *explain:
		return streamMisuse("reckon", errOut, "--explain writes text, which --indent does not change; leave one of them out")
	case !slices.Contains(text.Languages(), *language):
		return streamMisuse("reckon", errOut, fmt.Sprintf("--language %q is not one of %s", *language, strings.Join(text.Languages(), ", ")))
	}
	books, err := rulebook.Load()
	if err != nil {
		fmt.Fprintf(errOut, "palmero reckon: the rulebooks cannot be read: %v\n", err)
		return failed
	}
	if *explain {
		outcome, err := explainWeeks(books, text.For(*language), in, out)
		return streamStatus("reckon", "worker-week", outcome, err, errOut)
	}
	// What lives is no more than the weeks in flight, so collecting it less often costs little memory and saves much time.
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	weeks := reckoning.Weeks{Books: books, Words: text.For(*language), Indent: *indent}
	outcome, err := weeks.Run(in, out)
	return streamStatus("reckon", "worker-week", outcome, err, errOut)
}

// explainWeeks reads worker-weeks and writes each as text, one after another; of a week that cannot be reckoned, every
// field to correct. What is no JSON ends the input.
func explainWeeks(books *rulebook.Library, words *text.Catalogue, in io.Reader, out io.Writer) (outcome reckoning.Outcome, err error) {
	weeks := json.NewDecoder(in)
	for {
		var document json.RawMessage
		switch err := weeks.Decode(&document); {
		case err == io.EOF:
			return outcome, nil
		case err != nil:
			return outcome, fmt.Errorf("after %d weeks the input is no JSON: %w", outcome.Documents, err)
		}
		if outcome.Documents++; outcome.Documents > 1 {
			fmt.Fprintln(out)
		}
		faults, err := explainWeek(books, words, document, out)
		if err != nil {
			return outcome, err
		}
		if len(faults) > 0 {
			outcome.Refused++
			writeFaults(out, faults, words)
		}
	}
}

func explainWeek(books *rulebook.Library, words *text.Catalogue, document []byte, out io.Writer) ([]payroll.Fault, error) {
	var week payroll.Week
	if faults := strictjson.Decode(document, &week); len(faults) > 0 {
		return faults, nil
	}
	statement, faults := payroll.Reckon(books, &week)
	if len(faults) > 0 {
		return faults, nil
	}
	book, _ := books.Book(week.Rulebook)
	if err := documents.Explain(out, &week, statement, book, words); err != nil {
		return nil, err
	}
	return nil, nil
}

func writeFaults(out io.Writer, faults []payroll.Fault, words *text.Catalogue) {
	fmt.Fprintln(out, words.Say("reckon.refused", nil))
	for _, f := range faults {
		fmt.Fprintf(out, "  %s  %s\n", f.Pointer, words.Say(f.Key, f.Terms))
	}
}
