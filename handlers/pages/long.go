package pages

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
)

// A step of a pay run takes as long as there are people in it. It goes on by itself once it has begun, whatever becomes of the browser: who waits longer than
// a moment gets a page that tells how far it has come, reads itself anew, and shows at last what the step came to. Should the server end
// meanwhile, nothing is kept of the step, and it can be taken again.

// patience is how long an answer waits for a step before it tells how far it has come.
const patience = 2 * time.Second

// remembered is how long the end of a step is kept for whoever comes back to it.
const remembered = 10 * time.Minute

// longKey names a step that is under way: one at a time for each run.
type longKey struct{ employer, run uuid.UUID }

// long is a step that is under way, or has failed.
type long struct {
	payrun.Progress
	ended chan struct{}
	err   error
	form  *Form // that asked for it
	again func(v *visit, f *Form) (*answer, error)
}

// longs are the steps under way in this server.
type longs struct {
	mu   sync.Mutex
	runs map[longKey]*long
}

// errUnderWay says that a step has begun and not ended yet.
var errUnderWay = errors.New("the step is under way")

// start takes a step, unless one of the same run is under way, and waits a moment for its end.
func (v *visit) start(run uuid.UUID, f *Form, again func(v *visit, f *Form) (*answer, error), step func(tx *models.Tx) error) error {
	key := longKey{v.scope.Employer, run}
	v.longs.mu.Lock()
	l := v.longs.runs[key]
	if l == nil {
		l = &long{ended: make(chan struct{}), form: f, again: again}
		v.longs.runs[key] = l
		go l.run(context.WithoutCancel(v.ctx()), v.Site, v.scope, key, step)
	}
	v.longs.mu.Unlock()
	select {
	case <-l.ended:
		v.longs.forget(key)
		return l.err
	case <-time.After(patience):
		return errUnderWay
	}
}

func (l *long) run(ctx context.Context, s *Site, scope models.Scope, key longKey, step func(tx *models.Tx) error) {
	defer close(l.ended)
	defer func() {
		if p := recover(); p != nil { // nobody else is there to catch it
			l.err = fmt.Errorf("a step of a pay run panicked: %v\n%s", p, debug.Stack())
		}
	}()
	l.err = s.Store.In(payrun.Watched(ctx, &l.Progress), scope, step)
	time.AfterFunc(remembered, func() { s.longs.forget(key) })
}

// forget drops a step that has ended.
func (all *longs) forget(key longKey) {
	all.mu.Lock()
	defer all.mu.Unlock()
	if l := all.runs[key]; l != nil && l.over() {
		delete(all.runs, key)
	}
}

func (l *long) over() bool {
	select {
	case <-l.ended:
		return true
	default:
		return false
	}
}

// underWay shows how far a step of a run has come, or what became of one that failed after its answer was gone; nil where there is nothing to tell.
func (v *visit) underWay(run uuid.UUID) (*answer, error) {
	key := longKey{v.scope.Employer, run}
	v.longs.mu.Lock()
	l := v.longs.runs[key]
	v.longs.mu.Unlock()
	switch {
	case l == nil:
		return nil, nil
	case !l.over():
		v.gin.Header("Refresh", "2")
		return show("pay_working", &l.Progress), nil
	}
	v.longs.forget(key)
	if l.err != nil {
		return v.again(l.form, l.err, l.again)
	}
	return nil, nil
}
