package injuries

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// Log is a year's log of recordable injuries and illnesses, with what the yearly summary adds up (29 CFR 1904.29 and 1904.32): of one garden, or of all.
type Log struct {
	Year         int                   `json:"year"`
	GardenID     *uuid.UUID            `json:"garden_id"`
	Employer     string                `json:"employer"`
	Address      string                `json:"address"`
	Entries      []Entry               `json:"entries"`
	Undecided    int                   `json:"undecided"` // cases of which it is not known yet whether they belong here
	Totals       Totals                `json:"totals"`
	Minutes      int64                 `json:"minutes"`  // at work, by the time entries
	Rates        *safety.RateAnswer    `json:"rates"`    // null: there is less than an hour of work on record
	Required     *bool                 `json:"required"` // whether an employer of this size has to keep a log
	KeepUntil    dated.Date            `json:"keep_until"`
	Certified    *models.InjurySummary `json:"certified"` // null: nobody has certified the year's summary
	confidential []Private
	posting      Posting
}

// Posting is when a year's summary has to hang where everybody sees it.
type Posting struct {
	From, Through dated.Date // zero: no garden says by which book
	Authority     string
	Standing      dated.Standing
}

// Posting tells when the year's summary has to be posted.
func (l *Log) Posting() Posting { return l.posting }

// Entry is a line of the log. Of a privacy case it has no name.
type Entry struct {
	CaseID         uuid.UUID   `json:"case_id"`
	Number         int64       `json:"number"`
	Name           string      `json:"name"`
	Privacy        bool        `json:"privacy"`
	JobTitle       string      `json:"job_title"`
	HappenedOn     models.Date `json:"happened_on"`
	Where          string      `json:"where"`
	Description    string      `json:"description"`
	Class          Class       `json:"class"`
	DaysAway       int         `json:"days_away"`
	DaysRestricted int         `json:"days_restricted"`
	Condition      string      `json:"condition"`
}

// Totals are the sums of a log's columns.
type Totals struct {
	Classes        map[Class]int  `json:"classes"`
	DaysAway       int            `json:"days_away"`
	DaysRestricted int            `json:"days_restricted"`
	Conditions     map[string]int `json:"conditions"`
}

// Classes lists the columns G to J in their order.
var Classes = []Class{DeathCase, AwayCase, RestrictedCase, OtherCase}

// Private is a line of the confidential list: whose the privacy case is, and why the name is kept off the log.
type Private struct {
	CaseID     uuid.UUID   `json:"case_id"`
	Number     int64       `json:"number"`
	Name       string      `json:"name"`
	Privacy    string      `json:"privacy"`
	HappenedOn models.Date `json:"happened_on"`
}

// FindLog makes the log of a calendar year as the records are now. It takes a fixed number of statements.
func FindLog(tx *models.Tx, books *rulebook.Library, year int, garden *uuid.UUID) (*Log, error) {
	first, last := dated.NewDate(year, 1, 1), dated.NewDate(year, 12, 31)
	conditions := []models.Condition{models.HappenedFrom(first), models.HappenedThrough(last)}
	if garden != nil {
		if _, err := models.Get[models.GardenContent](tx, *garden); err != nil {
			return nil, err
		}
		conditions = append(conditions, models.Equal("garden_id", *garden))
	}
	cases, err := List(tx, books, models.Page{Limit: everyCase}, conditions...)
	if err != nil {
		return nil, err
	}
	l := &Log{Year: year, GardenID: garden, Entries: []Entry{}, Totals: Totals{Classes: map[Class]int{}, Conditions: map[string]int{}}, confidential: []Private{}}
	if err := l.enter(tx, cases); err != nil {
		return nil, err
	}
	return l, l.sum(tx, books, first, last)
}

// everyCase is more than any year has.
const everyCase = 1_000_000

// enter writes the lines, by the number of the case.
func (l *Log) enter(tx *models.Tx, cases []Case) error {
	n, err := readNames(tx, cases)
	if err != nil {
		return err
	}
	for i := range cases {
		c := &cases[i]
		if c.Decision == nil && c.Assessment != nil && c.Assessment.Recordable == nil {
			l.Undecided++
		}
		if !c.Logged() {
			continue
		}
		e := n.entry(c)
		if e.Privacy {
			l.confidential = append(l.confidential, Private{e.CaseID, e.Number, e.Name, c.Incident.Content.Privacy, e.HappenedOn})
			e.Name = ""
		}
		l.Entries = append(l.Entries, e)
		l.Totals.Classes[e.Class]++
		l.Totals.Conditions[e.Condition]++
		l.Totals.DaysAway += e.DaysAway
		l.Totals.DaysRestricted += e.DaysRestricted
	}
	slices.SortFunc(l.Entries, func(a, b Entry) int { return int(a.Number - b.Number) })
	slices.SortFunc(l.confidential, func(a, b Private) int { return int(a.Number - b.Number) })
	return nil
}

// Confidential is the separate list of the privacy cases, which is shown to nobody but those who answer for the log.
func (l *Log) Confidential() []Private { return l.confidential }

