package daybook

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// Order is a command on a crew's draft as a device sends it, possibly hours after it was given. It says one thing to do.
type Order struct {
	ID uuid.UUID  `json:"id"`           // made by the device; of a new worker it is the worker's as well
	At *time.Time `json:"at,omitempty"` // by the device's clock, to the minute: when time began or ended or a day was sent; nil: when the order came in

	Place     *PlaceOrder     `json:"place,omitempty"`      // the crew works there from now on
	Roll      *WorkersOrder   `json:"roll,omitempty"`       // they are there, and nobody else but new workers
	NewWorker *NewWorkerOrder `json:"new_worker,omitempty"` // somebody is there who is in no list yet
	Start     *StartOrder     `json:"start,omitempty"`      // time begins where the crew works
	Stop      *WorkersOrder   `json:"stop,omitempty"`       // what runs ends
	Rest      *WorkersOrder   `json:"rest,omitempty"`       // they took a rest period as scheduled, and work on
	Break     *BreakOrder     `json:"break,omitempty"`      // a break was not provided, or waived
	Count     *CountOrder     `json:"count,omitempty"`      // a count changes
	Lot       *LotOrder       `json:"lot,omitempty"`        // several made a count together where the crew works
	Undo      *UndoOrder      `json:"undo,omitempty"`       // the change of a count is taken back
	Drop      *DropOrder      `json:"drop,omitempty"`       // a line that was not sent goes
	Send      *struct{}       `json:"send,omitempty"`       // what is complete goes out as a crew sheet
}

// PlaceOrder names a block and an operation.
type PlaceOrder struct {
	BlockID     uuid.UUID `json:"block_id"`
	OperationID uuid.UUID `json:"operation_id"`
}

// WorkersOrder names workers.
type WorkersOrder struct {
	Workers []uuid.UUID `json:"workers"`
}

// NewWorkerOrder names a hand who is in no list yet.
type NewWorkerOrder struct {
	Name     string `json:"name"`
	Language string `json:"language,omitempty"` // "es" where it is not said
}

// StartOrder names those whose time of a kind begins.
type StartOrder struct {
	Workers []uuid.UUID      `json:"workers"`
	Kind    payroll.TimeKind `json:"kind"`
}

// BreakOrder is a fact about a worker's breaks.
type BreakOrder struct {
	WorkerID uuid.UUID        `json:"worker_id"`
	Fact     models.BreakFact `json:"fact"`
}

// CountOrder changes a worker's count: by so many pieces, so that what two devices count adds up.
type CountOrder struct {
	WorkerID    uuid.UUID      `json:"worker_id"`
	BlockID     uuid.UUID      `json:"block_id"`
	OperationID uuid.UUID      `json:"operation_id"`
	Pieces      payroll.Pieces `json:"pieces"`           // negative: fewer
	Reason      string         `json:"reason,omitempty"` // needed to come below what was sent
}

// LotOrder is a count that several made together, with each one's part as in a crew sheet's lot.
type LotOrder struct {
	Pieces  payroll.Pieces `json:"pieces"`
	Parting string         `json:"parting"`
	Parts   []PartOrder    `json:"parts"`
}

// PartOrder is one worker's part of a lot.
type PartOrder struct {
	WorkerID uuid.UUID        `json:"worker_id"`
	Minutes  *payroll.Minutes `json:"minutes,omitempty"`
	Share    *payroll.Share   `json:"share,omitempty"`
}

// UndoOrder names the order of a count.
type UndoOrder struct {
	OrderID uuid.UUID `json:"order_id"`
}

// DropOrder names a line of the draft.
type DropOrder struct {
	LineID uuid.UUID `json:"line_id"`
}

// Follow carries out an order on the draft of a crew's day, once: see Change. Time of an order is its giver's word, and may be neither ahead nor of before the day.
func Follow(tx *models.Tx, books *rulebook.Library, k Key, o Order) (*Done, error) {
	if o.At != nil {
		at := o.At.UTC()
		o.At = &at
	}
	return Change(tx, k, Command{o.ID, models.ContentHash([]any{k, o})}, func(d *Draft) error {
		at, err := o.moment(tx, k)
		if err != nil {
			return err
		}
		f := &following{d, tx, books, k, at}
		return f.follow(o)
	})
}

// moment is the order's time, to the minute.
func (o *Order) moment(tx *models.Tx, k Key) (time.Time, error) {
	if o.At == nil {
		return tx.Now.Truncate(time.Minute), nil
	}
	at := o.At.Truncate(time.Minute)
	if at.Before(k.Day.Midnight(time.UTC).Add(-mostAhead)) {
		return at, models.FaultAt("/at", "fault.outside_workday", payroll.Terms{"workday": k.Day.Date})
	}
	return at, past(tx, at)
}

// mostAhead is how far ahead of UTC the clocks that are furthest ahead are: before that no day has begun anywhere.
const mostAhead = 14 * time.Hour

// following is an order in the course of being carried out.
type following struct {
	*Draft
	tx    *models.Tx
	books *rulebook.Library
	key   Key
	at    time.Time
}

// thing is something that an order may say.
type thing struct {
	name string // the order's member
	said bool
	do   func() error
}

// follow does the one thing that an order says.
func (f *following) follow(o Order) error {
	things := f.things(o)
	names := make([]string, len(things))
	var said []thing
	for i, t := range things {
		if names[i] = t.name; t.said {
			said = append(said, t)
		}
	}
	if len(said) != 1 {
		return models.FaultAt("", "fault.one_thing", payroll.Terms{"allowed": names})
	}
	return under("/"+said[0].name, said[0].do())
}

