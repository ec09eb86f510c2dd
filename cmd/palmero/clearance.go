package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"palmero/handlers/figuring"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/clearance"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety"
)

const clearanceHelp = `Usage: palmero clearance [EMPLOYER] --crew NUMBER --on DATE [--at TIME] [--json] [--language en|es] [SETTINGS]

Answers from the records who of a crew may go up on a day, which way, and for everybody else every reason against it, with
the provision behind it. It only reads: no clearance is given by it, and nothing is kept.

EMPLOYER is the name that its people sign in with; it may be left out where the database holds one employer.

  --crew NUMBER      the crew's number
  --on DATE          the workday, such as 2026-03-02
  --at TIME          as of this instant, such as 2026-03-02T06:25:00-08:00; without it, as of now where that day is today in
                     the garden, else as of when the crew said how it goes up
  --json             the whole answer as JSON, for programs
  --language         the language of reasons and notes: en (the default) or es

The exit status is 0 where everybody is cleared, and 1 where anybody is not.

The program only warns. A competent person on site decides; local codes and the maker's manual govern.
`

func runClearance(ctx context.Context, args []string, c console) int {
	return recordsCommand{
		name: "clearance", help: clearanceHelp, of: byRecords, names: []string{"EMPLOYER"}, options: []string{"crew", "on", "at", "json", "language"}, run: showClearance,
	}.execute(ctx, args, c)
}

func showClearance(ctx context.Context, o *recordsOrder) error {
	q, crew, err := o.clearanceAsked()
	if err != nil {
		return err
	}
	employers, err := o.employers(ctx)
	if err == nil && len(employers) != 1 {
		err = misused{fmt.Errorf("the database holds %d employers: name one", len(employers))}
	}
	if err != nil {
		return err
	}
	var answer *clearance.Answer
	err = o.view(ctx, employers[0], func(tx *models.Tx) error {
		found, err := models.List[models.Crew](tx, models.Page{Limit: 1}, models.Equal("number", crew))
		if err != nil {
			return err
		}
		if len(found) == 0 {
			return fmt.Errorf("there is no crew %d at %s", crew, employers[0].SignInName)
		}
		q.Crew = found[0].ID
		answer, err = clearance.Look(tx, figuring.Books(), q)
		return err
	})
	if err != nil {
		return err
	}
	words := text.For(o.flags["language"])
	answer.Speak(figuring.Saying(words))
	if o.flags["json"] != "" {
		encoder := json.NewEncoder(o.out)
		encoder.SetEscapeHTML(false)
		err = encoder.Encode(answer)
	} else {
		o.tellClearance(answer, words)
	}
	if err == nil && slices.ContainsFunc(answer.Ways, func(w clearance.Way) bool { return w.Cleared < len(w.Workers) }) {
		err = errTold
	}
	return err
}

// clearanceAsked reads what is asked.
func (o *recordsOrder) clearanceAsked() (q clearance.Question, crew int64, err error) {
	var errs []error
	wrong := func(format string, args ...any) { errs = append(errs, misused{fmt.Errorf(format, args...)}) }
	if crew, err = strconv.ParseInt(o.flags["crew"], 10, 64); err != nil || crew < 1 {
		wrong("--crew needs the crew's number, such as 3")
	}
	if q.Day, err = dated.ParseDate(o.flags["on"]); err != nil {
		wrong("--on needs a day, such as 2026-03-02")
	}
	if at, given := o.flags["at"]; given {
		moment, err := time.Parse(time.RFC3339, at)
		if err != nil {
			wrong("--at needs an instant, such as 2026-03-02T06:25:00-08:00")
		}
		q.At = &moment
	}
	if lang, given := o.flags["language"]; given && !slices.Contains(text.Languages(), lang) {
		wrong("--language %q is not one of %s", lang, strings.Join(text.Languages(), ", "))
	}
	return q, crew, errors.Join(errs...)
}

// tellClearance writes who may go up, and why anybody may not.
func (o *recordsOrder) tellClearance(a *clearance.Answer, words *text.Catalogue) {
	o.say("%s", words.Say("clearance.heading", payroll.Terms{"number": int(a.Crew), "crew": a.Name, "day": words.Day(a.Workday)}))
	for i := range a.Ways {
		w := &a.Ways[i]
		if w.SetupID != nil {
			o.say("\n%s", words.Say("clearance.way", payroll.Terms{
				"way": words.Word("way_up", w.Way), "block": w.Block, "operation": words.Operation(w.Operation), "cleared": w.Cleared, "of": len(w.Workers), "at": words.Moment(*w.At),
			}))
		}
		all := shared(w.Workers)
		for j := range w.Workers {
			o.tellWorker(&w.Workers[j], all, words)
		}
		if len(all) > 0 {
			o.say("  %s", words.Say("clearance.everybody", nil))
			o.tellReasons(all)
		}
	}
	o.say("\n%s", a.Advice)
}

// shared are the reasons that everybody has, told once.
func shared(workers []clearance.Worker) (all []safety.Reason) {
	if len(workers) == 0 {
		return nil
	}
	for _, r := range workers[0].Reasons {
		if !slices.ContainsFunc(workers, func(w clearance.Worker) bool { return !has(w.Reasons, r) }) {
			all = append(all, r)
		}
	}
	return all
}

func has(reasons []safety.Reason, one safety.Reason) bool {
	return slices.ContainsFunc(reasons, func(r safety.Reason) bool { return r.Code == one.Code && r.Text == one.Text && r.Fact == one.Fact })
}

// tellWorker writes whether a worker may go up, and the worker's own reasons.
func (o *recordsOrder) tellWorker(w *clearance.Worker, all []safety.Reason, words *text.Catalogue) {
	verdict := words.Say("clearance.no", nil)
	if w.Cleared {
		verdict = words.Say("clearance.yes", nil)
	}
	o.say("  %-3s %4d  %s", verdict, w.Number, w.Name)
	o.tellReasons(slices.DeleteFunc(slices.Clone(w.Reasons), func(r safety.Reason) bool { return has(all, r) }))
}

func (o *recordsOrder) tellReasons(reasons []safety.Reason) {
	for _, r := range reasons {
		told := r.Text
		if r.Authority != "" {
			told += " (" + r.Authority + ")"
		}
		o.say("              %s", told)
	}
}
