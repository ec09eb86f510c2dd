package models

import (
	"regexp"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// The records of training. Which topics the law knows stands in the safety rulebooks; how records come about is the business of package climbs.

// TrainingTopic is a topic that an employer adds to those of the safety rulebooks.
type TrainingTopic = Kept[TrainingTopicContent]

// TrainingTopicContent is what is set of a topic: what it rests on, who needs it, how long a sign-off holds, and what the record must carry.
type TrainingTopicContent struct {
	Topic       string   `json:"topic"` // its key, such as "first_aid"
	TitleEN     string   `gorm:"column:title_en" json:"title_en"`
	TitleES     string   `gorm:"column:title_es" json:"title_es"`
	Source      string   `json:"source"`  // such as the title of a law, or the employer's own program
	Section     string   `json:"section"` // of the source
	Link        string   `json:"link,omitempty"`
	Ways        WordList `json:"ways,omitempty"`         // the ways up that need it; none: every way
	Operations  WordList `json:"operations,omitempty"`   // identifiers of the operations that need it; none: every operation
	Carries     WordList `json:"carries,omitempty"`      // what the record must carry beside what every record does
	HoldsMonths int64    `json:"holds_months,omitempty"` // how long a sign-off holds; 0: it does not expire
	KeepMonths  int64    `json:"keep_months,omitempty"`  // how long the record is kept at least
	Retired     bool     `json:"retired,omitempty"`      // no longer asked for
}

func (*TrainingTopicContent) table() string { return "training_topics" }

var topicKey = regexp.MustCompile(`^[a-z][a-z0-9_]{1,62}$`)

func (t *TrainingTopicContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	if !topicKey.MatchString(t.Topic) {
		c.Fault("/topic", "fault.topic_key", nil)
	}
	c.Text("/title_en", &t.TitleEN, shortText)
	c.Text("/title_es", &t.TitleES, shortText)
	c.Text("/source", &t.Source, longText)
	c.Text("/section", &t.Section, shortText)
	c.OptionalText("/link", &t.Link, longText)
	c.Range("/holds_months", t.HoldsMonths, 0, 600)
	c.Range("/keep_months", t.KeepMonths, 0, 600)
	c.words("/carries", t.Carries, TrainingCarries())
	c.identifiers("/operations", "operations", t.Operations)
	return c.Done()
}

// What a record of training can be asked to carry beside worker, topic, day, trainer with qualification, language, and how understanding was checked.
const (
	CarriesAcknowledgement = "acknowledgement" // the worker's own
	CarriesDetail          = "detail"          // what exactly: the model of a lift, the material used
	CarriesThrough         = "through_date"    // the last day by the card
)

// TrainingCarries lists them.
func TrainingCarries() []string {
	return []string{CarriesAcknowledgement, CarriesDetail, CarriesThrough}
}

// Trained is what the sign-offs of one training have in common.
type Trained struct {
	Topic         string `json:"topic"`
	HeldOn        Date   `json:"held_on"`
	Trainer       string `json:"trainer"`
	Qualification string `json:"qualification"` // why the trainer may train
	Language      string `json:"language"`      // in which it was held
	Understanding string `json:"understanding"` // how it was checked that it was understood
	Detail        string `json:"detail,omitempty"`
}

func (t *Trained) checkTrained(c *Checker) {
	c.Text("/topic", &t.Topic, shortText)
	c.Day("/held_on", t.HeldOn.Date)
	c.Text("/trainer", &t.Trainer, shortText)
	c.Text("/qualification", &t.Qualification, longText)
	c.Text("/language", &t.Language, shortText)
	c.Text("/understanding", &t.Understanding, longText)
	c.OptionalText("/detail", &t.Detail, longText)
}

// TrainingMeeting is a training of several workers at once.
type TrainingMeeting struct {
	Keyed
	Trained
	RecordedAt time.Time `json:"recorded_at"`
	ReceivedAt time.Time `json:"received_at"`
	RecordedBy uuid.UUID `json:"recorded_by"`
}

// TableName tells gorm the table.
func (TrainingMeeting) TableName() string { return "training_meetings" }

// Check trims what was sent and returns every fault in it.
func (m *TrainingMeeting) Check(tx *Tx) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	m.checkTrained(c)
	return c.Done()
}

// SignOff says that a worker was trained in a topic.
type SignOff = Recorded[SignOffContent]

// SignOffContent says who, in what, when, by whom and how. Withdrawn, in place of one that stood, says that it does not hold.
type SignOffContent struct {
	MeetingID *uuid.UUID `json:"meeting_id,omitempty"`
	WorkerID  uuid.UUID  `json:"worker_id"`
	Trained
	Acknowledged bool `json:"acknowledged"`                    // by the worker, in person
	ThroughDate  Date `json:"through_date,omitempty,omitzero"` // the last day by the card, where there is one
	Withdrawn    bool `json:"withdrawn,omitempty"`
}

