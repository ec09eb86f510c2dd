package evidence

import (
	"cmp"
	"slices"

	"palmero/models"
	"palmero/models/localbooks"
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
}

// Period is how long the law wants records of a kind kept.
type Period struct {
	rulebook.Retention
	Gardens []string // of which gardens the book governs
}

// Kept is what there is of a kind of record, in one place.
type Kept struct {
	Kind        rulebook.RecordKind
	What        string // the table
	Records     int64
	First, Last dated.Date // the days that they tell of; zero where there are none
	Until       dated.Date // last day on which all of them have to be kept, by the longest period for the kind; zero where there are none
}

// places says where the records of a kind stand, and which day each tells of. A rate tells of all the days on which it was in force, and a worker's entry of
// all those of the work, so that those are counted from today.
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
}

// FindRetention makes the report, by the rulebooks that the employer's gardens name and the employer's local books, as they stand on the day of the transaction.
func FindRetention(tx *models.Tx, books *rulebook.Library) (*Retention, error) {
	r := &Retention{}
	today := dated.DateOf(tx.Now)
	if err := r.findPeriods(tx, books, today); err != nil {
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
		err := tx.DB().Raw("SELECT count(*) AS records, min("+p.from+") AS first, max("+last+") AS last FROM "+p.table+" WHERE employer_id = ?", tx.Employer).Scan(&found).Error
		if err != nil {
			return nil, err
		}
		k := Kept{Kind: p.kind, What: p.table, Records: found.Records, First: found.First.Date, Last: found.Last.Date}
		if k.Records > 0 {
			r.count(&k, p.day == "", today)
		}
		r.Kept = append(r.Kept, k)
	}
	if longest := r.longest(""); longest != nil && !r.First.IsZero() {
		r.Before = longest.Until(r.First)
	}
	return r, nil
}

// count works out until when records have to be kept. What goes by weeks is counted from the week's last day.
func (r *Retention) count(k *Kept, lasting bool, today dated.Date) {
	switch {
	case lasting && today.After(k.Last):
		k.Last = today
	case k.What == "statements":
		k.Last = k.Last.AddDays(6)
	}
	if longest := r.longest(k.Kind); longest != nil {
		k.Until = longest.Until(k.Last)
	}
	if !lasting && (r.First.IsZero() || k.First.Before(r.First)) {
		r.First = k.First
	}
}

func (r *Retention) findPeriods(tx *models.Tx, books *rulebook.Library, today dated.Date) error {
	gardens, err := models.All[models.GardenContent](tx)
	if err != nil {
		return err
	}
	law, err := localbooks.Of(tx, books)
	if err != nil {
		return err
	}
	governed := map[string][]string{}
	for _, g := range gardens {
		governed[g.Content.Rulebook] = append(governed[g.Content.Rulebook], g.Content.Name)
	}
	for _, key := range law.Keys() {
		book, ok := law.Governing(key)
		if !ok || governed[key] == nil {
			continue
		}
		slices.Sort(governed[key])
		for _, p := range book.Retention(today) {
			r.Periods = append(r.Periods, Period{p, governed[key]})
		}
	}
	return nil
}

// longest returns the longest period for a kind of record, or with "" of all; nil where no book names one. A period that begins with something
// that is not recorded here, as the certification of a contract, comes before the work and is counted from the work, which keeps longer.
func (r *Retention) longest(kind rulebook.RecordKind) *Period {
	var of []Period
	for _, p := range r.Periods {
		if kind == "" || p.Kind == kind {
			of = append(of, p)
		}
	}
	if len(of) == 0 {
		return nil
	}
	longest := slices.MaxFunc(of, func(a, b Period) int { return cmp.Compare(a.Years, b.Years) })
	return &longest
}

// Longest is the longest period of all; nil where no book that governs a garden names one.
func (r *Retention) Longest() *Period { return r.longest("") }
