package handlers

import (
	"fmt"
	"maps"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /api/v1/crews/{id}/draft":         "l",
		"POST /api/v1/crews/{id}/draft/orders": "l",
	})
	steps["/api/v1/crews/{id}/draft/orders"] = object{"id": models.NewID(), "send": object{}}
}

// today is the workday on which a rig's clock begins, at noon in the garden.
const today = "2026-03-04"

// handset is a crew lead's device on a crew's day.
type handset struct {
	*rig
	crew uuid.UUID
	day  string
	as   *person
}

func (r *rig) handset(day string) handset { return handset{r, r.ours.crew, day, r.lead()} }

func (p handset) path(more string) string {
	return fmt.Sprint("/api/v1/crews/", p.crew, "/draft", more, "?on=", p.day)
}

// order makes an order of pairs of a member and what it says.
func order(pairs ...any) object {
	o := object{"id": models.NewID()}
	for i := 0; i < len(pairs); i += 2 {
		o[pairs[i].(string)] = pairs[i+1]
	}
	return o
}

func (p handset) orders(o any) *answer {
	p.Helper()
	return p.do("POST", p.path("/orders"), p.as, o)
}

// follows gives orders that are all to be carried out.
func (p handset) follows(all ...object) {
	p.Helper()
	for _, o := range all {
		p.orders(o).wants(http.StatusCreated)
	}
}

// draft is the crew's day as it stands.
type draft struct {
	Place   map[string]uuid.UUID
	Roll    []uuid.UUID
	Time    []struct{ Kind, Start, End string }
	Tallies []struct {
		ID         uuid.UUID
		Pieces     string
		Supersedes *uuid.UUID
	}
	Breaks     []struct{ Fact string }
	Lots       []struct{ Parts []object }
	NewWorkers []struct{ Name, Language string } `json:"new_workers"`
	Waiting    int
}

func (p handset) draft() (d draft) {
	p.Helper()
	p.do("GET", p.path(""), p.as, nil).wants(http.StatusOK).into(&d)
	return d
}

// clock is an instant of the phone's day by the garden's clock.
func (p handset) clock(at string) string { return p.day + "T" + at + ":00-08:00" }

// lot is a count of nine that the two on the roll made together.
func (e *estate) lot(parting string) object {
	return object{"pieces": 9, "parting": parting, "parts": []object{{"worker_id": e.worker}, {"worker_id": e.lead}}}
}

func (e *estate) place() object { return object{"block_id": e.block, "operation_id": e.operation} }

func (e *estate) count(pieces any) object {
	return object{"worker_id": e.worker, "block_id": e.block, "operation_id": e.operation, "pieces": pieces}
}

func these(workers ...uuid.UUID) object { return object{"workers": append([]uuid.UUID{}, workers...)} }

func starting(kind string, workers ...uuid.UUID) object {
	o := these(workers...)
	o["kind"] = kind
	return o
}

// begun brings the crew to work: in the block, two on the roll, piece work since six.
func (p handset) begun() {
	p.Helper()
	e := p.ours
	p.follows(
		order("place", e.place()), order("roll", these(e.worker, e.lead, e.worker)),
		order("at", p.clock("06:00"), "start", starting("piece", e.worker, e.lead)),
	)
}

// sending is what became of an order to send.
func (a *answer) sending() (sent struct {
	Waiting int
	Sent    *struct {
		SheetID  uuid.UUID `json:"sheet_id"`
		Recorded int
		Refused  []struct {
			LineID *uuid.UUID `json:"line_id"`
			Key    string
			Detail string
		}
	}
}) {
	a.Helper()
	a.into(&sent)
	return sent
}

