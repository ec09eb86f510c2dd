package payrun

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// An adjustment is a week reckoned from the records and the rules as they are known now, less everything already paid for it. It comes in three parts: what
// other records make of it, what other rules make of it, and what another engine makes of it. Only the first is proposed by itself. A
// difference to the worker's disadvantage is shown and never taken.

// Part is where a difference comes from.
type Part string

// The parts of a difference.
const (
	FromRecords Part = "records"
	FromRules   Part = "rules"
	FromEngine  Part = "engine"
)

// AdjustmentState is what was decided about an adjustment.
type AdjustmentState string

// An adjustment is proposed by the review of a week, accepted for payment or carried (kept for later, with a reason) by the clerk, or overtaken by a
// later review that found another difference.
const (
	Proposed  AdjustmentState = "proposed"
	Accepted  AdjustmentState = "accepted"
	Carried   AdjustmentState = "carried"
	Overtaken AdjustmentState = "overtaken"
)

// Adjustment is a difference as it is kept.
type Adjustment struct {
	EmployerID  uuid.UUID       `gorm:"primaryKey" json:"-"`
	ID          uuid.UUID       `gorm:"primaryKey" json:"id"`
	Seq         int64           `gorm:"->" json:"-"`
	WorkerID    uuid.UUID       `json:"worker_id"`
	ForWeek     models.Date     `json:"for_week"`
	RecordsPart payroll.Cents   `json:"records_part"`
	RulesPart   payroll.Cents   `json:"rules_part"`
	EnginePart  payroll.Cents   `json:"engine_part"`
	Lines       models.Document `json:"lines"`
	Digest      string          `json:"-"`
	State       AdjustmentState `json:"state"`
	Parts       string          `json:"parts"` // those that were accepted, comma-separated
	Amount      payroll.Cents   `json:"amount"`
	Reason      string          `json:"reason"`
	ProposedAt  time.Time       `json:"proposed_at"`
	ProposedBy  uuid.UUID       `json:"proposed_by"`
	DecidedAt   *time.Time      `json:"decided_at"`
	DecidedBy   *uuid.UUID      `json:"decided_by"`
	Version     int64           `json:"version"`
}

// TableName tells gorm the table.
func (Adjustment) TableName() string { return "adjustments" }

// statementAdjustment says which statement pays an adjustment.
type statementAdjustment struct {
	EmployerID   uuid.UUID `gorm:"primaryKey"`
	StatementID  uuid.UUID `gorm:"primaryKey"`
	AdjustmentID uuid.UUID `gorm:"primaryKey"`
}

// TableName tells gorm the table.
func (statementAdjustment) TableName() string { return "statement_adjustments" }

// Difference is what a review finds for one worker: each part less what was accepted of it before.
type Difference struct {
	WorkerID     uuid.UUID
	WorkerNumber int64
	WorkerName   string
	ForWeek      dated.Date
	Paid         payroll.Cents // for the week, adjustments that were accepted included
	Now          payroll.Cents // as reckoned now
	Records      payroll.Cents
	Rules        payroll.Cents
	Engine       payroll.Cents
	Lines        []LineDifference
	Adjustment   *uuid.UUID // the proposal made of it, where there is something to pay
	Problems     []Problem  // where the week cannot be reckoned now
}

// LineDifference is one line of the week as it was paid and as it is now.
type LineDifference struct {
	Code      payroll.Code  `json:"code"`
	Operation string        `json:"operation,omitempty"`
	Unit      string        `json:"unit"`
	Rate      *payroll.Rate `json:"rate,omitempty"`
	Was       payroll.Cents `json:"was"`
	Now       payroll.Cents `json:"now"`
}

