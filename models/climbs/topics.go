package climbs

import (
	"fmt"
	"maps"
	"slices"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/rulebook"
)

// Topic is something that people are trained in: by the safety rulebooks of the employer's gardens, by the employer's own word, or both.
type Topic struct {
	Key   string
	Books []BookTopic           // in the order of the books' keys
	Own   *models.TrainingTopic // nil: only of the rulebooks
}

// BookTopic is what one rulebook says of a topic.
type BookTopic struct {
	Book string
	Ways []string // the ways up that need it
	*rulebook.Topic
}

// Topics are the topics that are known on a day, in alphabetical order of their keys, and the rulebooks of gardens for which there is no safety rulebook, so that
// nobody knows what they ask for.
type Topics struct {
	All     []Topic
	Without []string
	notice  int    // the most days ahead in which a rulebook has the end of a training told
	basis   string // the section on which that rests
}

// FindTopics gathers the topics of a day.
func FindTopics(tx *models.Tx, books Books, day dated.Date) (*Topics, error) {
	gardens, err := models.All[models.GardenContent](tx)
	if err != nil {
		return nil, err
	}
	governing := map[string]bool{}
	for _, g := range gardens {
		governing[g.Content.Rulebook] = true
	}
	t, byKey := &Topics{}, map[string]*Topic{}
	for _, key := range slices.Sorted(maps.Keys(governing)) {
		book, ok := books.Rules.Book(key)
		if !ok {
			t.Without = append(t.Without, key)
			continue
		}
		if err := t.addBook(byKey, book, day); err != nil {
			return nil, err
		}
	}
	own, err := models.List[models.TrainingTopic](tx, models.Page{Limit: mostTopics}, models.Equal("retired", false))
	if err != nil {
		return nil, err
	}
	for i := range own {
		topicIn(byKey, own[i].Content.Topic).Own = &own[i]
	}
	for _, key := range slices.Sorted(maps.Keys(byKey)) {
		t.All = append(t.All, *byKey[key])
	}
	return t, nil
}

// mostTopics is how many topics of their own an employer is read to have.
const mostTopics = 1000

func topicIn(topics map[string]*Topic, key string) *Topic {
	if topics[key] == nil {
		topics[key] = &Topic{Key: key}
	}
	return topics[key]
}

func (t *Topics) addBook(topics map[string]*Topic, book *rulebook.Book, day dated.Date) error {
	table, err := book.Clearance(day)
	if err != nil {
		return err
	}
	notice, err := book.Number(rulebook.TrainingNotice, day)
	if err != nil {
		return err
	}
	if days := int(notice.Value.Float()); days > t.notice {
		t.notice, t.basis = days, notice.Source.Section
	}
	for key, topic := range table.Value.Topics {
		of := BookTopic{Book: book.Key(), Topic: topic, Ways: []string{}}
		for _, way := range table.Value.WayNames() {
			if slices.Contains(table.Value.Ways[way].Topics, key) {
				of.Ways = append(of.Ways, way)
			}
		}
		known := topicIn(topics, key)
		known.Books = append(known.Books, of)
	}
	return nil
}

// Find returns the topic of a key; nil where there is none.
func (t *Topics) Find(key string) *Topic {
	for i := range t.All {
		if t.All[i].Key == key {
			return &t.All[i]
		}
	}
	return nil
}

// Keys lists the keys of all topics.
func (t *Topics) Keys() []string {
	keys := make([]string, len(t.All))
	for i := range t.All {
		keys[i] = t.All[i].Key
	}
	return keys
}

// NoticeDays is how long ahead the end of a training is told by the rulebooks; where several govern, by the one that tells it earliest. It is zero where none governs.
func (t *Topics) NoticeDays() int { return t.notice }

// NoticeBasis is the section on which [Topics.NoticeDays] rests, "" where no rulebook governs.
func (t *Topics) NoticeBasis() string { return t.basis }

// End is the last day on which a sign-off holds, and why that day.
type End struct {
	Through dated.Date     // zero: it does not end
	Class   rulebook.Class // of the rule that ends it; "" for the day on a card
	Section string         // of its source
}

// End returns until when a sign-off of a day holds: the soonest end of all that ask for it. card is the last day by the worker's card, zero where there is none.
func (t *Topic) End(held, card dated.Date) (end End) {
	sooner := func(e End) {
		if !e.Through.IsZero() && (end.Through.IsZero() || e.Through.Before(end.Through)) {
			end = e
		}
	}
	sooner(End{Through: card})
	if t == nil {
		return end
	}
	for _, b := range t.Books {
		if b.Expires != nil {
			sooner(End{safety.MonthsAfter(held, b.Expires.Months), b.Expires.Class, b.Expires.Source.Section})
		}
	}
	if t.Own != nil && t.Own.Content.HoldsMonths > 0 {
		sooner(End{safety.MonthsAfter(held, int(t.Own.Content.HoldsMonths)), rulebook.House, t.Own.Content.Section})
	}
	return end
}

// KeepUntil is the last day through which the record of a sign-off of a day has to be kept at least; zero where it is kept for as long as it is the latest.
func (t *Topic) KeepUntil(held dated.Date) (until dated.Date) {
	later := func(months int) {
		if d := safety.MonthsAfter(held, months); months > 0 && d.After(until) {
			until = d
		}
	}
	if t == nil {
		return until
	}
	for _, b := range t.Books {
		later(b.Record.KeepMonths)
	}
	if t.Own != nil {
		later(int(t.Own.Content.KeepMonths))
	}
	return until
}

// TopicFaults tells what is wrong with an employer's own topic that the record cannot tell by itself: ways up that no rulebook knows.
func (b Books) TopicFaults(t models.TrainingTopicContent) (faults []payroll.Fault) {
	var known []string
	for _, key := range b.Rules.Keys() {
		book, _ := b.Rules.Book(key)
		known = append(known, book.Ways()...)
	}
	slices.Sort(known)
	known = slices.Compact(known)
	for i, way := range t.Ways {
		if !slices.Contains(known, way) {
			faults = append(faults, unknownWay(fmt.Sprintf("/ways/%d", i), way, known))
		}
	}
	return faults
}

// carry is something that a record must carry, and the section that says so.
type carry struct{ what, section string }

// carries lists what the record of a sign-off must carry.
func (t *Topic) carries() (all []carry) {
	for _, b := range t.Books {
		for _, what := range b.Record.Carries {
			all = append(all, carry{what, b.Record.Source.Section})
		}
	}
	if t.Own != nil {
		for _, what := range t.Own.Content.Carries {
			all = append(all, carry{what, t.Own.Content.Section})
		}
	}
	return all
}
