package gear

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"image"
	_ "image/jpeg" // what a phone sends
	_ "image/png"
	"maps"
	"net/http"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// MostOfAPhoto is how many bytes a photo has at the most, and mostPixels how many pixels.
const (
	MostOfAPhoto = 1 << 20
	mostPixels   = 40_000_000
)

// Picture is a photo as it comes in.
type Picture struct {
	ID          uuid.UUID
	SubjectKind string // of models.PhotoSubjects
	SubjectID   uuid.UUID
	Item        string // of a checklist: what it shows; "": the whole
	Bytes       []byte
}

// AddPhoto keeps a photo of something that is on record. What it is the bytes tell, whatever anybody says.
func AddPhoto(tx *models.Tx, in Picture) (*models.Photo, bool, error) {
	sum := sha256.Sum256(in.Bytes)
	digest := hex.EncodeToString(sum[:])
	said := []any{in.SubjectKind, in.SubjectID, digest}
	if in.Item != "" {
		said = append(said, in.Item)
	}
	hash := models.ContentHash(said)
	if kept, err := models.Repeat[models.Photo](tx, in.ID, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	if len(in.Bytes) > MostOfAPhoto {
		return nil, false, models.FaultAt("", "fault.photo_too_large", payroll.Terms{"kilobytes": MostOfAPhoto >> 10})
	}
	media, err := mediaOf(in.Bytes)
	if err != nil {
		return nil, false, err
	}
	c := models.NewChecker(tx)
	c.OneOf("/subject_kind", in.SubjectKind, slices.Sorted(maps.Keys(models.PhotoSubjects))...)
	if table := models.PhotoSubjects[in.SubjectKind]; table != "" {
		c.Reference("/subject_id", table, in.SubjectID)
	}
	if err := in.checkItem(tx, c); err != nil {
		return nil, false, err
	}
	if err := done(c); err != nil {
		return nil, false, err
	}
	p := &models.Photo{
		Keyed: models.Keyed{ID: in.ID, ContentHash: hash}, SubjectKind: in.SubjectKind, SubjectID: in.SubjectID, Media: media, Size: int64(len(in.Bytes)), Digest: digest,
		Item: in.Item, Picture: base64.StdEncoding.EncodeToString(in.Bytes), Thumbnail: thumbnailOf(in.Bytes), ReceivedAt: tx.Now, RecordedBy: tx.Actor,
	}
	if err := tx.DB().Create(p).Error; err != nil {
		return nil, false, err
	}
	return p, false, tx.Audit(models.Audit{Action: "photo", SubjectKind: in.SubjectKind, SubjectID: in.SubjectID, After: p})
}

// checkItem wants the item to be one that the list answers.
func (in *Picture) checkItem(tx *models.Tx, c *models.Checker) error {
	if in.Item == "" {
		return nil
	}
	var filled []models.FilledChecklist
	if in.SubjectKind == "checklist" {
		if err := tx.DB().Where("id = ?", in.SubjectID).Limit(1).Find(&filled).Error; err != nil {
			return err
		}
	}
	if len(filled) == 0 || !slices.ContainsFunc(filled[0].Content.Answers, func(a models.ItemAnswer) bool { return a.Item == in.Item }) {
		c.Fault("/item", "fault.photo_item", payroll.Terms{"item": in.Item})
	}
	return nil
}

// notAPhoto is the fault of what is no picture, or none that is taken here.
var notAPhoto = models.FaultAt("", "fault.photo", nil)

// mediaOf tells JPEG from PNG by the bytes; anything else is refused, and so is what begins as a picture and is none.
func mediaOf(picture []byte) (string, error) {
	media := http.DetectContentType(picture)
	config, _, err := image.DecodeConfig(bytes.NewReader(picture))
	if media != "image/jpeg" && media != "image/png" || err != nil || config.Width*config.Height > mostPixels {
		return "", notAPhoto
	}
	return media, nil
}

// Photos lists the photos of a record without their bytes, oldest first.
func Photos(tx *models.Tx, subject uuid.UUID) ([]models.Photo, error) {
	photos := []models.Photo{}
	err := tx.DB().Omit("picture", "thumbnail").Where("subject_id = ?", subject).Order("seq").Find(&photos).Error
	return photos, err
}

// PhotosOf lists the photos of some records without their bytes but for the small ones, oldest first.
func PhotosOf(tx *models.Tx, subjects []uuid.UUID) (photos []models.Photo, err error) {
	if len(subjects) == 0 {
		return nil, nil
	}
	err = tx.DB().Omit("picture").Scopes(tx.Among("subject_id", subjects)).Order("seq").Find(&photos).Error
	return photos, err
}

// Thumbnail returns a photo made small, a JPEG. Of one that is too large for that there is none.
func Thumbnail(tx *models.Tx, id uuid.UUID) ([]byte, error) {
	var found []models.Photo
	err := tx.DB().Omit("picture").Where("id = ? AND thumbnail <> ''", id).Limit(1).Find(&found).Error
	if err == nil && len(found) == 0 {
		err = &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	if err != nil {
		return nil, err
	}
	return base64.StdEncoding.DecodeString(found[0].Thumbnail)
}

// PhotoBytes returns a photo with its bytes.
func PhotoBytes(tx *models.Tx, id uuid.UUID) (*models.Photo, []byte, error) {
	var found []models.Photo
	err := tx.DB().Where("id = ?", id).Limit(1).Find(&found).Error
	if err == nil && len(found) == 0 {
		err = &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	if err != nil {
		return nil, nil, err
	}
	picture, err := base64.StdEncoding.DecodeString(found[0].Picture)
	return &found[0], picture, err
}
