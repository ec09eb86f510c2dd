package handlers

import (
	"bytes"
	"math"
	"net/http"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

var runFilters = []filter{
	byDay("week_start", models.OfWeek),
	byWord("state", string(payrun.Draft), string(payrun.Approved), string(payrun.Paid)),
}

const runsPath = "/api/v1/pay-runs"

func payRunRoutes() []Route {
	const one = runsPath + "/{id}"
	return []Route{
		{Method: "GET", Path: runsPath, Roles: office, Query: pageQuery(runFilters), Status: http.StatusOK, handle: listRuns},
		{Method: "POST", Path: runsPath, Roles: clerks, Status: http.StatusCreated, handle: taking(draftRun)},
		{Method: "GET", Path: one, Roles: office, Status: http.StatusOK, handle: getRun},
		{Method: "POST", Path: one + "/redraft", Roles: clerks, Status: http.StatusOK, handle: moving(redraft)},
		{Method: "POST", Path: one + "/approve", Roles: office, Status: http.StatusOK, handle: moving(approve)},
		{Method: "POST", Path: one + "/withdraw", Roles: office, Status: http.StatusOK, handle: moving(withdraw)},
		{Method: "POST", Path: one + "/payments", Roles: clerks, Status: http.StatusOK, handle: taking(payRun)},
		{Method: "GET", Path: one + "/problems", Roles: office, Query: pageQuery(nil), Status: http.StatusOK, handle: listProblems},
		{Method: "POST", Path: one + "/problems/{no}/decision", Roles: clerks, Status: http.StatusOK, handle: taking(decideProblem)},
		{Method: "GET", Path: one + "/statements", Roles: office, Query: pageQuery(nil), Status: http.StatusOK, handle: listRunStatements},
		{Method: "GET", Path: one + "/pay-list.csv", Roles: office, Query: []string{"language"}, Status: http.StatusOK, handle: payList},
	}
}

func listRuns(rq *request) (*reply, error) {
	p, conditions, err := rq.page(runFilters...)
	if err != nil {
		return nil, err
	}
	var runs []payrun.Run
	err = rq.view(func(tx *models.Tx) (err error) {
		runs, err = models.List[payrun.Run](tx, p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(r *payrun.Run) int64 { return r.Seq }
	return plain(paged(runs, p.Limit, seq, func(r *payrun.Run) *payrun.Run { return r })), nil
}

func draftRun(rq *request, in payrun.DraftRequest) (*reply, error) {
	var run *payrun.Run
	var repeated bool
	err := rq.in(func(tx *models.Tx) (err error) {
		run, repeated, err = payrun.DraftRun(tx, rq.Books, in)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return runReply(run).at(runsPath, run.ID, repeated), nil
}

func runReply(run *payrun.Run) *reply { return &reply{body: run, version: run.Version} }

func getRun(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var summary *payrun.Summary
	err = rq.view(func(tx *models.Tx) (err error) {
		summary, err = payrun.Summarize(tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: summary, version: summary.Version}, nil
}

// moving makes a handler of a step in a run's life, which names the version that it was decided on.
func moving(step func(rq *request, id uuid.UUID, version int64) (*payrun.Run, error)) handler {
	return func(rq *request) (*reply, error) {
		id, err := rq.id()
		if err != nil {
			return nil, err
		}
		version, err := rq.ifMatch()
		if err != nil {
			return nil, err
		}
		run, err := step(rq, id, version)
		if err != nil {
			return nil, err
		}
		return runReply(run), nil
	}
}

func redraft(rq *request, id uuid.UUID, version int64) (run *payrun.Run, err error) {
	err = rq.in(func(tx *models.Tx) (err error) {
		run, err = payrun.Redraft(tx, rq.Books, id, version)
		return err
	})
	return run, err
}

func approve(rq *request, id uuid.UUID, version int64) (run *payrun.Run, err error) {
	err = rq.in(func(tx *models.Tx) (err error) {
		run, err = payrun.Approve(tx, rq.Books, id, version)
		return err
	})
	return run, err
}

// reasoned is a step that wants its reason.
type reasoned struct {
	Reason string `json:"reason"`
}

func (r *reasoned) check(tx *models.Tx) error {
	c := models.NewChecker(tx)
	c.Text("/reason", &r.Reason, reasonLimit)
	faults, err := c.Done()
	if err != nil {
		return err
	}
	return models.Faulty(faults)
}

func withdraw(rq *request, id uuid.UUID, version int64) (run *payrun.Run, err error) {
	var in reasoned
	if err := rq.decode(&in); err != nil {
		return nil, err
	}
	err = rq.in(func(tx *models.Tx) (err error) {
		if err = in.check(tx); err == nil {
			run, err = payrun.Withdraw(tx, id, version, in.Reason)
		}
		return err
	})
	return run, err
}

type paying struct {
	Payments []payrun.Payment `json:"payments"`
}

// payRun records payments. It needs no version: a payment is recorded once, and the same again is the same.
func payRun(rq *request, in paying) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	if len(in.Payments) == 0 {
		return nil, models.FaultAt("/payments", "fault.empty", nil)
	}
	var run *payrun.Run
	err = rq.in(func(tx *models.Tx) (err error) {
		run, err = payrun.Pay(tx, id, in.Payments)
		return err
	})
	if err != nil {
		return nil, err
	}
	return runReply(run), nil
}

// runProblem is a problem of a run as it is told.
type runProblem struct {
	No       int                `json:"no"`
	Kind     payrun.ProblemKind `json:"kind"`
	Code     string             `json:"code"`
	Worker   *workerInBrief     `json:"worker"` // null where it is about nobody in particular
	Date     *dated.Date        `json:"date"`   // null where it is about the week
	Text     string             `json:"text"`
	Decision *payrun.Decision   `json:"decision"`
}

func (rq *request) showProblem(p *payrun.KeptProblem) runProblem {
	shown := runProblem{No: p.No, Kind: p.Kind, Code: p.Code, Date: dateOrNull(p.Date), Text: rq.sayProblem(&p.Problem), Decision: p.Decision}
	if p.WorkerID != uuid.Nil {
		shown.Worker = &workerInBrief{p.WorkerID, p.WorkerNumber, p.WorkerName}
	}
	return shown
}

func dateOrNull(d dated.Date) *dated.Date {
	if d.IsZero() {
		return nil
	}
	return &d
}

// problems reads a run's problems, all of them: the run is one week of one employer.
func (rq *request) problems(id uuid.UUID) (problems []payrun.KeptProblem, err error) {
	err = rq.view(func(tx *models.Tx) (err error) {
		if err = payrun.Exists(tx, id); err == nil {
			problems, err = payrun.Problems(tx, id)
		}
		return err
	})
	return problems, err
}

func listProblems(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	p, _, err := rq.page()
	if err != nil {
		return nil, err
	}
	problems, err := rq.problems(id)
	if err != nil {
		return nil, err
	}
	problems = slices.DeleteFunc(problems, func(k payrun.KeptProblem) bool { return int64(k.No) <= p.After })
	no := func(k *payrun.KeptProblem) int64 { return int64(k.No) }
	return plain(paged(problems, p.Limit, no, rq.showProblem)), nil
}

type deciding struct {
	Decision string `json:"decision"`
}

func decideProblem(rq *request, in deciding) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	no, err := strconv.Atoi(rq.gin.Param("no"))
	if err != nil || no < 1 || no > math.MaxInt32 {
		return nil, errNotFound
	}
	err = rq.in(func(tx *models.Tx) error { return payrun.DecideProblem(tx, id, no, in.Decision) })
	if err != nil {
		return nil, err
	}
	problems, err := rq.problems(id)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(problems, func(k payrun.KeptProblem) bool { return k.No == no })
	if i < 0 {
		return nil, errNotFound // the run was drafted anew in this moment
	}
	return plain(rq.showProblem(&problems[i])), nil
}

func listRunStatements(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	p, _, err := rq.page()
	if err != nil {
		return nil, err
	}
	var briefs []payrun.Brief
	err = rq.view(func(tx *models.Tx) (err error) {
		if err = payrun.Exists(tx, id); err == nil {
			briefs, err = payrun.RunStatements(tx, id, p)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(briefs, p.Limit, briefSeq, showBrief)), nil
}

// payList is the run as a list for the books.
func payList(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	lang, err := rq.chosenLanguage()
	if err != nil {
		return nil, err
	}
	var summary *payrun.Summary
	var briefs []payrun.Brief
	var head *documents.ChainHead
	err = rq.view(func(tx *models.Tx) (err error) {
		if summary, err = payrun.Summarize(tx, id); err == nil {
			briefs, err = payrun.RunStatements(tx, id, models.Page{Limit: unlimited})
		}
		if err == nil && summary.State != payrun.Draft {
			head, err = chainHead(tx)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	rows := make([]documents.PayListRow, len(briefs))
	for i := range briefs {
		rows[i] = payListRow(&briefs[i])
	}
	var b bytes.Buffer
	if err := documents.PayListCSV(&b, rows, head, text.For(lang)); err != nil {
		return nil, err
	}
	r := document("text/csv; charset=utf-8", b.Bytes())
	r.header = http.Header{
		"Content-Language":    {lang},
		"Content-Disposition": {`attachment; filename="pay-list-` + strconv.FormatInt(summary.Number, 10) + "-" + summary.WeekStart.String() + `.csv"`},
	}
	return r, nil
}

func payListRow(b *payrun.Brief) documents.PayListRow {
	return documents.PayListRow{
		Number: strconv.FormatInt(b.WorkerNumber, 10), Name: b.WorkerName, WeekStart: b.WeekStart.Date, Worked: b.WorkedMinutes,
		Totals: payroll.Totals(totalsOf(&b.StatementRow)), Payment: documents.PaymentOf(&b.StatementRow), Void: b.VoidedAt != nil, VoidReason: b.VoidReason,
	}
}
