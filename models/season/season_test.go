package season_test

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/access"
	"palmero/models/payrun"
	"palmero/models/season"
	"palmero/models/testdb"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
	"palmero/safety"
)

var update = flag.Bool("update", false, "rewrite the golden files")

var databases *testdb.Databases

func TestMain(m *testing.M) {
	flag.Parse()
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

var golden = filepath.Join("..", "..", "testdata", "season", "weeks.golden")

func TestSeason(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	clock := &season.Clock{}
	databases.Each(t, clock.Now, func(t *testing.T, store *models.Store) {
		began := time.Now()
		if err := season.Seed(t.Context(), store, clock, books, keys); err != nil {
			t.Fatal(err)
		}
		t.Logf("seeded in %s", time.Since(began).Round(time.Millisecond))
		if !clock.Now().Equal(season.Opening) {
			t.Errorf("the clock stands at %s", clock.Now())
		}
		if latest, err := season.Latest(t.Context(), store); err != nil || !latest.Equal(season.Opening) {
			t.Errorf("latest %s, %v", latest, err)
		}
		requireSignIns(t, store)
		requireSafety(t, store)
		requireGolden(t, summary(t, store, books))
		if err := season.Seed(t.Context(), store, clock, books, keys); models.KindOf(err) == 0 {
			t.Errorf("the season entered twice: %v", err)
		}
	})
}

// requireSignIns signs everybody in, and finds a person of every role.
func requireSignIns(t *testing.T, store *models.Store) {
	t.Helper()
	people, err := season.SignIns()
	if err != nil || len(people) != 5 {
		t.Fatalf("people %+v, %v", people, err)
	}
	gate := access.New(store, access.Options{})
	for _, p := range people {
		granted, err := gate.SignIn(t.Context(), access.Name{Employer: p.Employer, Account: p.Account}, p.Secret)
		if err != nil || granted.Caller.Role != p.Role || granted.Caller.Name != p.Name {
			t.Errorf("%+v: %+v, %v", p, granted, err)
		}
	}
}

// summary tells every run's statements and problems: those of the paid weeks, and of the open one as it would be drafted.
func summary(t *testing.T, store *models.Store, books *rulebook.Library) string {
	t.Helper()
	employer, err := store.FindEmployer(t.Context(), "media-tarde")
	if err != nil {
		t.Fatal(err)
	}
	var clerk models.Account
	err = store.View(t.Context(), models.Scope{Employer: employer.ID}, func(tx *models.Tx) error {
		return tx.DB().Where("role = ?", models.RoleClerk).Take(&clerk).Error
	})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	err = store.In(t.Context(), models.Scope{Employer: employer.ID, Actor: clerk.ID}, func(tx *models.Tx) error {
		b.Reset()
		open := payrun.DraftRequest{ID: uuid.New(), Kind: payrun.Regular, WeekStart: models.Day(dated.MustDate("2026-02-22"))}
		if _, _, err := payrun.DraftRun(tx, books, open); err != nil {
			return err
		}
		var runs []payrun.Run
		if err := tx.DB().Order("number").Find(&runs).Error; err != nil {
			return err
		}
		for _, run := range runs {
			if err := writeRun(t, &b, tx, run.ID); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func writeRun(t *testing.T, b *strings.Builder, tx *models.Tx, id uuid.UUID) error {
	t.Helper()
	run, err := payrun.Summarize(tx, id)
	if err != nil {
		return err
	}
	fmt.Fprintf(b, "run %d, week of %s, payday %s, %s\n", run.Number, run.WeekStart.Date, run.Payday.Date, run.State)
	statements, err := payrun.RunStatements(tx, id, models.Page{Limit: 100})
	if err != nil {
		return err
	}
	fmt.Fprintf(b, "%3s  %-20s %7s %10s %9s %7s %10s  %s\n", "no", "worker", "minutes", "straight", "premiums", "other", "gross", "paid")
	var gross payroll.Cents
	for _, s := range statements {
		fmt.Fprintf(b, "%3d  %-20s %7d %10s %9s %7s %10s  %s\n", s.WorkerNumber, s.WorkerName, s.WorkedMinutes, s.StraightTime, s.Premiums, s.Other, s.Gross,
			strings.TrimSpace(s.PaidMethod+" "+s.PaidReference))
		requireTotals(t, tx, s)
		gross += s.Gross
	}
	fmt.Fprintf(b, "     %d statements, %d minutes, gross %s, %d unpaid\n", run.Statements, run.Worked, run.Gross, run.Unpaid)
	if gross != run.Gross {
		t.Errorf("run %d: statements come to %s, the run to %s", run.Number, gross, run.Gross)
	}
	problems, err := payrun.Problems(tx, id)
	if err != nil {
		return err
	}
	for _, p := range problems {
		if p.Kind == payrun.Note {
			continue
		}
		fmt.Fprintf(b, "     %s: %s, %s, %s", p.Kind, p.Code, p.Date, p.WorkerName)
		if p.Decision != nil {
			fmt.Fprintf(b, ": %s", p.Decision.Text)
		}
		fmt.Fprintln(b)
	}
	fmt.Fprintf(b, "     and %d notes\n\n", run.Notes)
	return nil
}

// requireTotals adds up a statement's lines.
func requireTotals(t *testing.T, tx *models.Tx, brief payrun.Brief) {
	t.Helper()
	s, err := payrun.ReadStatement(tx, brief.ID, nil)
	if err != nil {
		t.Error(err)
		return
	}
	var sum payroll.Cents
	for _, l := range s.Figures.Lines {
		sum += l.Amount
	}
	if sum != brief.Gross || brief.StraightTime+brief.Premiums+brief.Other != brief.Gross || brief.Net != brief.Gross {
		t.Errorf("%s, week of %s: lines come to %s, gross is %s", brief.WorkerName, brief.WeekStart.Date, sum, brief.Gross)
	}
}

func requireGolden(t *testing.T, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("the season's pay is not as accepted; where the change is meant, run the test with -update (-want +got):\n%s", diff)
	}
}

func TestLatestWantsTheSeason(t *testing.T) {
	store := databases.Store(t, migrations.SQLite, time.Now)
	if latest, err := season.Latest(context.Background(), store); err == nil {
		t.Errorf("an empty database was last written %s", latest)
	}
}

func TestClock(t *testing.T) {
	clock := &season.Clock{}
	clock.Set(season.Opening)
	if got := clock.Now(); !got.Equal(season.Opening) {
		t.Errorf("set: %s", got)
	}
	clock.Start(season.Opening)
	time.Sleep(2 * time.Millisecond)
	if passed := clock.Now().Sub(season.Opening); passed < 2*time.Millisecond || passed > time.Minute {
		t.Errorf("%s have passed", passed)
	}
}

// keys says every message by its key.
func keys(key string, _ safety.Terms) string { return key }
