package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/access"
	"palmero/models/evidence"
	"palmero/models/intake"
	"palmero/models/testdb"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// TestNothingIsLostOrDoubledByACrash kills the program itself, built with its failpoints, at three points of every step from a crew's sheet to the payment
// and of sealing: when everything but the audit entry is written, before the commit, and after it, before the answer. Each time it starts the
// program again and repeats the request.
func TestNothingIsLostOrDoubledByACrash(t *testing.T) {
	program := filepath.Join(t.TempDir(), "palmero")
	if out, err := exec.Command("go", "build", "-tags", "failpoints", "-o", program, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, dialect := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
		t.Run(string(dialect), func(t *testing.T) {
			f := newCrashFarm(t, program, crashDatabase(t, dialect))
			f.step("record", http.StatusOK, func() (int, object) {
				return f.call("clerk", "POST", "/api/v1/crew-sheets", "", f.sheet)
			}, func(receipt object) {
				for _, line := range receipt["lines"].([]any) {
					if outcome := line.(object)["outcome"]; outcome != "repeated" {
						t.Errorf("a line of the sheet is %v", outcome)
					}
				}
			})
			f.requireRows("crew_sheets", 1)
			f.requireRows("time_entries", 1)
			f.requireRows("tallies", 1)
			run := "/api/v1/pay-runs/" + f.run.String()
			f.step("draft", http.StatusOK, func() (int, object) {
				return f.call("clerk", "POST", "/api/v1/pay-runs", "", object{"id": f.run, "kind": "regular", "week_start": f.week})
			}, f.requireState("draft", 1))
			f.requireRows("pay_runs", 1)
			f.requireRows("statements", 1)
			// An approval names the version that it was decided on, which has moved on: so says its repeat.
			f.step("approve", http.StatusPreconditionFailed, func() (int, object) {
				return f.call("admin", "POST", run+"/approve", `"1"`, nil)
			}, func(object) {
				_, run := f.call("clerk", "GET", run, "", nil)
				f.requireState("approved", 2)(run)
			})
			_, page := f.call("clerk", "GET", run+"/statements", "", nil)
			statement := page["items"].([]any)[0].(object)["id"]
			f.step("pay", http.StatusOK, func() (int, object) {
				return f.call("clerk", "POST", run+"/payments", "", object{"payments": []object{
					{"statement_id": statement, "paid_on": f.week.AddDays(12), "method": "check", "reference": "2001"}}})
			}, f.requireState("paid", 3))
			f.requireRows("payment_events", 1)
			f.crashSealing()
		})
	}
}

type object = map[string]any

// crashFarm is an employer with one worker's day, and the program that serves it.
type crashFarm struct {
	*testing.T
	program, database string
	store             *models.Store // to look at the records beside the program
	scope             models.Scope
	server            *exec.Cmd
	url               string
	tokens            map[string]string

	run   uuid.UUID
	week  dated.Date
	sheet intake.Sheet
}

func crashDatabase(t *testing.T, dialect migrations.Dialect) string {
	t.Helper()
	if dialect == migrations.SQLite {
		database := "sqlite://" + filepath.Join(t.TempDir(), "palmero.db")
		requireDone(t, "migrate", "--database="+database)
		return database
	}
	server, err := testdb.StartPostgres()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(server.Stop)
	if err := server.CreateDatabase("palmero", ""); err != nil {
		t.Fatal(err)
	}
	database := server.DSN("palmero", "grove_office")
	requireDone(t, "migrate", "--database="+database, "--owner-database="+server.DSN("palmero", testdb.Superuser))
	return database
}

func newCrashFarm(t *testing.T, program, database string) *crashFarm {
	t.Helper()
	target, err := models.ParseTarget(database)
	if err != nil {
		t.Fatal(err)
	}
	store, err := models.Open(t.Context(), target, models.Options{})
	if err != nil {
		t.Fatal(err)
	}
	f := &crashFarm{T: t, program: program, database: database, store: store, scope: models.Scope{Employer: models.NewID()}, run: models.NewID(), tokens: map[string]string{}}
	t.Cleanup(func() {
		f.kill()
		_ = store.Close()
	})
	err = store.FoundEmployer(t.Context(), f.scope.Employer, "tres-pozos", models.EmployerContent{
		LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40, Payday: time.Friday, SecondApprover: true,
	})
	if err == nil {
		err = store.In(t.Context(), f.scope, f.plant)
	}
	if err != nil {
		t.Fatal(err)
	}
	gate := access.New(store, access.Options{})
	for name, id := range map[string]*uuid.UUID{"clerk": new(uuid.UUID), "admin": new(uuid.UUID)} {
		f.admit(gate, name, id)
	}
	return f
}