// A day by orders that a phone kept without a signal, from the roll to the sheet, and the answers to all of them lost.
func TestADayByOrders(t *testing.T) {
	each(t, func(r *rig) {
		p, e := r.handset(today), r.ours
		if got := p.draft(); got.Place != nil || len(got.Roll) != 0 || got.Waiting != 0 {
			r.Errorf("before anything: %+v", got)
		}
		hand := order("new_worker", object{"name": " Chema Ruiz "})
		queue := []object{
			order("place", e.place()), order("roll", these(e.worker, e.lead)), hand,
			order("at", p.clock("06:00"), "start", starting("piece", e.worker, e.lead, hand["id"].(uuid.UUID))),
			order("count", e.count(12)), order("count", e.count("1.5")), order("count", e.count(-1)),
			order("at", p.clock("08:10"), "rest", these(e.worker, e.lead)),
			order("break", object{"worker_id": e.lead, "fact": "rest_not_provided"}), order("lot", e.lot("heads")),
			order("at", p.clock("09:30"), "stop", these(e.worker, hand["id"].(uuid.UUID))),
		}
		for range 2 {
			for i, o := range queue {
				a := p.orders(o)
				if repeated := a.header.Get("Repeated") == "true"; a.status >= 300 || repeated != (a.status == http.StatusOK) {
					r.Errorf("order %d: %d %s", i, a.status, a.body)
				}
			}
		}
		d := p.draft()
		if len(d.Roll) != 3 || len(d.NewWorkers) != 1 || d.NewWorkers[0].Name != "Chema Ruiz" || d.NewWorkers[0].Language != "es" || len(d.Breaks) != 1 || len(d.Lots) != 1 || len(d.Lots[0].Parts) != 2 {
			r.Errorf("%+v", d)
		}
		if len(d.Tallies) != 1 || d.Tallies[0].Pieces != "12.5" {
			r.Errorf("%+v", d.Tallies)
		}
		if len(d.Time) != 7 || d.Time[0].Start != today+"T14:00:00Z" || d.Time[0].End != today+"T16:00:00Z" {
			r.Errorf("%+v", d.Time)
		}

		p.orders(order("at", p.clock("08:10"), "send", object{})).wants(http.StatusCreated)
		if got := p.draft(); got.Waiting != 3 || len(got.Tallies) != 0 {
			r.Errorf("sent as of ten past eight: %+v", got)
		}
		p.follows(order("count", e.count(4)))
		send := order("at", p.clock("09:35"), "send", object{})
		first := p.orders(send).wants(http.StatusCreated)
		if got := first.sending(); got.Sent == nil || got.Sent.Recorded != 3 || len(got.Sent.Refused) != 0 || got.Waiting != 1 || got.Sent.SheetID != send["id"] {
			r.Errorf("sent: %s", first.body)
		}
		again := p.orders(send).wants(http.StatusOK)
		if diff := cmp.Diff(first.sending(), again.sending()); diff != "" {
			r.Error(diff)
		}
		sheet := r.do("GET", fmt.Sprint(sheetsPath, "/", send["id"]), r.lead(), nil).wants(http.StatusOK).object()
		if sheet["recorded_at"] != today+"T17:35:00Z" || sheet["received_at"] != start.Format(time.RFC3339) {
			r.Errorf("the sheet says %v and %v", sheet["recorded_at"], sheet["received_at"])
		}
		if got := r.do("GET", "/api/v1/audit-entries?subject_id="+fmt.Sprint(send["id"]), r.admin(), nil).items(); len(got) != 1 {
			r.Errorf("%d entries of the trail tell of the sheet", len(got))
		}
		p.orders(order("send", object{})).wantsKey(http.StatusConflict, "problem.nothing_to_send") // what runs waits for its end
	})
}

