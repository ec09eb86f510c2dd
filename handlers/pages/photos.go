package pages

import (
	"net/url"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll"
)

// Who sees photos of what was found, and who adds them.
var (
	photoViewers = []models.Role{models.RoleCrewLead, models.RoleSafetyOfficer, models.RoleAdministrator}
	photoTakers  = []models.Role{models.RoleCrewLead, models.RoleSafetyOfficer}
)

// A photo comes in as a phone takes it. More than mostUpload is told beside the field, and more than mostOfForm is not read.
const (
	mostUpload = 12 << 20
	mostOfForm = 32 << 20
)

// photoPages show photos of what was found, and take them from a phone.
func photoPages() []Page {
	return []Page{
		{Method: "GET", Path: "/photos/add", Roles: photoTakers, handle: showPhotoForm},
		{Method: "POST", Path: "/photos/add", Roles: photoTakers, Most: mostOfForm, handle: addPhoto},
		{Method: "GET", Path: "/photos/{id}", Roles: photoViewers, handle: servePhoto},
		{Method: "GET", Path: "/photos/{id}/small", Roles: photoViewers, handle: serveSmallPhoto},
	}
}

// shownPhoto is a photo on a page: small within it, or by a link.
type shownPhoto struct {
	ID    uuid.UUID
	What  string // it shows, for those who do not see it
	Small bool   // whether it is shown small
}

// shownSmall is how many photos a page shows within it. The others are links, that the page stays light.
const shownSmall = 3

// photosOf are the photos of some records by record and item, in what order they came in. what says what one shows.
func (v *visit) photosOf(tx *models.Tx, subjects []uuid.UUID, what func(models.Photo) string) (map[string][]shownPhoto, error) {
	photos, err := gear.PhotosOf(tx, subjects)
	shown := map[string][]shownPhoto{}
	for i, p := range photos {
		said := v.say("page.photo.of", payroll.Terms{"number": i + 1, "what": what(p)})
		key := p.SubjectID.String() + p.Item
		shown[key] = append(shown[key], shownPhoto{p.ID, said, p.Thumbnail != "" && i < shownSmall})
	}
	return shown, err
}

