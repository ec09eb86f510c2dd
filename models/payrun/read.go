package payrun

import (
	"encoding/json"
	"math"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Summary is a run with what it comes to.
type Summary struct {
	Run
	Statements int             `json:"statements"`
	Unpaid     int             `json:"unpaid"`
	Gross      payroll.Cents   `json:"gross"`
	Net        payroll.Cents   `json:"net"`
	Worked     payroll.Minutes `json:"worked_minutes"`
	Holds      int             `json:"holds"`     // problems that keep a worker's pay back
	Undecided  int             `json:"undecided"` // problems that somebody should decide
	Notes      int             `json:"notes"`
}

// Summarize reads a run and adds up its statements and problems.
func Summarize(tx *models.Tx, id uuid.UUID) (*Summary, error) {
	var s Summary
	if err := tx.DB().Where("id = ?", id).Take(&s.Run).Error; err != nil {
		return nil, err
	}
	err := tx.DB().Raw(`SELECT count(*) AS statements, coalesce(sum(CASE WHEN paid_on IS NULL THEN 1 ELSE 0 END), 0) AS unpaid,
			coalesce(sum(gross), 0) AS gross, coalesce(sum(net), 0) AS net, coalesce(sum(worked_minutes), 0) AS worked
		FROM statements WHERE employer_id = ? AND run_id = ? AND voided_at IS NULL`, tx.Employer, id).
		Row().Scan(&s.Statements, &s.Unpaid, &s.Gross, &s.Net, &s.Worked)
	if err != nil {
		return nil, err
	}
	problems, err := Problems(tx, id)
	if err != nil {
		return nil, err
	}
	for _, p := range problems {
		switch {
		case p.Kind == Holds:
			s.Holds++
		case p.Kind == Decide && p.Decision == nil:
			s.Undecided++
		case p.Kind == Note:
			s.Notes++
		}
	}
	return &s, nil
}

// Exists tells, by its error, whether there is such a run.
func Exists(tx *models.Tx, id uuid.UUID) error {
	var run Run
	return tx.DB().Select("id").Where("id = ?", id).Take(&run).Error
}

// KeptProblem is a problem of a run, with the decision on it if there is one.
type KeptProblem struct {
	No           int
	WorkerNumber int64
	WorkerName   string
	Decision     *Decision
	Answer       *KeptAnswer // to a question about a break, with the decision
	Problem
}

// Decision answers a problem.
type Decision struct {
	Text      string    `json:"text"`
	DecidedBy uuid.UUID `json:"decided_by"`
	DecidedAt time.Time `json:"decided_at"`
}

// Problems returns a run's problems in their order.
func Problems(tx *models.Tx, run uuid.UUID) ([]KeptProblem, error) {
	var rows []struct {
		Row       problemRow `gorm:"embedded"`
		Number    int64
		Name      string
		Decision  *string
		DecidedBy *uuid.UUID
		DecidedAt *time.Time
		AnswerID  *uuid.UUID
		Outcome   Outcome
		Reason    NotOwedReason
	}
	err := tx.DB().Raw(`SELECT p.*, coalesce(w.number, 0) AS number, coalesce(w.name, '') AS name, coalesce(d.decision, a.note) AS decision,
			coalesce(d.decided_by, a.answered_by) AS decided_by, coalesce(d.decided_at, a.answered_at) AS decided_at,
			a.id AS answer_id, coalesce(a.outcome, '') AS outcome, coalesce(a.reason, '') AS reason
		FROM pay_run_problems p
		JOIN pay_runs r ON r.employer_id = p.employer_id AND r.id = p.run_id
		LEFT JOIN workers w ON w.employer_id = p.employer_id AND w.id = p.worker_id
		LEFT JOIN problem_decisions d ON d.employer_id = p.employer_id AND d.week_start = r.week_start AND d.subject = p.subject
		LEFT JOIN answered_breaks b ON b.employer_id = p.employer_id AND b.question = p.subject AND b.superseded_by IS NULL AND p.question <> ''
		LEFT JOIN break_answers a ON a.employer_id = p.employer_id AND a.id = b.answer_id
		WHERE p.employer_id = ? AND p.run_id = ? ORDER BY p.problem_no`, tx.Employer, run).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	out := make([]KeptProblem, len(rows))
	for i, r := range rows {
		p := KeptProblem{No: r.Row.ProblemNo, WorkerNumber: r.Number, WorkerName: r.Name,
			Problem: Problem{Kind: r.Row.Kind, Code: r.Row.Code, Date: r.Row.OnDate.Date, Subject: subjectWithin(r.Row.Subject)}}
		if r.Row.WorkerID != nil {
			p.WorkerID = *r.Row.WorkerID
		}
		if err := json.Unmarshal(r.Row.Terms, &p.Terms); err != nil {
			return nil, err
		}
		if r.Decision != nil {
			p.Decision = &Decision{*r.Decision, *r.DecidedBy, *r.DecidedAt}
		}
		if r.AnswerID != nil {
			p.Answer = &KeptAnswer{Outcome: r.Outcome, Reason: r.Reason, Note: *r.Decision, AnsweredAt: *r.DecidedAt, AnsweredBy: *r.DecidedBy}
			p.Answer.AnswerID = *r.AnswerID
		}
		if r.Row.Question != "" {
			if err := json.Unmarshal([]byte(r.Row.Question), &p.Question); err != nil {
				return nil, err
			}
		}
		out[i] = p
	}
	return out, nil
}

// DecideProblem records what was decided about a problem of a draft. The decision stands through redrafts, and changes no amount: what happened is
// settled by recording it.
func DecideProblem(tx *models.Tx, run uuid.UUID, no int, text string) error {
	text = strings.TrimSpace(text)
	c := models.NewChecker(tx)
	c.Text("/decision", &text, 500)
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	if err != nil {
		return err
	}
	var r Run
	if err := tx.DB().Where("id = ?", run).Take(&r).Error; err != nil {
		return err
	}
	var p problemRow
	if err := tx.DB().Where("run_id = ? AND problem_no = ?", run, no).Take(&p).Error; err != nil {
		return err
	}
	if p.Kind != Decide && p.Code != twoRulebooks {
		return &models.Error{Kind: models.Conflict, Key: "problem.not_to_decide"}
	}
	if p.Question != "" {
		return &models.Error{Kind: models.Conflict, Key: "problem.answer_the_question"}
	}
	var d decisionRow
	if err := tx.DB().Where("week_start = ? AND subject = ?", r.WeekStart, p.Subject).Limit(1).Find(&d).Error; err != nil {
		return err
	}
	if d.ID != uuid.Nil {
		if d.Decision == text {
			return nil
		}
		return &models.Error{Kind: models.Conflict, Key: "problem.decided_already"}
	}
	d = decisionRow{ID: tx.NewID(), WeekStart: r.WeekStart, Subject: p.Subject, Decision: text, DecidedBy: tx.Actor, DecidedAt: tx.Now}
	if err := tx.DB().Create(&d).Error; err != nil {
		return err
	}
	return tx.Audit(models.Audit{Action: "decide", SubjectKind: "pay_runs", SubjectID: run, After: d, Reason: text})
}

// Sheet is a statement as it is kept, with its run.
type Sheet struct {
	Row     StatementRow
	Run     Run
	Heading Heading
	Detail  []Detail
	Figures payroll.Statement
}

// ReadStatement reads one statement in full. With a worker it must be theirs, of a run that was approved.
func ReadStatement(tx *models.Tx, id uuid.UUID, worker *uuid.UUID) (*Sheet, error) {
	var s Sheet
	q := tx.DB().Where("id = ?", id)
	if worker != nil {
		q = q.Where("worker_id = ?", *worker)
	}
	if err := q.Take(&s.Row).Error; err != nil {
		return nil, err
	}
	if err := tx.DB().Where("id = ?", s.Row.RunID).Take(&s.Run).Error; err != nil {
		return nil, err
	}
	if worker != nil && s.Run.State == Draft {
		return nil, &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	return &s, s.unpack()
}

func (s *Sheet) unpack() error {
	for _, part := range []struct {
		doc  models.Document
		into any
	}{{s.Row.Heading, &s.Heading}, {s.Row.Detail, &s.Detail}, {s.Row.Figures, &s.Figures}} {
		if err := json.Unmarshal(part.doc, part.into); err != nil {
			return err
		}
	}
	return nil
}

// Brief is a statement in a list.
type Brief struct {
	StatementRow
	RunNumber    int64
	State        State
	WorkerNumber int64
	WorkerName   string
}

// inBrief reads statements in brief; conditions and an order follow.
const inBrief = `SELECT s.employer_id, s.id, s.seq, s.run_id, s.worker_id, s.week_start, s.straight_time, s.premiums, s.other, s.gross, s.taxes, s.deductions,
		s.reimbursements, s.net, s.worked_minutes, s.paid_on, s.paid_method, s.paid_reference, s.voided_at, s.void_reason, s.reissue_of, r.number AS run_number, r.state, w.number AS worker_number, w.name AS worker_name
	FROM statements s
	JOIN pay_runs r ON r.employer_id = s.employer_id AND r.id = s.run_id
	JOIN workers w ON w.employer_id = s.employer_id AND w.id = s.worker_id
	WHERE s.employer_id = ? AND `

// briefs reads statements in brief, in the order of arrival, one more than the limit where more follow.
func briefs(tx *models.Tx, condition string, id uuid.UUID, p models.Page) ([]Brief, error) {
	var rows []Brief
	err := tx.DB().Raw(inBrief+condition+` AND s.seq > ? ORDER BY s.seq LIMIT ?`, tx.Employer, id, p.After, p.Limit+1).Scan(&rows).Error
	return rows, err
}

// RunStatements lists a run's statements.
func RunStatements(tx *models.Tx, run uuid.UUID, p models.Page) ([]Brief, error) {
	return briefs(tx, "s.run_id = ?", run, p)
}

// ofWorker keeps the statements that a worker may see: theirs, of runs that were approved.
const ofWorker = "r.state <> 'draft' AND s.worker_id = ?"

// WorkerStatements lists a worker's statements of approved runs.
func WorkerStatements(tx *models.Tx, worker uuid.UUID, p models.Page) ([]Brief, error) {
	return briefs(tx, ofWorker, worker, p)
}

// LatestStatements lists a worker's statements of approved runs from the latest back, at most limit: all of them, or with before those that came before
// that place in the order of arrival.
func LatestStatements(tx *models.Tx, worker uuid.UUID, before int64, limit int) ([]Brief, error) {
	var rows []Brief
	b := tx.Batch()
	FindLatestStatements(b, worker, before, limit, &rows)
	return rows, b.Err()
}

// FindLatestStatements asks for what LatestStatements returns.
func FindLatestStatements(b *models.Batch, worker uuid.UUID, before int64, limit int, into *[]Brief) {
	if before <= 0 {
		before = math.MaxInt64
	}
	b.Find(b.DB().Raw(inBrief+ofWorker+` AND s.seq < ? ORDER BY s.seq DESC LIMIT ?`, b.Employer, worker, before, limit), into)
}
