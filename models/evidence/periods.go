package evidence

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/localbooks"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
	"palmero/safety"
	saferules "palmero/safety/rulebook"
)

// The kinds of record of which the rulebooks of safety speak, or none does.
const (
	IncidentRecords rulebook.RecordKind = "incidents" // for years from the end of the one that they are of (29 CFR 1904.33)
	TrainingRecords rulebook.RecordKind = "training"  // topic by topic
	SafetyRecords   rulebook.RecordKind = "safety"    // no book says how long
	CoachingRecords rulebook.RecordKind = "coaching"  // what crew leads saw of the work; no book says how long
)

// FromYearEnd counts the years from the last day of the year of the record.
const FromYearEnd rulebook.KeepFrom = "year_end"

// Period is how long the law, or with a topic of its own the employer, wants records of a kind kept.
type Period struct {
	rulebook.Retention          // Book is "" for a topic of the employer's own
	Months             int      // on top of the years
	Topic              string   // of a training; "" for the other kinds
	Gardens            []string // of which gardens the book governs
}

// Until returns the last day on which a record of a day must still be kept.
func (p *Period) Until(day dated.Date) dated.Date {
	if p.From == FromYearEnd {
		return dated.NewDate(day.Year()+p.Years, time.December, 31)
	}
	return safety.MonthsAfter(day, 12*p.Years+p.Months)
}

func (r *Retention) findPeriods(tx *models.Tx, books *rulebook.Library, climbing climbs.Books) error {
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
		for _, p := range book.Retention(r.today) {
			r.Periods = append(r.Periods, Period{Retention: p, Gardens: governed[key]})
		}
		if err := r.addIncidents(climbing.Rules, key, governed[key]); err != nil {
			return err
		}
	}
	return r.addTraining(tx, climbing, governed)
}

// addIncidents adds how long the book of safety that is nearest to a rulebook wants the log of injuries kept.
func (r *Retention) addIncidents(rules *saferules.Library, key string, gardens []string) error {
	book, ok := rules.For(key)
	if !ok {
		r.open[IncidentRecords] = true
		return nil
	}
	years, err := book.Number(saferules.KeepYears, r.today)
	if err != nil {
		return err
	}
	keep := rulebook.Keep{Years: int(years.Value.Float()), From: FromYearEnd}
	r.Periods = append(r.Periods, Period{Retention: rulebook.Retention{Kind: IncidentRecords, Keep: keep, Book: book.Key(), Source: years.Source}, Gardens: gardens})
	return nil
}

// addTraining adds the periods of the topics, retired ones too. A record that is kept for as long as it is the latest has none.
func (r *Retention) addTraining(tx *models.Tx, climbing climbs.Books, governed map[string][]string) error {
	topics, err := climbs.FindTopics(tx, climbing, r.today)
	if err != nil {
		return err
	}
	r.open[TrainingRecords] = len(topics.Without) > 0
	for _, t := range topics.All {
		for _, b := range t.Books {
			r.addTopic(t.Key, b.Book, b.Record.KeepMonths, b.Record.Source, governed[b.Book])
		}
	}
	own, err := models.All[models.TrainingTopicContent](tx)
	for _, t := range slices.SortedFunc(maps.Values(own), func(a, b *models.TrainingTopic) int { return cmp.Compare(a.Seq, b.Seq) }) {
		c := &t.Content
		r.addTopic(c.Topic, "", int(c.KeepMonths), dated.Source{Title: c.Source, Section: c.Section, Link: c.Link}, nil)
	}
	return err
}

func (r *Retention) addTopic(topic, book string, months int, source dated.Source, gardens []string) {
	if months == 0 {
		r.open[TrainingRecords] = true
		return
	}
	keep := rulebook.Keep{Years: months / 12, From: rulebook.FromRecord}
	r.Periods = append(r.Periods, Period{Retention: rulebook.Retention{Kind: TrainingRecords, Keep: keep, Book: book, Source: source}, Months: months % 12, Topic: topic, Gardens: gardens})
}

// longest returns the period for a kind of record, or with "" of all, that keeps a record of a day longest; nil where no book names one. A period that begins with
// something that is not recorded here, as the certification of a contract, comes before the work and is counted from the work, which keeps longer.
func (r *Retention) longest(kind rulebook.RecordKind, day dated.Date) (longest *Period) {
	for i := range r.Periods {
		if p := &r.Periods[i]; (kind == "" || p.Kind == kind) && (longest == nil || p.Until(day).After(longest.Until(day))) {
			longest = p
		}
	}
	return longest
}

// Longest is the period that keeps the first record longest; nil where no book that governs a garden names one.
func (r *Retention) Longest() *Period {
	day := r.First
	if day.IsZero() {
		day = r.today
	}
	return r.longest("", day)
}