// However much comes in between, the same order is the same; with anything else in it, or on another day, it is a conflict.
func TestAnOrderIsCarriedOutOnce(t *testing.T) {
	each(t, func(r *rig) {
		p := r.handset(today)
		p.begun()
		lost := order("at", p.clock("07:00"), "count", r.ours.count(7))
		p.follows(lost)
		for range 250 {
			p.follows(order("count", r.ours.count(1)))
		}
		p.orders(lost).wants(http.StatusOK)
		same := maps.Clone(lost)
		same["at"] = today + "T15:00:00Z" // the same instant
		p.orders(same).wants(http.StatusOK)
		if got := p.draft().Tallies; len(got) != 1 || got[0].Pieces != "257" {
			r.Errorf("%+v", got)
		}
		same["count"] = r.ours.count(8)
		p.orders(same).wantsKey(http.StatusConflict, "problem.id_reused")
		yesterday := p
		yesterday.day = "2026-03-03"
		yesterday.orders(lost).wantsKey(http.StatusConflict, "problem.id_reused")
	})
}

// Two phones begin the same crew's day at once and count at once: one draft, and all of it adds up.
func TestTwoPhonesOfOneCrew(t *testing.T) {
	each(t, func(r *rig) {
		p := r.handset(today)
		var wait sync.WaitGroup
		for range 2 {
			wait.Go(func() {
				p.follows(order("place", r.ours.place()), order("roll", these(r.ours.worker, r.ours.lead)))
				for range 10 {
					o := order("count", r.ours.count(1))
					p.follows(o)
					p.orders(o).wants(http.StatusOK)
				}
			})
		}
		wait.Wait()
		if got := p.draft(); len(got.Tallies) != 1 || got.Tallies[0].Pieces != "20" || len(got.Roll) != 2 {
			r.Errorf("%+v", got)
		}
		same := order("count", r.ours.count(5))
		for range 4 {
			wait.Go(func() {
				if a := p.orders(same); a.status >= 300 {
					r.Errorf("%d %s", a.status, a.body)
				}
			})
		}
		wait.Wait()
		if got := p.draft().Tallies; got[0].Pieces != "25" {
			r.Errorf("%+v", got)
		}
	})
}

// Undoing names what it undoes, and does not undo what another phone counted since.
func TestACountIsTakenBack(t *testing.T) {
	each(t, func(r *rig) {
		p, e := r.handset(today), r.ours
		p.begun()
		first, other, second := order("count", e.count(10)), order("count", e.count(4)), order("count", e.count(90))
		other["count"].(object)["worker_id"] = e.lead
		p.follows(first, second, other)
		p.orders(order("undo", object{"order_id": first["id"]})).wantsKey(http.StatusConflict, "problem.counted_since")
		p.follows(order("undo", object{"order_id": second["id"]}))
		p.orders(order("undo", object{"order_id": second["id"]})).wantsKey(http.StatusConflict, "problem.nothing_to_undo")
		if got := p.draft().Tallies; len(got) != 2 || got[0].Pieces != "4" || got[1].Pieces != "10" {
			r.Errorf("%+v", got)
		}
		p.follows(order("send", object{}))
		p.orders(order("undo", object{"order_id": first["id"]})).wantsKey(http.StatusConflict, "problem.nothing_to_undo")

		// Below what was sent it is a correction.
		lower := order("count", e.count(-3))
		p.orders(lower).wantsFaults(http.StatusUnprocessableEntity, "/count/reason")
		lower["count"].(object)["reason"] = "counted twice"
		p.follows(lower)
		if got := p.draft().Tallies; len(got) != 1 || got[0].Supersedes == nil || got[0].Pieces != "7" {
			r.Errorf("%+v", got)
		}
		p.follows(order("drop", object{"line_id": p.draft().Tallies[0].ID}))
		p.orders(order("drop", object{"line_id": models.NewID()})).wantsKey(http.StatusConflict, "problem.line_gone")
	})
}

