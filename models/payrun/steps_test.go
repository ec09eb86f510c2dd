package payrun_test

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/models/testdb"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// movable is a clock that is set by hand.
type movable struct{ passed atomic.Int64 }

func (c *movable) now() time.Time      { return now().Add(time.Duration(c.passed.Load())) }
func (c *movable) add(d time.Duration) { c.passed.Add(int64(d)) }
func stepOf(run, id uuid.UUID) *payrun.Step {
	return &payrun.Step{RunID: run, ID: id, Kind: payrun.ApproveStep, Asked: models.Document(`{"reason":"x"}`)}
}

func lastStep(t *testing.T, f *farm, run uuid.UUID) payrun.Step {
	t.Helper()
	var steps []payrun.Step
	err := f.store.Ask(t.Context(), f.clerk, func(b *models.Batch) error {
		payrun.FindStep(b, run, &steps)
		return nil
	})
	if err != nil || len(steps) != 1 {
		t.Fatalf("%d steps, %v", len(steps), err)
	}
	return steps[0]
}

// take takes a step of the farm that does nothing but what it is given.
func (f *farm) take(t *testing.T, s *payrun.Step, do func(tx *models.Tx) error) error {
	return s.Take(t.Context(), f.store, f.clerk, new(payrun.Progress), do)
}

// addCrew is work that a step may do, so that it can be seen whether it was kept.
func addCrew(tx *models.Tx) error {
	_, _, err := models.Create(tx, models.NewID(), models.CrewContent{Name: "of a step"})
	return err
}

func crewsOfSteps(t *testing.T, f *farm) int {
	t.Helper()
	var found []models.Crew
	err := f.store.View(t.Context(), f.clerk, func(tx *models.Tx) (err error) {
		found, err = models.List[models.Crew](tx, models.Page{Limit: 10}, models.Equal("name", "of a step"))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return len(found)
}

// What became of a step is kept with what it did, or with why it failed, so that it reads the same from anywhere; the very step is taken once.
func TestWhatAStepCameToIsKept(t *testing.T) {
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		run, id := models.NewID(), models.NewID()
		why := &models.Error{Kind: models.Stale, Key: "problem.draft_exists", Terms: payroll.Terms{"number": 3, "on": dated.MustDate("2026-02-15"), "odd": 1.5},
			Faults: []payroll.Fault{{Pointer: "/reason", Key: "fault.empty", Terms: payroll.Terms{"amount": payroll.Cents(105)}}}, Cause: errors.New("for the log")}
		err := f.take(t, stepOf(run, id), func(tx *models.Tx) error { return errors.Join(addCrew(tx), why) })
		if !errors.Is(err, why) {
			t.Fatal(err)
		}
		s := lastStep(t, f, run)
		told, err := s.Failure()
		want := &models.Error{Kind: models.Stale, Key: why.Key, Terms: payroll.Terms{"number": 3, "on": dated.MustDate("2026-02-15"), "odd": "1.5"}, Faults: why.Faults}
		if diff := cmp.Diff(want, told, cmp.AllowUnexported(dated.Date{})); err != nil || diff != "" {
			t.Errorf("%v (-want +got)\n%s", err, diff)
		}
		if s.State != payrun.Broken || s.BegunBy != f.clerk.Actor || s.EndedAt == nil || string(s.Asked) != `{"reason":"x"}` || crewsOfSteps(t, f) != 0 {
			t.Errorf("after it failed: %+v, %d crews", s, crewsOfSteps(t, f))
		}

		err = f.take(t, stepOf(run, id), func(*models.Tx) error { panic("out of the blue") })
		s = lastStep(t, f, run)
		if told, bad := s.Failure(); err == nil || bad != nil || told != nil || s.State != payrun.Broken {
			t.Errorf("after a panic: %v, %v, %v, %+v", err, bad, told, s)
		}

		for range 2 {
			if err := f.take(t, stepOf(run, id), addCrew); err != nil {
				t.Fatal(err)
			}
		}
		if s = lastStep(t, f, run); s.State != payrun.Taken || string(s.Asked) != "null" || crewsOfSteps(t, f) != 1 {
			t.Errorf("after it was taken twice: %+v, %d crews", s, crewsOfSteps(t, f))
		}
		if err := f.take(t, stepOf(run, models.NewID()), addCrew); err != nil || crewsOfSteps(t, f) != 2 {
			t.Errorf("another one: %v, %d crews", err, crewsOfSteps(t, f))
		}
	})
}

