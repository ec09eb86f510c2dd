package gear

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/payroll"
)

// PalmRange is a stretch of a block's palms to be taken into the register at once, by their numbers from First through Last: the prefix and the number, filled
// up with zeros to so many digits, are what the farm writes.
type PalmRange struct {
	ID      uuid.UUID `json:"id"`
	BlockID uuid.UUID `json:"block_id"`
	Prefix  string    `json:"prefix,omitempty"`
	First   int64     `json:"first"`
	Last    int64     `json:"last"`
	Digits  int64     `json:"digits,omitempty"`
}

// mostPalms is how many palms are taken in at once at the most: more than any block has by a good measure.
const mostPalms = 5_000

// labels are what the farm writes on the palms.
func (r *PalmRange) labels() []string {
	all := make([]string, 0, r.Last-r.First+1)
	for n := r.First; n <= r.Last; n++ {
		all = append(all, fmt.Sprintf("%s%0*d", r.Prefix, int(r.Digits), n))
	}
	return all
}

func (r *PalmRange) check(tx *models.Tx) error {
	c := models.NewChecker(tx)
	checkID(c, "/id", r.ID)
	c.Reference("/block_id", "blocks", r.BlockID)
	c.OptionalText("/prefix", &r.Prefix, models.PalmLabel-6)
	c.Range("/first", r.First, 0, 999_999)
	c.Range("/last", r.Last, r.First, min(r.First+mostPalms-1, 999_999))
	c.Range("/digits", r.Digits, 0, 6)
	return done(c)
}

