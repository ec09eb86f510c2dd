package handlers

import (
	"net/http"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// hands are those whose own work is recorded.
var hands = []models.Role{models.RoleWorker, models.RoleCrewLead}

// myRoutes show the caller what is their own: whose it is comes from the account and from nowhere else.
func myRoutes() []Route {
	return []Route{
		{Method: "GET", Path: "/api/v1/my/tallies", Roles: hands, Query: []string{"cursor", "limit", "from", "to"}, Status: http.StatusOK, handle: myTallies},
		{Method: "POST", Path: "/api/v1/my/tallies/{id}/answers", Roles: hands, Status: http.StatusCreated, handle: taking(answerTally)},
		{Method: "GET", Path: "/api/v1/my/tallies/{id}/chain", Roles: hands, Status: http.StatusOK, handle: myChain},
		{Method: "GET", Path: "/api/v1/my/week", Roles: hands, Query: []string{"week_start"}, Status: http.StatusOK, handle: myWeek},
		{Method: "GET", Path: "/api/v1/my/statements", Roles: hands, Query: pageQuery(nil), Status: http.StatusOK, handle: myStatements},
		{Method: "GET", Path: "/api/v1/my/statements/{id}", Roles: hands, Query: []string{"language"}, Status: http.StatusOK, handle: myStatement},
		{Method: "GET", Path: "/api/v1/my/statements/{id}/payment-events", Roles: hands, Status: http.StatusOK, handle: myPaymentEvents},
	}
}

// myTally is a tally as its worker reads it.
type myTally struct {
	ID           uuid.UUID           `json:"id"`
	Workday      models.Date         `json:"workday"`
	Block        string              `json:"block"`
	Operation    string              `json:"operation"`
	Unit         string              `json:"unit"`
	Pieces       payroll.Pieces      `json:"pieces"` // of the whole lot, where there is a part
	Part         *payroll.Part       `json:"part"`   // null: the pieces are all this worker's
	RecordedAt   time.Time           `json:"recorded_at"`
	RecordedBy   string              `json:"recorded_by"`
	Reason       string              `json:"reason,omitempty"` // why it took the place of another
	SupersededBy *uuid.UUID          `json:"superseded_by"`    // the tally that took its place
	Answer       *models.SaidOfTally `json:"answer"`           // the last one; null: none yet
}

func showTally(t *intake.OwnTally, answer *models.SaidOfTally) myTally {
	shown := myTally{
		ID: t.ID, Workday: t.Workday, Block: t.Block, Operation: t.Operation, Unit: t.Unit, Pieces: t.Pieces,
		RecordedAt: t.RecordedAt.UTC(), RecordedBy: t.RecordedBy, Reason: t.Reason, SupersededBy: t.SupersededBy,
		Answer: answer,
	}
	if t.InLot {
		shown.Part = &payroll.Part{Minutes: t.PartMinutes, LotMinutes: t.LotMinutes, Share: t.Share, Heads: t.Heads}
	}
	return shown
}

func myTallies(rq *request) (*reply, error) {
	from, to := dated.MustDate("1990-01-01"), dated.MustDate("9999-12-31")
	p, _, err := rq.page(readsDay("from", &from), readsDay("to", &to))
	if err != nil {
		return nil, err
	}
	var tallies []intake.OwnTally
	var answers map[uuid.UUID]*models.SaidOfTally
	err = rq.view(func(tx *models.Tx) (err error) {
		if tallies, err = intake.WorkerTallies(tx, *rq.caller.Worker, models.Day(from), models.Day(to), p); err == nil {
			answers, err = models.LastAnswers(tx, intake.IDsOf(tallies))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(t *intake.OwnTally) int64 { return t.Seq }
	return plain(paged(tallies, p.Limit, seq, func(t *intake.OwnTally) myTally { return showTally(t, answers[t.ID]) })), nil
}

// myChain is the chain of corrections of one of the caller's tallies. Where it passed through another worker's hands, that part is left out.
func myChain(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var own []intake.OwnTally
	var answers map[uuid.UUID]*models.SaidOfTally
	err = rq.view(func(tx *models.Tx) (err error) {
		if own, err = intake.OwnChain(tx, *rq.caller.Worker, id); err == nil {
			answers, err = models.LastAnswers(tx, intake.IDsOf(own))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	shown := make([]myTally, len(own))
	for i := range own {
		shown[i] = showTally(&own[i], answers[own[i].ID])
	}
	return plain(page[myTally]{Items: shown}), nil
}

// readsDay is a parameter that holds a day, read into a variable.
func readsDay(name string, into *dated.Date) filter {
	return filter{name, func(value string) (condition, *payroll.Fault) {
		day, err := dated.ParseDate(value)
		if err != nil {
			return nil, &payroll.Fault{Key: "input.not_date", Terms: payroll.Terms{"value": value}}
		}
		*into = day
		return models.Everything, nil
	}}
}

// myWeekSoFar is the caller's pay of a week as the records are now.
type myWeekSoFar struct {
	WeekStart dated.Date           `json:"week_start"`
	WeekEnd   dated.Date           `json:"week_end"`
	Statement *documents.Statement `json:"statement"` // null where nothing is recorded yet, or something holds it
	Held      bool                 `json:"held"`
	Problems  []myProblem          `json:"problems"`
}

// myProblem is something about the week that the worker should know.
type myProblem struct {
	Kind payrun.ProblemKind `json:"kind"`
	Code string             `json:"code"`
	Date *dated.Date        `json:"date"`
	Text string             `json:"text"`
}

func myWeek(rq *request) (*reply, error) {
	var asked dated.Date
	if _, _, err := rq.page(readsDay("week_start", &asked)); err != nil {
		return nil, err
	}
	var week myWeekSoFar
	var so *payrun.SoFar
	err := rq.ask(func(b *models.Batch) (err error) {
		if week.WeekStart, err = weekAsked(b, asked); err == nil {
			so, err = payrun.Preview(b, rq.Books, *rq.caller.Worker, week.WeekStart)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	week.fill(rq, so)
	return plain(week), nil
}

func (w *myWeekSoFar) fill(rq *request, so *payrun.SoFar) {
	w.WeekEnd = w.WeekStart.AddDays(6)
	if so.Statement != nil {
		public := documents.StatementJSON(so.Statement, text.For(rq.language()))
		public.Cite(so.Book, documents.RulebookPath)
		w.Statement = &public
	}
	w.Problems = rq.showProblems(so.Problems)
	w.Held = so.Held()
}

func (rq *request) showProblems(problems []payrun.Problem) []myProblem {
	shown := make([]myProblem, len(problems))
	for i, p := range problems {
		shown[i] = myProblem{p.Kind, p.Code, dateOrNull(p.Date), rq.sayProblem(&p)}
	}
	return shown
}

// weekAsked is the week that is asked for by its first day, or the one that today falls in.
func weekAsked(b *models.Batch, asked dated.Date) (dated.Date, error) {
	calendar, err := payrun.CalendarOf(b)
	if err != nil {
		return dated.Date{}, err
	}
	if asked.IsZero() {
		return calendar.WeekOf(calendar.Today(b.Now)), nil
	}
	if first := calendar.WeekOf(asked); first != asked {
		return dated.Date{}, faultyQuery([]payroll.Fault{{Pointer: "week_start", Key: "fault.not_week_start", Terms: payroll.Terms{"nearest": first}}})
	}
	return asked, nil
}

func myStatements(rq *request) (*reply, error) {
	p, _, err := rq.page()
	if err != nil {
		return nil, err
	}
	var briefs []payrun.Brief
	err = rq.view(func(tx *models.Tx) (err error) {
		briefs, err = payrun.WorkerStatements(tx, *rq.caller.Worker, p)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(briefs, p.Limit, briefSeq, showBrief)), nil
}

func myStatement(rq *request) (*reply, error) { return rq.statement(rq.caller.Worker) }

func myPaymentEvents(rq *request) (*reply, error) { return rq.paymentEvents(rq.caller.Worker) }