func (f *following) things(o Order) []thing {
	return []thing{
		{"place", o.Place != nil, func() error { return f.MoveTo(f.tx, o.Place.BlockID, o.Place.OperationID) }},
		{"roll", o.Roll != nil, func() error { return f.call(o.Roll.Workers) }},
		{"new_worker", o.NewWorker != nil, func() error { return f.welcome(o.ID, *o.NewWorker) }},
		{"start", o.Start != nil, func() error { return f.start(*o.Start) }},
		{"stop", o.Stop != nil, func() error { return f.Stop(o.Stop.Workers, f.at) }},
		{"rest", o.Rest != nil, func() error { return f.Rest(f.tx, f.books, f.key.Day, o.Rest.Workers, f.at) }},
		{"break", o.Break != nil, func() error { return f.AddBreak(o.Break.WorkerID, o.Break.Fact) }},
		{"count", o.Count != nil, func() error { return f.change(*o.Count) }},
		{"lot", o.Lot != nil, func() error { return f.lot(*o.Lot) }},
		{"undo", o.Undo != nil, func() error { return f.TakeBackOf(o.Undo.OrderID) }},
		{"drop", o.Drop != nil, func() error { return f.Drop(o.Drop.LineID) }},
		{"send", o.Send != nil, func() error { return f.send(f.tx, f.key, f.at) }},
	}
}

// members are those of an order that a draft knows by other names.
var members = map[string]string{"/block": "/block_id", "/operation": "/operation_id", "/worker": "/worker_id", "/who": "/parts"}

// under points faults into the member of the order that they are in. The time is the order's own.
func under(member string, err error) error {
	faults := slices.Clone(models.FaultsOf(err))
	if len(faults) == 0 {
		return err
	}
	for i := range faults {
		if p := &faults[i].Pointer; *p != "/at" {
			*p = member + cmp.Or(members[*p], *p)
		}
	}
	return models.Faulty(faults)
}

// call says who is there, by name: workers of the employer.
func (f *following) call(workers []uuid.UUID) error {
	there := slices.DeleteFunc(slices.Clone(workers), f.isNew)
	missing, err := f.tx.Missing("workers", there)
	if err != nil {
		return err
	}
	if err := each("/workers/%d", workers, func(id uuid.UUID) bool { return !missing[id] }, "fault.unknown_reference"); err != nil {
		return err
	}
	f.SetRoll(nil)
	for _, w := range workers {
		f.Join(w)
	}
	return nil
}

func (d *Draft) isNew(worker uuid.UUID) bool {
	return slices.ContainsFunc(d.NewWorkers, func(w intake.NewWorker) bool { return w.ID == worker })
}

func (f *following) welcome(id uuid.UUID, o NewWorkerOrder) error {
	return f.AddHand(f.tx, intake.NewWorker{ID: id, Name: o.Name, Language: cmp.Or(o.Language, "es")})
}

// start wants everybody whose time begins to be on the roll.
func (f *following) start(o StartOrder) error {
	if err := each("/workers/%d", o.Workers, f.isHere, "fault.not_on_the_roll"); err != nil {
		return err
	}
	return f.Start(f.tx, f.key.Day, o.Workers, o.Kind, f.at)
}

func (d *Draft) isHere(worker uuid.UUID) bool { return slices.Contains(d.Roll, worker) }

// lot wants everybody who has a part to be on the roll.
func (f *following) lot(o LotOrder) error {
	parts, workers := make([]intake.LotPart, len(o.Parts)), make([]uuid.UUID, len(o.Parts))
	for i, p := range o.Parts {
		parts[i], workers[i] = intake.LotPart{ID: models.NewID(), WorkerID: p.WorkerID, Minutes: p.Minutes, Share: p.Share}, p.WorkerID
	}
	if err := each("/parts/%d/worker_id", workers, f.isHere, "fault.not_on_the_roll"); err != nil {
		return err
	}
	return f.AddLot(o.Pieces, o.Parting, parts)
}

// each wants something of each of some workers, who stand at places of a pattern.
func each(at string, workers []uuid.UUID, good func(uuid.UUID) bool, key string) error {
	var faults []payroll.Fault
	for i, w := range workers {
		if !good(w) {
			faults = append(faults, payroll.Fault{Pointer: fmt.Sprintf(at, i), Key: key})
		}
	}
	return models.Faulty(faults)
}

// change changes a count of somebody who is on the roll, or was counted before.
func (f *following) change(o CountOrder) error {
	kept, err := KeptCounts(f.tx, f.key)
	if err != nil {
		return err
	}
	cell := Cell{o.WorkerID, o.BlockID, o.OperationID}
	c := models.NewChecker(f.tx)
	c.Reference("/block_id", "blocks", o.BlockID)
	c.Reference("/operation_id", "operations", o.OperationID)
	c.OptionalText("/reason", &o.Reason, models.LongText)
	if o.Pieces == 0 {
		c.Fault("/pieces", "fault.empty", nil)
	}
	if !f.isHere(o.WorkerID) && f.Total(cell, kept) == 0 {
		c.Fault("/worker_id", "fault.not_on_the_roll", nil)
	}
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	if err != nil {
		return err
	}
	return f.Add(cell, o.Pieces, kept, o.Reason)
}
