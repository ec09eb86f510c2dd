package pages

import (
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// termsPages keep what was agreed with single workers beyond rates: contracts that guarantee hours, bonuses over several weeks, and sick leave, see terms_bonuses.go and
// terms_leave.go.
func termsPages() []Page {
	return slices.Concat([]Page{
		{Method: "GET", Path: "/contracts", Roles: office, Nav: "page.nav.contracts", Under: "/set-up", handle: func(v *visit) (*answer, error) { return contractsPage(v, nil) }},
		{Method: "POST", Path: "/contracts", Roles: office, handle: newContract},
		{Method: "GET", Path: "/contracts/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return contractPage(v, nil) }},
		{Method: "POST", Path: "/contracts/{id}", Roles: office, handle: changeContract},
		{Method: "GET", Path: "/contracts/{id}/day", Roles: office, handle: func(v *visit) (*answer, error) { return contractDayPage(v, nil) }},
		{Method: "POST", Path: "/contracts/{id}/day", Roles: office, handle: recordContractDay},
	}, bonusPages(), leavePages(), ownTermsPages())
}

// contractList are the contracts, the last entered first.
type contractList struct {
	Contracts []contractRow
	Week      []Option // the days of the week
	Older     int64
	Today     dated.Date
}

// contractRow is a contract with whose it is.
type contractRow struct {
	models.Contract
	Name   string
	Number int64 // of the worker
}

const contractsAtOnce = 40

func contractsPage(v *visit, f *Form) (*answer, error) {
	page := contractList{Week: v.contractWeek()}
	err := v.view(func(tx *models.Tx) (err error) {
		if page.Today, err = payrun.Today(tx); err != nil {
			return err
		}
		found, err := models.LatestContracts(tx, nil, v.number("before"), contractsAtOnce+1)
		if err != nil {
			return err
		}
		if len(found) > contractsAtOnce {
			found = found[:contractsAtOnce]
			page.Older = found[contractsAtOnce-1].Seq
		}
		page.Contracts, err = contractRows(tx, found)
		return err
	})
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = newForm(nil)
		for _, day := range "12345" {
			f.Add("workdays", string(day))
		}
	}
	for i := range page.Week {
		page.Week[i].Chosen = f.Holds("workdays", page.Week[i].Value)
	}
	return show("contracts", &page).with(f), nil
}

func contractRows(tx *models.Tx, found []models.Contract) ([]contractRow, error) {
	ids := make([]uuid.UUID, len(found))
	for i := range found {
		ids[i] = found[i].Content.WorkerID
	}
	workers, err := termsWorkers(tx, ids)
	rows := make([]contractRow, len(found))
	for i := range found {
		rows[i] = contractRow{Contract: found[i]}
		if w := workers[found[i].Content.WorkerID]; w != nil {
			rows[i].Name, rows[i].Number = w.Content.Name, w.Content.Number
		}
	}
	return rows, err
}

// termsWorkers reads some workers.
func termsWorkers(tx *models.Tx, ids []uuid.UUID) (map[uuid.UUID]*models.Worker, error) {
	var workers []models.Worker
	err := tx.DB().Scopes(tx.Among("id", ids)).Find(&workers).Error
	return models.KeptByID(workers), err
}

// contractWeek are the days of the week, Sunday first.
func (v *visit) contractWeek() []Option {
	week := make([]Option, 7)
	for i := range week {
		n := strconv.Itoa(i)
		week[i] = Option{Value: n, Label: v.say("weekday."+n, nil)}
	}
	return week
}

// contractFields are those of a contract's form. The worker is given by number, the hours of a day with decimals.
var contractFields = []string{"number", "job_order", "first_day", "last_day", "workdays", "day_hours", "offered_rate", "rate_source", "settle_week"}

// readContract reads a contract from its form, in place of one that is kept.
func readContract(tx *models.Tx, f *Form, kept models.ContractContent) (models.ContractContent, error) {
	profile, err := tx.Profile()
	if err != nil {
		return kept, err
	}
	c := models.ContractContent{Number: kept.Number, JobOrder: f.Value("job_order"), FirstDay: models.Day(f.Day("first_day")), LastDay: models.Day(f.Day("last_day")),
		Workdays: strings.Join(f.Values("workdays"), ""), DayMinutes: f.usualDay("day_hours", kept.DayMinutes), OfferedRate: f.Rate("offered_rate"), RateSource: f.Value("rate_source")}
	if settle := f.Day("settle_week"); !settle.IsZero() {
		c.SettleWeek = models.Day(models.WeekOf(settle, profile.Content.WeekStart))
	}
	f.needDay("first_day")
	f.needDay("last_day")
	worker := f.termsWorker(tx, "number")
	if err := f.Faulty(); err != nil {
		return c, err
	}
	c.WorkerID, err = worker()
	return c, err
}

// termsWorker reads a worker's number; what it returns looks the worker up, once the rest of the form could be read.
func (f *Form) termsWorker(tx *models.Tx, name string) func() (uuid.UUID, error) {
	number := f.Whole(name)
	if f.Value(name) == "" {
		f.fault(name, "page.fault.number_needed", nil)
	}
	return func() (uuid.UUID, error) {
		w, err := workerByNumber(tx, number)
		if err == nil && w == nil {
			err = models.FaultAt("/"+name, "page.fault.no_such_worker", payroll.Terms{"number": strconv.FormatInt(number, 10)})
		}
		if err != nil {
			return uuid.Nil, err
		}
		return w.ID, nil
	}
}

// contractFaults points what is wrong with a contract at its form.
func contractFaults(err error) error {
	return inForm(err, "/worker_id", "/number", "/day_minutes", "/day_hours")
}

func newContract(v *visit) (*answer, error) {
	f, err := v.form(contractFields...)
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		c, err := readContract(tx, f, models.ContractContent{})
		if err == nil {
			_, _, err = models.Create(tx, f.ID, c)
		}
		return contractFaults(err)
	})
	if err != nil {
		return v.again(f, err, contractsPage)
	}
	return seeOther("/contracts/"+f.ID.String(), "contract_kept"), nil
}

