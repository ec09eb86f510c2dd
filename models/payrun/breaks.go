package payrun

import (
	"encoding/json"
	"slices"
	"strings"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// Records that show a meal period missed, short or late, or less rest than a day has, speak against the employer until somebody answers them. So a question
// that nobody has answered is paid as it is proposed, and keeps nobody's pay back: neither this worker's nor anybody else's. An answer
// bears on the week that is handed to the engine, and on nothing else.

// reckoned is a week as one rulebook has it.
type reckoned struct {
	figures *payroll.Statement
	days    []payroll.Day // as they were handed to the engine
	asked   []Problem     // the questions about breaks
}

// breakProblem begins the codes of problems that ask about a break.
const breakProblem = "break."

// settleBreaks finds the questions of a week that was reckoned from the records alone, and reckons it with what they come to.
func (w *workerWeek) settleBreaks(r *records, books *rulebook.Library, book *rulebook.Book, figures *payroll.Statement) (reckoned, []payroll.Fault) {
	as := reckoned{figures: figures, days: w.week.Days}
	hot := w.hotDays(r, book)
	if len(hot) == 0 && !slices.ContainsFunc(figures.Notes, func(n payroll.Note) bool { return isBreakNote(n.Code) }) {
		return as, nil
	}
	with := w.week
	with.Days = slices.Clone(w.week.Days)
	for _, o := range payroll.EntitlementsOf(books, &w.week, figures, hot) {
		for _, d := range o.Decisions {
			p := w.ask(d)
			as.asked = append(as.asked, p)
			i := slices.IndexFunc(with.Days, func(day payroll.Day) bool { return day.Date == d.Date })
			applyAnswer(&with.Days[i], d, r.answers[p.subject()])
		}
	}
	if len(as.asked) == 0 {
		return as, nil
	}
	after, faults := payroll.Reckon(books, &with)
	if len(faults) > 0 {
		return reckoned{}, faults
	}
	as.figures, as.days = after, with.Days
	prices := payroll.NewPrices(books, &with, after)
	for i := range as.asked {
		prices.Put(as.asked[i].Question)
	}
	return as, nil
}

// ask makes the question of a decision. Its subject holds what the records show, so that an answer to other figures is none.
func (w *workerWeek) ask(d payroll.Decision) Problem {
	last := d.Reasons[len(d.Reasons)-1]
	shown := models.ContentHash([]any{d.Missed, d.Reasons, d.Waivable, d.RestDue, d.RecoveryDue})[:16]
	return Problem{WorkerID: w.worker.ID, Kind: Decide, Code: breakProblem + last.Code, Date: d.Date, Terms: last.Terms, Subject: shown, Question: &d}
}

// applyAnswer puts into a day what a decision comes to. Without an answer the period counts as not provided.
func applyAnswer(day *payroll.Day, d payroll.Decision, a *standingAnswer) {
	switch {
	case a == nil || a.Outcome == PremiumOwed:
		day.Miss(d)
	case a.Reason == TakenUnrecorded:
		rested := *day
		if rested.Rested(d.RestDue, payroll.Rest)+rested.Rested(d.RecoveryDue, payroll.Recovery) > 0 {
			day.Miss(d) // there is no work within which it could have been taken
			return
		}
		*day = rested
	case a.Reason == Waived && d.Waivable != "":
		day.MealsWaived = append(slices.Clone(day.MealsWaived), d.Waivable)
	}
}

// isBreakNote tells which of the engine's notes ask about a break.
func isBreakNote(code string) bool {
	switch code {
	case "meal_due", "second_meal_due", "meal_short", "meal_late", "rest_short":
		return true
	}
	return false
}

// askedAbout tells whether a note of the engine stands among the questions.
func (as *reckoned) askedAbout(n payroll.Note) bool {
	meal := strings.Contains(n.Code, "meal")
	return isBreakNote(n.Code) && slices.ContainsFunc(as.asked, func(p Problem) bool {
		return p.Date == n.Date && (p.Question.Period == payroll.MissedMeal) == meal
	})
}

// questionText is a question as it is kept with its problem.
func questionText(p *Problem) (string, error) {
	if p.Question == nil {
		return "", nil
	}
	text, err := json.Marshal(p.Question)
	return string(text), err
}
