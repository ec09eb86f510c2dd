package models

import (
	"strings"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// Contract is a contract that guarantees hours, such as one under the H-2A program (20 CFR 655.122(i)).
type Contract = Kept[ContractContent]

// ContractContent is what is set of a contract.
type ContractContent struct {
	Number      int64           `json:"number,omitempty"`
	WorkerID    uuid.UUID       `json:"worker_id"`
	JobOrder    string          `json:"job_order"`            // as the papers call it
	FirstDay    Date            `json:"first_day"`            // the first workday after arrival or the advertised day, the later
	LastDay     Date            `json:"last_day"`             // with its extensions
	Workdays    string          `json:"workdays"`             // the days of the week with work by the job order, 0 Sunday … 6 Saturday: "12345"
	DayMinutes  payroll.Minutes `json:"day_minutes"`          // of a workday by the job order
	OfferedRate payroll.Rate    `json:"offered_rate"`         // an hour; the highest that the contract and the law ask for
	RateSource  string          `json:"rate_source"`          // where that rate is from: the notice, the local book, the agreement
	SettleWeek  Date            `json:"settle_week,omitzero"` // first day of the week whose statement pays what falls short; that of the last day where it is left out
}

func (*ContractContent) table() string               { return "contracts" }
func (k *ContractContent) numberIn() *int64          { return &k.Number }
func (k *ContractContent) keep(old *ContractContent) { keepNumber(&k.Number, old.Number) }

// longestContract is how many days a contract may run, with its extensions.
const longestContract = 3 * 366

func (k *ContractContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	c.Range("/number", k.Number, 0, maxNumber)
	c.Reference("/worker_id", "workers", k.WorkerID)
	c.Text("/job_order", &k.JobOrder, shortText)
	c.Planned("/first_day", k.FirstDay.Date)
	if c.DayUntil("/last_day", k.LastDay.Date, k.FirstDay.AddDays(longestContract)) && k.LastDay.Before(k.FirstDay.Date) {
		c.Fault("/last_day", "fault.ends_before_start", nil)
	}
	k.checkWorkdays(c)
	c.Range("/day_minutes", int64(k.DayMinutes), 1, 24*60)
	if k.OfferedRate <= 0 {
		c.Fault("/offered_rate", "fault.not_positive", nil)
	}
	c.Text("/rate_source", &k.RateSource, longText)
	last := WeekOf(k.LastDay.Date, profile.Content.WeekStart)
	if k.SettleWeek.IsZero() {
		k.SettleWeek = Day(last)
	}
	if first := WeekOf(k.SettleWeek.Date, profile.Content.WeekStart); first != k.SettleWeek.Date {
		c.Fault("/settle_week", "fault.not_week_start", payroll.Terms{"nearest": first})
	} else if k.SettleWeek.Before(last) {
		c.Fault("/settle_week", "fault.settled_early", payroll.Terms{"last": k.LastDay.Date})
	}
	return c.Done()
}

func (k *ContractContent) checkWorkdays(c *Checker) {
	for i, d := range k.Workdays {
		if d < '0' || d > '6' || strings.ContainsRune(k.Workdays[:i], d) {
			c.Fault("/workdays", "fault.workdays", nil)
			return
		}
	}
	if k.Workdays == "" {
		c.Fault("/workdays", "fault.workdays", nil)
	}
}

// WorksOn tells whether a day is a workday by the job order.
func (k *ContractContent) WorksOn(day dated.Date) bool {
	return strings.ContainsRune(k.Workdays, '0'+rune(day.Weekday()))
}

// ContractDay says what was offered on a day of a contract, where that is more than was worked, or that its guarantee leaves the day out.
type ContractDay = Recorded[ContractDayContent]

// ContractDayContent says which day of which contract.
type ContractDayContent struct {
	ContractID     uuid.UUID       `json:"contract_id"`
	Workday        Date            `json:"workday"`
	Kind           ContractDayKind `json:"kind"`
	OfferedMinutes payroll.Minutes `json:"offered_minutes,omitempty"`
	Note           string          `json:"note,omitempty"` // such as who refused, and how it was offered
}

// ContractDayKind says what a record of a contract's day is about.
type ContractDayKind string

// Hours were offered; or the day is a federal holiday or the worker's religious day.
const (
	OfferedDay ContractDayKind = "offered"
	HolidayDay ContractDayKind = "holiday"
)

func (*ContractDayContent) table() string { return "contract_days" }

func (d *ContractDayContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	contract, err := Get[ContractContent](tx, d.ContractID)
	switch {
	case KindOf(err) == NotFound:
		c.Fault("/contract_id", "fault.unknown_reference", nil)
	case err != nil:
		return nil, err
	case d.Workday.Before(contract.Content.FirstDay.Date), d.Workday.After(contract.Content.LastDay.Date):
		c.Fault("/workday", "fault.outside_contract", payroll.Terms{"first": contract.Content.FirstDay.Date, "last": contract.Content.LastDay.Date})
	}
	c.OneOf("/kind", string(d.Kind), string(OfferedDay), string(HolidayDay))
	c.Range("/offered_minutes", int64(d.OfferedMinutes), 0, 24*60)
	c.OptionalText("/note", &d.Note, longText)
	return c.Done()
}

// RecordContractDay records a day of a contract, which has one record that stands. Repeats are answered as by Create.
func RecordContractDay(tx *Tx, id uuid.UUID, c ContractDayContent, how Recording) (*ContractDay, bool, error) {
	fresh, err := tx.Missing("contract_days", []uuid.UUID{id})
	if err != nil {
		return nil, false, err
	}
	if fresh[id] {
		taken := tx.DB().Model(&ContractDay{}).Where("contract_id = ? AND workday = ? AND superseded_by IS NULL", c.ContractID, c.Workday)
		if how.Supersedes != nil {
			taken = taken.Where("id <> ?", *how.Supersedes)
		}
		var others int64
		if err := taken.Count(&others).Error; err != nil {
			return nil, false, translate(err)
		}
		if others > 0 {
			return nil, false, FaultAt("/workday", "fault.taken", nil)
		}
	}
	return Record(tx, id, c, how)
}
