package season

import (
	"encoding/binary"
	"strconv"

	"github.com/google/uuid"
)

// kind is what an identifier is of; it stands in the identifier, so that a reader can tell a worker from a block.
type kind uint16

const (
	ofEmployer kind = iota + 1
	ofGarden
	ofBlock
	ofOperation
	ofCrew
	ofWorker
	ofAccount
	ofMember
	ofRate
	ofSheet
	ofLine
	ofRun
	ofPalms
	ofPiece
	ofEvent
	ofGearKind
	ofIssue
	ofMeeting
	ofSignOff
	ofLineAbove
	ofHeatPlan
	ofReading
	ofChecklist
	ofSetup
	ofClearance
	ofReview
	ofStop
	ofIncident
	ofException
	ofStandard
	ofBunchCheck
	ofCaseEvent
)

// foundingMillis is the time in every identifier of the season: 5 January 2026, 17:00 UTC, in milliseconds since 1970.
const foundingMillis = 1_767_632_400_000

// id makes the identifier of the nth of a kind: a UUID of version 7 in form, the same in every database, in whose last digits the number reads
// in decimal.
func id(of kind, n int) uuid.UUID {
	digits, _ := strconv.ParseUint(strconv.Itoa(n), 16, 62)
	var u uuid.UUID
	binary.BigEndian.PutUint64(u[0:], foundingMillis<<16|7<<12|uint64(of))
	binary.BigEndian.PutUint64(u[8:], 0b10<<62|digits)
	return u
}

func ref(u uuid.UUID) *uuid.UUID { return &u }