func servePhoto(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var photo *models.Photo
	var picture []byte
	err = v.view(func(tx *models.Tx) (err error) {
		photo, picture, err = gear.PhotoBytes(tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	name := id.String() + map[string]string{"image/jpeg": ".jpg", "image/png": ".png"}[photo.Media]
	return &answer{file: &file{name: name, media: photo.Media, bytes: picture, inline: true}}, nil
}

func serveSmallPhoto(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var small []byte
	err = v.view(func(tx *models.Tx) (err error) {
		small, err = gear.Thumbnail(tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	return &answer{file: &file{name: id.String() + "-small.jpg", media: "image/jpeg", bytes: small, inline: true}}, nil
}

// photoForm is the form by which a photo of a record is added, with those that there are.
type photoForm struct {
	Kind, Of, Title string
	Items           []Option // of a checklist, what is wrong first
	Photos          []shownPhoto
	Back            string
}

func showPhotoForm(v *visit) (*answer, error) {
	f := newForm(nil)
	for _, name := range []string{"kind", "of", "item"} {
		f.Set(name, v.gin.Query(name))
	}
	return photoFormAgain(v, f)
}

func photoFormAgain(v *visit, f *Form) (*answer, error) {
	of, err := uuid.Parse(f.Value("of"))
	if err != nil {
		return nil, errNotFound
	}
	page := photoForm{Kind: f.Value("kind"), Of: of.String()}
	err = v.view(func(tx *models.Tx) error {
		what, err := page.subject(tx, v, of)
		if err != nil {
			return err
		}
		photos, err := v.photosOf(tx, []uuid.UUID{of}, what)
		for _, some := range photos {
			page.Photos = append(page.Photos, some...)
		}
		slices.SortFunc(page.Photos, func(a, b shownPhoto) int { return slices.Compare(a.ID[:], b.ID[:]) })
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("photo_add", page).with(f), nil
}

// subject reads what a photo is to be of: how that is called, the page that it stands on, and what each of its photos shows.
func (p *photoForm) subject(tx *models.Tx, v *visit, id uuid.UUID) (what func(models.Photo) string, err error) {
	switch p.Kind {
	case "checklist":
		return p.ofList(tx, v, id)
	case "palm_event":
		err = p.ofPalm(tx, v, id)
	case "equipment_event":
		var e *models.EquipmentEvent
		if e, err = photographed[models.EquipmentEvent](tx, id); err == nil {
			err = p.ofPiece(tx, v, e.EquipmentID, v.say("page.equipment.event."+string(e.Kind), nil))
		}
	case "equipment_finding":
		var found *models.EquipmentFinding
		if found, err = photographed[models.EquipmentFinding](tx, id); err == nil {
			err = p.ofPiece(tx, v, found.EquipmentID, found.Note)
		}
	default:
		err = errNotFound
	}
	return func(models.Photo) string { return p.Title }, err
}

// photographed reads a record that photos are of.
func photographed[T any](tx *models.Tx, id uuid.UUID) (*T, error) {
	found, err := models.List[T](tx, models.Page{Limit: 1}, models.Equal("id", id))
	if err == nil && len(found) == 0 {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	return &found[0], nil
}

func (p *photoForm) ofPalm(tx *models.Tx, v *visit, id uuid.UUID) error {
	e, err := photographed[models.PalmEvent](tx, id)
	if err != nil {
		return err
	}
	palm, err := models.Get[models.PalmContent](tx, e.PalmID)
	if err != nil {
		return err
	}
	block, err := models.Get[models.BlockContent](tx, palm.Content.BlockID)
	if err != nil {
		return err
	}
	p.Title = v.palmEventWords(palm, block, e)
	if p.Back = "/palms-to-avoid/" + palm.ID.String(); v.caller.Role == models.RoleCrewLead {
		p.Back = "/day/palms"
	}
	return nil
}

// palmEventWords says which word on a palm is meant.
func (v *visit) palmEventWords(palm *models.Palm, block *models.Block, e *models.PalmEvent) string {
	said := v.say("page.palm.back", nil)
	if e.Kind == models.PalmAvoid {
		said = v.catalogue().Word("palm_reason", string(e.Reason))
	}
	return v.say("page.palm.one_title", payroll.Terms{"label": palm.Content.Label, "block": block.Content.Code}) + ": " + said
}

// ofPiece reads the piece to which something happened, or on which it was found. A crew lead sees no page of a piece.
func (p *photoForm) ofPiece(tx *models.Tx, v *visit, id uuid.UUID, said string) error {
	piece, err := models.Get[models.EquipmentContent](tx, id)
	if err != nil {
		return err
	}
	p.Title = piece.Content.Code + ": " + said
	if p.Back = "/equipment/" + id.String(); v.caller.Role == models.RoleCrewLead {
		p.Back = "/"
	}
	return nil
}

// ofList reads what a filled list asks, so that a photo can be of one of its items.
func (p *photoForm) ofList(tx *models.Tx, v *visit, id uuid.UUID) (what func(models.Photo) string, err error) {
	var list checklistPage
	if err := list.read(tx, v, id); err != nil {
		return nil, err
	}
	p.Title = v.say("page.checklist.title", payroll.Terms{"list": list.Title, "crew": list.Crew, "date": list.Content.Workday.Date})
	asked := map[string]string{}
	for _, item := range list.Items {
		if item.Found == "" && item.Mark == "look" { // nobody answered
			continue
		}
		asked[item.ID] = item.Ask
		label := item.Ask
		if item.Mark == "look" || item.Mark == "stop" {
			label = v.say("page.photo.defect", payroll.Terms{"item": item.Ask})
		}
		p.Items = append(p.Items, Option{Value: item.ID, Label: label})
	}
	p.Items = append(p.Items, Option{Label: v.say("page.photo.whole_list", nil)})
	if p.Back = "/checklists/" + id.String(); v.caller.Role == models.RoleCrewLead {
		p.Back = "/day/climb"
	}
	return func(photo models.Photo) string {
		if words := asked[photo.Item]; words != "" {
			return words
		}
		return p.Title
	}, nil
}

func addPhoto(v *visit) (*answer, error) {
	f, photo, err := v.upload("photo", mostUpload, "kind", "of", "item", "photo")
	if err != nil {
		return nil, err
	}
	in := gear.Picture{ID: f.ID, SubjectKind: f.Value("kind"), SubjectID: f.Ref("of"), Item: f.Value("item")}
	switch {
	case len(photo.data) == 0:
		err = models.FaultAt("/photo", "page.photo.none_chosen", nil)
	case len(photo.data) > mostUpload:
		err = models.FaultAt("/photo", "page.photo.too_large", payroll.Terms{"megabytes": mostUpload >> 20})
	default:
		in.Bytes, err = gear.Shrink(photo.data)
	}
	if err == nil {
		err = f.Faulty()
	}
	if err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := gear.AddPhoto(tx, in)
			return err
		})
	}
	if err != nil {
		return v.again(f, inForm(err, "", "/photo"), photoFormAgain)
	}
	back := url.Values{"kind": {in.SubjectKind}, "of": {in.SubjectID.String()}}
	return seeOther("/photos/add?"+back.Encode(), "photo"), nil
}
