package imports

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
)

// State is how far a file has come.
type State string

// The states of a file. Those in which it is worked on are Checking and Storing.
const (
	Waiting  State = "kept"     // on the pages, nothing was done with it yet
	Checking State = "checking" // a dry run goes on
	Storing  State = "storing"
	Checked  State = "checked" // a dry run ended
	Stored   State = "stored"
	Refused  State = "refused" // it was to be stored, and problems kept all of it out
	Failed   State = "failed"  // it could not be read, or something broke: nothing was stored
	Dropped  State = "dropped" // somebody threw it away, or it lay too long
)

// Choices are how a file is to be taken in.
type Choices struct {
	Accept     intake.Acceptance `json:"accept"`
	OnMatch    string            `json:"on_match"` // as ParseAnswers reads them
	NewWorkers bool              `json:"new_workers"`
}

// Import is a file on its way in, and at last what became of it. It is no evidence: the records that its rows become are.
type Import struct {
	models.Keyed
	Kind      Kind            `json:"kind"`
	Reference string          `json:"reference"`
	State     State           `json:"state"`
	RowsRead  int64           `json:"rows_read"` // 0 until they are counted
	RowsDone  int64           `json:"rows_done"`
	BegunAt   time.Time       `json:"begun_at"`
	ToldAt    time.Time       `json:"told_at"` // when it was last heard of
	EndedAt   *time.Time      `json:"ended_at"`
	BegunBy   uuid.UUID       `json:"begun_by"`
	Answers   models.Document `json:"-"` // Choices
	Report    models.Document `json:"-"` // Outcome; null until there is one
	File      string          `json:"-"` // the bytes in base64, while they are kept
	Version   int64           `json:"version"`

	layout *Layout
}

// TableName tells gorm the table.
func (Import) TableName() string { return "imports" }

// UnderWay tells whether the file is being worked on.
func (i *Import) UnderWay() bool { return i.State == Checking || i.State == Storing }

// GivenUp tells whether nothing has been heard of a file under way for so long that nobody seems to work on it any more. Should the first attempt go on after all, the
// second finds every record that it kept.
func (i *Import) GivenUp(now time.Time) bool {
	return i.UnderWay() && now.Sub(i.ToldAt) > models.Silence
}

// Choices are those that the file was last worked on with.
func (i *Import) Choices() (c Choices, err error) { return c, json.Unmarshal(i.Answers, &c) }

// Outcome is what working on a file came to.
type Outcome struct {
	Report   *Report // nil where the file cannot be read
	Layout   *Layout // nil where not even its columns can be told apart
	Problems []Finding
	Notes    []Finding
	Found    int             // how many problems there are, of which the first are kept
	Noted    int             // likewise
	Key      string          // why it cannot be read; "" where it can
	Terms    payroll.Terms   `json:",omitempty"`
	Faults   []payroll.Fault // likewise
}

// Outcome is what the last work on the file came to; nil where there is none yet.
func (i *Import) Outcome() (*Outcome, error) {
	var o *Outcome
	if err := json.Unmarshal(i.Report, &o); err != nil || o == nil || o.Report == nil {
		return o, err
	}
	o.Report.Problems, o.Report.Notes = o.Problems, o.Notes
	return o, nil
}

// MostFindings is how many problems, and how many notes, are told of one file; the counts are of all.
const MostFindings = 1_000

func outcomeOf(r *Report, err error) *Outcome {
	if r != nil {
		return &Outcome{Report: r, Problems: first(r.Problems), Notes: first(r.Notes), Found: len(r.Problems), Noted: len(r.Notes)}
	}
	if e := models.Storable(err); e != nil {
		return &Outcome{Key: e.Key, Terms: e.Terms, Faults: e.Faults}
	}
	return &Outcome{Key: "problem.internal"}
}

func first(all []Finding) []Finding {
	kept := append([]Finding{}, all[:min(len(all), MostFindings)]...)
	for i := range kept {
		kept[i].Terms = kept[i].Terms.Storable()
	}
	return kept
}

// order is what the row says is to be done with the file.
func (i *Import) order(data []byte) (Order, error) {
	c, err := i.Choices()
	if err != nil {
		return Order{}, err
	}
	answers, err := ParseAnswers(c.OnMatch)
	return Order{ID: i.ID, Kind: i.Kind, Reference: i.Reference, Data: data, DryRun: i.State == Checking, Accept: c.Accept, OnMatch: answers, NewWorkers: c.NewWorkers}, err
}

// hash is what a file that is sent again is recognised by.
func (o *Order) hash(c Choices) string {
	sum := sha256.Sum256(o.Data)
	return models.ContentHash([]any{o.Kind, o.Reference, hex.EncodeToString(sum[:]), o.DryRun, c, o.Mapping})
}

