package models

import (
	"math"
	"strings"
	"time"

	"github.com/google/uuid"
)

// TallyAnswer is what a worker says of a tally: that it is right, or that it is not, and why. The last word counts; a disputed tally is paid as
// recorded until it is corrected.
type TallyAnswer struct {
	Keyed
	TallyID    uuid.UUID `json:"tally_id"`
	Answer     Answer    `json:"answer"`
	Note       string    `json:"note,omitempty"`
	AnsweredAt time.Time `json:"answered_at"`
	AnsweredBy uuid.UUID `json:"answered_by"`
}

// TableName tells gorm the table.
func (TallyAnswer) TableName() string { return "tally_answers" }

// Answer is a worker's word on a tally.
type Answer string

// The answers to a tally.
const (
	Confirmed Answer = "confirmed"
	Disputed  Answer = "disputed"
)

// AnswerTally records a worker's word on one of their tallies that stands. Repeats are answered as by Create.
func AnswerTally(tx *Tx, worker, tally, id uuid.UUID, answer Answer, note string) (*TallyAnswer, bool, error) {
	note = strings.TrimSpace(note)
	hash := ContentHash([]any{tally, answer, note})
	var stored TallyAnswer
	if err := tx.DB().Where("id = ?", id).Limit(1).Find(&stored).Error; err != nil {
		return nil, false, err
	}
	if id != uuid.Nil && stored.ID == id {
		return &stored, true, sameContent(stored.ContentHash, hash)
	}
	c := NewChecker(tx)
	c.OneOf("/answer", string(answer), string(Confirmed), string(Disputed))
	if c.OptionalText("/note", &note, longText); answer == Disputed && note == "" {
		c.Fault("/note", "fault.dispute_note_needed", nil)
	}
	faults, err := c.Done()
	if err == nil {
		err = Faulty(faults)
	}
	if err != nil {
		return nil, false, err
	}
	if err := tx.ownTally(worker, tally); err != nil {
		return nil, false, err
	}
	a := &TallyAnswer{Keyed: Keyed{ID: id, ContentHash: hash}, TallyID: tally, Answer: answer, Note: note, AnsweredAt: tx.Now, AnsweredBy: tx.Actor}
	if err := tx.DB().Create(a).Error; err != nil {
		return nil, false, err
	}
	return a, false, tx.Audit(Audit{Action: string(answer), SubjectKind: "tallies", SubjectID: tally, After: a, Reason: note})
}

// SaidOfTally is a worker's word on a tally, with the name of the account that gave it.
type SaidOfTally struct {
	TallyAnswer
	Author string `json:"author"`
}

// AnswersOf reads what was said of tallies, in order.
func AnswersOf(tx *Tx, tallies []uuid.UUID) ([]SaidOfTally, error) {
	answers, err := List[TallyAnswer](tx, Page{Limit: math.MaxInt32 - 1}, OneOf("tally_id", tallies))
	if err != nil {
		return nil, err
	}
	return WithAuthors(tx, answers)
}

// WithAuthors names whoever gave each answer.
func WithAuthors(tx *Tx, answers []TallyAnswer) ([]SaidOfTally, error) {
	by := make([]uuid.UUID, len(answers))
	for i := range answers {
		by[i] = answers[i].AnsweredBy
	}
	names, err := AccountNames(tx, by)
	said := make([]SaidOfTally, len(answers))
	for i, a := range answers {
		said[i] = SaidOfTally{a, names[a.AnsweredBy]}
	}
	return said, err
}

// LastAnswers is the last word on each of these tallies on which there is one.
func LastAnswers(tx *Tx, tallies []uuid.UUID) (map[uuid.UUID]*SaidOfTally, error) {
	answers, err := AnswersOf(tx, tallies)
	last := make(map[uuid.UUID]*SaidOfTally, len(answers))
	for i := range answers {
		last[answers[i].TallyID] = &answers[i]
	}
	return last, err
}

// FindLastAnswers asks for the last word on each tally of a worker, or of a provisional hand who turned out to be them, on the workdays from one through another.
func FindLastAnswers(b *Batch, worker uuid.UUID, first, last Date) map[uuid.UUID]*SaidOfTally {
	var said []SaidOfTally
	b.Find(b.DB().Raw(`SELECT a.*, c.name AS author FROM tallies t
		JOIN tally_answers a ON a.employer_id = t.employer_id AND a.tally_id = t.id
		JOIN accounts c ON c.employer_id = a.employer_id AND c.id = a.answered_by
		WHERE t.employer_id = ? AND t.worker_id IN (SELECT w.id FROM workers w WHERE w.employer_id = ? AND (w.id = ? OR w.same_as = ?))
		  AND t.workday BETWEEN ? AND ? ORDER BY a.seq`, b.Employer, b.Employer, worker, worker, first, last), &said)
	answers := map[uuid.UUID]*SaidOfTally{}
	b.Then(func() error {
		for i := range said {
			answers[said[i].TallyID] = &said[i]
		}
		return nil
	})
	return answers
}

// ownTally wants a tally that stands and is the worker's, or a provisional hand's who turned out to be them.
func (t *Tx) ownTally(worker, tally uuid.UUID) error {
	var kept Tally
	err := t.DB().Scopes(OfPerson(t.Employer, worker)).Where("id = ?", tally).Take(&kept).Error
	if err != nil {
		return translate(err)
	}
	if kept.SupersededBy != nil {
		return &Error{Kind: Conflict, Key: "problem.superseded", Terms: map[string]any{"by": kept.SupersededBy.String()}}
	}
	return nil
}

// Chain returns a record with everything that it took the place of and everything that took its place, oldest first.
func Chain[C any](tx *Tx, id uuid.UUID) ([]Recorded[C], error) {
	table := tableOf[C]()
	var chain []Recorded[C]
	err := tx.DB().Raw(`WITH RECURSIVE later AS (
			SELECT id, superseded_by FROM `+table+` WHERE employer_id = @employer AND id = @id
			UNION SELECT r.id, r.superseded_by FROM `+table+` r JOIN later l ON r.id = l.superseded_by WHERE r.employer_id = @employer),
		earlier AS (
			SELECT id FROM `+table+` WHERE employer_id = @employer AND id = @id
			UNION SELECT r.id FROM `+table+` r JOIN earlier e ON r.superseded_by = e.id WHERE r.employer_id = @employer)
		SELECT * FROM `+table+` WHERE employer_id = @employer AND id IN (SELECT id FROM later UNION SELECT id FROM earlier) ORDER BY seq`,
		map[string]any{"employer": tx.Employer, "id": id}).Scan(&chain).Error
	if err == nil && len(chain) == 0 {
		err = &Error{Kind: NotFound, Key: "problem.not_found"}
	}
	return chain, translate(err)
}
