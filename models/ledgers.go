package models

import (
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
)

// The ledgers of time and of counts are what a year's hours and a season's counts are summed from. The records of work remain the evidence: what each adds is
// entered with it, and taken away again once a correction takes its place. Entries are only ever added.

// Work is records of work that come in together.
type Work struct {
	Time    []TimeEntry
	Lots    []Lot
	Tallies []Tally
	Blocks  map[uuid.UUID]*Block // of the employer; nil: they are read where they are needed
}

// KeepWork writes records of work and enters what they add to the ledgers, less what those added that they take the place of.
func KeepWork(tx *Tx, fresh, replaced Work) error {
	var err error
	if fresh.Blocks == nil && len(fresh.Tallies) > 0 {
		if fresh.Blocks, err = All[BlockContent](tx); err != nil {
			return err
		}
	}
	l := &ledgers{fresh.Blocks, map[timeEntered]int64{}, map[countEntered]int64{}}
	l.add(&fresh, 1)
	l.add(&replaced, -1)
	for _, step := range []func() error{
		func() error { return InsertAll(tx, fresh.Time) },
		func() error { return InsertAll(tx, fresh.Lots) },
		func() error { return InsertAll(tx, fresh.Tallies) },
		func() error { return l.enter(tx) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// ledgers gathers what is to be entered.
type ledgers struct {
	blocks  map[uuid.UUID]*Block
	minutes map[timeEntered]int64
	pieces  map[countEntered]int64
}

func (l *ledgers) add(w *Work, times int64) {
	for i := range w.Time {
		l.time(&w.Time[i].Content, times)
	}
	for i := range w.Lots {
		c := &w.Lots[i].Content
		l.count(c.Workday, c.BlockID, c.OperationID, times*int64(c.Pieces))
	}
	for i := range w.Tallies {
		l.tally(&w.Tallies[i].Content, times)
	}
}

// timeEntered is an entry of the ledger of time but for its minutes: whose day, in which garden.
type timeEntered struct {
	EmployerID uuid.UUID
	Workday    Date
	WorkerID   uuid.UUID
	GardenID   uuid.UUID
	EntryID    uuid.UUID // shared by what was entered together
}

type timeLedger struct {
	Of      timeEntered `gorm:"embedded"`
	Minutes int64
}

// countEntered is an entry of the ledger of counts but for its pieces: which day, where, at what.
type countEntered struct {
	EmployerID  uuid.UUID
	Workday     Date
	BlockID     uuid.UUID
	OperationID uuid.UUID
	EntryID     uuid.UUID
}

type countLedger struct {
	Of     countEntered `gorm:"embedded"`
	Pieces int64
}

// TableName tells gorm the table.
func (timeLedger) TableName() string { return "time_ledger" }

// TableName tells gorm the table.
func (countLedger) TableName() string { return "count_ledger" }

func (l *ledgers) time(e *TimeEntryContent, times int64) {
	l.minutes[timeEntered{Workday: e.Workday, WorkerID: e.WorkerID, GardenID: e.GardenID}] += times * e.minutesAtWork()
}

// minutesAtWork is everything but a meal period free of duty; of what is still open nothing yet.
func (e *TimeEntryContent) minutesAtWork() int64 {
	switch {
	case e.Kind == payroll.MealPeriod:
		return 0
	case e.Minutes != nil:
		return int64(*e.Minutes)
	case e.StartedAt == nil || e.EndedAt == nil:
		return 0
	}
	return int64(e.EndedAt.Sub(*e.StartedAt) / time.Minute)
}

// tally adds a count, or a part of a lot, which the lot itself counts. The worker was there, though no time may be on record.
func (l *ledgers) tally(t *TallyContent, times int64) {
	if block := l.blocks[t.BlockID]; block != nil && times > 0 {
		l.minutes[timeEntered{Workday: t.Workday, WorkerID: t.WorkerID, GardenID: block.Content.GardenID}] += 0
	}
	if t.Pieces != nil {
		l.count(t.Workday, t.BlockID, t.OperationID, times*int64(*t.Pieces))
	}
}

func (l *ledgers) count(day Date, block, operation uuid.UUID, pieces int64) {
	l.pieces[countEntered{Workday: day, BlockID: block, OperationID: operation}] += pieces
}

func (l *ledgers) enter(tx *Tx) error {
	entry := tx.NewID()
	times := make([]timeLedger, 0, len(l.minutes))
	for of, minutes := range l.minutes {
		of.EmployerID, of.EntryID = tx.Employer, entry
		times = append(times, timeLedger{of, minutes})
	}
	counts := make([]countLedger, 0, len(l.pieces))
	for of, pieces := range l.pieces {
		of.EmployerID, of.EntryID = tx.Employer, entry
		counts = append(counts, countLedger{of, pieces})
	}
	if err := InsertAll(tx, times); err != nil {
		return err
	}
	return InsertAll(tx, counts)
}
