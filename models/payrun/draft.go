package payrun

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
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
	out := &writer{tx: tx, run: run}
	res, err := reckonRun(tx, books, run, out.take)
	if err != nil {
		return err
	}
	if err := out.finish(res); err != nil {
		return err
	}
	run.InputDigest, run.Engine = res.digest(), payroll.Engine
	run.DraftedBy, run.DraftedAt, run.UpdatedAt = tx.Actor, tx.Now, tx.Now
	run.Version++
	if !res.due.IsZero() {
		run.Payday = models.Day(res.due)
	}
	return save(tx, run)
}

// reckonRun reckons what a run is for, and hands each statement on.
func reckonRun(tx *models.Tx, books *rulebook.Library, run *Run, each func(*statement) error) (*result, error) {
	only, err := namedWorkers(tx, run.ID)
	if err != nil {
		return nil, err
	}
	switch run.Kind {
	case Correction:
		return reckonCorrection(tx, books, run, only, each)
	case Final:
		return reckonFinal(tx, books, run, only, each)
	}
	return reckon(tx, books, selection{weekStart: run.WeekStart.Date}, each)
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
	was, err := drafted(tx, id)
	if err != nil {
		return nil, err
	}
	if err := clear(tx, id); err != nil {
		return nil, err
	}
	run.EarlierDraftAt = &before.DraftedAt
	if err := remake(tx, books, run); err != nil {
		return nil, err
	}
	if err := keepMoves(tx, id, was); err != nil {
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
	own := map[string]any{"employer": tx.Employer, "run": run}
	const ofRun = " WHERE employer_id = @employer AND statement_id IN (SELECT id FROM statements WHERE employer_id = @employer AND run_id = @run)"
	for _, statement := range []string{
		"DELETE FROM statement_adjustments" + ofRun,
		"DELETE FROM statement_lines" + ofRun,
		"DELETE FROM statements WHERE employer_id = @employer AND run_id = @run",
		"DELETE FROM pay_run_problems WHERE employer_id = @employer AND run_id = @run",
		"DELETE FROM pay_run_books WHERE employer_id = @employer AND run_id = @run",
		"DELETE FROM draft_moves WHERE employer_id = @employer AND run_id = @run",
	} {
		if err := tx.DB().Exec(statement, own).Error; err != nil {
			return err
		}
	}
	return nil
}
