package models

import (
	"database/sql"
	"maps"
	"sync"
	"time"
)

// CountedThing is what a store counts: a thing, and which kind of it.
type CountedThing struct{ What, Kind string }

// What is counted, in whole numbers since the store was opened.
const (
	CountCommands     = "commands"     // commands kept, by the action and the subject of their audit entry, as in "draft pay_runs"
	CountMicroseconds = "microseconds" // that those commands took, from the first statement to the commit
	CountSheets       = "crew_sheets"  // sheets taken in, "new" or "repeated"
	CountLines        = "sheet_lines"  // their lines, by outcome
	CountRefusals     = "refusals"     // sign-ins refused, "wrong" or "too_many"
	CountSlow         = "slow"         // statements over the threshold, by name
)

// counts is what a store has counted.
type counts struct {
	mu     sync.Mutex
	n      map[CountedThing]int64
	sealed time.Time // when sealing last went through
}

func (c *counts) add(what CountedThing, n int64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.n == nil {
		c.n = map[CountedThing]int64{}
	}
	c.n[what] += n
}

// Counts returns what the store has counted since it was opened. Nothing that was undone is in it.
func (s *Store) Counts() map[CountedThing]int64 {
	s.counts.mu.Lock()
	defer s.counts.mu.Unlock()
	return maps.Clone(s.counts.n)
}

// Count counts what no transaction stands for, such as a refusal.
func (s *Store) Count(what, kind string) { s.counts.add(CountedThing{what, kind}, 1) }

// LastSealed is when this store last sealed all that it could, by its clock; zero where it has not yet.
func (s *Store) LastSealed() time.Time {
	s.counts.mu.Lock()
	defer s.counts.mu.Unlock()
	return s.counts.sealed
}

// SealAge is how long ago this store last sealed all that it could; until it has, how long it has been open.
func (s *Store) SealAge() time.Duration {
	at := s.LastSealed()
	if at.IsZero() {
		at = s.opened
	}
	return s.now().Sub(at)
}

func (c *counts) sealing(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.sealed = at
}

// Now is the store's clock.
func (s *Store) Now() time.Time { return s.now() }

// Count counts once the transaction is kept.
func (t *Tx) Count(what, kind string, n int64) {
	if n > 0 {
		t.counted = append(t.counted, tally{CountedThing{what, kind}, n})
	}
}

type tally struct {
	what CountedThing
	n    int64
}

// kept adds what a transaction counted, and its command.
func (c *counts) kept(t *Tx, took time.Duration) {
	for _, one := range t.counted {
		c.add(one.what, one.n)
	}
	if t.audited != "" {
		c.add(CountedThing{CountCommands, t.audited}, 1)
		c.add(CountedThing{CountMicroseconds, t.audited}, took.Microseconds())
	}
}

// Pool tells of the connections to the database; on SQLite of those that read.
func (s *Store) Pool() sql.DBStats {
	pool, err := s.read.DB()
	if err != nil {
		return sql.DBStats{}
	}
	return pool.Stats()
}
