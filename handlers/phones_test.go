package handlers

import (
	"context"
	"math/rand/v2"
	"net/http"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/models/synthetic"
	"palmero/payroll/dated"
)

const (
	phones         = 200
	sheetsPerPhone = 3
)

// phone sends sheets one after the other. Of some it does not wait for the answer, and sends them again.
type phone struct {
	*farm
	clerk  *person
	client *http.Client
	random *rand.Rand
	took   []time.Duration // of each request that was answered
	sent   int
}

// send sends a sheet until it is answered, and once more now and then as a device does that lost the answer.
func (p *phone) send(t *testing.T, sheet any) {
	lost, repeats := p.random.IntN(4) == 0, p.random.IntN(3) == 0
	if lost {
		impatient := *p.client
		impatient.Timeout = time.Duration(1+p.random.IntN(30)) * time.Millisecond
		p.sent++
		post(&impatient, p.proxy.URL, sheetsPath, p.clerk, sheet)
	}
	times := 1
	if repeats {
		times = 2
	}
	for range times {
		begun := time.Now()
		p.sent++
		status, answer := post(p.client, p.proxy.URL, sheetsPath, p.clerk, sheet)
		p.took = append(p.took, time.Since(begun))
		if status != http.StatusCreated && status != http.StatusOK {
			t.Errorf("status %d: %s", status, answer)
		}
	}
}

// Two hundred phones send their sheets through a proxy to two servers, losing answers and repeating, while the week before is drafted: no sheet is lost, and none is taken in
// twice. How long the answers took is reported.
func TestTwoHundredPhones(t *testing.T) {
	f := newFarm(t)
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	f.clock.Store(time.Date(2026, 2, 28, 3, 0, 0, 0, time.UTC).UnixNano()) // Friday evening in the garden
	e, err := synthetic.Found(ctx, f.stores[0], "synthetic", phones)
	lastWeek := dated.MustDate("2026-02-15")
	if err == nil {
		err = e.Record(ctx, lastWeek, phones)
	}
	if err != nil {
		t.Fatal(err)
	}
	clerk := &person{account: e.Clerk.Actor}
	clerk.name.Employer, clerk.name.Account = "synthetic", string(models.RoleClerk)
	f.enroll(&estate{Scope: models.Scope{Employer: e.Clerk.Employer}}, clerk)
	client := f.proxy.Client()
	client.Transport.(*http.Transport).MaxIdleConnsPerHost = phones

	var wait sync.WaitGroup
	all := make([]*phone, phones)
	begun := time.Now()
	for i := range all {
		p := &phone{farm: f, clerk: clerk, client: client, random: rand.New(rand.NewPCG(uint64(i), 200))}
		all[i] = p
		crew := e.Crews[i/synthetic.CrewSize]
		crew.Workers = []uuid.UUID{e.Worker(i)}
		wait.Go(func() {
			for day := range sheetsPerPhone {
				p.send(t, e.Sheet(crew, lastWeek.AddDays(8+day)))
			}
		})
	}
	run, err := e.Draft(ctx, f.books, lastWeek)
	drafted := time.Since(begun)
	wait.Wait()
	if err != nil {
		t.Fatal(err)
	}
	var took []time.Duration
	sent := 0
	for _, p := range all {
		took, sent = append(took, p.took...), sent+p.sent
	}
	slices.Sort(took)
	t.Logf("%d phones sent %d sheets in %d requests within %.1f s, while %d people's week was drafted in %.1f s: p50 %s, p99 %s, slowest %s",
		phones, phones*sheetsPerPhone, sent, time.Since(begun).Seconds(), phones, drafted.Seconds(), within(took, 50), within(took, 99), took[len(took)-1].Round(time.Millisecond))
	f.keptAll(t, e, run)
}

// keptAll wants every sheet with its lines, once, and a statement for everybody.
func (f *farm) keptAll(t *testing.T, e *synthetic.Employer, run *payrun.Run) {
	t.Helper()
	err := f.stores[1].View(t.Context(), e.Clerk, func(tx *models.Tx) error {
		monday := models.Day(run.WeekStart.AddDays(8))
		for _, kept := range []struct {
			what string
			of   any
			want int
		}{
			{"sheets", &models.CrewSheet{}, phones * sheetsPerPhone},
			{"time entries", &models.TimeEntry{}, phones * sheetsPerPhone * 8},
			{"tallies", &models.Tally{}, phones * sheetsPerPhone * (synthetic.DayRows - 8)},
		} {
			var n int64
			if err := tx.DB().Model(kept.of).Where("workday >= ?", monday).Count(&n).Error; err != nil {
				return err
			}
			if int(n) != kept.want {
				t.Errorf("%d %s were kept, want %d", n, kept.what, kept.want)
			}
		}
		briefs, err := payrun.RunStatements(tx, run.ID, models.Page{Limit: 2 * phones})
		if len(briefs) != phones {
			t.Errorf("%d statements of %d people", len(briefs), phones)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// within is how long that many of a hundred answers took at most.
func within(took []time.Duration, percent int) time.Duration {
	return took[len(took)*percent/100].Round(time.Millisecond)
}