func (*SignOffContent) table() string { return "training_sign_offs" }

func (s *SignOffContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/worker_id", "workers", s.WorkerID)
	s.checkTrained(c)
	if !s.ThroughDate.IsZero() && s.ThroughDate.Before(s.HeldOn.Date) {
		c.Fault("/through_date", "fault.ends_before_start", nil)
	}
	return c.Done()
}

// LatestSignOff is a worker's last sign-off of a topic up to a day.
type LatestSignOff struct {
	WorkerID    uuid.UUID // the one who is paid, where it was signed off for a provisional hand
	Topic       string
	HeldOn      Date
	ThroughDate Date // by the card; zero where there is none
}

// TopicsSigned is SQL for the topics that anybody of the employer was ever signed off for, with a NULL at the end: one look into an index for each topic, however many sign-offs there are.
const TopicsSigned = `topics (topic) AS (
	SELECT min(s.topic) FROM training_sign_offs s WHERE s.employer_id = @employer
	UNION ALL SELECT (SELECT min(s.topic) FROM training_sign_offs s WHERE s.employer_id = @employer AND s.topic > t.topic) FROM topics t WHERE t.topic IS NOT NULL)`

// LatestSignOffs returns the last sign-off of each topic that stands for each of some workers, up to a day; of everybody employed on the day where no workers
// are named. It is one statement, however many they are, and looks at the last of each topic alone: at one topic after the other, at one worker after the other.
func LatestSignOffs(tx *Tx, workers []uuid.UUID, day dated.Date) ([]LatestSignOff, error) {
	whose, args := "w.started_on <= @day AND (w.ended_on IS NULL OR w.ended_on >= @day)", map[string]any{"employer": tx.Employer, "day": Day(day)}
	if workers != nil {
		whose, args["workers"] = "(w.id IN @workers OR w.same_as IN @workers)", workers
	}
	found, err := Read[LatestSignOff](tx, tx.DB().Raw(`WITH RECURSIVE `+TopicsSigned+`,
		latest AS MATERIALIZED (SELECT coalesce(w.same_as, w.id) AS worker_id, (SELECT l.id FROM training_sign_offs l
				WHERE l.employer_id = @employer AND l.worker_id = w.id AND l.topic = t.topic AND l.superseded_by IS NULL AND NOT l.withdrawn AND l.held_on <= @day
				ORDER BY l.held_on DESC, l.seq DESC LIMIT 1) AS id
			FROM workers w CROSS JOIN topics t WHERE w.employer_id = @employer AND `+whose+`)
		SELECT latest.worker_id, s.topic, s.held_on, s.through_date
		FROM latest CROSS JOIN training_sign_offs s WHERE s.employer_id = @employer AND s.id = latest.id
		ORDER BY latest.worker_id, s.topic, s.held_on DESC, s.seq DESC`, args))
	// Of somebody who was a provisional hand first there are two.
	return slices.CompactFunc(found, func(a, b LatestSignOff) bool { return a.WorkerID == b.WorkerID && a.Topic == b.Topic }), err
}

// SignOffsOf returns every sign-off that stands for a worker, the latest first.
func SignOffsOf(tx *Tx, worker uuid.UUID) (signed []SignOff, err error) {
	err = tx.DB().Scopes(OfPerson(tx.Employer, worker)).Where("superseded_by IS NULL AND NOT withdrawn").Order("held_on DESC, seq DESC").Find(&signed).Error
	return signed, translate(err)
}

// SignOffAcknowledgement is a worker's own word, from the own account, on a training that was signed off.
type SignOffAcknowledgement struct {
	Keyed
	SignOffID      uuid.UUID `json:"sign_off_id"`
	WorkerID       uuid.UUID `json:"worker_id"`
	ReceivedAt     time.Time `json:"received_at"`
	AcknowledgedBy uuid.UUID `json:"acknowledged_by"`
}

// TableName tells gorm the table.
func (SignOffAcknowledgement) TableName() string { return "sign_off_acknowledgements" }

// AcknowledgedOf tells which sign-offs a worker has acknowledged from the own account.
func AcknowledgedOf(tx *Tx, worker uuid.UUID) (map[uuid.UUID]bool, error) {
	var rows []SignOffAcknowledgement
	err := tx.DB().Where(`sign_off_id IN (SELECT s.id FROM training_sign_offs s JOIN workers w ON w.employer_id = s.employer_id AND w.id = s.worker_id
		WHERE s.employer_id = sign_off_acknowledgements.employer_id AND (w.id = ? OR w.same_as = ?))`, worker, worker).Find(&rows).Error
	given := make(map[uuid.UUID]bool, len(rows))
	for _, row := range rows {
		given[row.SignOffID] = true
	}
	return given, translate(err)
}
