package synthetic

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
)

// CrewSize is how many workers a crew has.
const CrewSize = 40

// Employer is an invented employer with one garden in California, set up to record work and to pay for it.
type Employer struct {
	Store              *models.Store
	Lead, Clerk, Owner models.Scope // who records work, who drafts pay, and who approves it
	Garden             uuid.UUID
	Block              uuid.UUID
	Operation          uuid.UUID
	Crews              []Crew

	zone *time.Location
}

// Crew is a crew and its workers, the lead first.
type Crew struct {
	ID      uuid.UUID
	Workers []uuid.UUID
}

const timeZone = "America/Los_Angeles"

// since is the day from which everything of a synthetic employer is in force; no history reaches further back.
var since = models.Day(dated.MustDate("2016-01-01"))

// Found enters an employer under a sign-in name, with so many workers. Weeks begin on Sunday.
func Found(ctx context.Context, store *models.Store, signInName string, workers int) (*Employer, error) {
	zone, err := models.Zone(timeZone)
	if err != nil {
		return nil, err
	}
	e := &Employer{Store: store, zone: zone}
	employer := models.Scope{Employer: models.NewID()}
	e.Lead, e.Clerk, e.Owner = employer, employer, employer
	profile := models.EmployerContent{LegalName: "Synthetic Dates LLC", Address: "1 Palm Lane", Size: int64(max(workers, 1)), WeekStart: time.Sunday, Payday: time.Friday, SecondApprover: true}
	err = store.FoundEmployer(ctx, employer.Employer, signInName, profile, e.addAccounts, e.addPlaces)
	if err != nil {
		return nil, err
	}
	if err := store.In(ctx, e.Clerk, e.addRates); err != nil {
		return nil, err
	}
	return e, store.In(ctx, e.Clerk, func(tx *models.Tx) error { return e.addWorkers(tx, workers) })
}

func (e *Employer) addAccounts(tx *models.Tx) error {
	for _, a := range []struct {
		role  models.Role
		scope *models.Scope
	}{{models.RoleClerk, &e.Clerk}, {models.RoleAdministrator, &e.Owner}} {
		account := models.AccountContent{SignInName: string(a.role), Name: string(a.role), Role: a.role, Language: "en"}
		a.scope.Actor = models.NewID()
		if _, _, err := models.Create(tx, a.scope.Actor, account); err != nil {
			return err
		}
	}
	e.Lead.Actor = e.Clerk.Actor // who may correct whose records is not what is measured
	return nil
}

func (e *Employer) addPlaces(tx *models.Tx) error {
	e.Garden, e.Block, e.Operation = models.NewID(), models.NewID(), models.NewID()
	_, _, err := models.Create(tx, e.Garden, models.GardenContent{Name: "Cien Mil Palmas", TimeZone: timeZone, Rulebook: "us-ca"})
	if err != nil {
		return err
	}
	_, _, err = models.Create(tx, e.Block, models.BlockContent{GardenID: e.Garden, Code: "A-1", Variety: "Medjool", Palms: 2000, TallestCM: 900})
	if err != nil {
		return err
	}
	_, _, err = models.Create(tx, e.Operation, models.OperationContent{Code: "pollination", Unit: "bunch", DailyLimit: 400_000})
	return err
}

func (e *Employer) addRates(tx *models.Tx) error {
	how := models.Recording{RecordedAt: tx.Now}
	if _, _, err := models.Record(tx, models.NewID(), models.PieceRateContent{OperationID: e.Operation, Rate: 11500, EffectiveOn: since}, how); err != nil {
		return err
	}
	_, _, err := models.Record(tx, models.NewID(), models.HourlyRateContent{Rate: 175_000, EffectiveOn: since}, how)
	return err
}

// addWorkers enters the workers, their crews, and who belongs to which.
func (e *Employer) addWorkers(tx *models.Tx, n int) error {
	people := make([]models.Worker, n)
	for i := range people {
		people[i] = kept(tx, models.WorkerContent{Number: int64(i + 1), Name: fmt.Sprintf("Hand %d", i+1), Address: fmt.Sprintf("%d Palm Lane", i+1), Language: "es", StartedOn: since})
	}
	var crews []models.Crew
	var members []models.CrewMember
	for some := range slices.Chunk(people, CrewSize) {
		number := int64(len(crews) + 1)
		crew := kept(tx, models.CrewContent{Number: number, Name: fmt.Sprintf("Crew %d", number)})
		crews = append(crews, crew)
		own := Crew{ID: crew.ID}
		for i, p := range some {
			own.Workers = append(own.Workers, p.ID)
			members = append(members, kept(tx, models.CrewMemberContent{CrewID: crew.ID, WorkerID: p.ID, Leads: i == 0, FromDate: since}))
		}
		e.Crews = append(e.Crews, own)
	}
	if err := models.InsertAll(tx, people); err != nil {
		return err
	}
	if err := models.InsertAll(tx, crews); err != nil {
		return err
	}
	return models.InsertAll(tx, members)
}

func kept[C any](tx *models.Tx, c C) models.Kept[C] {
	return models.Kept[C]{Keyed: models.Keyed{ID: models.NewID(), ContentHash: models.ContentHash(c)}, CreatedAt: tx.Now, UpdatedAt: tx.Now, Version: 1, Content: c}
}
