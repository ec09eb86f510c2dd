package models

import (
	"context"
	"time"
)

// Work that takes a while tells how far it has come in a record, so that any of several servers can be asked. On SQLite, which one server has to itself, nothing can be
// told while the work keeps all others from writing.

// Silence is how long such work may go untold of before it counts as given up: its server was stopped. Then it may be begun anew.
const Silence = 2 * time.Minute

// TellEvery is how long passes between two tellings, and how long one may take: it is worth no waiting.
const TellEvery = time.Second

// Teller tells how far some work has come, in transactions of its own, so that others see it.
type Teller struct {
	Store *Store
	Scope Scope
	Mute  bool // nothing is told: the work keeps all others from writing
	last  time.Time
}

// Tell runs save, which writes how far the work has come, unless that was told just now. What is not told now is told the next time.
func (t *Teller) Tell(ctx context.Context, save func(tx *Tx) error) {
	if t.Mute || time.Since(t.last) < TellEvery {
		return
	}
	t.last = time.Now()
	ctx, cancel := context.WithTimeout(ctx, TellEvery)
	defer cancel()
	_ = t.Store.In(ctx, t.Scope, save)
}

// TellEnd runs save, which writes what the work came to. Whoever asked for it may be gone by now; it is told all the same.
func (s *Store) TellEnd(ctx context.Context, scope Scope, save func(tx *Tx) error) error {
	lasting, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
	defer cancel()
	return s.In(lasting, scope, save)
}

// Storable is what an error says as it can be kept, without its cause, so that it can be told later and elsewhere; nil where it is a fault of the program.
func Storable(err error) *Error {
	e := explained(err)
	if e == nil {
		return nil
	}
	kept := &Error{Kind: e.Kind, Key: e.Key, Terms: e.Terms.Storable()}
	for _, f := range e.Faults {
		f.Terms = f.Terms.Storable()
		kept.Faults = append(kept.Faults, f)
	}
	return kept
}