// Review reckons a week that was paid once more and compares. What other records add becomes a proposal; a proposal that an earlier review made and nobody
// has decided on is overtaken where the difference has moved. The same review again changes nothing.
func Review(tx *models.Tx, books *rulebook.Library, weekStart dated.Date) ([]Difference, error) {
	frozen, err := frozenStatements(tx, weekStart)
	if err != nil {
		return nil, err
	}
	now := map[uuid.UUID]*payroll.Statement{}
	res, err := reckon(tx, books, selection{weekStart: weekStart, paidToo: true, bare: true}, func(s *statement) error {
		now[s.worker.ID] = s.figures
		return nil
	})
	if err != nil {
		return nil, err
	}
	earlier, err := decidedBefore(tx, weekStart)
	if err != nil {
		return nil, err
	}
	texts, err := frozenBooks(tx, weekStart)
	if err != nil {
		return nil, err
	}
	var out []Difference
	for _, f := range frozen {
		d, err := f.difference(res.law, texts, now[f.row.WorkerID], res.problemsOf(f.row.WorkerID))
		if err != nil {
			return nil, err
		}
		if len(d.Problems) == 0 {
			d.settle(earlier[f.row.WorkerID])
			if err := propose(tx, d, earlier[f.row.WorkerID]); err != nil {
				return nil, err
			}
		}
		if d.Records != 0 || d.Rules != 0 || d.Engine != 0 || len(d.Problems) > 0 {
			out = append(out, *d)
		}
	}
	if err := tx.Audit(models.Audit{Action: "review", SubjectKind: "adjustments", SubjectID: tx.Employer, After: map[string]any{"week_start": weekStart, "differences": len(out)}}); err != nil {
		return nil, err
	}
	return out, nil
}

// frozen is a statement that was approved, with what it was made of.
type frozen struct {
	row          StatementRow
	workerNumber int64
	workerName   string
	figures      payroll.Statement
	week         payroll.Week
}

