package review

import (
	"cmp"
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/heatday"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Severity says how much hangs on an item.
type Severity string

// The severities, the worst first: somebody may be in danger now; a decision is due; something has to be seen to in time.
const (
	Danger Severity = "danger"
	Decide Severity = "decide"
	Plan   Severity = "plan"
)

// Severities lists them, the worst first.
var Severities = []Severity{Danger, Decide, Plan}

// Kind is what an item is about.
type Kind string

// The kinds of items.
const (
	StopUnheard      Kind = "stop_unheard"      // a crew lead has not acknowledged a stop that holds
	IncidentDeadline Kind = "incident_deadline" // a report, a decision or a summary is due
	ChecklistFailed  Kind = "checklist_failed"  // a list that found what stops the climb, and that nobody has reviewed
	Checklist        Kind = "checklist"         // a list that nobody has reviewed
	CoolDownOwed     Kind = "cool_down_owed"    // a cool-down rest that was due and that nobody recorded
	EquipmentOut     Kind = "equipment_out"     // out of service until somebody puts it back or retires it
	WithoutClearance Kind = "without_clearance" // work that no clearance covers
	InspectionDue    Kind = "inspection_due"    // an inspection by a competent person is overdue
	RetirementDue    Kind = "retirement_due"    // past its last day of use
	TrainingEnded    Kind = "training_ended"
	TrainingEnds     Kind = "training_ends"
	GearDue          Kind = "gear_due" // not given back by its day
	StockLow         Kind = "stock_low"
)

// Kinds lists them.
var Kinds = []Kind{
	StopUnheard, IncidentDeadline, ChecklistFailed, Checklist, CoolDownOwed, EquipmentOut, WithoutClearance, InspectionDue, RetirementDue, TrainingEnded, TrainingEnds, GearDue, StockLow,
}

// Item is one thing that waits.
type Item struct {
	Kind     Kind       `json:"kind"`
	Severity Severity   `json:"severity"`
	Since    dated.Date `json:"since"`    // the day from which it waits; of what is still to come, the day by which it has to be done
	Subjects []Subject  `json:"subjects"` // whom and what it is about
	Text     string     `json:"text"`     // put into words by Speak
	Action   Action     `json:"action"`

	key   string // of the text
	terms payroll.Terms
}

// Subject is somebody or something that an item is about.
type Subject struct {
	Kind string    `json:"kind"` // such as "worker", or the table of the record
	ID   uuid.UUID `json:"id"`
	Name string    `json:"name"` // "" where it has none
}

// Action is the one thing that settles an item.
type Action struct {
	Method string      `json:"method"`
	Path   string      `json:"path"`
	By     models.Role `json:"by"`   // who does it
	Text   string      `json:"text"` // put into words by Speak

	verb string
}

// Queue is what waits.
type Queue struct {
	On    dated.Date `json:"on"`
	Items []Item     `json:"items"`
	Cut   []Kind     `json:"cut"`            // kinds of which there is more than one look takes in: the rest shows when these are settled
	Next  string     `json:"next,omitempty"` // the place after which the next page begins; "": there is no more
}

// most is how many of a kind one look takes in.
const most = 500

// Question asks for a page of the queue.
type Question struct {
	Within int    // how many days ahead the end of a training is told; negative: as many as the rulebooks say
	After  string // the place that the last page ended at; "": from the beginning
	Limit  int
}

// looking is the state of gathering.
type looking struct {
	tx    *models.Tx
	books climbs.Books
	today dated.Date
	q     Question
	Queue
}

// Look gathers what waits today.
func Look(tx *models.Tx, books climbs.Books, q Question) (*Queue, error) {
	today, err := heatday.Today(tx)
	if err != nil {
		return nil, err
	}
	l := &looking{tx: tx, books: books, today: today, q: q, Queue: Queue{On: today, Items: []Item{}, Cut: []Kind{}}}
	for _, find := range []func() error{l.stops, l.deadlines, l.checklists, l.coolDowns, l.equipment, l.exceptions, l.due, l.training, l.gear} {
		if err := find(); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(l.Items, func(a, b Item) int { return cmp.Compare(a.place(), b.place()) })
	l.page()
	return &l.Queue, nil
}

// page leaves the items of the page that is asked for.
func (l *looking) page() {
	from := slices.IndexFunc(l.Items, func(i Item) bool { return i.place() > l.q.After })
	if from < 0 {
		from = len(l.Items)
	}
	l.Items = l.Items[from:]
	if len(l.Items) > l.q.Limit {
		l.Items = l.Items[:l.q.Limit]
		l.Next = l.Items[l.q.Limit-1].place()
	}
}

// place is where an item stands in the queue; it stays the same while the item waits.
func (i *Item) place() string {
	parts := []string{string('0' + rune(slices.Index(Severities, i.Severity))), i.Since.String(), string('a' + rune(slices.Index(Kinds, i.Kind)))}
	for _, s := range i.Subjects {
		parts = append(parts, s.Name, s.ID.String())
	}
	return strings.Join(append(parts, i.key), "\x1f")
}

// IsPlace tells whether a text can be a place in the queue.
func IsPlace(s string) bool { return strings.Count(s, "\x1f") >= 3 && len(s) < 2_000 }

// add puts an item into the queue.
func (l *looking) add(kind Kind, severity Severity, since dated.Date, do Action, key string, terms payroll.Terms, subjects ...Subject) {
	l.Items = append(l.Items, Item{Kind: kind, Severity: severity, Since: since, Subjects: append([]Subject{}, subjects...), Action: do, key: key, terms: terms})
}

// whole notes where there is more of a kind than one look takes in, and returns how many of it are taken.
func (l *looking) whole(kind Kind, n int) int {
	if n > most {
		l.Cut = append(l.Cut, kind)
	}
	return min(n, most)
}

// post is an action of the safety officer's.
func post(verb string, path ...string) Action {
	return Action{Method: "POST", Path: "/api/v1/" + strings.Join(path, "/"), By: models.RoleSafetyOfficer, verb: verb}
}

// Speak puts the queue into words.
func (q *Queue) Speak(say func(key string, terms payroll.Terms) string) {
	for i := range q.Items {
		item := &q.Items[i]
		item.Text, item.Action.Text = say(item.key, item.terms), say("review.do."+item.Action.verb, nil)
	}
}