// What is refused of a sending stays, and a repeat tells the same reason in the language of whoever asks.
func TestASendingInPart(t *testing.T) {
	each(t, func(r *rig) {
		p, e := r.handset(today), r.ours
		p.begun()
		absurd := order("count", e.count(999_999))
		p.follows(absurd, order("at", p.clock("10:00"), "stop", these(e.worker)))
		send := order("send", object{})
		for _, status := range []int{http.StatusCreated, http.StatusOK} {
			for _, language := range []string{"en", "es"} {
				got := p.do("POST", p.path("/orders"), p.as, send, "Accept-Language", language).sending()
				if got.Sent == nil || got.Sent.Recorded != 1 || len(got.Sent.Refused) != 1 || got.Waiting != 2 {
					r.Fatalf("%d: %+v", status, got)
				}
				line := got.Sent.Refused[0]
				if line.Key != "fault.absurd_count" || *line.LineID != p.draft().Tallies[0].ID || strings.Contains(line.Detail, "Check") != (language == "en") {
					r.Errorf("%+v", line)
				}
			}
		}
	})
}

func TestOrdersOfADayThatWasOrIsToCome(t *testing.T) {
	each(t, func(r *rig) {
		p := r.handset(workday) // nine days ago
		p.begun()
		p.follows(order("at", "2026-02-24T02:00:00-08:00", "stop", these(r.ours.worker, r.ours.lead))) // a night's work ends on the next day
		p.orders(order("start", starting("piece", r.ours.worker))).wantsFaults(http.StatusUnprocessableEntity, "/at")
		if got := p.orders(order("send", object{})).wants(http.StatusCreated).sending(); got.Sent.Recorded != 0 || len(got.Sent.Refused) != 2 || got.Sent.Refused[0].Key != "fault.entry_too_long" {
			r.Errorf("%+v", got.Sent)
		}
		before := r.handset("2026-01-31") // nobody led the crew then
		before.orders(order("send", object{})).wantsKey(http.StatusForbidden, "problem.not_your_crew")
		for _, day := range []string{"2026-03-05", "9999-12-31", "1066-10-14", "", "yesterday", "2026-02-30"} {
			p.day = day
			p.do("GET", p.path(""), p.as, nil).wantsFaults(http.StatusBadRequest, "on")
			p.orders(order("send", object{})).wantsFaults(http.StatusBadRequest, "on")
		}
		r.do("GET", fmt.Sprint("/api/v1/crews/", p.crew, "/draft"), p.as, nil).wantsFaults(http.StatusBadRequest, "on")
	})
}

func TestOrdersOfAnotherCrewsLead(t *testing.T) {
	each(t, func(r *rig) {
		crew, other := r.secondCrew()
		p := r.handset(today)
		p.begun()
		o := order("count", r.ours.count(1))
		p.follows(o)
		stranger := p
		stranger.as = other
		stranger.orders(o).wantsKey(http.StatusForbidden, "problem.not_your_crew") // not even a repeat
		r.do("GET", p.path(""), other, nil).wantsKey(http.StatusForbidden, "problem.not_your_crew")
		stranger.crew = crew
		stranger.follows(order("place", r.ours.place()))
		stranger.orders(order("count", r.ours.count(1))).wantsFaults(http.StatusUnprocessableEntity, "/count/worker_id")
		theirs := p
		theirs.as = r.theirs.people[models.RoleCrewLead]
		theirs.orders(o).wants(http.StatusNotFound)
		theirs.crew = r.theirs.crew
		theirs.orders(o).wantsFaults(http.StatusUnprocessableEntity, "/count/block_id", "/count/operation_id", "/count/worker_id")
		theirs.orders(order("place", r.ours.place())).wantsFaults(http.StatusUnprocessableEntity, "/place/block_id", "/place/operation_id")
		theirs.orders(order("roll", these(r.theirs.worker, r.ours.worker))).wantsFaults(http.StatusUnprocessableEntity, "/roll/workers/1")
	})
}

