package payrun

import (
	"encoding/json"

	"github.com/google/uuid"
	"gorm.io/gorm/clause"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// DraftRequest asks for a run of a week.
type DraftRequest struct {
	ID        uuid.UUID   `json:"id"`
	Kind      RunKind     `json:"kind"`
	WeekStart models.Date `json:"week_start"`
	// Of final and correction runs: whom it is for. A correction without names is for everybody who is owed something.
	Workers []uuid.UUID `json:"workers,omitempty"`
	// Of final runs: the last day that is settled, and how the work ended.
	ThroughDate models.Date `json:"through_date,omitempty,omitzero"`
	Ending      Ending      `json:"ending,omitempty"`
}

// DraftRun drafts the pay of a week: everybody with records in it whose week stands on no approved statement. The same request again returns the
// run as it stands, and true.
func DraftRun(tx *models.Tx, books *rulebook.Library, q DraftRequest) (*Run, bool, error) {
	hash := models.ContentHash(q)
	var stored Run
	if err := tx.DB().Where("id = ?", q.ID).Limit(1).Find(&stored).Error; err != nil {
		return nil, false, err
	}
	if q.ID != uuid.Nil && stored.ID == q.ID {
		if stored.ContentHash != hash {
			return nil, false, &models.Error{Kind: models.Conflict, Key: "problem.id_reused"}
		}
		return &stored, true, nil
	}
	profile, err := tx.Profile()
	if err != nil {
		return nil, false, err
	}
	if err := checkRequest(tx, q, profile); err != nil {
		return nil, false, err
	}
	number, err := tx.NextNumber("pay_runs")
	if err != nil {
		return nil, false, err
	}
	run := &Run{
		Keyed: models.Keyed{ID: q.ID, ContentHash: hash}, CreatedAt: tx.Now, Number: number, Kind: q.Kind, WeekStart: q.WeekStart,
		Payday: models.Day(PaydayOf(q.WeekStart.Date, profile)), State: Draft, Ending: q.Ending, ThroughDate: q.ThroughDate,
	}
	if err := checkNoDraft(tx, run); err != nil {
		return nil, false, err
	}
	run.DraftedBy, run.DraftedAt = tx.Actor, tx.Now
	if err := tx.DB().Create(run).Error; err != nil {
		return nil, false, err
	}
	named := make([]runWorker, len(q.Workers))
	for i, id := range q.Workers {
		named[i] = runWorker{RunID: run.ID, WorkerID: id}
	}
	if err := models.InsertAll(tx, named); err != nil {
		return nil, false, err
	}
	if err := remake(tx, books, run); err != nil {
		return nil, false, err
	}
	return run, false, tx.Audit(models.Audit{Action: "draft", SubjectKind: "pay_runs", SubjectID: run.ID, After: run})
}

// remake makes a draft's statements from the records as they are now, and stamps the run with what they follow from.
func remake(tx *models.Tx, books *rulebook.Library, run *Run) error {
	res, err := reckonRun(tx, books, run)
	if err != nil {
		return err
	}
	run.InputDigest, run.Engine = res.digest, payroll.Engine
	run.DraftedBy, run.DraftedAt, run.UpdatedAt = tx.Actor, tx.Now, tx.Now
	run.Version++
	if !res.due.IsZero() {
		run.Payday = models.Day(res.due)
	}
	if err := save(tx, run); err != nil {
		return err
	}
	return write(tx, run, res)
}

// reckonRun reckons what a run is for.
func reckonRun(tx *models.Tx, books *rulebook.Library, run *Run) (*result, error) {
	only, err := namedWorkers(tx, run.ID)
	if err != nil {
		return nil, err
	}
	switch run.Kind {
	case Correction:
		return reckonCorrection(tx, books, run, only)
	case Final:
		res, err := reckon(tx, books, selection{weekStart: run.WeekStart.Date, through: run.ThroughDate.Date, only: only})
		if err == nil {
			res.finalDue(run)
		}
		return res, err
	}
	return reckon(tx, books, selection{weekStart: run.WeekStart.Date})
}

// namedWorkers reads whom a run is for; nil where it names nobody.
func namedWorkers(tx *models.Tx, run uuid.UUID) (map[uuid.UUID]bool, error) {
	var rows []runWorker
	if err := tx.DB().Where("run_id = ?", run).Find(&rows).Error; err != nil || len(rows) == 0 {
		return nil, err
	}
	only := make(map[uuid.UUID]bool, len(rows))
	for _, r := range rows {
		only[r.WorkerID] = true
	}
	return only, nil
}

func checkRequest(tx *models.Tx, q DraftRequest, profile *models.EmployerProfile) error {
	c := models.NewChecker(tx)
	c.OneOf("/kind", string(q.Kind), string(Regular), string(Final), string(Correction))
	c.Day("/week_start", q.WeekStart.Date)
	if q.WeekStart.Weekday() != profile.Content.WeekStart {
		c.Fault("/week_start", "fault.not_week_start", payroll.Terms{"nearest": models.WeekOf(q.WeekStart.Date, profile.Content.WeekStart)})
	}
	seen := map[uuid.UUID]bool{}
	for i, id := range q.Workers {
		at := "/workers/" + itoa(int64(i))
		if c.Reference(at, "workers", id); seen[id] {
			c.Fault(at, "fault.worker_twice", nil)
		}
		seen[id] = true
	}
	q.checkKind(c)
	faults, err := c.Done()
	if err != nil {
		return err
	}
	return models.Faulty(faults)
}

// checkKind wants what a kind of run needs, and nothing that it has no use for.
func (q DraftRequest) checkKind(c *models.Checker) {
	if q.Kind == Regular && len(q.Workers) > 0 {
		c.Fault("/workers", "fault.not_in_this_run", payroll.Terms{"kind": string(q.Kind)})
	}
	if q.Kind != Final {
		if !q.ThroughDate.IsZero() {
			c.Fault("/through_date", "fault.not_in_this_run", payroll.Terms{"kind": string(q.Kind)})
		}
		if q.Ending != "" {
			c.Fault("/ending", "fault.not_in_this_run", payroll.Terms{"kind": string(q.Kind)})
		}
		return
	}
	if len(q.Workers) == 0 {
		c.Fault("/workers", "fault.final_needs_workers", nil)
	}
	c.OneOf("/ending", string(q.Ending), string(Discharge), string(Quit), string(QuitWithNotice))
	if c.DayUntil("/through_date", q.ThroughDate.Date, q.WeekStart.AddDays(6)) && q.ThroughDate.Before(q.WeekStart.Date) {
		c.Fault("/through_date", "fault.ends_before_start", nil)
	}
}

// checkNoDraft wants one regular draft of a week at a time. The short numbers are given out under a lock, so nobody slips in between.
func checkNoDraft(tx *models.Tx, run *Run) error {
	if run.Kind != Regular {
		return nil
	}
	var other Run
	err := tx.DB().Where("week_start = ? AND kind = ? AND state = ? AND id <> ?", run.WeekStart, Regular, Draft, run.ID).Limit(1).Find(&other).Error
	if err == nil && other.ID != uuid.Nil {
		return &models.Error{Kind: models.Conflict, Key: "problem.draft_exists", Terms: payroll.Terms{"number": int(other.Number)}}
	}
	return err
}

// Redraft makes a draft anew from the records as they are now.
func Redraft(tx *models.Tx, books *rulebook.Library, id uuid.UUID, version int64) (*Run, error) {
	run, err := locked(tx, id, version, Draft)
	if err != nil {
		return nil, err
	}
	before := *run
	if err := clear(tx, id); err != nil {
		return nil, err
	}
	if err := remake(tx, books, run); err != nil {
		return nil, err
	}
	return run, tx.Audit(models.Audit{Action: "redraft", SubjectKind: "pay_runs", SubjectID: id, Before: before, After: run})
}

// locked reads a run and holds it until the transaction ends, provided that its version still stands and it is in one of the states.
func locked(tx *models.Tx, id uuid.UUID, version int64, states ...State) (*Run, error) {
	var run Run
	if err := tx.Locking().Where("id = ?", id).Take(&run).Error; err != nil {
		return nil, err
	}
	if run.Version != version {
		return nil, &models.Error{Kind: models.Stale, Key: "problem.stale_version"}
	}
	for _, s := range states {
		if run.State == s {
			return &run, nil
		}
	}
	return nil, &models.Error{Kind: models.Conflict, Key: "problem.run_state", Terms: payroll.Terms{"state": string(run.State)}}
}

func save(tx *models.Tx, run *Run) error {
	return tx.DB().Select("*").Omit("employer_id", "id", "seq", "content_hash", "created_at").Where("id = ?", run.ID).Updates(run).Error
}

// clear takes a draft's statements and problems away, to be made anew.
func clear(tx *models.Tx, run uuid.UUID) error {
	for _, statement := range []string{
		"DELETE FROM statement_adjustments WHERE employer_id = ? AND statement_id IN (SELECT id FROM statements WHERE employer_id = statement_adjustments.employer_id AND run_id = ?)",
		"DELETE FROM statement_lines WHERE employer_id = ? AND statement_id IN (SELECT id FROM statements WHERE employer_id = statement_lines.employer_id AND run_id = ?)",
		"DELETE FROM statements WHERE employer_id = ? AND run_id = ?",
		"DELETE FROM pay_run_problems WHERE employer_id = ? AND run_id = ?",
		"DELETE FROM pay_run_books WHERE employer_id = ? AND run_id = ?",
	} {
		if err := tx.DB().Exec(statement, tx.Employer, run).Error; err != nil {
			return err
		}
	}
	return nil
}

// write keeps a run's statements, lines, problems and rulebooks, in set-sized statements.
func write(tx *models.Tx, run *Run, res *result) error {
	var rows []StatementRow
	var lines []lineRow
	var paying []statementAdjustment
	for _, s := range res.statements {
		row, err := s.row(tx, run)
		if err != nil {
			return err
		}
		rows = append(rows, row)
		for _, id := range s.owed {
			paying = append(paying, statementAdjustment{StatementID: row.ID, AdjustmentID: id})
		}
		if lines, err = appendLines(lines, row.ID, s.figures); err != nil {
			return err
		}
	}
	problems, err := problemRows(run.ID, res.problems)
	if err != nil {
		return err
	}
	var books []runBook
	for key, b := range res.books {
		books = append(books, runBook{RunID: run.ID, BookKey: key, Digest: b.Digest()})
		text := bookText{Digest: b.Digest(), BookKey: key, Body: string(b.Text())}
		if err := tx.DB().Clauses(clause.OnConflict{DoNothing: true}).Create(&text).Error; err != nil {
			return err
		}
	}
	for _, step := range []func() error{
		func() error { return models.InsertAll(tx, rows) },
		func() error { return models.InsertAll(tx, lines) },
		func() error { return models.InsertAll(tx, paying) },
		func() error { return models.InsertAll(tx, problems) },
		func() error { return models.InsertAll(tx, books) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

func (s *statement) row(tx *models.Tx, run *Run) (StatementRow, error) {
	id := tx.NewID()
	s.figures.ID = id.String()
	heading, err := json.Marshal(s.heading)
	if err != nil {
		return StatementRow{}, err
	}
	detail, err := json.Marshal(s.details)
	if err != nil {
		return StatementRow{}, err
	}
	figures, err := json.Marshal(s.figures)
	if err != nil {
		return StatementRow{}, err
	}
	week, err := json.Marshal(s.week)
	if err != nil {
		return StatementRow{}, err
	}
	t := s.figures.Totals
	return StatementRow{
		ID: id, RunID: run.ID, WorkerID: s.worker.ID, WeekStart: run.WeekStart, Heading: heading, Detail: detail, Figures: figures, Week: week,
		ReissueOf:    s.reissueOf,
		StraightTime: t.StraightTime, Premiums: t.Premiums, Other: t.Other, Gross: t.Gross, Taxes: t.Taxes, Deductions: t.Deductions,
		Reimbursements: t.Reimbursements, Net: t.Net, WorkedMinutes: s.figures.Minutes.Worked,
	}, nil
}

func appendLines(rows []lineRow, statement uuid.UUID, figures *payroll.Statement) ([]lineRow, error) {
	for i, l := range figures.Lines {
		terms, err := json.Marshal(l.Basis.Terms)
		if err != nil {
			return nil, err
		}
		rows = append(rows, lineRow{
			StatementID: statement, LineNo: i + 1, Code: string(l.Code), Operation: l.Operation, Quantity: l.Quantity, Unit: l.Unit, Rate: l.Rate,
			Amount: l.Amount, BasisKey: l.Basis.Key, BasisTerms: terms, Authority: l.Authority,
		})
	}
	return rows, nil
}

func problemRows(run uuid.UUID, problems []Problem) ([]problemRow, error) {
	rows := make([]problemRow, 0, len(problems))
	for i, p := range problems {
		terms, err := json.Marshal(p.Terms)
		if err != nil {
			return nil, err
		}
		row := problemRow{RunID: run, ProblemNo: i + 1, Kind: p.Kind, Code: p.Code, OnDate: models.Day(p.Date), Terms: terms, Subject: p.subject()}
		if p.WorkerID != uuid.Nil {
			row.WorkerID = &p.WorkerID
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// Preview reckons one worker's week as the records are now, paid or not, without keeping anything. The statement is nil where something holds it.
func Preview(tx *models.Tx, books *rulebook.Library, worker uuid.UUID, weekStart dated.Date) (*payroll.Statement, []Problem, error) {
	res, err := reckon(tx, books, selection{weekStart: weekStart, worker: worker, paidToo: true})
	if err != nil {
		return nil, nil, err
	}
	if len(res.statements) == 0 {
		return nil, res.problems, nil
	}
	return res.statements[0].figures, res.problems, nil
}
