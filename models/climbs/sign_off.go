package climbs

import (
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// SigningOff is a sign-off of one worker as it is sent in, or with Supersedes a correction or a withdrawal of one.
type SigningOff struct {
	ID         uuid.UUID  `json:"id"`
	Supersedes *uuid.UUID `json:"supersedes,omitempty"`
	Reason     string     `json:"reason,omitempty"` // why it takes the place of another
	WorkerID   uuid.UUID  `json:"worker_id"`
	models.Trained
	Acknowledged bool        `json:"acknowledged,omitempty"`
	ThroughDate  models.Date `json:"through_date,omitempty,omitzero"`
	Withdrawn    bool        `json:"withdrawn,omitempty"`
	RecordedAt   *time.Time  `json:"recorded_at,omitempty"` // by the device's clock; nil: now
}

// SignOff keeps that a worker was trained. Repeats are answered as by models.Create.
func SignOff(tx *models.Tx, books Books, in SigningOff) (*models.SignOff, bool, error) {
	topics, err := FindTopics(tx, books, in.HeldOn.Date)
	if err != nil {
		return nil, false, err
	}
	c := models.SignOffContent{WorkerID: in.WorkerID, Trained: in.Trained, Acknowledged: in.Acknowledged, ThroughDate: in.ThroughDate, Withdrawn: in.Withdrawn}
	faults := topics.unknown(in.Topic)
	if in.Withdrawn && in.Supersedes == nil {
		faults = append(faults, payroll.Fault{Pointer: "/supersedes", Key: "fault.withdraws_nothing"})
	}
	if !in.Withdrawn {
		faults = append(faults, topics.Find(in.Topic).lacking("", &c)...)
	}
	if in.Supersedes != nil {
		if c.MeetingID, err = meetingOf(tx, *in.Supersedes); err != nil {
			return nil, false, err
		}
	}
	how := models.Recording{RecordedAt: tx.Now, Supersedes: in.Supersedes, Reason: in.Reason}
	if in.RecordedAt != nil {
		how.RecordedAt = *in.RecordedAt
	}
	s, repeated, err := models.Record(tx, in.ID, c, how)
	return s, repeated, unlessRepeated(repeated, err, faults)
}

// meetingOf is the meeting of a sign-off; nil where it was a training of one.
func meetingOf(tx *models.Tx, signOff uuid.UUID) (*uuid.UUID, error) {
	signed, err := models.List[models.SignOff](tx, models.Page{Limit: 1}, models.Equal("id", signOff))
	if err != nil || len(signed) == 0 {
		return nil, err
	}
	return signed[0].Content.MeetingID, nil
}

// unknown names a topic that nobody knows.
func (t *Topics) unknown(topic string) []payroll.Fault {
	if t.Find(topic) != nil {
		return nil
	}
	return []payroll.Fault{{Pointer: "/topic", Key: "fault.unknown_topic", Terms: payroll.Terms{"topic": topic, "known": t.Keys()}}}
}

// lacking tells what the record of a sign-off must carry and does not. What every record carries is checked with the record. at is where the sign-off stands.
func (t *Topic) lacking(at string, s *models.SignOffContent) (faults []payroll.Fault) {
	if t == nil {
		return nil
	}
	for _, carry := range t.carries() {
		var pointer string
		switch {
		case carry.what == models.CarriesAcknowledgement && !s.Acknowledged:
			pointer = at + "/acknowledged"
		case carry.what == models.CarriesDetail && s.Detail == "":
			pointer = "/detail"
		case carry.what == models.CarriesThrough && s.ThroughDate.IsZero():
			pointer = at + "/through_date"
		default:
			continue
		}
		told := slices.ContainsFunc(faults, func(f payroll.Fault) bool { return f.Pointer == pointer })
		if !told {
			faults = append(faults, payroll.Fault{Pointer: pointer, Key: "fault.record_lacks", Terms: payroll.Terms{"section": carry.section}})
		}
	}
	return faults
}

// Meeting is a training of several workers at once as it is sent in. It may come again with more workers; each sign-off is known by its own identifier.
type Meeting struct {
	ID uuid.UUID `json:"id"`
	models.Trained
	RecordedAt time.Time  `json:"recorded_at"` // by the device's clock
	Attendees  []Attendee `json:"attendees"`
}

// Attendee is one worker's sign-off of a meeting.
type Attendee struct {
	ID           uuid.UUID   `json:"id"`
	WorkerID     uuid.UUID   `json:"worker_id"`
	Acknowledged bool        `json:"acknowledged,omitempty"`
	ThroughDate  models.Date `json:"through_date,omitempty,omitzero"`
}

// MeetingReceipt is a meeting with the sign-offs that came in on it now or before, in the order in which they were sent.
type MeetingReceipt struct {
	models.TrainingMeeting
	SignOffs []models.SignOff `json:"sign_offs"`
}

// Hold keeps a meeting and a sign-off for each who was there, in a handful of statements whatever their number. It is taken whole or not at all. The same again returns what
// is kept and true.
func Hold(tx *models.Tx, books Books, in Meeting) (*MeetingReceipt, bool, error) {
	b := &meeting{tx: tx, in: in, row: models.TrainingMeeting{Keyed: models.Keyed{ID: in.ID}, Trained: in.Trained, RecordedAt: in.RecordedAt.UTC(), ReceivedAt: tx.Now, RecordedBy: tx.Actor}}
	faults, err := b.row.Check(tx)
	if err != nil {
		return nil, false, err
	}
	b.faults = faults
	if in.RecordedAt.IsZero() {
		b.fault("/recorded_at", "fault.empty", nil)
	}
	if err := b.find(books); err != nil {
		return nil, false, err
	}
	if len(b.fresh) == 0 && b.known && len(b.faults) == 0 {
		return b.receipt(), true, nil
	}
	if err := models.Faulty(b.faults); err != nil {
		return nil, false, err
	}
	if err := b.write(); err != nil {
		return nil, false, err
	}
	return b.receipt(), false, nil
}

// meeting is the state of taking one in.
type meeting struct {
	tx     *models.Tx
	in     Meeting
	row    models.TrainingMeeting
	known  bool // whether the meeting itself was kept before
	kept   map[uuid.UUID]*models.SignOff
	fresh  []models.SignOff
	faults []payroll.Fault
}

func (b *meeting) fault(pointer, key string, terms payroll.Terms) {
	b.faults = append(b.faults, payroll.Fault{Pointer: pointer, Key: key, Terms: terms})
}

// mostAttendees is how many a meeting has at the most.
const mostAttendees = 500

// find reads what is kept already and sorts out what is new, with its faults.
func (b *meeting) find(books Books) (err error) {
	b.row.ContentHash = models.ContentHash(b.row.Trained)
	var stored models.TrainingMeeting
	if b.known, err = repeatOf(b.tx, b.in.ID, b.row.ContentHash, &stored, &stored.Keyed); err != nil {
		return err
	}
	if b.known {
		b.row = stored
	}
	if n := len(b.in.Attendees); n == 0 || n > mostAttendees {
		b.fault("/attendees", "fault.not_between", payroll.Terms{"low": 1, "high": mostAttendees})
		return nil
	}
	ids, workers := make([]uuid.UUID, len(b.in.Attendees)), make([]uuid.UUID, len(b.in.Attendees))
	for i, a := range b.in.Attendees {
		ids[i], workers[i] = a.ID, a.WorkerID
	}
	var signed []models.SignOff
	if err := b.tx.DB().Where("id IN ?", ids).Find(&signed).Error; err != nil {
		return err
	}
	b.kept = models.RecordedByID(signed)
	missing, err := b.tx.Missing("workers", workers)
	if err != nil {
		return err
	}
	topics, err := FindTopics(b.tx, books, b.row.HeldOn.Date)
	if err != nil {
		return err
	}
	seen := map[uuid.UUID]bool{}
	for i, a := range b.in.Attendees {
		at := fmt.Sprintf("/attendees/%d", i)
		switch {
		case seen[a.ID]:
			b.fault(at+"/id", "fault.id_twice", nil)
		case seen[a.WorkerID]:
			b.fault(at+"/worker_id", "fault.attendee_twice", nil)
		}
		seen[a.ID], seen[a.WorkerID] = true, true
		b.attend(topics, at, a, missing[a.WorkerID])
	}
	if len(b.fresh) > 0 {
		b.faults = append(b.faults, topics.unknown(b.row.Topic)...)
	}
	return nil
}

// attend takes in one attendee.
func (b *meeting) attend(topics *Topics, at string, a Attendee, missing bool) {
	c := models.SignOffContent{MeetingID: &b.in.ID, WorkerID: a.WorkerID, Trained: b.row.Trained, Acknowledged: a.Acknowledged, ThroughDate: a.ThroughDate}
	hash := models.RecordHash(c, nil)
	if kept := b.kept[a.ID]; kept != nil {
		if kept.ContentHash != hash {
			b.fault(at+"/id", "fault.id_reused", nil)
		}
		return
	}
	if missing {
		b.fault(at+"/worker_id", "fault.unknown_worker", payroll.Terms{"worker": a.WorkerID.String()})
	}
	if !a.ThroughDate.IsZero() && a.ThroughDate.Before(b.row.HeldOn.Date) {
		b.fault(at+"/through_date", "fault.ends_before_start", nil)
	}
	for _, f := range topics.Find(b.row.Topic).lacking(at, &c) {
		if !slices.ContainsFunc(b.faults, func(g payroll.Fault) bool { return g.Pointer == f.Pointer }) {
			b.faults = append(b.faults, f)
		}
	}
	b.fresh = append(b.fresh, models.SignOff{
		Keyed: models.Keyed{ID: a.ID, ContentHash: hash}, Content: c, RecordedAt: b.in.RecordedAt.UTC(), ReceivedAt: b.tx.Now, RecordedBy: b.tx.Actor,
	})
}

func (b *meeting) write() error {
	if !b.known {
		if err := b.tx.DB().Create(&b.row).Error; err != nil {
			return err
		}
	}
	if err := models.InsertAll(b.tx, b.fresh); err != nil {
		return err
	}
	hashes := map[uuid.UUID]string{}
	for _, s := range b.fresh {
		hashes[s.ID] = s.ContentHash
	}
	return b.tx.Audit(models.Audit{Action: "record", SubjectKind: "training_meetings", SubjectID: b.row.ID, After: map[string]any{"meeting": b.row, "sign_offs": hashes}})
}

// receipt is the meeting with its sign-offs in the order sent.
func (b *meeting) receipt() *MeetingReceipt {
	r := &MeetingReceipt{TrainingMeeting: b.row, SignOffs: []models.SignOff{}}
	fresh := models.RecordedByID(b.fresh)
	for _, a := range b.in.Attendees {
		if s := fresh[a.ID]; s != nil {
			r.SignOffs = append(r.SignOffs, *s)
		} else if s := b.kept[a.ID]; s != nil {
			r.SignOffs = append(r.SignOffs, *s)
		}
	}
	return r
}
