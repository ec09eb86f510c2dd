package evidence_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/evidence"
	"palmero/models/testdb"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

var discard = slog.New(slog.DiscardHandler)

// noon is the instant at which these tests take place, with more digits than either database keeps.
var noon = time.Date(2026, 3, 4, 12, 0, 0, 123456789, time.FixedZone("", -8*3600))

// office is a store with an employer, and its database as the owner of the tables.
type office struct {
	store *models.Store
	owner *sql.DB
	scope models.Scope
}

// each runs a test on both databases.
func each(t *testing.T, test func(t *testing.T, o *office)) {
	t.Helper()
	for _, dialect := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
		t.Run(string(dialect), func(t *testing.T) { test(t, openOffice(t, dialect)) })
	}
}

func openOffice(t *testing.T, dialect migrations.Dialect) *office {
	t.Helper()
	serving, owner := databases.Targets(t, dialect)
	store, err := models.Open(t.Context(), serving, models.Options{Now: func() time.Time { return noon }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() }) // the test is over
	o := &office{store: store}
	if o.owner, err = owner.OpenSQL(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = o.owner.Close() })
	o.scope = models.Scope{Employer: found(t, store, "tres-pozos")}
	return o
}

func found(t *testing.T, store *models.Store, name string) uuid.UUID {
	t.Helper()
	id := models.NewID()
	err := store.FoundEmployer(t.Context(), id, name, models.EmployerContent{LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// act writes an audit entry.
func act(tx *models.Tx, n int) error {
	return tx.Audit(models.Audit{Action: "act", SubjectKind: "palms", SubjectID: tx.NewID(), Reason: fmt.Sprintf("the %d. time, ñ and <\"quotes\">", n),
		Before: map[string]any{"zeta": 1.50, "alpha": nil}, After: "é"})
}

func (o *office) act(t *testing.T, times int) {
	t.Helper()
	for n := range times {
		if err := o.store.In(context.Background(), o.scope, func(tx *models.Tx) error { return act(tx, n) }); err != nil {
			t.Fatal(err)
		}
	}
}

// seal seals what can be sealed, and wants so many entries.
func (o *office) seal(t *testing.T, want int64) {
	t.Helper()
	if n, err := o.store.SealEmployer(t.Context(), o.scope.Employer); err != nil || n != want {
		t.Errorf("sealed %d entries, %v; want %d", n, err, want)
	}
}

func (o *office) verify(t *testing.T) (r *evidence.Report) {
	t.Helper()
	err := o.store.View(t.Context(), o.scope, func(tx *models.Tx) (err error) {
		r, err = evidence.Verify(tx)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// tamper changes the database as the owner of the tables may, who can put the triggers out of the way.
func (o *office) tamper(t *testing.T, statements ...string) {
	t.Helper()
	aside := []string{"ALTER TABLE audit_entries DISABLE TRIGGER ALL", "ALTER TABLE audit_seals DISABLE TRIGGER ALL"}
	if _, err := o.owner.ExecContext(t.Context(), "SELECT sqlite_version()"); err == nil {
		aside = nil
		for _, table := range []string{"audit_entries", "audit_seals"} {
			aside = append(aside, "DROP TRIGGER "+table+"_no_update", "DROP TRIGGER "+table+"_no_delete")
		}
	}
	for _, s := range append(aside, statements...) {
		if _, err := o.owner.ExecContext(t.Context(), s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
}

func TestSealsChainWhatWasWritten(t *testing.T) {
	each(t, func(t *testing.T, o *office) {
		o.act(t, 3)
		if r := o.verify(t); r.Break != nil || r.Tail != 4 || r.Head != nil || !r.Since.Equal(noon.Truncate(time.Microsecond)) {
			t.Errorf("before any seal: %+v %+v", r, r.Break)
		}
		o.seal(t, 4)
		o.seal(t, 0)
		o.act(t, 2)
		o.seal(t, 2)
		o.act(t, 1)
		r := o.verify(t)
		if r.Break != nil || r.Seals != 2 || r.Sealed != 6 || r.Tail != 1 || r.Head.Number != 2 {
			t.Errorf("%+v %+v", r, r.Break)
		}
		err := o.store.View(t.Context(), o.scope, func(tx *models.Tx) error {
			head, err := models.AuditHead(tx)
			if err != nil || head.Hash != r.Head.Hash || len(head.Hash) != 64 {
				t.Errorf("head %+v, %v", head, err)
			}
			for hash, want := range map[string]int64{head.Hash: 2, head.PreviousHash: 1, "": 0, "f00": 0} {
				if n, err := evidence.FindSeal(tx, hash); err != nil || n != want {
					t.Errorf("the seal %q is number %d, %v", hash, n, err)
				}
			}
			return nil
		})
		if err != nil {
			t.Error(err)
		}
	})
}

// Whatever of the chain is touched, by somebody whom no trigger and no policy stops, is found, and named at its first place.
func TestVerifyNamesTheFirstBreak(t *testing.T) {
	tests := []struct {
		name, statement string
		kind            evidence.BreakKind
		seal            int64
	}{
		{"a reason", "UPDATE audit_entries SET reason = 'another' WHERE seq = 5", evidence.AlteredEntry, 2},
		{"an account", "UPDATE audit_entries SET account_id = id WHERE seq = 2", evidence.AlteredEntry, 1},
		{"an action", "UPDATE audit_entries SET action = 'create' WHERE seq = 2", evidence.AlteredEntry, 1},
		{"a subject", "UPDATE audit_entries SET subject_id = id WHERE seq = 5", evidence.AlteredEntry, 2},
		{"the kind of a subject", "UPDATE audit_entries SET subject_kind = 'ladders' WHERE seq = 5", evidence.AlteredEntry, 2},
		{"what stood before", "UPDATE audit_entries SET before_doc = before_doc || ' ' WHERE seq = 5", evidence.AlteredEntry, 2},
		{"what stood after", "UPDATE audit_entries SET after_doc = 'null' WHERE seq = 5", evidence.AlteredEntry, 2},
		{"the time", "UPDATE audit_entries SET at = '2026-03-04 20:00:00.123457+00:00' WHERE seq = 5", evidence.AlteredEntry, 2},
		{"the hash of an entry", "UPDATE audit_entries SET content_hash = 'f00' WHERE seq = 5", evidence.AlteredEntry, 2},
		{"an entry and its hash", "UPDATE audit_entries SET id = (SELECT id FROM audit_entries WHERE seq = 1), employer_id = (SELECT id FROM employers WHERE sign_in_name = 'other') WHERE seq = 2", evidence.MissingEntries, 1},
		{"an entry gone", "DELETE FROM audit_entries WHERE seq = 1", evidence.MissingEntries, 1},
		{"the last entry under a seal gone", "DELETE FROM audit_entries WHERE seq = 6", evidence.MissingEntries, 2},
		{"a seal's count", "UPDATE audit_seals SET entries = 4 WHERE number = 1", evidence.MissingEntries, 1},
		{"a seal's smaller count", "UPDATE audit_seals SET entries = 2 WHERE number = 1", evidence.SurplusEntries, 1},
		{"a seal's reach", "UPDATE audit_seals SET last_seq = 0, last_tx = 0 WHERE number = 1", evidence.MissingEntries, 1},
		{"a seal's time", "UPDATE audit_seals SET sealed_at = '2026-03-04 20:00:00+00:00' WHERE number = 1", evidence.AlteredSeal, 1},
		{"a seal's hash", "UPDATE audit_seals SET hash = previous_hash WHERE number = 2", evidence.AlteredSeal, 2},
		{"what a seal follows from", "UPDATE audit_seals SET previous_hash = hash WHERE number = 2", evidence.ForeignSeal, 2},
		{"the first seal gone", "DELETE FROM audit_seals WHERE number = 1", evidence.MissingSeal, 1},
		{"a seal in the middle gone", "DELETE FROM audit_seals WHERE number = 2", evidence.MissingSeal, 2},
		{"the tail", "UPDATE audit_entries SET reason = 'another' WHERE seq = 9", evidence.AlteredEntry, 0},
	}
	each(t, func(t *testing.T, o *office) {
		o.act(t, 2)
		o.seal(t, 3)
		o.act(t, 3)
		o.seal(t, 3)
		o.act(t, 2)
		o.seal(t, 2)
		o.act(t, 1)
		found(t, o.store, "other")
		o.tamper(t)
		for _, test := range tests {
			t.Run(test.name, func(t *testing.T) {
				undo := o.remember(t)
				o.run(t, test.statement)
				r := o.verify(t)
				if b := r.Break; b == nil || b.Kind != test.kind || b.Seal != test.seal || (b.Kind == evidence.AlteredEntry) != (b.Entry != uuid.UUID{}) {
					t.Errorf("%+v, break %+v; want %s at seal %d", r, r.Break, test.kind, test.seal)
				}
				undo()
				if r := o.verify(t); r.Break != nil || r.Seals != 3 || r.Tail != 1 {
					t.Fatalf("the test does not clear up: %+v", r)
				}
			})
		}
	})
}

func (o *office) run(t *testing.T, statement string) {
	t.Helper()
	result, err := o.owner.ExecContext(t.Context(), statement)
	if err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
	if n, err := result.RowsAffected(); err != nil || n != 1 {
		t.Fatalf("%s: %d rows, %v", statement, n, err)
	}
}

// remember copies entries and seals aside; the function that it returns puts them back.
func (o *office) remember(t *testing.T) func() {
	t.Helper()
	exec := func(statements ...string) {
		for _, s := range statements {
			if _, err := o.owner.ExecContext(context.Background(), s); err != nil {
				t.Fatalf("%s: %v", s, err)
			}
		}
	}
	exec("CREATE TABLE kept_entries AS SELECT * FROM audit_entries", "CREATE TABLE kept_seals AS SELECT * FROM audit_seals")
	return func() {
		columns := "(seq, employer_id, id, at, account_id, action, subject_kind, subject_id, before_doc, after_doc, reason, content_hash, tx)"
		list := columns[1 : len(columns)-1]
		override := "OVERRIDING SYSTEM VALUE "
		if _, err := o.owner.Exec("SELECT sqlite_version()"); err == nil {
			override = ""
		}
		exec("DELETE FROM audit_entries", "INSERT INTO audit_entries "+columns+" "+override+"SELECT "+list+" FROM kept_entries",
			"DELETE FROM audit_seals", "INSERT INTO audit_seals SELECT * FROM kept_seals", "DROP TABLE kept_entries", "DROP TABLE kept_seals")
	}
}

// The transaction that begins to write first commits last: nothing from it onward is sealed before it has ended, and then everything is.
func TestSealsWaitForTheOldestWriter(t *testing.T) {
	o := openOffice(t, migrations.Postgres)
	o.seal(t, 1)
	begun, finish := make(chan struct{}), make(chan error)
	ended := make(chan error)
	go func() {
		ended <- o.store.In(context.Background(), o.scope, func(tx *models.Tx) error {
			if err := act(tx, 1); err != nil {
				return err
			}
			close(begun)
			return <-finish
		})
	}()
	<-begun
	o.act(t, 2) // later writers neither wait nor are held up
	o.seal(t, 0)
	if r := o.verify(t); r.Break != nil || r.Sealed != 1 || r.Tail != 2 {
		t.Errorf("while the first still writes: %+v %+v", r, r.Break)
	}
	finish <- nil
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
	o.seal(t, 3)
	if r := o.verify(t); r.Break != nil || r.Sealed != 4 || r.Tail != 0 {
		t.Errorf("after: %+v %+v", r, r.Break)
	}
}

func TestAnAbortedWriterHoldsNothingUp(t *testing.T) {
	o := openOffice(t, migrations.Postgres)
	err := o.store.In(t.Context(), o.scope, func(tx *models.Tx) error {
		return errors.Join(act(tx, 1), context.Canceled)
	})
	if !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	o.act(t, 1)
	o.seal(t, 2)
	if r := o.verify(t); r.Break != nil || r.Tail != 0 {
		t.Errorf("%+v %+v", r, r.Break)
	}
}

// Writers write on while somebody seals, and several seal at once.
func TestWritersAndSealersTogether(t *testing.T) {
	each(t, func(t *testing.T, o *office) {
		var wait sync.WaitGroup
		for n := range 4 {
			wait.Go(func() {
				for range 15 {
					if err := o.store.In(context.Background(), o.scope, func(tx *models.Tx) error { return act(tx, n) }); err != nil {
						t.Error(err)
					}
				}
			})
		}
		for range 2 {
			wait.Go(func() {
				for range 10 {
					if _, err := o.store.SealAll(context.Background()); err != nil {
						t.Error(err)
					}
				}
			})
		}
		wait.Wait()
		if _, err := o.store.SealAll(t.Context()); err != nil {
			t.Error(err)
		}
		if r := o.verify(t); r.Break != nil || r.Sealed != 61 || r.Tail != 0 {
			t.Errorf("%+v %+v", r, r.Break)
		}
	})
}

// While somebody seals, writers do not wait.
func TestASealerHoldsNoWriterUp(t *testing.T) {
	o := openOffice(t, migrations.Postgres)
	err := o.store.In(t.Context(), o.scope, func(tx *models.Tx) error {
		if _, err := models.Seal(tx); err != nil {
			return err
		}
		o.act(t, 1)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	o.seal(t, 1)
}

// A server whose transactions are numbered from below the seals is not sealed on: what is new would seem old.
func TestSealRefusesACounterThatWentBack(t *testing.T) {
	o := openOffice(t, migrations.Postgres)
	o.seal(t, 1)
	o.tamper(t, "UPDATE audit_seals SET last_tx = 1000000000000")
	o.act(t, 1)
	if _, err := o.store.SealAll(t.Context()); err == nil {
		t.Error("sealed")
	}
}

func TestKeepSealing(t *testing.T) {
	each(t, func(t *testing.T, o *office) {
		ctx, stop := context.WithCancel(t.Context())
		stopped := make(chan struct{})
		go func() {
			evidence.KeepSealing(ctx, o.store, 5*time.Millisecond, discard)
			close(stopped)
		}()
		for deadline := time.Now().Add(20 * time.Second); ; time.Sleep(5 * time.Millisecond) {
			o.act(t, 1)
			if r := o.verify(t); r.Seals >= 3 {
				break
			}
			if time.Now().After(deadline) {
				t.Fatal("nothing is sealed")
			}
		}
		stop()
		<-stopped
	})
}
