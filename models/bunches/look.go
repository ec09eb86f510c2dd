package bunches

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Look is a sample of bunches as somebody looked at it, sent from a phone, possibly hours later and more than once.
type Look struct {
	ID         uuid.UUID             `json:"id"`
	StandardID uuid.UUID             `json:"standard_id"` // that the phone had: what was asked
	CrewID     uuid.UUID             `json:"crew_id"`
	WorkerID   *uuid.UUID            `json:"worker_id,omitempty"` // nil: the crew's, and nobody is named
	Workday    models.Date           `json:"workday"`
	BlockID    uuid.UUID             `json:"block_id"`
	PalmID     *uuid.UUID            `json:"palm_id,omitempty"`
	Bunches    models.SampledBunches `json:"bunches"`
	Remark     string                `json:"remark,omitempty"`
	RecordedAt time.Time             `json:"recorded_at"` // by the device's clock
	Supersedes *uuid.UUID            `json:"supersedes,omitempty"`
	Reason     string                `json:"reason,omitempty"`
}

// Record keeps a bunch check, on its own or in place of one that stands. Repeats are answered as by models.Record.
func Record(tx *models.Tx, in Look) (*models.BunchCheck, bool, error) {
	c := models.BunchCheckContent{StandardID: in.StandardID, CrewID: in.CrewID, WorkerID: in.WorkerID, Workday: in.Workday, BlockID: in.BlockID, PalmID: in.PalmID,
		Bunches: in.Bunches, Remark: in.Remark}
	standard, faults, err := standardOf(tx, &in)
	if err != nil {
		return nil, false, err
	}
	var outcome Outcome
	if standard != nil {
		wrong, err := c.CheckMarks(tx, standard.Content.Points)
		if err != nil {
			return nil, false, err
		}
		faults = append(faults, wrong...)
		outcome = JudgeAll(standard.Content.Points, c.Bunches)
		c.OperationID, c.LookedAt, c.AsAsked = standard.Content.OperationID, outcome.LookedAt, outcome.AsAsked
	}
	more, err := in.faults(tx)
	if err != nil {
		return nil, false, err
	}
	check, repeated, err := models.Record(tx, in.ID, c, models.Recording{RecordedAt: in.RecordedAt, Supersedes: in.Supersedes, Reason: in.Reason})
	if err = unlessRepeated(repeated, err, append(faults, more...)); err != nil || repeated {
		return check, repeated, err
	}
	rows := make([]models.BunchCheckPoint, len(outcome.Points))
	for i, p := range outcome.Points {
		rows[i] = models.BunchCheckPoint{CheckID: in.ID, No: int64(i + 1), PointCount: p}
	}
	return check, false, models.InsertAll(tx, rows)
}

// standardOf reads the standard that a sample was looked at by, nil where there is none of the identifier, with what speaks against it: it has to be the one in force for
// the block's variety on the day, as the records stand or as they stood when somebody looked.
func standardOf(tx *models.Tx, in *Look) (*models.WorkStandard, []payroll.Fault, error) {
	named, err := models.List[models.WorkStandard](tx, models.Page{Limit: 1}, models.Equal("id", in.StandardID))
	if err != nil || len(named) == 0 {
		return nil, nil, err
	}
	block, err := models.Get[models.BlockContent](tx, in.BlockID)
	if models.KindOf(err) == models.NotFound {
		return &named[0], nil, nil // which the record's own check tells
	}
	if err != nil {
		return nil, nil, err
	}
	all, err := standing(tx, named[0].Content.OperationID)
	if err != nil {
		return nil, nil, err
	}
	then := slices.DeleteFunc(slices.Clone(all), func(s models.WorkStandard) bool { return s.ReceivedAt.After(in.RecordedAt) })
	for _, known := range [][]models.WorkStandard{all, then} {
		if s := choose(known, block.Content.Variety, in.Workday.Date); s != nil && s.ID == in.StandardID {
			return &named[0], nil, nil
		}
	}
	return &named[0], []payroll.Fault{{Pointer: "/standard_id", Key: "fault.standard_not_in_force", Terms: payroll.Terms{"variety": block.Content.Variety, "date": in.Workday.Date}}}, nil
}

// faults finds what is wrong with a sample that its record cannot tell by itself: when it was looked at, where its palm stands, what it corrects.
func (in *Look) faults(tx *models.Tx) ([]payroll.Fault, error) {
	c := models.NewChecker(tx)
	c.Moment("/recorded_at", &in.RecordedAt, tx.Now.Add(clockSkew))
	c.OptionalText("/reason", &in.Reason, models.LongText)
	if in.PalmID != nil {
		palms, err := models.List[models.Palm](tx, models.Page{Limit: 1}, models.Equal("id", *in.PalmID))
		if err != nil {
			return nil, err
		}
		if len(palms) > 0 && palms[0].Content.BlockID != in.BlockID {
			c.Fault("/palm_id", "fault.palm_of_other_block", nil)
		}
	}
	if in.Supersedes != nil {
		old, err := models.List[models.BunchCheck](tx, models.Page{Limit: 1}, models.Equal("id", *in.Supersedes))
		if err != nil {
			return nil, err
		}
		if len(old) > 0 && (old[0].Content.CrewID != in.CrewID || old[0].Content.Workday != in.Workday) {
			c.Fault("/supersedes", "fault.other_bunch_check", nil)
		}
	}
	return c.Done()
}

// clockSkew is how far a device's clock may be ahead.
const clockSkew = 24 * time.Hour
