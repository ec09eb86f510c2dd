package pages

import (
	"context"
	"encoding/json"
	"errors"
	"net/url"
	"sync"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
)

// A step of a pay run takes as long as there are people in it. It goes on by itself once it has begun, whatever becomes of the browser: who waits longer than
// a moment gets a page that tells how far it has come, reads itself anew, and shows at last what the step came to. Any server can be asked: what another one does stands in
// the step's record (payrun.Step), what this one does also here, since on SQLite nothing can be told while a step is taken. Should the server end meanwhile, nothing is
// kept of the step, and it can be taken again.

// patience is how long an answer waits for a step before it tells how far it has come.
const patience = 2 * time.Second

// remembered is for how long the page of a run tells whoever took a step that it failed.
const remembered = 10 * time.Minute

// quiet is for how long nothing is heard of a step before its page says so.
const quiet = 15 * time.Second

// longKey names a step that is under way: one at a time for each run.
type longKey struct{ employer, run uuid.UUID }

// long is a step that is under way in this server.
type long struct {
	payrun.Step
	payrun.Progress
	ended chan struct{}
	err   error
}

// longs are the steps under way in this server.
type longs struct {
	mu   sync.Mutex
	runs map[longKey]*long
}

// longSteps are the word for what a step has done, and the page whose form asks for it.
var longSteps = map[payrun.StepKind]struct {
	done string
	page func(*visit, *Form) (*answer, error)
}{
	payrun.DraftStep:      {"drafted", payPageWith},
	payrun.CorrectionStep: {"drafted", correctionsPageWith},
	payrun.FinalStep:      {"drafted", finalPageWith},
	payrun.RedraftStep:    {"redrafted", runPageWith},
	payrun.ApproveStep:    {"approved", runPageWith},
	payrun.WithdrawStep:   {"withdrawn", runPageWith},
}

// start takes a step of a run, unless one is under way, and waits a moment for its end. It leads to what the step came to, or to how far it has come.
func (v *visit) start(kind payrun.StepKind, run uuid.UUID, f *Form, do func(tx *models.Tx) error) (*answer, error) {
	asked, err := f.asked()
	if err != nil {
		return nil, err
	}
	own := &long{Step: payrun.Step{RunID: run, ID: f.ID, Kind: kind, Asked: asked}, ended: make(chan struct{})}
	l := v.setGoing(own, do)
	select {
	case <-l.ended:
	case <-time.After(patience):
		return seeOther(pathOfStep(&l.Step), ""), nil
	}
	switch {
	case errors.Is(l.err, payrun.ErrUnderWay): // on another server
		return seeOther("/pay/"+run.String(), ""), nil
	case l.err != nil && l == own:
		return v.stepFailed(f, models.Storable(l.err), kind)
	case l.err != nil:
		return seeOther(pathOfStep(&l.Step), ""), nil
	}
	return seeOther("/pay/"+run.String(), longSteps[l.Kind].done), nil
}

// pathOfStep is where a step is told of: there its failure is shown, however often the page is read.
func pathOfStep(s *payrun.Step) string {
	return "/pay/" + s.RunID.String() + "?step=" + s.ID.String()
}

// setGoing sets a step going, or finds the one of the same run that is under way in this server.
func (v *visit) setGoing(l *long, do func(tx *models.Tx) error) *long {
	key := longKey{v.scope.Employer, l.RunID}
	v.longs.mu.Lock()
	defer v.longs.mu.Unlock()
	if other := v.longs.runs[key]; other != nil {
		return other
	}
	v.longs.runs[key] = l
	ctx, scope, site := context.WithoutCancel(v.ctx()), v.scope, v.Site
	go func() {
		defer close(l.ended)
		defer site.longs.forget(key)
		step := l.Step // which the record is written from; what others read of l stays as it is
		l.err = step.Take(ctx, site.Store, scope, &l.Progress, do)
		if l.err != nil && !errors.Is(l.err, payrun.ErrUnderWay) && models.Storable(l.err) == nil {
			site.Log.Error("a step of a pay run failed", "error", l.err, "step", l.Kind, "run", l.RunID)
		}
	}()
	return l
}

func (all *longs) find(key longKey) *long {
	all.mu.Lock()
	defer all.mu.Unlock()
	return all.runs[key]
}