// AddPalms takes a stretch of palms into the register. The same stretch again is a repeat; a palm that is in the register already is named.
func AddPalms(tx *models.Tx, in PalmRange) (*models.PalmRange, bool, error) {
	in.Prefix = strings.TrimSpace(in.Prefix)
	hash := models.ContentHash(in)
	if kept, err := models.Repeat[models.PalmRange](tx, in.ID, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	if err := in.check(tx); err != nil {
		return nil, false, err
	}
	labels := in.labels()
	if err := taken(tx, in.BlockID, labels); err != nil {
		return nil, false, err
	}
	r := &models.PalmRange{
		Keyed: models.Keyed{ID: in.ID, ContentHash: hash}, BlockID: in.BlockID, Prefix: in.Prefix, First: in.First, Last: in.Last, Digits: in.Digits,
		RecordedAt: tx.Now, RecordedBy: tx.Actor,
	}
	if err := tx.DB().Create(r).Error; err != nil {
		return nil, false, err
	}
	palms := make([]models.Palm, len(labels))
	for i, label := range labels {
		content := models.PalmContent{BlockID: in.BlockID, Label: label}
		palms[i] = models.Palm{
			Keyed:     models.Keyed{ID: uuid.NewSHA1(in.ID, []byte(label)), ContentHash: models.ContentHash(content)},
			CreatedAt: tx.Now, UpdatedAt: tx.Now, Version: 1, Content: content,
		}
	}
	if err := models.InsertAll(tx, palms); err != nil {
		return nil, false, err
	}
	return r, false, tx.Audit(models.Audit{Action: "create", SubjectKind: "palm_ranges", SubjectID: in.ID, After: r})
}

// taken names the first palm of a block that is in the register already.
func taken(tx *models.Tx, block uuid.UUID, labels []string) error {
	var there []string
	for part := range slices.Chunk(labels, 500) {
		var some []string
		if err := tx.DB().Model(&models.Palm{}).Where("block_id = ? AND label IN ?", block, part).Order("seq").Limit(1).Pluck("label", &some).Error; err != nil {
			return err
		}
		there = append(there, some...)
	}
	if len(there) == 0 {
		return nil
	}
	return models.FaultAt("/first", "fault.palm_taken", payroll.Terms{"palm": there[0]})
}

// Avoid is the word that nobody is to go up a palm, which is named by its identifier, or by its block and label.
type Avoid struct {
	Stamp
	PalmID  *uuid.UUID        `json:"palm_id,omitempty"`
	BlockID *uuid.UUID        `json:"block_id,omitempty"`
	Label   string            `json:"label,omitempty"`
	Reason  models.PalmReason `json:"reason"`
	Note    string            `json:"note,omitempty"`
}

// AvoidPalm records the word against a palm, which is to be avoided from then on. Where it is already, the first word stands and this one is kept beside it.
func AvoidPalm(tx *models.Tx, in Avoid) (*models.PalmEvent, bool, error) {
	in.Label, in.Note = strings.TrimSpace(in.Label), strings.TrimSpace(in.Note)
	hash := models.ContentHash(in)
	if kept, err := models.Repeat[models.PalmEvent](tx, in.ID, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	c := models.NewChecker(tx)
	in.checkStamp(c)
	c.OneOf("/reason", string(in.Reason), models.Words(models.PalmReasons)...)
	if c.OptionalText("/note", &in.Note, noteLimit); in.Reason == "other" && in.Note == "" {
		c.Fault("/note", "fault.empty", nil)
	}
	named := in.PalmID != nil
	if named == (in.BlockID != nil) || named == (in.Label != "") {
		c.Fault("/palm_id", "fault.palm_or_label", nil)
	}
	if err := done(c); err != nil {
		return nil, false, err
	}
	palm, err := in.palm(tx)
	if err != nil {
		return nil, false, err
	}
	e := &models.PalmEvent{PalmID: palm.ID, Kind: models.PalmAvoid, Reason: in.Reason, Note: in.Note, HappenedAt: in.at(tx)}
	stands := &in.ID
	if palm.Content.AvoidedBy != nil {
		stands = palm.Content.AvoidedBy
	}
	return keepPalmEvent(tx, palm, e, in.ID, hash, stands)
}

// palm finds the palm that is meant and holds it.
func (a *Avoid) palm(tx *models.Tx) (*models.Palm, error) {
	if a.PalmID != nil {
		palm, err := locked[models.PalmContent](tx, *a.PalmID)
		if models.KindOf(err) == models.NotFound {
			err = unknown("/palm_id", "fault.unknown_palm", "palm", *a.PalmID)
		}
		return palm, err
	}
	block, err := models.Get[models.BlockContent](tx, *a.BlockID)
	if models.KindOf(err) == models.NotFound {
		return nil, models.FaultAt("/block_id", "fault.unknown_reference", nil)
	} else if err != nil {
		return nil, err
	}
	var found []models.Palm
	err = tx.Locking().Where("block_id = ? AND label = ?", block.ID, a.Label).Limit(1).Find(&found).Error
	if err == nil && len(found) == 0 {
		err = models.FaultAt("/label", "fault.unknown_palm_of_block", payroll.Terms{"palm": a.Label, "block": block.Content.Code})
	}
	if err != nil {
		return nil, err
	}
	return &found[0], nil
}

// BackInUse is a competent person's word that a palm may be climbed again.
type BackInUse struct {
	Stamp
	CompetentPerson string `json:"competent_person"`
	Note            string `json:"note"` // why
}

// ReleasePalm puts a palm back in use, provided that the version looked at is still the one that stands.
func ReleasePalm(tx *models.Tx, id uuid.UUID, version int64, in BackInUse) (*models.PalmEvent, bool, error) {
	in.CompetentPerson, in.Note = strings.TrimSpace(in.CompetentPerson), strings.TrimSpace(in.Note)
	hash := models.ContentHash([]any{id, in})
	if kept, err := models.Repeat[models.PalmEvent](tx, in.ID, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	palm, err := locked[models.PalmContent](tx, id)
	if err == nil {
		err = moved(version, palm.Version)
	}
	if err != nil {
		return nil, false, err
	}
	c := models.NewChecker(tx)
	in.checkStamp(c)
	c.Text("/competent_person", &in.CompetentPerson, nameLimit)
	c.Text("/note", &in.Note, noteLimit)
	if err := done(c); err != nil {
		return nil, false, err
	}
	if palm.Content.AvoidedBy == nil {
		return nil, false, &models.Error{Kind: models.Conflict, Key: "problem.palm_in_use"}
	}
	e := &models.PalmEvent{PalmID: id, Kind: models.PalmBackInUse, Note: in.Note, Person: in.CompetentPerson, HappenedAt: in.at(tx)}
	return keepPalmEvent(tx, palm, e, in.ID, hash, nil)
}

// keepPalmEvent writes a word on a palm and what it makes of the palm.
func keepPalmEvent(tx *models.Tx, palm *models.Palm, e *models.PalmEvent, id uuid.UUID, hash string, avoidedBy *uuid.UUID) (*models.PalmEvent, bool, error) {
	e.Keyed = models.Keyed{ID: id, ContentHash: hash}
	e.ReceivedAt, e.RecordedBy = tx.Now, tx.Actor
	if err := tx.DB().Create(e).Error; err != nil {
		return nil, false, err
	}
	change := map[string]any{"avoided_by": avoidedBy, "version": gorm.Expr("version + 1"), "updated_at": tx.Now}
	if err := tx.DB().Model(&models.Palm{}).Where("id = ?", palm.ID).Updates(change).Error; err != nil {
		return nil, false, err
	}
	before := map[string]any{"avoided_by": palm.Content.AvoidedBy}
	return e, false, tx.Audit(models.Audit{Action: string(e.Kind), SubjectKind: "palms", SubjectID: palm.ID, Before: before, After: e, Reason: e.Note})
}

// PalmEvents lists what was said of a palm, oldest first.
func PalmEvents(tx *models.Tx, palm uuid.UUID) ([]models.PalmEvent, error) {
	if missing, err := tx.Missing("palms", []uuid.UUID{palm}); err != nil || missing[palm] {
		if err == nil {
			err = &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
		}
		return nil, err
	}
	var events []models.PalmEvent
	err := tx.DB().Where("palm_id = ?", palm).Order("seq").Find(&events).Error
	return events, err
}

// PalmToAvoid is a palm that nobody is to go up, and why.
type PalmToAvoid struct {
	Seq        int64             `json:"-"`
	ID         uuid.UUID         `json:"id"`
	Version    int64             `json:"version"`
	GardenID   uuid.UUID         `json:"garden_id"`
	BlockID    uuid.UUID         `json:"block_id"`
	Block      string            `json:"block"`
	Label      string            `json:"label"`
	EventID    uuid.UUID         `json:"event_id"`
	Reason     models.PalmReason `json:"reason"`
	Note       string            `json:"note,omitempty"`
	Since      time.Time         `json:"since"`
	RecordedBy string            `json:"recorded_by"` // the name of whoever said so
}

// PalmsInUse keeps those whose block has not ended before a day.
func PalmsInUse(day models.Date) models.Condition {
	return models.Where("(b.ended_on IS NULL OR b.ended_on >= ?)", day)
}

// PalmsToAvoid lists them, one more than the page's limit where more follow. The conditions may name b.garden_id and p.block_id.
func PalmsToAvoid(tx *models.Tx, page models.Page, conditions ...models.Condition) ([]PalmToAvoid, error) {
	var palms []PalmToAvoid
	err := tx.DB().Table("palms AS p").
		Select("p.seq, p.id, p.version, b.garden_id, p.block_id, b.code AS block, p.label, e.id AS event_id, e.reason, e.note, e.happened_at AS since, a.name AS recorded_by").
		Joins("JOIN blocks b ON b.employer_id = p.employer_id AND b.id = p.block_id").
		Joins("JOIN palm_events e ON e.employer_id = p.employer_id AND e.id = p.avoided_by").
		Joins("JOIN accounts a ON a.employer_id = p.employer_id AND a.id = e.recorded_by").
		Scopes(conditions...).Where("p.avoided_by IS NOT NULL AND p.seq > ?", page.After).Order("p.seq").Limit(page.Limit + 1).Find(&palms).Error
	return palms, err
}