// oneContract is a contract with how it stands, and what was offered on its days.
type oneContract struct {
	contractRow
	Standing *payrun.ContractStanding
	Unknown  string // why it cannot be told how it stands
	Days     []models.ContractDay
	Week     []Option
}

func contractPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := oneContract{Week: v.contractWeek()}
	err = v.view(func(tx *models.Tx) error { return page.read(tx, v, id) })
	if err != nil {
		return nil, err
	}
	c := page.Content
	if f == nil {
		f = newForm(map[string]string{"number": strconv.FormatInt(page.Number, 10), "job_order": c.JobOrder, "first_day": isoOf(c.FirstDay.Date), "last_day": isoOf(c.LastDay.Date),
			"day_hours": decimalHours(c.DayMinutes).String(), "offered_rate": strings.TrimSuffix(c.OfferedRate.String(), "00"), "rate_source": c.RateSource, "settle_week": isoOf(c.SettleWeek.Date)})
		for _, day := range c.Workdays {
			f.Add("workdays", string(day))
		}
	}
	for i := range page.Week {
		page.Week[i].Chosen = f.Holds("workdays", page.Week[i].Value)
	}
	f.Keep(page.Version)
	return show("contract", &page).with(f), nil
}

func (p *oneContract) read(tx *models.Tx, v *visit, id uuid.UUID) error {
	kept, err := models.Get[models.ContractContent](tx, id)
	if err != nil {
		return err
	}
	rows, err := contractRows(tx, []models.Contract{*kept})
	if err != nil {
		return err
	}
	p.contractRow = rows[0]
	if p.Days, err = models.ContractDaysOf(tx, id); err != nil {
		return err
	}
	p.Standing, p.Unknown, err = v.contractStanding(tx, id)
	return err
}

