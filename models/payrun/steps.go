package payrun

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"runtime/debug"
	"time"

	"github.com/google/uuid"

	"palmero/models"
)

// StepKind is what a step does to a run.
type StepKind string

// The kinds of step. The first three draft a run of their kind.
const (
	DraftStep      StepKind = "draft"
	CorrectionStep StepKind = "correction"
	FinalStep      StepKind = "final"
	RedraftStep    StepKind = "redraft"
	ApproveStep    StepKind = "approve"
	WithdrawStep   StepKind = "withdraw"
)

// StepState is how far a step has come.
type StepState string

// The states of a step.
const (
	Going  StepState = "going"
	Taken  StepState = "taken"
	Broken StepState = "failed" // nothing was kept of it
)

// Step is a step of a pay run that takes a while: how far it has come, and at last what became of it. There is one record for each run, of its last step. It is no evidence: what the
// step does is kept in its own transaction, with its audit entry.
type Step struct {
	EmployerID  uuid.UUID `gorm:"primaryKey"`
	RunID       uuid.UUID `gorm:"primaryKey"` // of a draft, the run that is to be
	ID          uuid.UUID
	Kind        StepKind
	State       StepState
	WorkersOf   int64 // 0 until they are counted
	WorkersDone int64
	BegunAt     time.Time
	ToldAt      time.Time // when it was last heard of
	EndedAt     *time.Time
	BegunBy     uuid.UUID       // the account
	Asked       models.Document // what it was asked with, for whoever shows that again; null once the step is taken
	Cause       models.Document // why it failed, a models.Error; null where it did not, or by a fault of the program
}

// TableName tells gorm the table.
func (Step) TableName() string { return "run_steps" }

// ErrUnderWay says that a step of the run has begun, here or on another server, and not ended yet.
var ErrUnderWay = errors.New("a step of the pay run is under way")

// errRepeated says that the very step was taken already.
var errRepeated = errors.New("the step was taken already")

// GivenUp tells whether nothing has been heard of a step for so long that nobody seems to take it any more. Should it go on after all, it cannot be kept once another has begun.
func (s *Step) GivenUp(now time.Time) bool {
	return s.State == Going && now.Sub(s.ToldAt) > models.Silence
}

// Failure is why a step failed; nil where it did not, or by a fault of the program.
func (s *Step) Failure() (*models.Error, error) {
	var e *models.Error
	err := json.Unmarshal(s.Cause, &e)
	return e, err
}

// FindStep asks for the last step of a run: one, or none.
func FindStep(b *models.Batch, run uuid.UUID, into *[]Step) {
	b.Find(b.DB().Where("run_id = ?", run).Limit(1), into)
}

// Take takes the step, which names itself, its run, its kind and what it was asked with, unless one of the same run is under way: then it is ErrUnderWay. One that was taken already is not
// taken again. do is the step's own transaction, in which it is also told that the step was taken; before that nothing of it is kept.
func (s *Step) Take(ctx context.Context, store *models.Store, scope models.Scope, p *Progress, do func(tx *models.Tx) error) error {
	switch err := store.In(ctx, scope, s.begin); {
	case errors.Is(err, errRepeated):
		return nil
	case err != nil:
		return err
	}
	stop := s.keepTelling(ctx, store, scope, p)
	err := caught(func() error {
		return store.In(Watched(ctx, p), scope, func(tx *models.Tx) error {
			if err := do(tx); err != nil {
				return err
			}
			return s.end(tx)
		})
	})
	stop()
	if err == nil {
		return nil
	}
	return errors.Join(err, store.TellEnd(ctx, scope, func(tx *models.Tx) error { return s.fail(tx, err) }))
}

// begin enters the step in the place of the run's last one.
func (s *Step) begin(tx *models.Tx) error {
	var found []Step
	if err := tx.Locking().Where("run_id = ?", s.RunID).Limit(1).Find(&found).Error; err != nil {
		return err
	}
	s.EmployerID, s.State, s.BegunAt, s.ToldAt, s.BegunBy, s.Cause = tx.Employer, Going, tx.Now, tx.Now, tx.Actor, models.Document("null")
	switch {
	case len(found) == 0:
		return tx.DB().Create(s).Error
	case found[0].State == Going && !found[0].GivenUp(tx.Now):
		return ErrUnderWay
	case found[0].State == Taken && found[0].ID == s.ID && found[0].Kind == s.Kind && s.ID != s.RunID: // a draft, which names the run by the step, knows its repeats itself
		return errRepeated
	}
	return tx.DB().Select("*").Omit("employer_id", "run_id").Where("run_id = ?", s.RunID).Updates(s).Error
}

// keepTelling tells how far the step has come until it is stopped.
func (s *Step) keepTelling(ctx context.Context, store *models.Store, scope models.Scope, p *Progress) (stop func()) {
	stopped, ended := make(chan struct{}), make(chan struct{})
	t := &models.Teller{Store: store, Scope: scope, Mute: store.OneWriter()}
	tell := func(tx *models.Tx) error {
		_, err := s.save(tx, &Step{WorkersOf: p.Of.Load(), WorkersDone: p.Done.Load(), ToldAt: tx.Now}, "workers_of", "workers_done", "told_at")
		return err
	}
	go func() {
		defer close(ended)
		for {
			select {
			case <-stopped:
				return
			case <-time.After(models.TellEvery):
				t.Tell(ctx, tell)
			}
		}
	}()
	return func() {
		close(stopped)
		<-ended
	}
}

// save writes columns of the step's record while it is still this step's, and tells whether it is.
func (s *Step) save(tx *models.Tx, values *Step, columns ...string) (bool, error) {
	saved := tx.DB().Model(&Step{}).Select(columns).Where("run_id = ? AND id = ? AND state = ?", s.RunID, s.ID, Going).Updates(values)
	return saved.RowsAffected > 0, saved.Error
}

// end tells in the step's own transaction that it was taken. Where another step of the run has begun meanwhile, because this one counted as given up, it is not.
func (s *Step) end(tx *models.Tx) error {
	nothing := models.Document("null")
	ours, err := s.save(tx, &Step{State: Taken, ToldAt: tx.Now, EndedAt: &tx.Now, Asked: nothing, Cause: nothing}, "state", "told_at", "ended_at", "asked", "cause")
	if err == nil && !ours {
		err = &models.Error{Kind: models.Conflict, Key: "problem.step_overtaken"}
	}
	return err
}

// fail tells why the step failed.
func (s *Step) fail(tx *models.Tx, why error) error {
	cause, err := json.Marshal(models.Storable(why))
	if err == nil {
		_, err = s.save(tx, &Step{State: Broken, ToldAt: tx.Now, EndedAt: &tx.Now, Cause: cause}, "state", "told_at", "ended_at", "cause")
	}
	return err
}

// caught runs fn, and makes a panic an error: whoever asked for the step may be gone, and nobody else is there to catch it.
func caught(fn func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("a step of a pay run panicked: %v\n%s", p, debug.Stack())
		}
	}()
	return fn()
}
