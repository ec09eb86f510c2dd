package handlers

import (
	"maps"
	"mime"
	"net/http"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll"
)

const photosPath = "/api/v1/photos"

// photoRoutes: a picture of what was found, sent as it is, and served as what its bytes are.
func photoRoutes() []Route {
	return []Route{
		{Method: "GET", Path: photosPath, Roles: staff, Query: []string{"subject_id"}, Status: http.StatusOK, handle: listPhotos},
		{Method: "POST", Path: photosPath, Roles: field, Query: []string{"id", "subject_kind", "subject_id", "item"}, Status: http.StatusCreated, Most: gear.MostOfAPhoto, handle: postPhoto},
		{Method: "GET", Path: photosPath + "/{id}", Roles: staff, Status: http.StatusOK, handle: getPhoto},
	}
}

// pictures are the types of body that are taken for a photo. Which of them it is, its own bytes say.
var pictures = []string{"image/jpeg", "image/png"}

func postPhoto(rq *request) (*reply, error) {
	kind, _, err := mime.ParseMediaType(rq.gin.GetHeader("Content-Type"))
	if err != nil || !slices.Contains(pictures, kind) {
		f := failureOf(http.StatusUnsupportedMediaType)
		f.Key = "problem.photo_media"
		return nil, f
	}
	in, err := rq.picture()
	if err != nil {
		return nil, err
	}
	if in.Bytes, err = rq.body(); err != nil {
		return nil, err
	}
	var photo *models.Photo
	var repeated bool
	err = rq.in(func(tx *models.Tx) (err error) {
		photo, repeated, err = gear.AddPhoto(tx, in)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(photo).at(photosPath, photo.ID, repeated), nil
}

// picture reads from the query what the photo is of.
func (rq *request) picture() (in gear.Picture, err error) {
	in.SubjectKind, in.Item = rq.gin.Query("subject_kind"), rq.gin.Query("item")
	var faults []payroll.Fault
	for name, id := range map[string]*uuid.UUID{"id": &in.ID, "subject_id": &in.SubjectID} {
		value := rq.gin.Query(name)
		if *id, err = uuid.Parse(value); err != nil || len(value) != uuidLength || name == "id" && len(checkID("", *id)) > 0 {
			faults = append(faults, payroll.Fault{Pointer: name, Key: "input.not_uuid", Terms: payroll.Terms{"value": value}})
		}
	}
	slices.SortFunc(faults, func(a, b payroll.Fault) int { return compareNames(a.Pointer, b.Pointer) })
	if allowed := slices.Sorted(maps.Keys(models.PhotoSubjects)); !slices.Contains(allowed, in.SubjectKind) {
		faults = append(faults, payroll.Fault{Pointer: "subject_kind", Key: "fault.not_one_of", Terms: payroll.Terms{"value": in.SubjectKind, "allowed": allowed}})
	}
	return in, faultyQuery(faults)
}

func listPhotos(rq *request) (*reply, error) {
	value := rq.gin.Query("subject_id")
	subject, err := uuid.Parse(value)
	if err != nil || len(value) != uuidLength {
		return nil, faultyQuery([]payroll.Fault{{Pointer: "subject_id", Key: "input.not_uuid", Terms: payroll.Terms{"value": value}}})
	}
	var photos []models.Photo
	err = rq.view(func(tx *models.Tx) (err error) {
		photos, err = gear.Photos(tx, subject)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(page[models.Photo]{Items: photos}), nil
}

// getPhoto serves the bytes. They are immutable; the policy keeps a browser from making anything else of them.
func getPhoto(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var photo *models.Photo
	var picture []byte
	err = rq.view(func(tx *models.Tx) (err error) {
		photo, picture, err = gear.PhotoBytes(tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	r := document(photo.Media, picture)
	r.header = http.Header{
		"Content-Security-Policy": {"default-src 'none'; sandbox"},
		"Content-Disposition":     {`inline; filename="` + photo.ID.String() + extensions[photo.Media] + `"`},
	}
	return r, nil
}

// extensions are the endings of the names that photos are saved under.
var extensions = map[string]string{"image/jpeg": ".jpg", "image/png": ".png"}