// Take takes a file in as Run does, and lets everybody see how far it has come, under the identifier in the order. The same file with the same wishes under the same
// identifier is answered with what it came to, which the third result says.
func Take(ctx context.Context, store *models.Store, scope models.Scope, o Order, c Choices) (*Import, *Report, bool, error) {
	hash := o.hash(c)
	var i *Import
	err := store.In(ctx, scope, func(tx *models.Tx) (err error) {
		if err := o.check(tx); err != nil {
			return err
		}
		i, err = announce(tx, &o, c, hash)
		return err
	})
	if err != nil {
		return nil, nil, false, err
	}
	if !i.UnderWay() {
		kept, err := i.Outcome()
		if err != nil {
			return nil, nil, false, err
		}
		return i, kept.Report, true, nil
	}
	report, err := i.run(ctx, store, scope, o)
	return i, report, false, err
}

// announce enters a file that is worked on from now, or finds what became of it.
func announce(tx *models.Tx, o *Order, c Choices, hash string) (*Import, error) {
	kept, err := models.Repeat[Import](tx, o.ID, hash)
	if err != nil {
		return nil, err
	}
	switch {
	case kept == nil:
	case kept.State == Checked, kept.State == Stored, kept.State == Refused:
		return kept, nil
	case kept.UnderWay() && !kept.GivenUp(tx.Now):
		return nil, underWay()
	default:
		return kept, kept.begin(tx, workOf(o.DryRun), c)
	}
	i := &Import{Keyed: models.Keyed{ID: o.ID, ContentHash: hash}, Kind: o.Kind, Reference: o.Reference, State: workOf(o.DryRun), BegunAt: tx.Now, ToldAt: tx.Now, BegunBy: tx.Actor, Report: models.Document("null"), Version: 1}
	if i.Answers, err = json.Marshal(c); err != nil {
		return nil, err
	}
	return i, tx.DB().Create(i).Error
}

func workOf(dryRun bool) State {
	if dryRun {
		return Checking
	}
	return Storing
}

func underWay() error { return &models.Error{Kind: models.Conflict, Key: "problem.import_under_way"} }

// begin sets a file to work on.
func (i *Import) begin(tx *models.Tx, state State, c Choices) (err error) {
	i.State, i.RowsRead, i.RowsDone, i.ToldAt, i.EndedAt, i.Version = state, 0, 0, tx.Now, nil, i.Version+1
	if i.Answers, err = json.Marshal(c); err != nil {
		return err
	}
	return i.save(tx, "state", "rows_read", "rows_done", "told_at", "ended_at", "answers", "version")
}

func (i *Import) save(tx *models.Tx, columns ...string) error {
	return tx.DB().Select(columns).Where("id = ?", i.ID).Updates(i).Error
}

// run works on a file and tells what it came to.
func (i *Import) run(ctx context.Context, store *models.Store, scope models.Scope, o Order) (*Report, error) {
	t := &models.Teller{Store: store, Scope: scope, Mute: i.State == Storing && store.OneWriter()}
	also := o.Progress
	o.Progress = func(done, total int) {
		t.Tell(ctx, func(tx *models.Tx) error {
			at := Import{Keyed: i.Keyed, RowsRead: int64(total), RowsDone: int64(done), ToldAt: tx.Now}
			return at.save(tx, "rows_read", "rows_done", "told_at")
		})
		if also != nil {
			also(done, total)
		}
	}
	o.looked = func(l *Layout) { i.layout = l }
	o.stored = func(tx *models.Tx, r *Report) error { return i.end(tx, Stored, r, nil) }
	report, err := Run(ctx, store, scope, o)
	if err == nil && report.Stored {
		return report, nil
	}
	state := Failed
	switch {
	case err == nil && o.DryRun:
		state = Checked
	case err == nil:
		state = Refused
	}
	told := store.TellEnd(ctx, scope, func(tx *models.Tx) error { return i.end(tx, state, report, err) })
	return report, errors.Join(err, told)
}

// end tells what working on a file came to. What is stored, or dropped, need not be kept any longer.
func (i *Import) end(tx *models.Tx, state State, r *Report, cause error) (err error) {
	i.State, i.ToldAt, i.EndedAt = state, tx.Now, &tx.Now
	if r != nil {
		i.RowsRead, i.RowsDone = int64(r.Rows), int64(r.Rows)
	}
	outcome := outcomeOf(r, cause)
	outcome.Layout = i.layout
	if i.Report, err = json.Marshal(outcome); err != nil {
		return err
	}
	columns := []string{"state", "told_at", "ended_at", "rows_read", "rows_done", "report"}
	if state == Stored || state == Dropped {
		i.File = ""
		columns = append(columns, "file")
	}
	return i.save(tx, columns...)
}

// ImportOf returns a file on its way, without its bytes.
func ImportOf(tx *models.Tx, id uuid.UUID) (*Import, error) {
	var found []Import
	if err := tx.DB().Omit("file").Where("id = ?", id).Limit(1).Find(&found).Error; err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return nil, &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	return &found[0], nil
}

// Imports lists files on their way and what became of others, in the order in which they came, without their bytes.
func Imports(tx *models.Tx, p models.Page) ([]Import, error) {
	return models.List[Import](tx, p, func(db *gorm.DB) *gorm.DB { return db.Omit("file", "report") })
}
