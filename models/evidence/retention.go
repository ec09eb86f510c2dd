package evidence

import (
	"strings"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/climbs"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Retention says how long an employer's records have to be kept.
type Retention struct {
	Periods []Period
	Kept    []Kept
	First   dated.Date // the first day of which there is a record that is over and done with; zero where there is none
	// Before is the day before which no record may be deleted: the first day and the longest period of all. Zero where there is no record.
	Before dated.Date

	today dated.Date
	open  map[rulebook.RecordKind]bool // kinds for some of which no book names a period
}

// Kept is what there is of a kind of record, in one place.
type Kept struct {
	Kind        rulebook.RecordKind
	What        string // the table
	Records     int64
	First, Last dated.Date // the days that they tell of; zero where there are none
	// Until is the last day on which all of them have to be kept: by the longest period for the kind, or where no book names one for all of it, by the longest
	// of all. Zero where there are none.
	Until dated.Date
}

// places says where the records of a kind stand, and which day each tells of. A rate tells of all the days on which it was in force, and a worker's entry of
// all those of the work, so that those are counted from today; so is gear, which stays in use until it comes back,
// and what was seen of somebody's work, since California wants records of how an employee performs kept until three years after the employment ends (Labor Code 1198.5(c)(1), read on
// secondary copies), and nobody has said that coaching is not among them.
// An instant counts by its day in UTC, and a year's summary of injuries by the day of its certification, neither of which comes sooner than what it tells of.
var places = []struct {
	kind      rulebook.RecordKind
	table     string
	from, day string // the first and the last day that a row tells of
}{
	{rulebook.PayrollRecords, "workers", "started_on", ""},
	{rulebook.PayrollRecords, "pay_runs", "week_start", "payday"},
	{rulebook.StatementRecords, "statements", "week_start", "week_start"},
	{rulebook.TimeRecords, "time_entries", "workday", "workday"},
	{rulebook.TimeRecords, "tallies", "workday", "workday"},
	{rulebook.TimeRecords, "lots", "workday", "workday"},
	{rulebook.TimeRecords, "break_records", "workday", "workday"},
	{rulebook.TimeRecords, "answered_breaks", "workday", "workday"},
	{rulebook.TimeRecords, "crew_sheets", "workday", "workday"},
	{rulebook.TimeRecords, "piece_rates", "effective_on", ""},
	{rulebook.TimeRecords, "hourly_rates", "effective_on", ""},
	{rulebook.PayrollRecords, "bonuses", "earned_from", "pay_week"},
	{rulebook.H2ARecords, "contracts", "first_day", "last_day"},
	{rulebook.H2ARecords, "contract_days", "workday", "workday"},
	{rulebook.SickLeaveRecords, "sick_uses", "workday", "workday"},
	{rulebook.SickLeaveRecords, "sick_entries", "on_date", "on_date"},
	{IncidentRecords, "incidents", "happened_on", "happened_on"},
	{IncidentRecords, "incident_events", "happened_at", "happened_at"},
	{IncidentRecords, "injury_summaries", "certified_on", "certified_on"},
	{TrainingRecords, "training_meetings", "held_on", "held_on"},
	{TrainingRecords, "training_sign_offs", "held_on", "held_on"},
	{SafetyRecords, "filled_checklists", "workday", "filled_on"},
	{SafetyRecords, "stops", "workday", "workday"},
	{SafetyRecords, "rule_overrides", "workday", "workday"},
	{SafetyRecords, "climb_setups", "workday", "workday"},
	{SafetyRecords, "clearances", "workday", "workday"},
	{SafetyRecords, "heat_plans", "workday", "workday"},
	{SafetyRecords, "heat_readings", "read_at", "read_at"},
	{SafetyRecords, "equipment_events", "happened_on", "happened_on"},
	{SafetyRecords, "gear_issues", "issued_on", ""},
	{CoachingRecords, "work_standards", "effective_on", ""},
	{CoachingRecords, "bunch_checks", "workday", ""},
}

// FindRetention makes the report, by the rulebooks of pay and of safety that govern the employer's gardens and the employer's local books, as they stand on the
// day of the transaction.
func FindRetention(tx *models.Tx, books *rulebook.Library, climbing climbs.Books) (*Retention, error) {
	r := &Retention{today: dated.DateOf(tx.Now), open: map[rulebook.RecordKind]bool{}}
	if err := r.findPeriods(tx, books, climbing); err != nil {
		return nil, err
	}
	for _, p := range places {
		last := p.day
		if last == "" {
			last = p.from
		}
		var found struct {
			Records     int64
			First, Last models.Date
		}
		err := tx.DB().Raw("SELECT count(*) AS records, min("+inDays(tx, p.from)+") AS first, max("+inDays(tx, last)+") AS last FROM "+p.table+" WHERE employer_id = ?", tx.Employer).Scan(&found).Error
		if err != nil {
			return nil, err
		}
		k := Kept{Kind: p.kind, What: p.table, Records: found.Records, First: found.First.Date, Last: found.Last.Date}
		if k.Records > 0 {
			r.count(&k, p.day == "")
		}
		r.Kept = append(r.Kept, k)
	}
	if longest := r.Longest(); longest != nil && !r.First.IsZero() {
		r.Before = longest.Until(r.First)
	}
	return r, nil
}

// inDays is a column as a day: an instant, as "read_at", as its day in UTC.
func inDays(tx *models.Tx, column string) string {
	switch {
	case !strings.HasSuffix(column, "_at"):
		return column
	case tx.Dialect() == migrations.Postgres:
		return "CAST(" + column + " AT TIME ZONE 'UTC' AS date)"
	}
	return "date(" + column + ")"
}

// count works out until when records have to be kept. What goes by weeks is counted from the week's last day.
func (r *Retention) count(k *Kept, lasting bool) {
	switch {
	case lasting && r.today.After(k.Last):
		k.Last = r.today
	case k.What == "statements", k.What == "bonuses":
		k.Last = k.Last.AddDays(6)
	}
	longest := r.longest(k.Kind, k.Last)
	if longest == nil || r.open[k.Kind] {
		longest = r.longest("", k.Last)
	}
	if longest != nil {
		k.Until = longest.Until(k.Last)
	}
	if !lasting && (r.First.IsZero() || k.First.Before(r.First)) {
		r.First = k.First
	}
}