// Of many that begin a step of one run at once, one takes it. On SQLite writers queue, so that one after the other finds it taken.
func TestOneStepOfARunAtATime(t *testing.T) {
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		run, id := models.NewID(), models.NewID()
		var all sync.WaitGroup
		var underWay atomic.Int64
		for range 8 {
			all.Go(func() {
				err := f.take(t, stepOf(run, id), func(tx *models.Tx) error {
					time.Sleep(100 * time.Millisecond)
					return addCrew(tx)
				})
				switch {
				case errors.Is(err, payrun.ErrUnderWay):
					underWay.Add(1)
				case err != nil:
					t.Error(err)
				}
			})
		}
		all.Wait()
		if n := crewsOfSteps(t, f); n != 1 || !store.OneWriter() && underWay.Load() == 0 {
			t.Errorf("%d were taken, %d found it under way", n, underWay.Load())
		}
	})
}

// A step that is silent for long may be taken by another. Should it wake up, nothing of it is kept.
func TestAStepThatWasOvertaken(t *testing.T) {
	clock := &movable{}
	target := databases.Target(t, migrations.Postgres)
	open := func(connections int) *models.Store {
		store, err := models.Open(t.Context(), target, models.Options{Now: clock.now, MaxConnections: connections})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = store.Close() })
		return store
	}
	f := newFarm(t, open(10))
	mute := open(1) // the step has its only connection, so that it is not heard of
	run := models.NewID()
	err := stepOf(run, models.NewID()).Take(t.Context(), mute, f.clerk, new(payrun.Progress), func(tx *models.Tx) error {
		clock.add(models.Silence)
		if err := f.take(t, stepOf(run, models.NewID()), addCrew); !errors.Is(err, payrun.ErrUnderWay) {
			t.Errorf("heard of two minutes ago: %v", err)
		}
		clock.add(time.Second)
		s := lastStep(t, f, run)
		if !s.GivenUp(clock.now()) {
			t.Error("it does not count as given up")
		}
		return errors.Join(f.take(t, stepOf(run, models.NewID()), addCrew), addCrew(tx))
	})
	var e *models.Error
	if !errors.As(err, &e) || e.Key != "problem.step_overtaken" || crewsOfSteps(t, f) != 1 {
		t.Errorf("%v, %d crews", err, crewsOfSteps(t, f))
	}
	if s := lastStep(t, f, run); s.State != payrun.Taken {
		t.Errorf("the other one: %+v", s)
	}
}

// How far a step has come is told while it goes on; on SQLite that would wait for the step itself, and is not.
func TestHowFarAStepHasCome(t *testing.T) {
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		run := models.NewID()
		p := new(payrun.Progress)
		err := stepOf(run, models.NewID()).Take(t.Context(), store, f.clerk, p, func(tx *models.Tx) error {
			p.Of.Store(20)
			p.Done.Store(7)
			if store.OneWriter() {
				return nil
			}
			for until := time.Now().Add(20 * time.Second); time.Now().Before(until); time.Sleep(20 * time.Millisecond) {
				if s := lastStep(t, f, run); s.WorkersDone == 7 && s.WorkersOf == 20 && s.State == payrun.Going {
					return nil
				}
			}
			return errors.New("nothing was told")
		})
		if err != nil {
			t.Error(err)
		}
	})
}

