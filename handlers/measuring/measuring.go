// Package measuring takes a database through a payroll week of a synthetic employer and tells how long each part took, beside the reference: what the command line and tests measure with.
package measuring

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/models/synthetic"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Plan says how much to load.
type Plan struct {
	Workers int // of the employer
	Weeks   int // of work and pay before the week that is measured
	History int // how many of the workers have that history
}

// Week is the week that is measured, and Now the instant at which it is: the same on every day, so that every run reckons by the same law.
var (
	Week = dated.MustDate("2026-02-15")
	now  = time.Date(2026, 2, 22, 18, 0, 0, 0, time.UTC)
)

// Now is the clock of what is measured.
func Now() time.Time { return now }

// Part is what one part of the week took.
type Part struct {
	Name      string  `json:"name"`
	Rows      int     `json:"rows"`   // that went in or out; 0 where rows say nothing
	People    int     `json:"people"` // whose work or pay it was
	Seconds   float64 `json:"seconds"`
	Reference float64 `json:"reference_seconds"` // of the same amount; 0 where there is none
	PeakMiB   int     `json:"peak_mib"`          // the most memory in use meanwhile
}

// RowsPerSecond is how many rows went in or out in a second.
func (p Part) RowsPerSecond() float64 { return float64(p.Rows) / p.Seconds }

// PeoplePerSecond is of how many people.
func (p Part) PeoplePerSecond() float64 { return float64(p.People) / p.Seconds }

// Ratio is how many times the reference's time it took; 0 where there is none.
func (p Part) Ratio() float64 {
	if p.Reference == 0 {
		return 0
	}
	return p.Seconds / p.Reference
}

// Result is what was loaded and what each part took.
type Result struct {
	Database string  `json:"database"` // postgres or sqlite
	Employer string  `json:"employer"` // the sign-in name of the one that was made
	Loaded   int     `json:"loaded"`   // rows of time and tallies before the week
	Seconds  float64 `json:"loading_seconds"`
	Parts    []Part  `json:"parts"`
}

// namePrefix begins the sign-in names of the employers that are made here.
const namePrefix = "synthetic-"

// ErrOthers is what Run refuses: records that are not its own.
var ErrOthers = errors.New("the database holds an employer that is not synthetic")

// measure is one run.
type measure struct {
	Plan
	Result
	employer  *synthetic.Employer
	reference synthetic.Reference
	books     *rulebook.Library
	run       *payrun.Run
	progress  func(weeks int)
}

// Run makes an employer in a database that holds nothing but employers made here, and measures its week. After each week of history it tells how many are there.
func Run(ctx context.Context, store *models.Store, target models.Target, plan Plan, progress func(weeks int)) (result *Result, err error) {
	m := &measure{Plan: plan, progress: progress, Result: Result{Database: string(target.Dialect)}}
	if m.books, err = rulebook.Load(); err != nil {
		return nil, err
	}
	if err := m.load(ctx, store); err != nil {
		return nil, err
	}
	if m.reference, err = m.employer.OpenReference(ctx, target); err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, m.reference.Close()) }()
	for _, part := range []func(context.Context) error{m.sheets, m.drafts, m.approvals, m.statements, m.ownWeeks} {
		if err := part(ctx); err != nil {
			return nil, err
		}
	}
	return &m.Result, nil
}

// nextName refuses a database with others' records, and finds a name for one more employer.
func nextName(ctx context.Context, store *models.Store) (string, error) {
	employers, err := store.Employers(ctx)
	if err != nil {
		return "", err
	}
	for _, e := range employers {
		if !strings.HasPrefix(e.SignInName, namePrefix) {
			return "", fmt.Errorf("%w: %s", ErrOthers, e.SignInName)
		}
	}
	return fmt.Sprintf("%s%d", namePrefix, len(employers)+1), nil
}

func (m *measure) load(ctx context.Context, store *models.Store) (err error) {
	if m.Employer, err = nextName(ctx, store); err != nil {
		return err
	}
	begun := time.Now()
	if m.employer, err = synthetic.Found(ctx, store, m.Employer, m.Workers); err != nil {
		return err
	}
	if err = m.employer.History(ctx, m.books, Week, m.Weeks, m.History, m.progress); err == nil {
		err = store.GatherStatistics(ctx)
	}
	m.Loaded, m.Seconds = m.Weeks*m.History*synthetic.WeekRows, time.Since(begun).Seconds()
	return err
}

// part times work, and notes it.
func (m *measure) part(p Part, work func() error) error {
	peak, stop := watchMemory()
	begun := time.Now()
	err := work()
	p.Seconds = time.Since(begun).Seconds()
	stop()
	p.PeakMiB = int(peak() >> 20)
	m.Parts = append(m.Parts, p)
	return err
}

// last is the part that was noted last.
func (m *measure) last() *Part { return &m.Parts[len(m.Parts)-1] }

// timed adds what work takes to a sum.
func timed(sum *float64, work func() error) error {
	begun := time.Now()
	err := work()
	*sum += time.Since(begun).Seconds()
	return err
}

const daysAWeek = 5