func frozenStatements(tx *models.Tx, weekStart dated.Date) ([]frozen, error) {
	var rows []struct {
		Row    StatementRow `gorm:"embedded"`
		Number int64
		Name   string
	}
	err := tx.DB().Raw(`SELECT s.*, w.number, w.name FROM statements s
		JOIN pay_runs r ON r.employer_id = s.employer_id AND r.id = s.run_id
		JOIN workers w ON w.employer_id = s.employer_id AND w.id = s.worker_id
		WHERE s.employer_id = ? AND s.week_start = ? AND s.voided_at IS NULL AND r.state <> 'draft' AND r.kind <> 'correction' ORDER BY w.number, s.seq`,
		tx.Employer, models.Day(weekStart)).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	out := make([]frozen, len(rows))
	for i, r := range rows {
		out[i] = frozen{row: r.Row, workerNumber: r.Number, workerName: r.Name}
		if err := json.Unmarshal(r.Row.Figures, &out[i].figures); err != nil {
			return nil, err
		}
		if err := json.Unmarshal(r.Row.Week, &out[i].week); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// frozenBooks reads the rulebooks by which the week's statements were made, as they read then, by the digest of the book that a week names.
func frozenBooks(tx *models.Tx, weekStart dated.Date) (map[uuid.UUID]*rulebook.Library, error) {
	var rows []struct {
		RunID   uuid.UUID
		BookKey string
		Body    string
	}
	err := tx.DB().Raw(`SELECT b.run_id, b.book_key, t.body FROM pay_run_books b
		JOIN pay_runs r ON r.employer_id = b.employer_id AND r.id = b.run_id
		JOIN book_texts t ON t.digest = b.digest
		WHERE b.employer_id = ? AND r.week_start = ? AND r.state <> 'draft'`, tx.Employer, models.Day(weekStart)).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	texts := map[uuid.UUID]map[string][]byte{}
	for _, r := range rows {
		if texts[r.RunID] == nil {
			texts[r.RunID] = map[string][]byte{}
		}
		texts[r.RunID][r.BookKey+".yaml"] = []byte(r.Body)
	}
	out := map[uuid.UUID]*rulebook.Library{}
	for run, t := range texts {
		books, left := new(rulebook.Library).Standing(t)
		for _, err := range left {
			return nil, fmt.Errorf("the rulebooks that run %s was reckoned by cannot be read: %w", run, err)
		}
		out[run] = books
	}
	return out, nil
}

// difference compares a statement with the week as it is now. A week that something holds is told with what holds it; one without records comes to nothing.
func (f *frozen) difference(law *localbooks.Library, then map[uuid.UUID]*rulebook.Library, now *payroll.Statement, held []Problem) (*Difference, error) {
	switch {
	case now != nil:
		return f.compare(law, then, now)
	case len(held) == 0:
		return f.compare(law, then, &payroll.Statement{})
	}
	return &Difference{WorkerID: f.row.WorkerID, WorkerNumber: f.workerNumber, WorkerName: f.workerName, ForWeek: f.row.WeekStart.Date,
		Paid: f.figures.Totals.Gross - adjusted(&f.figures), Problems: held}, nil
}

// compare takes the difference apart. Going from what was paid to what the week comes to now, one thing changes at a time: first the engine, then the
// rules, then the records; so the parts add up to the whole.
func (f *frozen) compare(law *localbooks.Library, then map[uuid.UUID]*rulebook.Library, now *payroll.Statement) (*Difference, error) {
	d := &Difference{WorkerID: f.row.WorkerID, WorkerNumber: f.workerNumber, WorkerName: f.workerName, ForWeek: f.row.WeekStart.Date}
	d.Paid = f.figures.Totals.Gross - adjusted(&f.figures)
	week := f.week
	week.Adjustments = nil
	engine, err := grossThen(then[f.row.RunID], &week)
	if err != nil {
		return nil, err
	}
	week.Rulebook = law.Instead(week.Rulebook, now.Rulebook)
	under, faults := payroll.Reckon(law.Library, &week)
	if len(faults) > 0 {
		d.held(faults)
		return d, nil
	}
	rules := under.Totals.Gross
	d.Now = now.Totals.Gross
	d.Engine, d.Rules, d.Records = engine-d.Paid, rules-engine, d.Now-rules
	d.Lines = compareLines(&f.figures, now)
	return d, nil
}

// held notes why the week as it was paid cannot be reckoned under today's rules.
func (d *Difference) held(faults []payroll.Fault) {
	for _, f := range faults {
		d.Problems = append(d.Problems, Problem{WorkerID: d.WorkerID, Kind: Holds, Code: f.Key, Terms: f.Terms, Subject: f.Pointer})
	}
}

// grossThen is what a week comes to under the rules that it was paid by.
func grossThen(books *rulebook.Library, week *payroll.Week) (payroll.Cents, error) {
	if books == nil {
		return 0, fmt.Errorf("the rulebooks of week %s are not kept", week.WeekStart)
	}
	s, faults := payroll.Reckon(books, week)
	if len(faults) > 0 {
		return 0, fmt.Errorf("week %s was reckoned once and cannot be now: %s at %s", week.WeekStart, faults[0].Key, faults[0].Pointer)
	}
	return s.Totals.Gross, nil
}

// adjusted is what a statement pays for other weeks.
func adjusted(s *payroll.Statement) (sum payroll.Cents) {
	for _, l := range s.Lines {
		if l.Code == payroll.AdjustmentLine {
			sum += l.Amount
		}
	}
	return sum
}

// compareLines lists the lines that differ, in the order in which they stand on a statement.
func compareLines(was, now *payroll.Statement) []LineDifference {
	type key struct {
		code            payroll.Code
		operation, unit string
		rate            payroll.Rate
	}
	found := map[key]*LineDifference{}
	var order []*LineDifference
	add := func(s *payroll.Statement, amount func(*LineDifference) *payroll.Cents) {
		for _, l := range s.Lines {
			if l.Code == payroll.AdjustmentLine {
				continue
			}
			k := key{l.Code, l.Operation, l.Unit, 0}
			if slices.Contains([]payroll.Code{payroll.PieceLine, payroll.SharedPieceLine, payroll.HourlyLine, payroll.NonproductiveLine}, l.Code) && l.Rate != nil {
				k.rate = *l.Rate // elsewhere a rate follows from the week and moves with it
			}
			if found[k] == nil {
				found[k] = &LineDifference{Code: l.Code, Operation: l.Operation, Unit: l.Unit}
				if k.rate != 0 {
					found[k].Rate = &k.rate
				}
				order = append(order, found[k])
			}
			*amount(found[k]) += l.Amount
		}
	}
	add(was, func(d *LineDifference) *payroll.Cents { return &d.Was })
	add(now, func(d *LineDifference) *payroll.Cents { return &d.Now })
	var out []LineDifference
	for _, d := range order {
		if d.Was != d.Now {
			out = append(out, *d)
		}
	}
	return out
}

func decidedBefore(tx *models.Tx, weekStart dated.Date) (map[uuid.UUID][]Adjustment, error) {
	var rows []Adjustment
	err := tx.DB().Where("for_week = ? AND state <> ?", models.Day(weekStart), Overtaken).Order("seq").Find(&rows).Error
	out := map[uuid.UUID][]Adjustment{}
	for _, a := range rows {
		out[a.WorkerID] = append(out[a.WorkerID], a)
	}
	return out, err
}

// settle takes off each part what was accepted of it before.
func (d *Difference) settle(earlier []Adjustment) {
	for _, a := range earlier {
		if a.State != Accepted {
			continue
		}
		d.Paid += a.Amount
		for _, part := range strings.Split(a.Parts, ",") {
			switch Part(part) {
			case FromRecords:
				d.Records -= a.RecordsPart
			case FromRules:
				d.Rules -= a.RulesPart
			case FromEngine:
				d.Engine -= a.EnginePart
			}
		}
	}
}

// propose keeps a difference that pays something as a proposal, unless the same one is there already.
func propose(tx *models.Tx, d *Difference, earlier []Adjustment) error {
	digest := models.ContentHash([]any{d.WorkerID, d.ForWeek, d.Records, d.Rules, d.Engine, d.Lines})
	for _, a := range earlier {
		switch {
		case a.State == Accepted:
		case a.Digest == digest:
			d.Adjustment = &a.ID
		default:
			set := map[string]any{"state": Overtaken, "version": a.Version + 1}
			if err := tx.DB().Model(&Adjustment{}).Where("id = ?", a.ID).Updates(set).Error; err != nil {
				return err
			}
		}
	}
	if d.Adjustment != nil || max(d.Records, d.Rules, d.Engine) <= 0 {
		return nil
	}
	lines, err := json.Marshal(d.Lines)
	if err != nil {
		return err
	}
	a := Adjustment{ID: tx.NewID(), WorkerID: d.WorkerID, ForWeek: models.Day(d.ForWeek), RecordsPart: d.Records, RulesPart: d.Rules, EnginePart: d.Engine,
		Lines: lines, Digest: digest, State: Proposed, ProposedAt: tx.Now, ProposedBy: tx.Actor, Version: 1}
	if d.Records > 0 { // only this part is proposed by itself; the others wait for somebody to choose them
		a.Parts, a.Amount = string(FromRecords), d.Records
	}
	d.Adjustment = &a.ID
	return tx.DB().Create(&a).Error
}

// AdjustmentDecision is what the clerk decides about an adjustment.
type AdjustmentDecision struct {
	State  AdjustmentState `json:"state"`           // accepted or carried
	Parts  []Part          `json:"parts,omitempty"` // which to pay; "records" where none is named
	Reason string          `json:"reason"`
}

// DecideAdjustment accepts an adjustment, which the next run with the worker then pays, or carries it. An acceptance can be taken back until an approved
// statement pays it.
func DecideAdjustment(tx *models.Tx, id uuid.UUID, version int64, d AdjustmentDecision) (*Adjustment, error) {
	var a Adjustment
	if err := tx.Locking().Where("id = ?", id).Take(&a).Error; err != nil {
		return nil, err
	}
	if a.Version != version {
		return nil, &models.Error{Kind: models.Stale, Key: "problem.stale_version"}
	}
	if err := mayDecide(tx, &a); err != nil {
		return nil, err
	}
	before := a
	if err := a.apply(tx, d); err != nil {
		return nil, err
	}
	a.Version++
	a.DecidedAt, a.DecidedBy = &tx.Now, &tx.Actor
	err := tx.DB().Select("state", "parts", "amount", "reason", "decided_at", "decided_by", "version").Where("id = ?", id).Updates(&a).Error
	if err != nil {
		return nil, err
	}
	return &a, tx.Audit(models.Audit{Action: string(d.State), SubjectKind: "adjustments", SubjectID: id, Before: before, After: a, Reason: a.Reason})
}

func mayDecide(tx *models.Tx, a *Adjustment) error {
	if a.State == Overtaken {
		return &models.Error{Kind: models.Conflict, Key: "problem.adjustment_overtaken"}
	}
	var paid int64
	err := tx.DB().Raw(`SELECT count(*) FROM statement_adjustments x JOIN statements s ON s.employer_id = x.employer_id AND s.id = x.statement_id
		JOIN pay_runs r ON r.employer_id = s.employer_id AND r.id = s.run_id
		WHERE x.employer_id = ? AND x.adjustment_id = ? AND s.voided_at IS NULL AND r.state <> 'draft'`, tx.Employer, a.ID).Scan(&paid).Error
	if err == nil && paid > 0 {
		err = &models.Error{Kind: models.Conflict, Key: "problem.adjustment_paid"}
	}
	return err
}

// apply checks a decision and puts it into the adjustment.
func (a *Adjustment) apply(tx *models.Tx, d AdjustmentDecision) error {
	c := models.NewChecker(tx)
	c.OneOf("/state", string(d.State), string(Accepted), string(Carried))
	c.Text("/reason", &d.Reason, 500)
	if len(d.Parts) == 0 {
		d.Parts = []Part{FromRecords}
	}
	slices.SortFunc(d.Parts, func(x, y Part) int { return cmp.Compare(x, y) })
	d.Parts = slices.Compact(d.Parts)
	var amount payroll.Cents
	names := make([]string, len(d.Parts))
	for i, p := range d.Parts {
		c.OneOf("/parts/"+itoa(int64(i)), string(p), string(FromRecords), string(FromRules), string(FromEngine))
		names[i] = string(p)
		amount += map[Part]payroll.Cents{FromRecords: a.RecordsPart, FromRules: a.RulesPart, FromEngine: a.EnginePart}[p]
	}
	if d.State == Accepted && amount <= 0 {
		c.Fault("/parts", "fault.nothing_to_pay", payroll.Terms{"amount": amount})
	}
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	if err != nil {
		return err
	}
	a.State, a.Reason = d.State, d.Reason
	if d.State == Accepted {
		a.Parts, a.Amount = strings.Join(names, ","), amount
	}
	return nil
}

// Adjustments lists the adjustments, of a week where one is given, in the order in which they were proposed.
func Adjustments(tx *models.Tx, week dated.Date, p models.Page) ([]Adjustment, error) {
	q := tx.DB().Where("seq > ?", p.After)
	if !week.IsZero() {
		q = q.Where("for_week = ?", models.Day(week))
	}
	var rows []Adjustment
	err := q.Order("seq").Limit(p.Limit + 1).Find(&rows).Error
	return rows, err
}

// findAccepted reads what is accepted for payment and stands on no approved statement yet, of some workers or (with nil) of all.
func (r *records) findAccepted(b *models.Batch, sel selection, workers []uuid.UUID) {
	r.accepted = map[uuid.UUID][]Adjustment{}
	if sel.bare {
		return
	}
	whose, args := "", []any{b.Employer}
	if workers != nil {
		whose, args = "AND a.worker_id IN ? ", append(args, workers)
	}
	var rows []Adjustment
	b.Find(b.DB().Raw(`SELECT a.* FROM adjustments a WHERE a.employer_id = ? `+whose+`AND a.state = 'accepted' AND NOT EXISTS (
			SELECT 1 FROM statement_adjustments x JOIN statements s ON s.employer_id = x.employer_id AND s.id = x.statement_id
			JOIN pay_runs r ON r.employer_id = s.employer_id AND r.id = s.run_id
			WHERE x.employer_id = a.employer_id AND x.adjustment_id = a.id AND s.voided_at IS NULL AND r.state <> 'draft')
		ORDER BY a.for_week, a.seq`, args...), &rows)
	b.Then(func() error {
		for _, a := range rows {
			r.accepted[a.WorkerID] = append(r.accepted[a.WorkerID], a)
		}
		return nil
	})
}

// owe adds what is accepted for other weeks to a worker's week, resting on the book's provision for it.
func (w *workerWeek) owe(accepted []Adjustment, book *rulebook.Book) {
	for _, a := range accepted {
		if a.ForWeek.Date == w.week.WeekStart && len(w.days) > 0 {
			continue // the week is reckoned whole here
		}
		w.owed = append(w.owed, a.ID)
		w.week.Adjustments = append(w.week.Adjustments, payroll.Adjustment{ForWeek: a.ForWeek.Date, Amount: a.Amount, Reason: a.Reason,
			Authority: book.Authority(string(payroll.AdjustmentLine), string(w.week.Coverage))})
	}
}