// sum adds the hours and has the engine make the rates.
func (l *Log) sum(tx *models.Tx, books *rulebook.Library, first, last dated.Date) error {
	profile, err := tx.Profile()
	if err != nil {
		return err
	}
	l.Employer, l.Address = profile.Content.LegalName, profile.Content.Address
	minutes, err := models.MinutesWorked(tx, first, last)
	if err != nil {
		return err
	}
	for g, m := range minutes {
		if l.GardenID == nil || *l.GardenID == g {
			l.Minutes += m
		}
	}
	if l.Certified, err = certifiedOf(tx, l.Year, l.GardenID); err != nil {
		return err
	}
	ground, err := homeGround(tx, books, l.GardenID)
	if err != nil || ground == nil {
		return err
	}
	if err := l.keep(ground, int64(profile.Content.Size), last); err != nil {
		return noValue(err)
	}
	if l.Minutes < 60 {
		return nil
	}
	count := func(c Class) *int { return new(l.Totals.Classes[c]) }
	hours := quantity.Of(l.Minutes).Per(quantity.Of(60))
	answer, err := ask(books, "incident-rate", &safety.IncidentRate{
		Head: safety.Head{Rulebook: ground.book.Key(), On: last}, Deaths: count(DeathCase), Away: count(AwayCase), Restricted: count(RestrictedCase), Other: count(OtherCase), Hours: &hours,
	})
	if err != nil {
		return err
	}
	l.Rates = answer.(*safety.RateAnswer)
	return nil
}

// keep says whether the log has to be kept, and until when: so many years after the end of the one that it covers (29 CFR 1904.33).
func (l *Log) keep(g *ground, size int64, last dated.Date) error {
	years, err := g.book.Number(rulebook.KeepYears, last)
	if err != nil {
		return err
	}
	exempt, err := g.book.Number(rulebook.LogExempt, last)
	if err != nil {
		return err
	}
	l.KeepUntil = dated.NewDate(l.Year+int(years.Value.Float()), 12, 31)
	l.Required = new(quantity.Of(size).Over(exempt.Value))
	from, rests, err := g.seasonDay(rulebook.SummaryMonth, rulebook.SummaryDay, l.Year+1)
	if err != nil {
		return err
	}
	through, _, err := g.seasonDay(rulebook.SummaryToMonth, rulebook.SummaryToDay, l.Year+1)
	l.posting = Posting{from, through, rests.Source.Section, rests.Standing}
	return err
}

// seasonDay is a day of a year that the book gives by month and day, and what it rests on.
func (g *ground) seasonDay(month, day rulebook.Number, year int) (dated.Date, *dated.Value[quantity.Number], error) {
	m, err := g.book.Number(month, dated.NewDate(year, 1, 1))
	if err != nil {
		return dated.Date{}, nil, err
	}
	d, err := g.book.Number(day, dated.NewDate(year, 1, 1))
	if err != nil {
		return dated.Date{}, nil, err
	}
	return dated.NewDate(year, time.Month(m.Value.Float()), int(d.Value.Float())), d, nil
}

// certifiedOf is the word that stands on a year's summary, nil where there is none.
func certifiedOf(tx *models.Tx, year int, garden *uuid.UUID) (*models.InjurySummary, error) {
	conditions := []models.Condition{models.Equal("year", year), models.Standing(true), models.Where("garden_id IS NULL")}
	if garden != nil {
		conditions[2] = models.Equal("garden_id", *garden)
	}
	all, err := models.List[models.InjurySummary](tx, models.Page{Limit: everyCase}, conditions...)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	return &all[len(all)-1], nil
}

// homeGround is a garden, or with nil the one of the lowest number, whose clock and book serve for the whole employer; nil where there is no garden yet.
func homeGround(tx *models.Tx, books *rulebook.Library, garden *uuid.UUID) (*ground, error) {
	query := tx.DB().Order("number").Limit(1)
	if garden != nil {
		query = query.Where("id = ?", *garden)
	}
	var all []models.Garden
	if err := query.Find(&all).Error; err != nil || len(all) == 0 {
		return nil, err
	}
	return groundAt(books, &all[0])
}

// names are what the lines of a log call people and places.
type names struct {
	workers    map[uuid.UUID]*models.Worker
	blocks     map[uuid.UUID]*models.Block
	operations map[uuid.UUID]*models.Operation
}

func readNames(tx *models.Tx, cases []Case) (n names, err error) {
	var ids []uuid.UUID
	for i := range cases {
		if id := cases[i].Incident.Content.WorkerID; id != nil {
			ids = append(ids, *id)
		}
	}
	var workers []models.Worker
	if err := tx.DB().Scopes(tx.Among("id", ids)).Find(&workers).Error; err != nil {
		return n, err
	}
	n.workers = models.KeptByID(workers)
	if n.blocks, err = models.All[models.BlockContent](tx); err != nil {
		return n, err
	}
	n.operations, err = models.All[models.OperationContent](tx)
	return n, err
}

func (n names) entry(c *Case) Entry {
	i := &c.Incident.Content
	e := Entry{
		CaseID: i.CaseID, Number: i.Number, Privacy: i.Privacy != "", JobTitle: i.JobTitle, HappenedOn: i.HappenedOn, Class: c.Class(), DaysAway: c.Days.Away, DaysRestricted: c.Days.Restricted, Condition: c.Condition(),
		Description: joinTexts("; ", strings.TrimSuffix(i.Description, "."), i.BodyPart, i.Cause),
	}
	if i.WorkerID != nil && n.workers[*i.WorkerID] != nil {
		e.Name = n.workers[*i.WorkerID].Content.Name
	}
	block := ""
	if i.BlockID != nil && n.blocks[*i.BlockID] != nil {
		block = n.blocks[*i.BlockID].Content.Code
	}
	e.Where = joinTexts(", ", c.ground.garden.Content.Name, block, i.Place)
	if e.JobTitle == "" && i.OperationID != nil && n.operations[*i.OperationID] != nil {
		e.JobTitle = n.operations[*i.OperationID].Content.Code
	}
	return e
}

func joinTexts(by string, texts ...string) string {
	return strings.Join(slices.DeleteFunc(texts, func(s string) bool { return s == "" }), by)
}
