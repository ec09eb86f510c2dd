package handlers

import (
	"bytes"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/text"
	"palmero/handlers/tokens"
	"palmero/models"
	"palmero/models/access"
	"palmero/models/localbooks"
	"palmero/models/testdb"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// onExchange, where it is set before a test begins, is told of every request and answer of every rig.
var onExchange func(t testing.TB, e exchange)

// exchange is one request and its answer.
type exchange struct {
	request  *http.Request
	sent     []byte
	response *http.Response
	received []byte
}

// rig is the API on a store with two employers, ours and theirs, and a clock that the test moves.
type rig struct {
	testing.TB
	store        *models.Store
	books        *rulebook.Library
	handler      http.Handler
	issuer       *tokens.Issuer
	gate         *access.Gate
	clock        *atomic.Int64
	log          *lockedBuffer
	ours, theirs *estate
	onExchange   func(t testing.TB, e exchange)
	hostile      bool // whether what is sent may look like a placeholder, and be quoted back
}

// estate is an employer with a little of everything, and an account per role.
type estate struct {
	models.Scope
	garden, block, operation, crew, member uuid.UUID
	worker, lead                           uuid.UUID // the worker of the worker's account, and of the crew lead's
	pieceRate, hourlyRate, localBook       uuid.UUID
	people                                 map[models.Role]*person
	more                                   map[string]uuid.UUID // one record of each other collection, by its path
}

// planting are what else an estate is planted with, by the files that test it.
var planting []func(r *rig, e *estate)

// person is an account that is signed in.
type person struct {
	account, session uuid.UUID
	name             access.Name
	token            string
	refresh          string
}

const (
	secret = "ladder in the tall palms"
	limit  = 64 << 10 // bytes of a body
)

// start is when a rig's clock begins.
var start = time.Date(2026, 3, 4, 20, 0, 0, 0, time.UTC)

// each runs a test on both databases.
func each(t *testing.T, test func(r *rig)) {
	t.Helper()
	for _, dialect := range testdb.Dialects() {
		t.Run(string(dialect), func(t *testing.T) {
			clock := newClock() // its own: the other database's test may have let time pass
			test(newRig(t, databases.Store(t, dialect, read(clock)), clock))
		})
	}
}

func newClock() *atomic.Int64 {
	clock := new(atomic.Int64)
	clock.Store(start.UnixNano())
	return clock
}

func read(clock *atomic.Int64) func() time.Time {
	return func() time.Time { return time.Unix(0, clock.Load()).UTC() }
}

func newRig(t testing.TB, store *models.Store, clock *atomic.Int64) *rig {
	t.Helper()
	r := &rig{TB: t, store: store, clock: clock, log: &lockedBuffer{}, onExchange: onExchange}
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	r.books = books
	keys := tokens.Keys{Current: tokens.Key{ID: "1", Secret: bytes.Repeat([]byte{7}, tokens.MinSecret)}}
	if r.issuer, err = tokens.NewIssuer(keys, "palmero", 10*time.Minute, read(clock)); err != nil {
		t.Fatal(err)
	}
	options := access.Options{Cost: access.Cost{Memory: 64, Passes: 1, Threads: 1}}
	r.gate = access.New(store, options)
	r.handler, err = New(Config{
		Store: store, Books: books, Issuer: r.issuer, Access: options, Log: slog.New(slog.NewJSONHandler(r.log, nil)),
		BodyLimit: limit, Metrics: true,
	})
	if err != nil {
		t.Fatal(err)
	}
	r.ours, r.theirs = r.plant("tres-pozos"), r.plant("four-wells")
	return r
}

// wait lets time pass.
func (r *rig) wait(d time.Duration) { r.clock.Add(int64(d)) }

// plant founds an employer.
func (r *rig) plant(name string) *estate {
	r.Helper()
	e := &estate{Scope: models.Scope{Employer: models.NewID()}, people: map[models.Role]*person{}, more: map[string]uuid.UUID{}}
	content := models.EmployerContent{
		LegalName: "Huerta " + name, Address: "88 Canal Road, Mesa Verde", TaxNumber: "00-0000001", InsuranceCarrier: "Mutual of the Valley",
		Size: 40, WeekStart: time.Sunday, Payday: time.Friday, SecondApprover: true,
	}
	if err := r.store.FoundEmployer(r.Context(), e.Employer, name, content); err != nil {
		r.Fatal(err)
	}
	r.in(e.Scope, func(tx *models.Tx) error {
		e.garden = keep(r, tx, models.Create[models.GardenContent], models.GardenContent{Name: "Home garden", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"})
		e.block = keep(r, tx, models.Create[models.BlockContent], models.BlockContent{GardenID: e.garden, Code: "B-07", Variety: "medjool", Palms: 200, TallestCM: 900})
		e.operation = keep(r, tx, models.Create[models.OperationContent], models.OperationContent{Code: "pollination", Unit: "bunch", DailyLimit: 2_000_000})
		e.crew = keep(r, tx, models.Create[models.CrewContent], models.CrewContent{Name: "Morning crew"})
		e.worker = keep(r, tx, models.Create[models.WorkerContent], worker("Ana Rojas"))
		e.lead = keep(r, tx, models.Create[models.WorkerContent], worker("Berta Luz"))
		e.member = keep(r, tx, models.Create[models.CrewMemberContent], models.CrewMemberContent{CrewID: e.crew, WorkerID: e.worker, FromDate: day("2026-02-01")})
		keep(r, tx, models.Create[models.CrewMemberContent], models.CrewMemberContent{CrewID: e.crew, WorkerID: e.lead, Leads: true, FromDate: day("2026-02-01")})
		for _, role := range everyone {
			c := models.AccountContent{SignInName: string(role), Name: "The " + string(role), Role: role, Language: "en"}
			switch role {
			case models.RoleWorker:
				c.WorkerID, c.Language = &e.worker, "es"
			case models.RoleCrewLead:
				c.WorkerID = &e.lead
			}
			e.people[role] = &person{account: keep(r, tx, models.Create[models.AccountContent], c), name: access.Name{Employer: name, Account: string(role)}}
		}
		return nil
	})
	for _, p := range e.people {
		r.enroll(e, p)
	}
	clerk := models.Scope{Employer: e.Employer, Actor: e.people[models.RoleClerk].account}
	r.in(clerk, func(tx *models.Tx) error {
		how := models.Recording{RecordedAt: tx.Now}
		piece, _, err := models.Record(tx, models.NewID(), models.PieceRateContent{OperationID: e.operation, Rate: 11_500, EffectiveOn: day("2026-02-01")}, how)
		if err != nil {
			return err
		}
		hourly, _, err := models.Record(tx, models.NewID(), models.HourlyRateContent{Rate: 175_000, EffectiveOn: day("2026-02-01")}, how)
		if err != nil {
			return err
		}
		e.pieceRate, e.hourlyRate = piece.ID, hourly.ID
		return nil
	})
	r.in(models.Scope{Employer: e.Employer, Actor: e.people[models.RoleAdministrator].account}, func(tx *models.Tx) error {
		text := strings.NewReplacer("WAGE", "15.00", "oasis", "valley", "Oasis", "Valley", "us-ca", "us-nv", "ordinance\n", "announcement\n").Replace(localWage)
		book, _, err := localbooks.Enter(tx, r.books, localbooks.Entry{ID: models.NewID(), Text: text}, "")
		if err == nil {
			e.localBook = book.ID
		}
		return err
	})
	for _, plant := range planting {
		plant(r, e)
	}
	return e
}

// enroll signs a person in for the first time.
func (r *rig) enroll(e *estate, p *person) {
	r.Helper()
	code, err := r.gate.IssueCode(r.Context(), e.Scope, models.RoleAdministrator, p.account)
	if err != nil {
		r.Fatal(err)
	}
	granted, err := r.gate.FirstSignIn(r.Context(), p.name, code.Code, secret)
	if err != nil {
		r.Fatal(err)
	}
	p.session, p.refresh = granted.Caller.Session, granted.RefreshToken
	p.token, _, err = r.issuer.Issue(tokens.Claims{Account: p.account, Employer: e.Employer, Session: p.session})
	if err != nil {
		r.Fatal(err)
	}
}

func (r *rig) in(scope models.Scope, fn func(tx *models.Tx) error) {
	r.Helper()
	if err := r.store.In(r.Context(), scope, fn); err != nil {
		r.Fatal(err)
	}
}

// keep creates one record of the set-up.
func keep[C any](r *rig, tx *models.Tx, create func(*models.Tx, uuid.UUID, C) (*models.Kept[C], bool, error), c C) uuid.UUID {
	r.Helper()
	kept, _, err := create(tx, models.NewID(), c)
	if err != nil {
		r.Fatal(err)
	}
	return kept.ID
}

func worker(name string) models.WorkerContent {
	return models.WorkerContent{Name: name, Address: "1 Palm Lane", BirthDate: day("1990-05-05"), Language: "es", StartedOn: day("2026-02-01")}
}

func day(s string) models.Date { return models.Day(dated.MustDate(s)) }

// as is our person of a role.
func (r *rig) as(role models.Role) *person { return r.ours.people[role] }

func (r *rig) clerk() *person { return r.as(models.RoleClerk) }
func (r *rig) admin() *person { return r.as(models.RoleAdministrator) }

// object is a JSON object of a request.
type object = map[string]any

// answer is what came back.
type answer struct {
	*rig
	what   string
	status int
	header http.Header
	body   []byte
}

// do sends a request as a person (nil: nobody). The body is nil, text to send as it is, or a value to send as JSON. Headers come in
// pairs and go before the usual ones; an empty value takes one away.
func (r *rig) do(method, path string, as *person, body any, headers ...string) *answer {
	r.Helper()
	var sent []byte
	switch body := body.(type) {
	case nil:
	case string:
		sent = []byte(body)
	case []byte:
		sent = body
	default:
		var err error
		if sent, err = json.Marshal(body); err != nil {
			r.Fatal(err)
		}
	}
	request := httptest.NewRequest(method, path, bytes.NewReader(sent)).WithContext(r.Context())
	if body != nil {
		request.Header.Set("Content-Type", "application/json")
	}
	if as != nil {
		request.Header.Set("Authorization", "Bearer "+as.token)
	}
	for i := 0; i < len(headers); i += 2 {
		request.Header.Set(headers[i], headers[i+1])
		if headers[i+1] == "" {
			request.Header.Del(headers[i])
		}
	}
	recorder := httptest.NewRecorder()
	r.handler.ServeHTTP(recorder, request)
	a := &answer{rig: r, what: method + " " + path, status: recorder.Code, header: recorder.Header(), body: recorder.Body.Bytes()}
	if r.onExchange != nil {
		response := recorder.Result()
		response.Body = io.NopCloser(bytes.NewReader(a.body))
		r.onExchange(r, exchange{request, sent, response, a.body})
	}
	a.inspect()
	return a
}

// inspect checks what holds of every answer: none is a fault of the program, and a problem is a document without a loose end.
func (a *answer) inspect() {
	a.Helper()
	if a.status >= 500 && a.status != http.StatusServiceUnavailable {
		a.Errorf("%s: %d %s\n%s", a.what, a.status, a.body, a.log)
	}
	if a.status < 400 {
		return
	}
	p := a.problem()
	texts := []string{p.Title, p.Detail}
	for _, e := range p.Errors {
		texts = append(texts, e.Detail)
	}
	for _, said := range texts {
		if said == "" || text.For(text.English).Has(said) || !a.hostile && (unfilled.MatchString(said) || !strings.Contains(said, " ")) {
			a.Errorf("%s: the problem says %q", a.what, said)
		}
	}
	if p.Status != a.status || !strings.HasPrefix(p.Type, "/problems/") || a.header.Get("Content-Language") == "" {
		a.Errorf("%s: %d with the problem %s", a.what, a.status, a.body)
	}
	if a.status == http.StatusUnauthorized && a.header.Get("WWW-Authenticate") == "" {
		a.Errorf("%s: a refusal without WWW-Authenticate", a.what)
	}
}

// unfilled is a placeholder for which there was no term.
var unfilled = regexp.MustCompile(`\{[a-z_]+(:[a-z]+)?\}`)

// wants checks the status.
func (a *answer) wants(status int) *answer {
	a.Helper()
	if a.status != status {
		a.Errorf("%s: %d %s; want %d", a.what, a.status, a.body, status)
	}
	return a
}

// wantsKey checks a problem's status and key.
func (a *answer) wantsKey(status int, key string) *answer {
	a.Helper()
	if a.wants(status); a.status >= 400 && a.problem().Key != key {
		a.Errorf("%s: %s; want %s", a.what, a.body, key)
	}
	return a
}

// wantsFaults checks where a problem points, in order: pointers or, for the query, names.
func (a *answer) wantsFaults(status int, where ...string) *answer {
	a.Helper()
	a.wants(status)
	var got []string
	for _, e := range a.problem().Errors {
		if e.Pointer != nil {
			got = append(got, *e.Pointer)
		} else {
			got = append(got, e.Parameter)
		}
	}
	if strings.Join(got, " ") != strings.Join(where, " ") {
		a.Errorf("%s: the faults lie at %q; want %q\n%s", a.what, got, where, a.body)
	}
	return a
}

func (a *answer) problem() (p Problem) {
	a.Helper()
	if kind := a.header.Get("Content-Type"); kind != "application/problem+json" {
		a.Errorf("%s: a problem as %q: %s", a.what, kind, a.body)
		return p
	}
	a.into(&p)
	return p
}

// into reads the answer's body.
func (a *answer) into(v any) {
	a.Helper()
	if err := json.Unmarshal(a.body, v); err != nil {
		a.Errorf("%s: %v: %s", a.what, err, a.body)
	}
}

// object reads the answer's body as an object.
func (a *answer) object() object {
	a.Helper()
	var o object
	a.into(&o)
	return o
}

// lockedBuffer gathers a log that several requests write.
type lockedBuffer struct {
	sync.Mutex
	buffer bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.Lock()
	defer b.Unlock()
	return b.buffer.Write(p)
}

func (b *lockedBuffer) String() string {
	b.Lock()
	defer b.Unlock()
	return b.buffer.String()
}