func (all *longs) forget(key longKey) {
	all.mu.Lock()
	defer all.mu.Unlock()
	delete(all.runs, key)
}

// longWorking is how far a step has come.
type longWorking struct {
	Done, Of int64
	Path     string
	Quiet    int // for how many seconds nothing was heard of it; 0: it was, just now
	Silence  int // after how many minutes without word it counts as given up
}

// underWay shows how far a step of a run has come, or what became of the one that the address names; nil where there is nothing to tell. The step is the run's last one, nil
// where there is none.
func (v *visit) underWay(run uuid.UUID) (*answer, *payrun.Step, error) {
	if l := v.longs.find(longKey{v.scope.Employer, run}); l != nil {
		return v.working(&l.Step, &longWorking{Done: l.Done.Load(), Of: l.Of.Load()}), nil, nil
	}
	var steps []payrun.Step
	var now time.Time
	err := v.ask(func(b *models.Batch) error {
		now = b.Now
		payrun.FindStep(b, run, &steps)
		return nil
	})
	if err != nil || len(steps) == 0 {
		return nil, nil, err
	}
	s := &steps[0]
	switch {
	case s.State == payrun.Going && !s.GivenUp(now):
		w := &longWorking{Done: s.WorkersDone, Of: s.WorkersOf, Silence: int(models.Silence.Minutes())}
		if heard := now.Sub(s.ToldAt); heard > quiet && !v.Store.OneWriter() {
			w.Quiet = int(heard.Seconds())
		}
		return v.working(s, w), s, nil
	case v.gin.Query("step") != s.ID.String():
		return nil, v.untold(s, now), nil
	case s.State == payrun.Taken:
		return seeOther("/pay/"+run.String(), longSteps[s.Kind].done), s, nil
	case s.BegunBy != v.caller.Account:
		return nil, nil, nil
	}
	a, err := v.tellFailure(s)
	return a, s, err
}

func (v *visit) working(s *payrun.Step, w *longWorking) *answer {
	w.Path = pathOfStep(s)
	v.gin.Header("Refresh", "2; url="+w.Path)
	return show("pay_working", w)
}

// untold is a step that the reader took and that came to nothing, a short while ago; nil for any other.
func (v *visit) untold(s *payrun.Step, now time.Time) *payrun.Step {
	if s.State == payrun.Taken || s.BegunBy != v.caller.Account || now.Sub(s.ToldAt) > models.Silence+remembered {
		return nil
	}
	return s
}

// tellFailure shows the form by which a step was asked for, as it was sent, with why nothing came of it.
func (v *visit) tellFailure(s *payrun.Step) (*answer, error) {
	f, err := formAsked(s.Asked)
	if err != nil {
		return nil, err
	}
	if s.State == payrun.Going {
		given := &models.Error{Kind: models.Conflict, Key: "page.pay.step_given_up", Terms: payroll.Terms{"minutes": int(models.Silence.Minutes())}}
		return v.stepFailed(f, given, s.Kind)
	}
	cause, err := s.Failure()
	if err != nil {
		return nil, err
	}
	return v.stepFailed(f, cause, s.Kind)
}

// stepFailed shows the form of a step once more, with why it failed: nil where that was a fault of the program, which was logged where it happened.
func (v *visit) stepFailed(f *Form, cause *models.Error, kind payrun.StepKind) (*answer, error) {
	if cause == nil {
		cause = &models.Error{Kind: models.Conflict, Key: "page.pay.step_broke"}
	}
	return v.again(f, cause, longSteps[kind].page)
}

// askedForm is a form as it is kept with the step that it asks for.
type askedForm struct {
	ID      uuid.UUID
	Version int64
	Fields  []string
	Values  url.Values
}

func (f *Form) asked() (models.Document, error) {
	return json.Marshal(askedForm{f.ID, f.Version, f.fields, f.values})
}

func formAsked(d models.Document) (*Form, error) {
	var a askedForm
	err := json.Unmarshal(d, &a)
	if a.Values == nil {
		a.Values = url.Values{}
	}
	return &Form{ID: a.ID, Version: a.Version, fields: a.Fields, values: a.Values}, err
}