// sheets sends the week as the crew leads' phones do. The first day's sheets alternate with the reference's, which go into a week before all others.
func (m *measure) sheets(ctx context.Context) error {
	var own, reference float64
	err := m.part(Part{Name: "crew sheets in", Rows: m.Workers * synthetic.WeekRows, People: m.Workers * daysAWeek}, func() error {
		for day := 1; day <= daysAWeek; day++ {
			for _, crew := range m.employer.Crews {
				sheet := m.employer.Sheet(crew, Week.AddDays(day))
				if err := timed(&own, func() error { return m.send(ctx, sheet) }); err != nil {
					return err
				}
				if day > 1 {
					continue
				}
				twin := m.employer.Sheet(crew, Week.AddDays(day-7*(m.Weeks+1)))
				if err := timed(&reference, func() error { return m.reference.Sheet(ctx, twin, now) }); err != nil {
					return err
				}
			}
		}
		return nil
	})
	m.last().Seconds, m.last().Reference = own, reference*daysAWeek
	return err
}

func (m *measure) send(ctx context.Context, s intake.Sheet) error {
	return m.employer.Store.In(ctx, m.employer.Lead, func(tx *models.Tx) error {
		_, err := intake.Submit(tx, s, intake.Whole)
		return err
	})
}

// rounds is how often what can be undone is measured; the fastest counts, since the rest is what else the machine did.
const rounds = 3

// fastest is the shortest time of the rounds.
func fastest(work func() error) (seconds float64, err error) {
	for n := range rounds {
		var took float64
		if err := timed(&took, work); err != nil {
			return 0, err
		}
		if n == 0 || took < seconds {
			seconds = took
		}
	}
	return seconds, nil
}

// measured notes the fastest of the rounds as a part.
func (m *measure) measured(p Part, work func() error) (err error) {
	var seconds float64
	err = m.part(p, func() error {
		seconds, err = fastest(work)
		return err
	})
	m.last().Seconds = seconds
	return err
}

// against notes the reference's fastest round beside the part that was noted last.
func (m *measure) against(reference func() error) (err error) {
	m.last().Reference, err = fastest(reference)
	return err
}

// errUndone undoes a transaction that was only measured.
var errUndone = errors.New("undone")

func (m *measure) undone(ctx context.Context, scope models.Scope, work func(tx *models.Tx) error) error {
	err := m.employer.Store.In(ctx, scope, func(tx *models.Tx) error {
		if err := work(tx); err != nil {
			return err
		}
		return errUndone
	})
	if errors.Is(err, errUndone) {
		return nil
	}
	return err
}

// drafts are undone, and one more is kept: the reference learns its rows from that.
func (m *measure) drafts(ctx context.Context) error {
	err := m.measured(m.payRun("pay run drafted"), func() error {
		return m.undone(ctx, m.employer.Clerk, func(tx *models.Tx) error {
			_, _, err := payrun.DraftRun(tx, m.books, payrun.DraftRequest{ID: models.NewID(), Kind: payrun.Regular, WeekStart: models.Day(Week)})
			return err
		})
	})
	if err == nil {
		m.run, err = m.employer.Draft(ctx, m.books, Week)
	}
	if err == nil {
		err = m.reference.Know(ctx, m.run.ID, Week)
	}
	if err != nil {
		return err
	}
	return m.against(func() error { return m.reference.Draft(ctx) })
}

func (m *measure) payRun(name string) Part {
	return Part{Name: name, Rows: m.Workers * synthetic.WeekRows, People: m.Workers}
}

// approvals are undone too, but for the last. The reference reads what an approval reckons from.
func (m *measure) approvals(ctx context.Context) error {
	err := m.measured(m.payRun("pay run approved"), func() error {
		return m.undone(ctx, m.employer.Owner, func(tx *models.Tx) error {
			_, err := payrun.Approve(tx, m.books, m.run.ID, m.run.Version)
			return err
		})
	})
	if err == nil {
		err = m.against(func() error { return m.reference.Inputs(ctx) })
	}
	if err == nil {
		m.run, err = m.employer.Approve(ctx, m.books, m.run)
	}
	return err
}

// mostRead is how many statements and own weeks are read.
const mostRead = 1000

// ownWeeks looks at the week so far of one worker after the other, of those with a history first.
func (m *measure) ownWeeks(ctx context.Context) error {
	n := min(m.Workers, mostRead)
	var own, reference float64
	err := m.part(Part{Name: "a worker's own week", Rows: n * synthetic.WeekRows, People: n}, func() error {
		for i := range n {
			worker := m.employer.Worker(i)
			if err := timed(&own, func() error { return m.ownWeek(ctx, worker) }); err != nil {
				return err
			}
			if err := timed(&reference, func() error { return m.reference.OwnWeek(ctx, worker, Week) }); err != nil {
				return err
			}
		}
		return nil
	})
	m.last().Seconds, m.last().Reference = own, reference
	return err
}

func (m *measure) ownWeek(ctx context.Context, worker uuid.UUID) error {
	return m.employer.Store.Ask(ctx, m.employer.Clerk, func(b *models.Batch) error {
		_, err := payrun.Preview(b, m.books, worker, Week)
		return err
	})
}

// Describe says how to make and drop a database to measure in.
func Describe(dialect migrations.Dialect) string {
	if dialect == migrations.SQLite {
		return "Make one with \"palmero migrate --database sqlite://bench.db\", and remove its files when you are done."
	}
	return "Make one with \"createdb -O palmero_owner palmero_bench\" and \"palmero migrate\", as README.md tells of PostgreSQL, and drop it with \"dropdb palmero_bench\"."
}
