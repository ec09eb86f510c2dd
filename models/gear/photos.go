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
	Bytes       []byte
}

// AddPhoto keeps a photo of something that is on record. What it is the bytes tell, whatever anybody says.
func AddPhoto(tx *models.Tx, in Picture) (*models.Photo, bool, error) {
	sum := sha256.Sum256(in.Bytes)
	digest := hex.EncodeToString(sum[:])
	hash := models.ContentHash([]any{in.SubjectKind, in.SubjectID, digest})
	if kept, err := models.Repeat[models.Photo](tx, in.ID, hash); kept != nil || err != nil {
		return kept, kept != nil, err
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
	if err := done(c); err != nil {
		return nil, false, err
	}
	p := &models.Photo{
		Keyed: models.Keyed{ID: in.ID, ContentHash: hash}, SubjectKind: in.SubjectKind, SubjectID: in.SubjectID, Media: media, Size: int64(len(in.Bytes)), Digest: digest,
		Picture: base64.StdEncoding.EncodeToString(in.Bytes), ReceivedAt: tx.Now, RecordedBy: tx.Actor,
	}
	if err := tx.DB().Create(p).Error; err != nil {
		return nil, false, err
	}
	return p, false, tx.Audit(models.Audit{Action: "photo", SubjectKind: in.SubjectKind, SubjectID: in.SubjectID, After: p})
}

// mediaOf tells JPEG from PNG by the bytes; anything else is refused, and so is what begins as a picture and is none.
func mediaOf(picture []byte) (string, error) {
	if len(picture) > MostOfAPhoto {
		return "", models.FaultAt("", "fault.photo_too_large", payroll.Terms{"kilobytes": MostOfAPhoto >> 10})
	}
	media := http.DetectContentType(picture)
	config, _, err := image.DecodeConfig(bytes.NewReader(picture))
	if media != "image/jpeg" && media != "image/png" || err != nil || config.Width*config.Height > mostPixels {
		return "", models.FaultAt("", "fault.photo", nil)
	}
	return media, nil
}

// Photos lists the photos of a record without their bytes, oldest first.
func Photos(tx *models.Tx, subject uuid.UUID) ([]models.Photo, error) {
	photos := []models.Photo{}
	err := tx.DB().Omit("picture").Where("subject_id = ?", subject).Order("seq").Find(&photos).Error
	return photos, err
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
