package season

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/access"
	"palmero/models/climbs"
	"palmero/payroll/rulebook"
	"palmero/safety"
)

// Opening is where the season's records end and the demo's calendar begins: Monday 2 March 2026, 15:20 in the garden. The week that ended on Saturday waits
// to be settled, its payday is Friday, and the sheets of the day have just come in.
var Opening = time.Date(2026, 3, 2, 23, 20, 0, 0, time.UTC)

// Secret is what everybody of the season signs in with.
const Secret = "palm by palm"

// SignIn is how a person of the season signs in.
type SignIn struct {
	Role                      models.Role
	Name                      string
	Employer, Account, Secret string
}

// seeding is the season on its way into a database.
type seeding struct {
	ctx   context.Context
	store *models.Store
	clock *Clock
	books *rulebook.Library
	gate  *access.Gate
	loc   *time.Location

	climbing climbs.Books
	say      safety.Say

	*data
	*calendar
	*safetyData
	moments []moment
	lines   int          // how many lines of sheets have an identifier
	made    map[kind]int // and how many of each kind of safety records
	stopped []string     // the codes of equipment that a lead has found unsafe
}

// moment is something that happens at a time.
type moment struct {
	at     time.Time
	happen func() error
}

// Seed enters the season into a migrated database that does not hold it yet. The store must tell the time by the clock, which stands at Opening
// afterwards. The clearances that were given in the season are kept in the words that say says.
func Seed(ctx context.Context, store *models.Store, clock *Clock, books *rulebook.Library, say safety.Say) error {
	s := &seeding{ctx: ctx, store: store, clock: clock, books: books, gate: access.New(store, access.Options{}), say: say, made: map[kind]int{}}
	var err error
	if s.climbing, err = climbs.Load(); err != nil {
		return err
	}
	if s.safetyData, err = read[safetyData](safetyYAML); err != nil {
		return err
	}
	if s.data, err = read[data](seasonYAML); err != nil {
		return err
	}
	if s.calendar, err = read[calendar](weeksYAML); err != nil {
		return err
	}
	if s.loc, err = time.LoadLocation(s.Garden.TimeZone); err != nil {
		return err
	}
	s.planSetup()
	s.planRegister()
	s.planMornings()
	s.planIncidents()
	s.planSheets()
	s.planPayment()
	if err := s.planTerms(); err != nil {
		return err
	}
	if err := s.planBunches(); err != nil {
		return err
	}
	slices.SortStableFunc(s.moments, func(a, b moment) int { return a.at.Compare(b.at) })
	for _, m := range s.moments {
		clock.Set(m.at)
		if err := m.happen(); err != nil {
			return fmt.Errorf("the season of %s: %w", m.at.In(s.loc).Format(time.DateTime), err)
		}
	}
	clock.Set(Opening)
	return nil
}

// plan puts a moment into the season. The data is our own: a time in it that cannot be read is a fault of the program.
func (s *seeding) plan(at string, happen func() error) {
	t, err := clockTime(at, s.loc)
	if err != nil {
		happen = func() error { return err }
	}
	s.moments = append(s.moments, moment{t, happen})
}

// in runs a command of an account.
func (s *seeding) in(actor uuid.UUID, fn func(*models.Tx) error) error {
	return s.store.In(s.ctx, models.Scope{Employer: id(ofEmployer, 1), Actor: actor}, fn)
}

// SignIns lists how the people of the season sign in, one of each role.
func SignIns() ([]SignIn, error) {
	d, err := read[data](seasonYAML)
	if err != nil {
		return nil, err
	}
	var people []SignIn
	for _, a := range slices.Backward(d.Accounts) {
		if !slices.ContainsFunc(people, func(p SignIn) bool { return p.Role == a.Role }) {
			people = append(people, SignIn{Role: a.Role, Name: d.nameOf(a), Employer: d.Employer.SignInName, Account: a.SignInName, Secret: Secret})
		}
	}
	return people, nil
}

// nameOf is an account's own name, or its worker's.
func (d *data) nameOf(a account) string {
	if a.Worker > 0 {
		return d.Workers[a.Worker-1].Name
	}
	return a.Name
}

// Latest is when something was last recorded in a database that holds the season; the demo's calendar goes on from there.
func Latest(ctx context.Context, store *models.Store) (time.Time, error) {
	var entries []models.AuditEntry
	err := store.View(ctx, models.Scope{Employer: id(ofEmployer, 1)}, func(tx *models.Tx) error {
		return tx.DB().Select("at").Order("seq DESC").Limit(1).Find(&entries).Error
	})
	if err != nil {
		return time.Time{}, err
	}
	if len(entries) == 0 {
		return time.Time{}, errors.New("the database does not hold the season")
	}
	return slices.MaxFunc([]time.Time{entries[0].At, Opening}, time.Time.Compare), nil
}

// number is the place of the first that matches, counted from one as the season's identifiers are; zero is nobody's.
func number[T any](list []T, match func(T) bool) int {
	return slices.IndexFunc(list, match) + 1
}
