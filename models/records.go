package models

import (
	"bytes"
	"encoding/json"
	"errors"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/payroll"
)

// Keyed is what every listed record begins with.
type Keyed struct {
	EmployerID  uuid.UUID `gorm:"primaryKey" json:"-"`
	ID          uuid.UUID `gorm:"primaryKey" json:"id"`
	Seq         int64     `gorm:"->" json:"-"` // the order of arrival, made by the database
	ContentHash string    `json:"-"`
}

// Kept is a record of the set-up (a garden, a worker, …): it is updated in place, and its version counts the updates.
type Kept[C any] struct {
	Keyed
	CreatedAt time.Time `json:"created_at"`
	UpdatedAt time.Time `json:"updated_at"`
	Version   int64     `json:"version"`
	Content   C         `gorm:"embedded" json:"-"`
}

// Recorded is a record of a rate or of work: never changed, at most superseded once by the record that takes its place.
type Recorded[C any] struct {
	Keyed
	Content      C          `gorm:"embedded" json:"-"`
	RecordedAt   time.Time  `json:"recorded_at"` // by the clock of the device that recorded it
	ReceivedAt   time.Time  `json:"received_at"` // by the server's clock
	RecordedBy   uuid.UUID  `json:"recorded_by"`
	Reason       string     `json:"reason,omitempty"`
	SupersededBy *uuid.UUID `json:"superseded_by,omitempty"`
}

// content is what a record says, apart from who keeps it: the part that is sent in, checked and hashed.
type content[C any] interface {
	*C
	table() string
	// check trims what was sent and returns every fault in it, by JSON pointer, references to other records included.
	check(tx *Tx, id uuid.UUID) ([]payroll.Fault, error)
}

// TableName tells gorm the table.
func (Kept[C]) TableName() string { return tableOf[C]() }

// TableName tells gorm the table.
func (Recorded[C]) TableName() string { return tableOf[C]() }

func tableOf[C any]() string {
	var c C
	return any(&c).(interface{ table() string }).table()
}

// MarshalJSON writes the record's own fields and its content's as one object.
func (k Kept[C]) MarshalJSON() ([]byte, error) {
	type head Kept[C]
	return joined(head(k), k.Content)
}

// MarshalJSON writes the record's own fields and its content's as one object.
func (r Recorded[C]) MarshalJSON() ([]byte, error) {
	type head Recorded[C]
	return joined(head(r), r.Content)
}

// Joined writes two objects as one. The first must not be empty.
func Joined(head, content any) ([]byte, error) { return joined(head, content) }

func joined(head, content any) ([]byte, error) {
	a, err := json.Marshal(head)
	if err != nil {
		return nil, err
	}
	b, err := json.Marshal(content)
	if err != nil {
		return nil, err
	}
	if bytes.Equal(b, []byte("{}")) {
		return a, nil
	}
	return append(append(a[:len(a)-1], ','), b[1:]...), nil
}

// keeper is content with parts that are not sent in and that an update leaves as they were.
type keeper[C any] interface{ keep(old *C) }

// follower is content of which an update leaves something else to keep.
type follower[C any] interface {
	follow(tx *Tx, id uuid.UUID, old *C) error
}

// numbered is content whose record people call by a short number, given to it where none was sent.
type numbered interface{ numberIn() *int64 }

// Create keeps a new record under the identifier that its author made. The same identifier with the same content returns the
// record as it stands and true; with other content it is a conflict.
func Create[C any, P content[C]](tx *Tx, id uuid.UUID, c C) (*Kept[C], bool, error) {
	faults, err := P(&c).check(tx, id)
	if err != nil {
		return nil, false, err
	}
	hash := ContentHash(c)
	if kept, err := Get[C](tx, id); err == nil {
		return kept, true, sameContent(kept.ContentHash, hash)
	} else if KindOf(err) != NotFound {
		return nil, false, err
	}
	if err := Faulty(faults); err != nil {
		return nil, false, err
	}
	if n, ok := any(P(&c)).(numbered); ok && *n.numberIn() == 0 {
		if *n.numberIn(), err = tx.NextNumber(P(&c).table()); err != nil {
			return nil, false, err
		}
	}
	kept := &Kept[C]{Keyed: Keyed{ID: id, ContentHash: hash}, CreatedAt: tx.Now, UpdatedAt: tx.Now, Version: 1, Content: c}
	if err := tx.DB().Create(kept).Error; err != nil {
		return nil, false, translate(err)
	}
	return kept, false, tx.Audit(Audit{Action: "create", SubjectKind: P(&c).table(), SubjectID: id, After: kept})
}

func sameContent(stored, sent string) error {
	if stored != sent {
		return &Error{Kind: Conflict, Key: "problem.id_reused"}
	}
	return nil
}

// Get returns one record.
func Get[C any](tx *Tx, id uuid.UUID) (*Kept[C], error) {
	var kept Kept[C]
	if err := tx.DB().Where("id = ?", id).Take(&kept).Error; err != nil {
		return nil, translate(err)
	}
	return &kept, nil
}