// contractStanding tells how a contract stands today, or in the reader's words why nobody can tell.
func (v *visit) contractStanding(tx *models.Tx, id uuid.UUID) (*payrun.ContractStanding, string, error) {
	today, err := payrun.Today(tx)
	if err != nil {
		return nil, "", err
	}
	standing, err := payrun.StandingOfContract(tx, v.Books, id, today)
	why, err := v.explained(err)
	return standing, why, err
}

func changeContract(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(contractFields...)
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		kept, err := models.Get[models.ContractContent](tx, id)
		if err != nil {
			return err
		}
		c, err := readContract(tx, f, kept.Content)
		if err == nil {
			_, err = models.Update(tx, id, f.Version, c)
		}
		return contractFaults(err)
	})
	if err != nil {
		return v.again(f, err, contractPage)
	}
	return seeOther("/contracts/"+id.String(), "contract_kept"), nil
}

// contractDay is what was offered on a day of a contract.
type contractDay struct {
	contractRow
	Day dated.Date          // zero where it is not chosen yet
	Old *models.ContractDay // what is recorded of it; nil: nothing
}

func contractDayPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := contractDay{Day: v.day("on")}
	if f != nil {
		if day, err := dated.ParseDate(f.Value("workday")); err == nil {
			page.Day = day
		}
	}
	err = v.view(func(tx *models.Tx) error { return page.read(tx, id) })
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = newForm(map[string]string{"workday": isoOf(page.Day), "kind": string(models.OfferedDay)})
		if page.Old != nil {
			c := page.Old.Content
			f = newForm(map[string]string{"workday": isoOf(page.Day), "kind": string(c.Kind), "offered_hours": decimalHours(c.OfferedMinutes).String(), "note": c.Note})
		}
	}
	return show("contract_day", &page).with(f), nil
}

func (p *contractDay) read(tx *models.Tx, id uuid.UUID) error {
	kept, err := models.Get[models.ContractContent](tx, id)
	if err != nil {
		return err
	}
	rows, err := contractRows(tx, []models.Contract{*kept})
	if err != nil {
		return err
	}
	p.contractRow = rows[0]
	p.Old, err = contractDayOn(tx, id, p.Day)
	return err
}

// contractDayOn is what stands recorded of a day of a contract, nil where nothing does.
func contractDayOn(tx *models.Tx, contract uuid.UUID, day dated.Date) (*models.ContractDay, error) {
	days, err := models.ContractDaysOf(tx, contract)
	if err != nil {
		return nil, err
	}
	if i := slices.IndexFunc(days, func(d models.ContractDay) bool { return d.Content.Workday.Date == day }); i >= 0 {
		return &days[i], nil
	}
	return nil, nil
}

// recordContractDay records what was offered on a day, in place of what was recorded of it before.
func recordContractDay(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("workday", "kind", "offered_hours", "note", "reason")
	if err != nil {
		return nil, err
	}
	c := models.ContractDayContent{ContractID: id, Workday: models.Day(f.Day("workday")), Kind: models.ContractDayKind(f.Value("kind")), Note: f.Value("note")}
	c.OfferedMinutes = f.usualDay("offered_hours", 0)
	f.needDay("workday")
	err = f.Faulty()
	if err == nil {
		err = v.in(func(tx *models.Tx) error {
			if _, err := models.Get[models.ContractContent](tx, id); err != nil {
				return err
			}
			how := models.Recording{RecordedAt: tx.Now, Reason: f.Value("reason")}
			if old, err := uuid.Parse(f.Value("old")); err == nil {
				how.Supersedes = &old
			}
			_, _, err := models.RecordContractDay(tx, f.ID, c, how)
			return inForm(err, "/offered_minutes", "/offered_hours", "/supersedes", "/workday")
		})
	}
	if err != nil {
		return v.again(f, err, contractDayPage)
	}
	return seeOther("/contracts/"+id.String(), "contract_day"), nil
}
