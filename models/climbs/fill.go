package climbs

import (
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm/clause"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll"
	"palmero/safety/checklists"
)

// Filling is a list as a crew lead went through it, sent from a phone, possibly hours later and more than once.
type Filling struct {
	ID         uuid.UUID      `json:"id"`
	CrewID     uuid.UUID      `json:"crew_id"`
	GardenID   uuid.UUID      `json:"garden_id"`
	Workday    models.Date    `json:"workday"`
	Way        string         `json:"way"`
	Checklist  string         `json:"checklist"`
	Digest     string         `json:"digest"` // of the list as the phone has it
	Answers    models.Answers `json:"answers"`
	Equipment  []uuid.UUID    `json:"equipment_ids,omitempty"` // that was looked at
	RecordedAt time.Time      `json:"recorded_at"`             // by the device's clock
	Supersedes *uuid.UUID     `json:"supersedes,omitempty"`
	Reason     string         `json:"reason,omitempty"`
}

// Fill keeps a list that was filled in, on its own or in place of one that stands; the one that it takes the place of stays, with its review. An item
// without an answer is taken and never a pass. What it says of equipment is a look at it before use: a defect that stops the climb takes the piece out of service at
// once. Repeats are answered as by models.Create.
func Fill(tx *models.Tx, books Books, in Filling) (*models.FilledChecklist, bool, error) {
	list, err := books.ListOf(tx, in.Checklist, in.Digest)
	if err != nil {
		return nil, false, err
	}
	c := models.FilledChecklistContent{
		CrewID: in.CrewID, GardenID: in.GardenID, Workday: in.Workday, Way: in.Way, Checklist: in.Checklist, Digest: in.Digest, Answers: in.Answers,
	}
	faults := answerFaults(list, in)
	pieces, wrong, err := piecesOf(tx, list, in)
	if err != nil {
		return nil, false, err
	}
	faults = append(faults, wrong...)
	ground, more, err := books.groundOf(tx, in.GardenID, in.Workday.Date)
	if err != nil {
		return nil, false, err
	}
	faults = append(faults, more...)
	if ground != nil {
		if c.FilledOn, err = ground.day(tx, in.RecordedAt); err != nil {
			return nil, false, err
		}
		faults = append(faults, ground.listFaults(in)...)
	}
	if list != nil {
		outcome := list.Judge(answersOf(in.Answers))
		c.Passed, c.Stopped, c.Equipment = outcome.Passed, outcome.Stopped, defects(list, in.Answers, pieces)
	}
	faults, err = supersedingFaults(tx, in, faults)
	if err != nil {
		return nil, false, err
	}
	filled, repeated, err := models.Record(tx, in.ID, c, models.Recording{RecordedAt: in.RecordedAt, Supersedes: in.Supersedes, Reason: in.Reason})
	if err = unlessRepeated(repeated, err, faults); err != nil || repeated {
		return filled, repeated, err
	}
	for i := range c.Equipment {
		c.Equipment[i].ChecklistID = in.ID
	}
	if err := models.InsertAll(tx, c.Equipment); err != nil {
		return nil, false, err
	}
	if err := gear.LookOver(tx, filled.RecordedAt, looks(list, in.Answers, pieces)); err != nil {
		return nil, false, err
	}
	return filled, false, keepList(tx, list)
}

// day is the workday of an instant on the garden's clock.
func (g *ground) day(tx *models.Tx, at time.Time) (models.Date, error) {
	zone, err := models.Zone(g.garden.Content.TimeZone)
	if err != nil {
		return models.Date{}, err
	}
	profile, err := tx.Profile()
	if err != nil {
		return models.Date{}, err
	}
	return models.Day(models.WorkdayOf(at, int(profile.Content.WorkdayStart), zone)), nil
}

// listFaults wants the list to be the one that the rulebook asks for on the way.
func (g *ground) listFaults(in Filling) []payroll.Fault {
	way, faults := g.way(in.Way)
	if way != nil && way.Checklist != in.Checklist {
		faults = append(faults, payroll.Fault{Pointer: "/checklist", Key: "fault.not_one_of", Terms: payroll.Terms{"value": in.Checklist, "allowed": []string{way.Checklist}}})
	}
	return faults
}

