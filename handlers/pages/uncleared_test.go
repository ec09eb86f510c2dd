package pages_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

func init() {
	allowed["GET /uncleared-work/crew-day"] = "s"
	allowed["POST /uncleared-work/crew-day"] = "s"
}

var (
	crewDayLink = regexp.MustCompile(`/uncleared-work/crew-day\?[^"]+`)
	whoBox      = regexp.MustCompile(`name="who" value="([0-9a-f-]{36})" checked`)
)

// A crew's day is settled at once, but for those who are not meant; a form sent twice settles once.
func TestUnclearedCrewDay(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		s.workUncleared(4)
		b := s.as("oscar", "es").speak("en")
		at := b.get("/uncleared-work").says("A crew&#39;s day at once").first(crewDayLink)
		p := b.get(at).says("recorded with no crew")
		all := whoBox.FindAllStringSubmatch(p.body, -1)
		if len(all) < 2 {
			t.Fatalf("%d are ticked: %s", len(all), p.main())
		}
		form := url.Values{"id": {p.hidden("id")}, "crew": {p.hidden("crew")}, "on": {p.hidden("on")}, "reason": {"Asked <all>"}}
		b.post(at, form).wants(http.StatusUnprocessableEntity).says(`href="#finding"`, `href="#who"`, "Asked &lt;all&gt;")
		form.Set("finding", "was_safe")
		for _, m := range all[1:] {
			form.Add("who", m[1])
		}
		for range 2 {
			b.post("/uncleared-work/crew-day", form).leads("/uncleared-work?done=uncleared_many")
		}
		p = b.get(at)
		if n := strings.Count(p.body, `name="who"`); n != 1 {
			t.Errorf("%d wait still", n)
		}
		form.Set("id", "")
		form.Set("reason", "Asked again")
		b.post("/uncleared-work/crew-day", form).wants(http.StatusConflict).says("Somebody has spoken on some of this work already", "Asked again")
		b.get("/uncleared-work/crew-day?on=nonsense").wants(http.StatusNotFound)
		b.get("/uncleared-work/crew-day?on=2026-03-02&crew=x").wants(http.StatusNotFound)
	})
}

// workUncleared records an hour's work of some people on the first Sunday of March, on which nobody was cleared.
func (s *site) workUncleared(people int) {
	s.Helper()
	employer, err := s.store.FindEmployer(s.Context(), "media-tarde")
	if err != nil {
		s.Fatal(err)
	}
	err = s.store.In(s.Context(), models.Scope{Employer: employer.ID}, func(tx *models.Tx) error {
		workers, err := models.List[models.Worker](tx, models.Page{Limit: people})
		if err != nil {
			return err
		}
		gardens, err := models.List[models.Garden](tx, models.Page{Limit: 1})
		if err != nil {
			return err
		}
		accounts, err := models.List[models.Account](tx, models.Page{Limit: 1})
		if err != nil {
			return err
		}
		start := time.Date(2026, 3, 1, 16, 0, 0, 0, time.UTC)
		for _, w := range workers[:people] {
			e := models.TimeEntry{Keyed: models.Keyed{ID: tx.NewID()}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: accounts[0].ID, Content: models.TimeEntryContent{
				WorkerID: w.ID, GardenID: gardens[0].ID, Workday: models.Day(dated.MustDate("2026-03-01")), Kind: payroll.Hourly, StartedAt: &start, EndedAt: new(start.Add(time.Hour)),
			}}
			if err := models.KeepWork(tx, models.Work{Time: []models.TimeEntry{e}}, models.Work{}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		s.Fatal(err)
	}
}