// Update replaces a record's content, provided that the version read is still the one that stands.
func Update[C any, P content[C]](tx *Tx, id uuid.UUID, version int64, c C) (*Kept[C], error) {
	var kept Kept[C]
	if err := tx.Locking().Where("id = ?", id).Take(&kept).Error; err != nil {
		return nil, translate(err)
	}
	if kept.Version != version {
		return nil, &Error{Kind: Stale, Key: "problem.stale_version"}
	}
	faults, err := P(&c).check(tx, id)
	if err == nil {
		err = Faulty(faults)
	}
	if err != nil {
		return nil, err
	}
	if k, ok := any(P(&c)).(keeper[C]); ok {
		k.keep(&kept.Content)
	}
	before := kept
	kept.Content, kept.Version, kept.UpdatedAt = c, version+1, tx.Now
	if err := tx.DB().Select("*").Omit("employer_id", "id", "seq", "content_hash", "created_at").Where("id = ?", id).Updates(&kept).Error; err != nil {
		return nil, translate(err)
	}
	if f, ok := any(P(&c)).(follower[C]); ok {
		if err := f.follow(tx, id, &before.Content); err != nil {
			return nil, translate(err)
		}
	}
	return &kept, tx.Audit(Audit{Action: "update", SubjectKind: P(&c).table(), SubjectID: id, Before: before, After: kept})
}

// Page asks for a part of a list, in the order of arrival.
type Page struct {
	After int64 // the Seq of the last record already seen
	Limit int   // how many at most
}

// List returns the records after a page's start that the conditions keep, one more than the limit where more follow.
func List[R any](tx *Tx, p Page, conditions ...Condition) ([]R, error) {
	var records []R
	err := tx.DB().Scopes(conditions...).Where("seq > ?", p.After).Order("seq").Limit(p.Limit + 1).Find(&records).Error
	return records, translate(err)
}

// Recording says how a record of work came in.
type Recording struct {
	RecordedAt time.Time  // by the device's clock
	Supersedes *uuid.UUID // the record that this one corrects
	Reason     string     // why, required with Supersedes
}

// Record keeps one record of a rate or of work, on its own or in place of one that stands. Repeats are answered as by Create.
func Record[C any, P content[C]](tx *Tx, id uuid.UUID, c C, how Recording) (*Recorded[C], bool, error) {
	faults, err := P(&c).check(tx, id)
	if err != nil {
		return nil, false, err
	}
	hash := RecordHash(c, how.Supersedes)
	var stored Recorded[C]
	err = tx.DB().Where("id = ?", id).Take(&stored).Error
	if err == nil {
		return &stored, true, sameContent(stored.ContentHash, hash)
	} else if !errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, false, err
	}
	if err := Faulty(faults); err != nil {
		return nil, false, err
	}
	before, err := supersede[C](tx, id, how)
	if err != nil {
		return nil, false, err
	}
	r := &Recorded[C]{Keyed: Keyed{ID: id, ContentHash: hash}, Content: c, RecordedAt: how.RecordedAt.UTC(), ReceivedAt: tx.Now,
		RecordedBy: tx.Actor, Reason: how.Reason}
	if err := tx.DB().Create(r).Error; err != nil {
		return nil, false, translate(err)
	}
	action := "record"
	if before != nil {
		action = "correct"
	}
	return r, false, tx.Audit(Audit{Action: action, SubjectKind: P(&c).table(), SubjectID: id, Before: before, After: r, Reason: how.Reason})
}

// RecordHash is the hash by which a repeated record of a rate or of work is recognised.
func RecordHash[C any](c C, supersedes *uuid.UUID) string {
	return ContentHash(struct {
		Content    C
		Supersedes *uuid.UUID
	}{c, supersedes})
}

// supersede marks the record that a correction replaces and returns it as it stood; nil where nothing is replaced.
func supersede[C any](tx *Tx, by uuid.UUID, how Recording) (any, error) {
	if how.Supersedes == nil {
		return nil, nil
	}
	if how.Reason == "" {
		return nil, FaultAt("/reason", "fault.reason_needed", nil)
	}
	var old Recorded[C]
	if err := tx.Locking().Where("id = ?", *how.Supersedes).Take(&old).Error; err != nil {
		if KindOf(translate(err)) == NotFound {
			return nil, FaultAt("/supersedes", "fault.unknown_reference", nil)
		}
		return nil, translate(err)
	}
	if old.SupersededBy != nil {
		return nil, &Error{Kind: Conflict, Key: "problem.superseded", Terms: payroll.Terms{"by": old.SupersededBy.String()}}
	}
	marked := tx.DB().Model(&Recorded[C]{}).Where("id = ?", old.ID).UpdateColumn("superseded_by", by)
	return old, translate(marked.Error)
}

// NextNumber returns the next free short number of a table. The employer's profile is held meanwhile, so that two writers get two numbers.
func (t *Tx) NextNumber(table string) (int64, error) {
	var profile EmployerProfile
	if err := t.Locking().Take(&profile).Error; err != nil {
		return 0, translate(err)
	}
	var highest int64
	err := t.DB().Raw("SELECT coalesce(max(number), 0) FROM "+table+" WHERE employer_id = ?", t.Employer).Scan(&highest).Error
	return highest + 1, translate(err)
}

// keyed gives what every record begins with.
func (k Keyed) keyed() Keyed { return k }

// Repeat looks for the record that is kept under an identifier already: nil where there is none, a conflict where it says something else.
func Repeat[R interface{ keyed() Keyed }](tx *Tx, id uuid.UUID, hash string) (*R, error) {
	var found []R
	if err := tx.DB().Where("id = ?", id).Limit(1).Find(&found).Error; err != nil || len(found) == 0 {
		return nil, translate(err)
	}
	return &found[0], sameContent(found[0].keyed().ContentHash, hash)
}
