package models

import (
	"time"

	"github.com/google/uuid"
)

// Photo is a picture of what was found.
type Photo struct {
	Keyed
	SubjectKind string    `json:"subject_kind"` // of PhotoSubjects
	SubjectID   uuid.UUID `json:"subject_id"`
	Item        string    `json:"item,omitempty"` // of a checklist: what it shows
	Media       string    `json:"media"`
	Size        int64     `json:"size"`   // in bytes
	Digest      string    `json:"digest"` // SHA-256 in hexadecimal
	Picture     string    `json:"-"`      // the bytes in base64
	Thumbnail   string    `json:"-"`      // a small JPEG in base64; "": none
	ReceivedAt  time.Time `json:"received_at"`
	RecordedBy  uuid.UUID `json:"recorded_by"`
}

// TableName tells gorm the table.
func (Photo) TableName() string { return "photos" }

// PhotoSubjects names the table of each kind of record that a photo may be of.
var PhotoSubjects = map[string]string{
	"palm_event":        "palm_events",
	"equipment_event":   "equipment_events",
	"equipment_finding": "equipment_findings",
	"checklist":         "filled_checklists",
}