// toBeKilled is the environment variable that makes the test program a server in the midst of a step.
const toBeKilled = "PALMERO_STEP_TO_BE_KILLED"

type killOrder struct {
	Database string
	Scope    models.Scope
	Run, ID  uuid.UUID
}

// takeUntilKilled takes a step that never ends, and says when it is in the midst of it.
func takeUntilKilled(order string) {
	var o killOrder
	err := json.Unmarshal([]byte(order), &o)
	if err != nil {
		panic(err)
	}
	target, err := models.ParseTarget(o.Database)
	if err != nil {
		panic(err)
	}
	store, err := models.Open(context.Background(), target, models.Options{Now: now})
	if err != nil {
		panic(err)
	}
	err = stepOf(o.Run, o.ID).Take(context.Background(), store, o.Scope, new(payrun.Progress), func(tx *models.Tx) error {
		if err := addCrew(tx); err != nil {
			return err
		}
		fmt.Println("in the midst")
		time.Sleep(time.Hour)
		return nil
	})
	panic(err)
}

// A server is killed in the midst of a step: nothing of the step is kept, its record says that it goes on until it has been silent for long, and then the step can be taken again.
func TestAServerIsKilledInTheMidstOfAStep(t *testing.T) {
	for _, dialect := range testdb.Dialects() {
		t.Run(string(dialect), func(t *testing.T) {
			clock := &movable{}
			target, database := databases.ServingDSN(t)
			if dialect == migrations.SQLite {
				target = databases.Target(t, dialect)
			}
			store, err := models.Open(t.Context(), target, models.Options{Now: clock.now})
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { _ = store.Close() })
			f := newFarm(t, store)
			if dialect == migrations.SQLite {
				database = "sqlite://" + fileOf(t, f)
			}
			o := killOrder{Database: database, Scope: f.clerk, Run: models.NewID(), ID: models.NewID()}
			killInTheMidst(t, o)
			if s := lastStep(t, f, o.Run); s.State != payrun.Going || s.ID != o.ID || crewsOfSteps(t, f) != 0 {
				t.Errorf("after the kill: %+v, %d crews", s, crewsOfSteps(t, f))
			}
			if err := f.take(t, stepOf(o.Run, models.NewID()), addCrew); !errors.Is(err, payrun.ErrUnderWay) {
				t.Errorf("at once: %v", err)
			}
			clock.add(models.Silence + time.Minute)
			if s := lastStep(t, f, o.Run); !s.GivenUp(clock.now()) {
				t.Errorf("after the silence: %+v", s)
			}
			if err := f.take(t, stepOf(o.Run, o.ID), addCrew); err != nil || crewsOfSteps(t, f) != 1 {
				t.Errorf("again: %v, %d crews", err, crewsOfSteps(t, f))
			}
		})
	}
}

// killInTheMidst lets another process take a step, and kills it.
func killInTheMidst(t *testing.T, o killOrder) {
	t.Helper()
	order, err := json.Marshal(o)
	if err != nil {
		t.Fatal(err)
	}
	server := exec.Command(os.Args[0])
	server.Env, server.Stderr = append(os.Environ(), toBeKilled+"="+string(order)), os.Stderr
	said, err := server.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := server.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(said).ReadString('\n')
	if err != nil || line != "in the midst\n" {
		t.Errorf("it says %q, %v", line, err)
	}
	if err := server.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = server.Wait() // it was killed, as it says
}

// fileOf is the file of an SQLite database.
func fileOf(t *testing.T, f *farm) (path string) {
	t.Helper()
	err := f.store.View(t.Context(), f.clerk, func(tx *models.Tx) error {
		return tx.Conn().QueryRowContext(t.Context(), "SELECT file FROM pragma_database_list WHERE name = 'main'").Scan(&path)
	})
	if err != nil {
		t.Fatal(err)
	}
	return path
}