// asked is the text of a list as it was asked once, kept by its digest.
type asked struct {
	Digest  string `gorm:"primaryKey"`
	BookKey string
	Body    string
}

// TableName tells gorm the table.
func (asked) TableName() string { return "book_texts" }

// bookKey is under which key the text of a list is kept beside those of the rulebooks.
func bookKey(list string) string { return "checklist/" + list }

// ListOf returns the list of a name and digest: the one that comes with the program, or one of an earlier version that was filled in before. It is nil where
// there is none.
func (b Books) ListOf(tx *models.Tx, name, digest string) (*checklists.Checklist, error) {
	if list := b.Lists[name]; list != nil && list.Digest == digest {
		return list, nil
	}
	var text asked
	found := tx.DB().Where("digest = ? AND book_key = ?", digest, bookKey(name)).Limit(1).Find(&text)
	if found.Error != nil || found.RowsAffected == 0 {
		return nil, found.Error
	}
	return checklists.Parse(name+".yaml", []byte(text.Body))
}

// keepList keeps what was asked, so that a list can be read with its answers after the program has another.
func keepList(tx *models.Tx, list *checklists.Checklist) error {
	text := asked{list.Digest, bookKey(list.Key), string(list.Text())}
	return tx.DB().Clauses(clause.OnConflict{DoNothing: true}).Create(&text).Error
}

// answerFaults finds what is wrong with the answers, or that the list is not known.
func answerFaults(list *checklists.Checklist, in Filling) (faults []payroll.Fault) {
	fault := func(pointer, key string, terms payroll.Terms) {
		faults = append(faults, payroll.Fault{Pointer: pointer, Key: key, Terms: terms})
	}
	if in.RecordedAt.IsZero() {
		fault("/recorded_at", "fault.empty", nil)
	}
	if list == nil {
		fault("/digest", "fault.checklist_unknown", payroll.Terms{"checklist": in.Checklist})
		return faults
	}
	seen := map[string]bool{}
	for i, a := range in.Answers {
		at := fmt.Sprintf("/answers/%d", i)
		n := slices.IndexFunc(list.Items, func(item checklists.Item) bool { return item.ID == a.Item })
		switch {
		case n < 0:
			fault(at+"/item", "fault.checklist_item", payroll.Terms{"item": a.Item, "checklist": list.Key})
			continue
		case seen[a.Item]:
			fault(at+"/item", "fault.checklist_item_twice", payroll.Terms{"item": a.Item})
		}
		seen[a.Item] = true
		item := list.Items[n]
		allowed := []string{string(checklists.OK), string(checklists.Defect)}
		if item.MayNotApply {
			allowed = append(allowed, string(checklists.DoesNotApply))
		}
		if !slices.Contains(allowed, a.Answer) {
			fault(at+"/answer", "fault.not_one_of", payroll.Terms{"value": a.Answer, "allowed": allowed})
		}
		if a.EquipmentID != nil && !slices.Contains(in.Equipment, *a.EquipmentID) {
			fault(at+"/equipment_id", "fault.equipment_not_listed", nil)
		}
		if wantsNote(item, a) && a.Note == "" {
			fault(at+"/note", "fault.note_needed", nil)
		}
	}
	return faults
}

func wantsNote(item checklists.Item, a models.ItemAnswer) bool {
	return item.Note == checklists.Always || item.Note == checklists.OnDefect && a.Answer == string(checklists.Defect)
}

func answersOf(all models.Answers) map[string]checklists.Answer {
	answers := make(map[string]checklists.Answer, len(all))
	for _, a := range all {
		answers[a.Item] = checklists.Answer(a.Answer)
	}
	return answers
}

// supersedingFaults wants a correction to be of the same crew's list for the same day and way.
func supersedingFaults(tx *models.Tx, in Filling, faults []payroll.Fault) ([]payroll.Fault, error) {
	if in.Supersedes == nil {
		return faults, nil
	}
	var old models.FilledChecklist
	err := tx.DB().Where("id = ?", *in.Supersedes).Limit(1).Find(&old).Error
	if c := old.Content; err == nil && old.ID == *in.Supersedes && (c.CrewID != in.CrewID || c.Workday != in.Workday || c.Way != in.Way) {
		faults = append(faults, payroll.Fault{Pointer: "/supersedes", Key: "fault.other_checklist"})
	}
	return faults, err
}
