package models

import (
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"
)

// SlowStatements says which statements are told of, and to whom. A statement goes by the name of the function that asks for it; its values are told to nobody.
type SlowStatements struct {
	After time.Duration // those that take longer; 0: none
	Tell  func(name string, took time.Duration)
}

// clockKey is where a statement keeps when it began, and timedKey that whoever asks for it times it, the reading of its rows included.
const (
	clockKey = "palmero:began"
	timedKey = "palmero:timed"
)

// watchStatements times every statement that goes through gorm.
func (s *Store) watchStatements(db *gorm.DB) error {
	begin := func(tx *gorm.DB) { tx.InstanceSet(clockKey, time.Now()) }
	end := func(tx *gorm.DB) {
		_, timed := tx.Get(timedKey)
		if began, ok := tx.InstanceGet(clockKey); ok && !timed {
			s.took(time.Since(began.(time.Time)))
		}
	}
	on := db.Callback()
	for _, err := range []error{
		on.Query().Before("gorm:query").Register("palmero:begin", begin), on.Query().After("gorm:query").Register("palmero:end", end),
		on.Row().Before("gorm:row").Register("palmero:begin", begin), on.Row().After("gorm:row").Register("palmero:end", end),
		on.Raw().Before("gorm:raw").Register("palmero:begin", begin), on.Raw().After("gorm:raw").Register("palmero:end", end),
		on.Create().Before("gorm:create").Register("palmero:begin", begin), on.Create().After("gorm:create").Register("palmero:end", end),
		on.Update().Before("gorm:update").Register("palmero:begin", begin), on.Update().After("gorm:update").Register("palmero:end", end),
		on.Delete().Before("gorm:delete").Register("palmero:begin", begin), on.Delete().After("gorm:delete").Register("palmero:end", end),
	} {
		if err != nil {
			return err
		}
	}
	return nil
}

// timing times a statement that goes around gorm, or whose rows do, until the function that it returns is called.
func (t *Tx) timing() func() {
	if t.store == nil || t.store.slow.After == 0 {
		return func() {}
	}
	began := time.Now()
	return func() { t.store.took(time.Since(began)) }
}

// took tells of a statement that took too long.
func (s *Store) took(d time.Duration) {
	if s.slow.After == 0 || d <= s.slow.After {
		return
	}
	name := asker()
	s.counts.add(CountedThing{CountSlow, name}, 1)
	if s.slow.Tell != nil {
		s.slow.Tell(name, d)
	}
}

// plumbing are the files through which other functions ask.
var plumbing = []string{"slow.go", "batch.go", "scan.go", "insert.go", "records.go", "sets.go", "guard.go", "dialect.go", "store.go"}

// asker is the nearest function of the program that asked for a statement by itself.
func asker() string {
	pcs := make([]uintptr, 64)
	frames := runtime.CallersFrames(pcs[:runtime.Callers(2, pcs)])
	name := "a statement"
	for {
		frame, more := frames.Next()
		if function, ours := strings.CutPrefix(frame.Function, "palmero/"); ours {
			name = function
			if !slices.Contains(plumbing, filepath.Base(frame.File)) {
				return name
			}
		}
		if !more {
			return name
		}
	}
}