// plant sets up a garden whose worker worked on the Monday of the last whole week.
func (f *crashFarm) plant(tx *models.Tx) error {
	f.week = models.WeekOf(dated.DateOf(tx.Now).AddDays(-8), time.Sunday)
	monday := f.week.AddDays(1)
	first := models.Day(f.week.AddDays(-7))
	var errs []error
	garden := planted(tx, &errs, models.Create, models.GardenContent{Name: "Tres Pozos", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"})
	block := planted(tx, &errs, models.Create, models.BlockContent{GardenID: garden, Code: "A-1", Variety: "Medjool", Palms: 120, TallestCM: 900})
	operation := planted(tx, &errs, models.Create, models.OperationContent{Code: "pollination", Unit: "bunch", DailyLimit: 400_000})
	crew := planted(tx, &errs, models.Create, models.CrewContent{Name: "North"})
	ana := planted(tx, &errs, models.Create, models.WorkerContent{Name: "Ana Rojas", Address: "1 Palm Lane", Language: "es", StartedOn: first})
	clerk := planted(tx, &errs, models.Create, models.AccountContent{SignInName: "clerk", Name: "C", Role: models.RoleClerk, Language: "en"})
	planted(tx, &errs, models.Create, models.AccountContent{SignInName: "admin", Name: "A", Role: models.RoleAdministrator, Language: "en"})
	tx.Actor = clerk
	_, _, err := models.Record(tx, models.NewID(), models.PieceRateContent{OperationID: operation, Rate: 11500, EffectiveOn: first}, models.Recording{RecordedAt: tx.Now})
	errs = append(errs, err)
	_, _, err = models.Record(tx, models.NewID(), models.HourlyRateContent{Rate: 250000, EffectiveOn: first}, models.Recording{RecordedAt: tx.Now})
	minutes := payroll.Minutes(180)
	f.sheet = intake.Sheet{
		ID: models.NewID(), CrewID: crew, Workday: models.Day(monday), GardenID: garden, RecordedAt: tx.Now, Roll: []uuid.UUID{ana},
		Time:    []intake.TimeLine{{ID: models.NewID(), WorkerID: ana, Kind: payroll.Piece, Minutes: &minutes}},
		Tallies: []intake.TallyLine{{ID: models.NewID(), WorkerID: ana, BlockID: block, OperationID: operation, Pieces: 60_000}},
	}
	return errors.Join(append(errs, err)...)
}

func planted[C any](tx *models.Tx, errs *[]error, create func(*models.Tx, uuid.UUID, C) (*models.Kept[C], bool, error), c C) uuid.UUID {
	id := models.NewID()
	_, _, err := create(tx, id, c)
	*errs = append(*errs, err)
	return id
}

const crashSecret = "ladder in the tall palms"

// admit gives an account its secret.
func (f *crashFarm) admit(gate *access.Gate, name string, id *uuid.UUID) {
	f.Helper()
	err := f.store.View(f.Context(), f.scope, func(tx *models.Tx) error {
		accounts, err := models.List[models.Account](tx, models.Page{Limit: 1}, models.Where("sign_in_name = ?", name))
		if err == nil {
			*id = accounts[0].ID
		}
		return err
	})
	if err != nil {
		f.Fatal(err)
	}
	code, err := gate.IssueCode(f.Context(), f.scope, models.RoleAdministrator, *id)
	if err == nil {
		_, err = gate.FirstSignIn(f.Context(), access.Name{Employer: "tres-pozos", Account: name}, code.Code, crashSecret)
	}
	if err != nil {
		f.Fatal(err)
	}
}

// step has the program killed at each point of a command, and then repeats it until it is answered as what was done already.
func (f *crashFarm) step(command string, repeated int, send func() (int, object), look func(object)) {
	f.Helper()
	entries := f.rows("audit_entries", "action = '"+command+"'")
	for _, point := range []string{"lines", "commit", "answer"} {
		f.start(command + "." + point)
		if status, body := send(); status != 0 {
			f.Fatalf("%s.%s: the program lives, and answers %d %v", command, point, status, body)
		}
		f.requireKilled()
		want := int64(0)
		if point == "answer" {
			want = 1
		}
		if n := f.rows("audit_entries", "action = '"+command+"'") - entries; n != want {
			f.Errorf("%s.%s: %d audit entries are left; want %d", command, point, n, want)
		}
	}
	f.start("")
	status, body := send()
	if status != repeated {
		f.Fatalf("%s repeated: %d %v", command, status, body)
	}
	look(body)
	if n := f.rows("audit_entries", "action = '"+command+"'") - entries; n != 1 {
		f.Errorf("%s: %d audit entries", command, n)
	}
}

func (f *crashFarm) requireState(state string, version float64) func(object) {
	return func(run object) {
		if run["state"] != state || run["version"] != version {
			f.Errorf("the run is %v, version %v; want %s, %v", run["state"], run["version"], state, version)
		}
	}
}

// crashSealing kills the program at each point of sealing, which it does as soon as it runs.
func (f *crashFarm) crashSealing() {
	f.Helper()
	for _, point := range []string{"lines", "commit", "answer"} {
		f.kill()
		before := f.verify()
		err := f.store.In(f.Context(), f.scope, func(tx *models.Tx) error {
			return tx.Audit(models.Audit{Action: "look", SubjectKind: "palms", SubjectID: tx.NewID()})
		})
		if err != nil {
			f.Fatal(err)
		}
		f.start("seal." + point)
		f.requireKilled()
		after := f.verify()
		if done := after.Seals > before.Seals; after.Break != nil || done != (point == "answer") || done != (after.Tail == 0) {
			f.Errorf("seal.%s: before %+v, after %+v", point, before, after)
		}
	}
	if _, err := f.store.SealAll(f.Context()); err != nil {
		f.Error(err)
	}
	if r := f.verify(); r.Break != nil || r.Tail != 0 {
		f.Errorf("at the end: %+v", r)
	}
}

func (f *crashFarm) verify() (r *evidence.Report) {
	f.Helper()
	err := f.store.View(f.Context(), f.scope, func(tx *models.Tx) (err error) {
		r, err = evidence.Verify(tx)
		return err
	})
	if err != nil {
		f.Fatal(err)
	}
	return r
}

func (f *crashFarm) rows(table, condition string) (n int64) {
	f.Helper()
	err := f.store.View(f.Context(), f.scope, func(tx *models.Tx) error {
		return tx.DB().Raw("SELECT count(*) FROM "+table+" WHERE employer_id = ? AND "+condition, tx.Employer).Scan(&n).Error
	})
	if err != nil {
		f.Fatal(err)
	}
	return n
}

func (f *crashFarm) requireRows(table string, want int64) {
	f.Helper()
	if n := f.rows(table, "1 = 1"); n != want {
		f.Errorf("%d rows in %s; want %d", n, table, want)
	}
}

// start runs the program until it listens, or is killed on the way, and signs in the first time.
func (f *crashFarm) start(failpoint string) {
	f.Helper()
	f.kill()
	f.server = exec.Command(f.program, "serve", "--database="+f.database, "--listen=127.0.0.1:0", "--log-level=error", "--seal-interval=1h")
	f.server.Env = append(os.Environ(), append(signing, "FAILPOINT="+failpoint)...)
	f.server.Stderr = os.Stderr
	out, err := f.server.StdoutPipe()
	if err != nil {
		f.Fatal(err)
	}
	if err := f.server.Start(); err != nil {
		f.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if strings.HasPrefix(failpoint, "seal.") {
		return
	}
	if err != nil {
		f.Fatalf("the program does not start: %v", err)
	}
	f.url = strings.TrimSpace(line[strings.Index(line, "http"):])
	for _, name := range []string{"clerk", "admin"} {
		if f.tokens[name] != "" {
			continue // it outlives the program that gave it
		}
		status, body := f.call("", "POST", "/api/v1/sign-in", "", object{"employer": "tres-pozos", "account": name, "secret": crashSecret})
		if status != http.StatusOK {
			f.Fatalf("sign in: %d %v", status, body)
		}
		f.tokens[name] = body["access_token"].(string)
	}
}

// kill ends a program that still runs.
func (f *crashFarm) kill() {
	if f.server != nil {
		_ = f.server.Process.Kill()
		_ = f.server.Wait()
		f.server = nil
	}
}

// requireKilled wants the program to have been killed by itself.
func (f *crashFarm) requireKilled() {
	f.Helper()
	timer := time.AfterFunc(20*time.Second, func() { _ = f.server.Process.Signal(syscall.SIGTERM) })
	defer timer.Stop()
	err := f.server.Wait()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.Sys().(syscall.WaitStatus).Signal() != syscall.SIGKILL {
		f.Fatalf("the program ended with %v; want it killed", err)
	}
	f.server = nil
}

// call sends a request as an account; status 0 means that there was no answer.
func (f *crashFarm) call(account, method, path, version string, body any) (status int, answer object) {
	f.Helper()
	var content io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			f.Fatal(err)
		}
		content = bytes.NewReader(b)
	}
	ctx, cancel := context.WithTimeout(f.Context(), 30*time.Second)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, method, f.url+path, content)
	if err != nil {
		f.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/json")
	if account != "" {
		request.Header.Set("Authorization", "Bearer "+f.tokens[account])
	}
	if version != "" {
		request.Header.Set("If-Match", version)
	}
	response, err := http.DefaultTransport.RoundTrip(request)
	if err != nil {
		return 0, object{"error": fmt.Sprint(err)}
	}
	defer response.Body.Close()
	if err := json.NewDecoder(response.Body).Decode(&answer); err != nil {
		f.Fatalf("%s %s: %d, %v", method, path, response.StatusCode, err)
	}
	return response.StatusCode, answer
}