func TestNonsenseOrders(t *testing.T) {
	each(t, func(r *rig) {
		p, e := r.handset(today), r.ours
		p.orders(order("at", p.clock("06:00"), "start", starting("piece", e.worker))).wantsFaults(http.StatusUnprocessableEntity, "/start/workers/0")
		p.follows(order("roll", these(e.worker)))
		p.orders(order("start", starting("piece", e.worker))).wantsKey(http.StatusConflict, "problem.no_place")
		p.orders(order("rest", these(e.worker))).wantsKey(http.StatusConflict, "problem.no_place")
		p.orders(order("send", object{})).wantsKey(http.StatusConflict, "problem.no_place")
		p.orders(order("stop", these())).wantsKey(http.StatusConflict, "problem.nothing_runs")
		p.orders(order("undo", object{"order_id": models.NewID()})).wantsKey(http.StatusConflict, "problem.nothing_to_undo")
		p.begun()
		p.orders(order("start", starting("piece"))).wantsKey(http.StatusConflict, "problem.nobody_there")
		p.orders(order("at", p.clock("06:05"), "rest", these(e.worker))).wantsKey(http.StatusConflict, "problem.nobody_so_long")
		unmade := order("count", e.count(1))
		unmade["id"] = uuid.Nil
		long := e.count(1)
		long["reason"] = strings.Repeat("a", 501)
		alone, none, stranger := e.lot("heads"), e.lot("heads"), e.lot("heads")
		alone["parts"], none["pieces"] = alone["parts"].([]object)[:1], 0
		stranger["parts"].([]object)[1]["worker_id"] = models.NewID()
		unknown := e.count(0)
		unknown["worker_id"], unknown["block_id"] = models.NewID(), models.NewID()
		for _, c := range []struct {
			order any
			where string
		}{
			{order(), ""},
			{order("send", object{}, "stop", these(e.worker)), ""},
			{order("dance", object{}), "/dance"},
			{order("start", starting("nap", e.worker)), "/start/kind"},
			{order("start", starting("", e.worker)), "/start/kind"},
			{order("start", object{"kind": "piece"}), "/start/workers"},
			{order("stop", object{"workers": []string{"ana"}}), "/stop/workers/0"},
			{order("at", p.clock("05:59"), "stop", these(e.worker)), "/at"},
			{order("at", p.clock("12:02"), "stop", these(e.worker)), "/at"},
			{order("at", "1970-01-01T00:00:00Z", "send", object{}), "/at"},
			{order("at", "noon", "stop", these(e.worker)), "/at"},
			{order("at", "2026-03-03T23:00:00-08:00", "start", starting("hourly", e.worker)), "/at"},
			{order("break", object{"worker_id": e.worker, "fact": "no_coffee"}), "/break/fact"},
			{order("break", object{"worker_id": models.NewID(), "fact": "rest_not_provided"}), "/break/worker_id"},
			{order("new_worker", object{"name": " "}), "/new_worker/name"},
			{order("new_worker", object{"name": "Li", "language": "zh"}), "/new_worker/language"},
			{order("count", e.count(-1)), "/count/pieces"},
			{order("count", e.count("1.2345")), "/count/pieces"},
			{order("count", long), "/count/reason"},
			{order("count", unknown), "/count/block_id /count/pieces /count/worker_id"},
			{order("lot", alone), "/lot/parts"},
			{order("lot", none), "/lot/pieces"},
			{order("lot", stranger), "/lot/parts/1/worker_id"},
			{order("lot", e.lot("luck")), "/lot/parting"},
			{order("lot", e.lot("share")), "/lot/parts/0 /lot/parts/1 /lot/parts"},
			{order("send", object{"now": true}), "/send/now"},
			{unmade, "/id"},
		} {
			p.orders(c.order).wantsFaults(http.StatusUnprocessableEntity, strings.Split(c.where, " ")...)
		}
		p.orders("{").wants(http.StatusBadRequest)
		p.orders([]object{order("send", object{})}).wantsFaults(http.StatusUnprocessableEntity, "")
		if got := p.draft(); got.Waiting != 2 {
			r.Errorf("nonsense left something behind: %+v", got)
		}
	})
}
