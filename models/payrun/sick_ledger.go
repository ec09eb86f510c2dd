package payrun

import (
	"encoding/json"
	"math"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// SickEntry is an entry of a worker's ledger of sick leave. Entries are only ever added, in the order in which things are recorded: each changes the balance and carries it
// on. Leave is earned by the hours of approved statements, which two people have looked at and which tell the balance that they leave; a statement that is void or a run
// whose approval is withdrawn is reversed by another entry.
type SickEntry struct {
	EmployerID  uuid.UUID       `gorm:"primaryKey" json:"-"`
	WorkerID    uuid.UUID       `gorm:"primaryKey" json:"worker_id"`
	EntryNo     int64           `gorm:"primaryKey" json:"number"`
	Seq         int64           `gorm:"->" json:"-"`
	ID          uuid.UUID       `json:"id"`
	ContentHash string          `json:"-"`
	Kind        SickEntryKind   `json:"kind"`
	OnDate      models.Date     `json:"on_date"`
	ThroughDate models.Date     `json:"-"` // the last day of whose work and employment the balance knows
	Change      payroll.Seconds `gorm:"column:change_seconds" json:"change_seconds"`
	ChangedTo   payroll.Seconds `gorm:"column:balance_seconds" json:"balance_seconds"`
	UsedMinutes payroll.Minutes `json:"used_this_year_minutes"` // of the year of use, before an opening balance; zero of every other entry
	UseID       *uuid.UUID      `json:"use_id"`
	StatementID *uuid.UUID      `json:"statement_id"`
	Reason      string          `json:"reason"`
	RecordedAt  time.Time       `json:"recorded_at"`
	RecordedBy  uuid.UUID       `json:"recorded_by"`
}

// TableName tells gorm the table.
func (SickEntry) TableName() string { return "sick_entries" }

// SickEntryKind says what an entry is from.
type SickEntryKind string

// A balance is brought in from before this program kept it, or adjusted by somebody with a reason; leave is used; an approved statement earns; what no longer
// stands is reversed.
const (
	SickOpening    SickEntryKind = "opening"
	SickAdjustment SickEntryKind = "adjustment"
	SickUsed       SickEntryKind = "use"
	SickStatement  SickEntryKind = "statement"
	SickReversal   SickEntryKind = "reversal"
)

// lastSickEntries reads the last entry of each of some workers' ledgers.
func lastSickEntries(tx *models.Tx, workers []uuid.UUID) (map[uuid.UUID]SickEntry, error) {
	b := tx.Batch()
	last := findLastSickEntries(b, workers)
	return last, b.Err()
}

// findLastSickEntries asks for them along with the others of a batch.
func findLastSickEntries(b *models.Batch, workers []uuid.UUID) map[uuid.UUID]SickEntry {
	var rows []SickEntry
	b.Find(b.DB().Raw(`SELECT e.* FROM (SELECT w.id, (SELECT max(x.entry_no) FROM sick_entries x WHERE x.employer_id = @employer AND x.worker_id = w.id) AS last
			FROM workers w WHERE w.employer_id = @employer AND w.id IN @workers) l
		JOIN sick_entries e ON e.employer_id = @employer AND e.worker_id = l.id AND e.entry_no = l.last`,
		map[string]any{"employer": b.Employer, "workers": workers}), &rows)
	last := make(map[uuid.UUID]SickEntry, len(workers))
	b.Then(func() error {
		for _, e := range rows {
			last[e.WorkerID] = e
		}
		return nil
	})
	return last
}

// holdLedgers keeps others from writing to the ledgers until the transaction ends.
func holdLedgers(tx *models.Tx) error {
	var profile models.EmployerProfile
	return tx.Locking().Take(&profile).Error
}

// post adds entries to the ledgers, each after the last of its worker, in set-sized statements. The ledgers are held.
func post(tx *models.Tx, entries []SickEntry) error {
	if len(entries) == 0 {
		return nil
	}
	var workers []uuid.UUID
	for _, e := range entries {
		workers = append(workers, e.WorkerID)
	}
	last, err := lastSickEntries(tx, workers)
	if err != nil {
		return err
	}
	for i := range entries {
		e := &entries[i]
		before := last[e.WorkerID]
		e.EntryNo, e.ChangedTo = before.EntryNo+1, before.ChangedTo+e.Change
		if e.ThroughDate.IsZero() || e.ThroughDate.Before(before.ThroughDate.Date) {
			e.ThroughDate = before.ThroughDate
		}
		if e.ThroughDate.IsZero() {
			e.ThroughDate = e.OnDate
		}
		if e.ID == uuid.Nil {
			e.ID = tx.NewID()
		}
		e.RecordedAt, e.RecordedBy = tx.Now, tx.Actor
		last[e.WorkerID] = *e
	}
	return models.InsertAll(tx, entries)
}

// postStatements enters what the statements of a run that has been approved earned.
func postStatements(tx *models.Tx, run *Run) error {
	for after := int64(0); ; {
		var rows []StatementRow
		err := tx.DB().Select("id", "seq", "worker_id", "week_start", "heading").Where("run_id = ? AND seq > ?", run.ID, after).Order("seq").Limit(workersAtOnce).Find(&rows).Error
		if err != nil || len(rows) == 0 {
			return err
		}
		var entries []SickEntry
		for i := range rows {
			after = rows[i].Seq
			var h Heading
			if err := json.Unmarshal(rows[i].Heading, &h); err != nil {
				return err
			}
			if h.SickLeave != nil && h.SickLeave.EarnedSeconds != 0 {
				last := models.Day(rows[i].WeekStart.AddDays(6))
				entries = append(entries, SickEntry{WorkerID: rows[i].WorkerID, Kind: SickStatement, OnDate: last, ThroughDate: last, Change: h.SickLeave.EarnedSeconds, StatementID: &rows[i].ID})
			}
		}
		if err := post(tx, entries); err != nil {
			return err
		}
	}
}

// reverseStatements takes back what statements entered: one of them, or all of a run.
func reverseStatements(tx *models.Tx, column string, id uuid.UUID, reason string) error {
	if err := holdLedgers(tx); err != nil {
		return err
	}
	var rows []struct {
		StatementID, WorkerID uuid.UUID
		WeekStart             models.Date
		Change                payroll.Seconds
	}
	err := tx.DB().Raw(`SELECT e.statement_id, e.worker_id, s.week_start, CAST(sum(e.change_seconds) AS bigint) AS change
		FROM statements s JOIN sick_entries e ON e.employer_id = s.employer_id AND e.statement_id = s.id
		WHERE s.employer_id = ? AND s.`+column+` = ? GROUP BY e.statement_id, e.worker_id, s.week_start HAVING sum(e.change_seconds) <> 0 ORDER BY e.worker_id`, tx.Employer, id).Scan(&rows).Error
	if err != nil {
		return err
	}
	entries := make([]SickEntry, len(rows))
	for i := range rows {
		entries[i] = SickEntry{WorkerID: rows[i].WorkerID, Kind: SickReversal, OnDate: models.Day(rows[i].WeekStart.AddDays(6)), Change: -rows[i].Change, StatementID: &rows[i].StatementID, Reason: reason}
	}
	return post(tx, entries)
}

// SickEntryRequest brings a balance in, or adjusts one.
type SickEntryRequest struct {
	ID      uuid.UUID       `json:"id"`
	Kind    SickEntryKind   `json:"kind"`
	OnDate  models.Date     `json:"on_date"`
	Minutes payroll.Minutes `json:"minutes"`                          // an adjustment may take away
	Used    payroll.Minutes `json:"used_this_year_minutes,omitempty"` // with an opening balance: of the year of use, before it
	Reason  string          `json:"reason"`
}

// EnterSick adds an entry to a worker's ledger by hand. The same request again returns the entry, and true.
func EnterSick(tx *models.Tx, worker uuid.UUID, q SickEntryRequest) (*SickEntry, bool, error) {
	w, err := models.Get[models.WorkerContent](tx, worker)
	if err != nil {
		return nil, false, err
	}
	q.Reason = strings.TrimSpace(q.Reason)
	hash := models.ContentHash([]any{worker, q})
	var stored SickEntry
	if err := tx.DB().Where("id = ?", q.ID).Limit(1).Find(&stored).Error; err != nil {
		return nil, false, err
	}
	if q.ID != uuid.Nil && stored.ID == q.ID {
		if stored.ContentHash != hash {
			return nil, false, &models.Error{Kind: models.Conflict, Key: "problem.id_reused"}
		}
		return &stored, true, nil
	}
	if err := holdLedgers(tx); err != nil {
		return nil, false, err
	}
	if err := q.check(tx, w); err != nil {
		return nil, false, err
	}
	entries := []SickEntry{{WorkerID: worker, ID: q.ID, ContentHash: hash, Kind: q.Kind, OnDate: q.OnDate, Change: payroll.Seconds(q.Minutes) * 60, UsedMinutes: q.Used, Reason: q.Reason}}
	if err := post(tx, entries); err != nil {
		return nil, false, err
	}
	return &entries[0], false, tx.Audit(models.Audit{Action: "enter", SubjectKind: "sick_entries", SubjectID: worker, After: entries[0], Reason: q.Reason})
}

// mostSickMinutes bounds an entry by hand: a slip of the finger is longer than that.
const mostSickMinutes = 1_000 * 60

func (q *SickEntryRequest) check(tx *models.Tx, w *models.Worker) error {
	c := models.NewChecker(tx)
	c.OneOf("/kind", string(q.Kind), string(SickOpening), string(SickAdjustment))
	if c.Day("/on_date", q.OnDate.Date) && q.OnDate.Before(w.Content.StartedOn.Date) {
		c.Fault("/on_date", "fault.before_employment", payroll.Terms{"started": w.Content.StartedOn.Date})
	}
	least := int64(0)
	if q.Kind == SickAdjustment {
		least = -mostSickMinutes
	}
	if c.Range("/used_this_year_minutes", int64(q.Used), 0, mostSickMinutes); q.Kind == SickAdjustment && q.Used != 0 {
		c.Fault("/used_this_year_minutes", "fault.sick_used_opening", nil)
	}
	if c.Range("/minutes", int64(q.Minutes), least, mostSickMinutes); q.Minutes == 0 && q.Used == 0 {
		c.Fault("/minutes", "fault.sick_nothing", nil)
	}
	c.Text("/reason", &q.Reason, 500)
	var openings int64
	if q.Kind == SickOpening {
		if err := tx.DB().Model(&SickEntry{}).Where("worker_id = ? AND kind = ?", w.ID, SickOpening).Count(&openings).Error; err != nil {
			return err
		}
	}
	if openings > 0 {
		c.Fault("/kind", "fault.sick_opened", nil)
	}
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	return err
}

// RecordSickUse records sick leave taken, on its own or in place of a record of it: the ledger loses it at once, and the statement of its week pays it. It is refused where
// the worker may not use so much on that day, with what there is and from when.
func RecordSickUse(tx *models.Tx, books *rulebook.Library, id uuid.UUID, c models.SickUseContent, how models.Recording) (*models.SickUse, bool, error) {
	use, repeated, err := models.Record(tx, id, c, how)
	if err != nil || repeated {
		if err == nil && use.Content.Note != strings.TrimSpace(c.Note) {
			err = &models.Error{Kind: models.Conflict, Key: "problem.id_reused"}
		}
		return use, repeated, err
	}
	if err := holdLedgers(tx); err != nil {
		return nil, false, err
	}
	if how.Supersedes != nil {
		if err := giveBack(tx, use, *how.Supersedes); err != nil {
			return nil, false, err
		}
	}
	if c.Minutes == 0 {
		if how.Supersedes == nil {
			err = models.FaultAt("/minutes", "fault.not_positive", nil)
		}
		return use, false, err
	}
	if err := mayUse(tx, books, use); err != nil {
		return nil, false, err
	}
	return use, false, post(tx, []SickEntry{{WorkerID: use.Content.WorkerID, Kind: SickUsed, OnDate: use.Content.Workday, Change: -payroll.Seconds(use.Content.Minutes) * 60, UseID: &use.ID}})
}

// giveBack returns what a use that was superseded had taken from the ledger.
func giveBack(tx *models.Tx, by *models.SickUse, old uuid.UUID) error {
	var was models.SickUse
	if err := tx.DB().Where("id = ?", old).Take(&was).Error; err != nil {
		return err
	}
	if was.Content.WorkerID != by.Content.WorkerID {
		return models.FaultAt("/worker_id", "fault.sick_other_worker", nil)
	}
	if was.Content.Minutes == 0 {
		return nil
	}
	return post(tx, []SickEntry{{WorkerID: was.Content.WorkerID, Kind: SickReversal, OnDate: was.Content.Workday, Change: payroll.Seconds(was.Content.Minutes) * 60, UseID: &was.ID, Reason: by.Reason}})
}

// mayUse wants the worker to have the leave on the day of the use, which is recorded and not yet entered.
func mayUse(tx *models.Tx, books *rulebook.Library, use *models.SickUse) error {
	c := use.Content
	account, err := sickAccount(tx, books, c.WorkerID, c.GardenID, c.Workday.Date, &use.ID)
	if err != nil {
		return err
	}
	terms := payroll.Terms{"balance": max(0, account.Balance), "usable": account.Usable, "used": account.UsedThisYear, "asked": c.Minutes}
	switch {
	case account.UsableFrom.IsZero():
		return models.FaultAt("/workday", "fault.sick_not_employed", terms)
	case c.Workday.Before(account.UsableFrom.Date):
		terms["from"] = account.UsableFrom.Date
		return models.FaultAt("/workday", "fault.sick_waiting", terms)
	case c.Minutes > account.Usable && account.Usable < account.Balance:
		terms["from"] = account.NextYear.Date
		return models.FaultAt("/minutes", "fault.sick_year", terms)
	case c.Minutes > account.Usable:
		return models.FaultAt("/minutes", "fault.sick_balance", terms)
	}
	return nil
}

// SickAccount is how a worker's sick leave stands on a day, by what is in the ledger.
type SickAccount struct {
	WorkerID     uuid.UUID       `json:"worker_id"`
	On           models.Date     `json:"on"`
	Rulebook     string          `json:"rulebook"`
	Ruled        bool            `json:"ruled"` // whether the rulebook has sick leave
	Balance      payroll.Minutes `json:"balance_minutes"`
	Usable       payroll.Minutes `json:"usable_minutes"`
	UsableFrom   models.Date     `json:"usable_from,omitzero"` // not there while the worker is not employed
	UsedThisYear payroll.Minutes `json:"used_this_year_minutes"`
	NextYear     models.Date     `json:"next_year_from,omitzero"`
	Rules        SickRules       `json:"rules"`
}

// SickRules are the rules of the account on the day, for whoever reads it.
type SickRules struct {
	HoursPerHour payroll.Minutes  `json:"minutes_worked_for_an_hour"`
	WaitingDays  int              `json:"waiting_days"`
	UseCap       *payroll.Minutes `json:"use_cap_minutes"`   // null: none
	BankCap      *payroll.Minutes `json:"bank_cap_minutes"`  // null: none
	DayMinutes   *payroll.Minutes `json:"usual_day_minutes"` // null: not known, so that the hours of the caps count alone
}

// SickAccountOf reckons how a worker's sick leave stands on a day, under the rulebook of the garden where they last worked.
func SickAccountOf(tx *models.Tx, books *rulebook.Library, worker uuid.UUID, on dated.Date) (*SickAccount, error) {
	garden, err := lastGarden(tx, worker)
	if err != nil {
		return nil, err
	}
	return sickAccount(tx, books, worker, garden, on, nil)
}

// lastGarden is the garden of the worker's last time entry, else the employer's first.
func lastGarden(tx *models.Tx, worker uuid.UUID) (uuid.UUID, error) {
	var gardens []uuid.UUID
	err := tx.DB().Raw(`SELECT garden_id FROM time_entries WHERE employer_id = ? AND worker_id = ? AND superseded_by IS NULL ORDER BY workday DESC, seq DESC LIMIT 1`, tx.Employer, worker).Scan(&gardens).Error
	if err == nil && len(gardens) == 0 {
		err = tx.DB().Raw("SELECT id FROM gardens WHERE employer_id = ? ORDER BY number LIMIT 1", tx.Employer).Scan(&gardens).Error
	}
	if err == nil && len(gardens) == 0 {
		err = &models.Error{Kind: models.Conflict, Key: "problem.no_garden"}
	}
	if err != nil {
		return uuid.Nil, err
	}
	return gardens[0], nil
}

func sickAccount(tx *models.Tx, books *rulebook.Library, worker, garden uuid.UUID, on dated.Date, except *uuid.UUID) (*SickAccount, error) {
	w, err := models.Get[models.WorkerContent](tx, worker)
	if err != nil {
		return nil, err
	}
	g, err := models.Get[models.GardenContent](tx, garden)
	if err != nil {
		return nil, err
	}
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	law, err := localbooks.Of(tx, books)
	if err != nil {
		return nil, err
	}
	book, ok := bookOf(law, law.For(garden, g.Content.Rulebook, worker)[0])
	if !ok {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.unknown_rulebook", Terms: payroll.Terms{"rulebook": g.Content.Rulebook}}
	}
	r := &records{workers: map[uuid.UUID]*models.Worker{worker: w}}
	b := tx.Batch()
	if r.findSick(b, selection{weekStart: on, through: on}, []uuid.UUID{worker}, []uuid.UUID{worker}); b.Err() != nil {
		return nil, b.Err()
	}
	if except != nil {
		r.sick.leaveOut(worker, *except)
	}
	size := int(profile.Content.Size)
	ledger, faults := r.sick.account(w, on).Ledger(book.Book, &size, on)
	if err := models.Faulty(faults); err != nil {
		return nil, err
	}
	a := &SickAccount{WorkerID: worker, On: models.Day(on), Rulebook: book.named.Key(), Balance: ledger.Balance, Usable: ledger.Usable, UsableFrom: models.Day(ledger.UsableFrom),
		UsedThisYear: ledger.UsedThisYear, NextYear: models.Day(ledger.NextYear)}
	a.explain(book.Book, &size, w.Content.UsualDayMinutes)
	return a, nil
}

// leaveOut takes a use out that the ledger does not have yet.
func (s *sickRecords) leaveOut(worker, use uuid.UUID) {
	for i, u := range s.uses[worker] {
		if u.ID == use {
			s.uses[worker] = append(s.uses[worker][:i:i], s.uses[worker][i+1:]...)
			return
		}
	}
}

// explain tells the rules.
func (a *SickAccount) explain(book *rulebook.Book, size *int, day payroll.Minutes) {
	rules, ruled := book.SickLeave(a.On.Date, size)
	a.Ruled = ruled
	a.Rules = SickRules{HoursPerHour: payroll.Minutes(rules.AccrualPer), WaitingDays: rules.WaitingDays, UseCap: payroll.SickCapOf(rules.UseCap, day), BankCap: payroll.SickCapOf(rules.BankCap, day)}
	if day > 0 {
		a.Rules.DayMinutes = &day
	}
}

// SickEntries lists a worker's ledger in the order in which it was written.
func SickEntries(tx *models.Tx, worker uuid.UUID, p models.Page) ([]SickEntry, error) {
	if _, err := models.Get[models.WorkerContent](tx, worker); err != nil {
		return nil, err
	}
	return models.List[SickEntry](tx, p, models.Equal("worker_id", worker))
}

// LatestSickEntries lists a worker's ledger from the latest entry back, at most limit: all of it, or with before those that came before the entry of that number.
func LatestSickEntries(tx *models.Tx, worker uuid.UUID, before int64, limit int) ([]SickEntry, error) {
	if before <= 0 {
		before = math.MaxInt64
	}
	var entries []SickEntry
	err := tx.DB().Where("worker_id = ? AND entry_no < ?", worker, before).Order("entry_no DESC").Limit(limit).Find(&entries).Error
	return entries, err
}
