package models

import (
	"time"

	"github.com/google/uuid"
)

// SheetDraft is a crew's day while its lead is still writing it. It is no evidence and may change at any time; what is sent of it becomes records, and leaves it.
type SheetDraft struct {
	Keyed
	CrewID    uuid.UUID `json:"crew_id"`
	Workday   Date      `json:"workday"`
	Draft     Document  `json:"draft"`
	Waiting   int64     `json:"waiting"` // how many lines wait to be sent
	Version   int64     `json:"version"`
	CreatedAt time.Time `json:"created_at"`
	UpdatedAt time.Time `json:"updated_at"`
}

// TableName tells gorm the table.
func (SheetDraft) TableName() string { return "sheet_drafts" }

// DraftID is the identifier of the draft of a crew's day: there is one, whoever begins it.
func DraftID(crew uuid.UUID, day Date) uuid.UUID {
	return uuid.NewSHA1(crew, []byte("draft of "+day.String()))
}

// DraftCommand is a change of a draft that was carried out, kept so that it is carried out once, however often and late it comes again.
type DraftCommand struct {
	Keyed
	DraftID    uuid.UUID
	Outcome    Document // of a sending what became of it, else null
	ReceivedAt time.Time
	RecordedBy uuid.UUID
}

// TableName tells gorm the table.
func (DraftCommand) TableName() string { return "draft_commands" }
