package pages

import (
	"maps"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll/dated"
)

// equipmentPages show what people climb on and hang from, and take it out of service and back.
func equipmentPages() []Page {
	return slices.Concat(gearPages(), equipmentKeepPages(), []Page{
		{Method: "GET", Path: "/equipment", Roles: guards, Nav: "page.nav.equipment", Under: "/safety", handle: showEquipment},
		{Method: "GET", Path: "/equipment/{id}", Roles: guards, handle: showPiece},
		{Method: "POST", Path: "/equipment/{id}", Roles: officer, handle: changePiece},
		{Method: "GET", Path: "/equipment/{id}/inspection", Roles: officer, handle: showInspection},
		{Method: "POST", Path: "/equipment/{id}/inspection", Roles: officer, handle: inspectPiece},
		{Method: "POST", Path: "/equipment/{id}/mending", Roles: officer, handle: mendFinding},
	})
}

// piecesAtOnce is how many pieces of the register a page lists.
const piecesAtOnce = 100

// equipmentPage is the register: what is stopped, what is due, then every piece.
type equipmentPage struct {
	Today   dated.Date
	Stopped []models.Equipment
	Due     []gear.Due
	Pieces  []models.Equipment
	Next    int64 // the place in the register after which more pieces follow; 0: there are none
}

func showEquipment(v *visit) (*answer, error) {
	after, err := strconv.ParseInt(v.gin.DefaultQuery("after", "0"), 10, 64)
	if err != nil {
		after = 0
	}
	var page equipmentPage
	err = v.view(func(tx *models.Tx) error {
		day, err := v.shownDay(tx)
		if err != nil {
			return err
		}
		page.Today = day.Today
		if page.Stopped, err = models.List[models.Equipment](tx, models.Page{Limit: mostMembers}, models.Equal("state", models.OutOfService)); err != nil {
			return err
		}
		if page.Due, err = gear.Overdue(tx, figuring.Books(), day.Today); err != nil {
			return err
		}
		page.Pieces, err = models.List[models.Equipment](tx, models.Page{After: after, Limit: piecesAtOnce})
		return err
	})
	if err != nil {
		return nil, err
	}
	if len(page.Pieces) > piecesAtOnce {
		page.Pieces = page.Pieces[:piecesAtOnce]
		page.Next = page.Pieces[piecesAtOnce-1].Seq
	}
	return show("equipment", page), nil
}

// piecePage is one piece with what happened to it.
type piecePage struct {
	shownDay
	*models.Equipment
	Open   []models.EquipmentFinding // that nobody has settled
	ToMend []Option                  // those of them that are settled by mending
	Events []gear.Event              // the latest first
	Photos map[string][]shownPhoto   // by the identifier of the event or the finding
}

// eventsShown is how many of the latest things that happened to a piece a page tells.
const eventsShown = 50

func showPiece(v *visit) (*answer, error) { return piecePageOf(v, newForm(nil)) }

func piecePageOf(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page piecePage
	err = v.view(func(tx *models.Tx) (err error) { return page.read(tx, v, id) })
	if err != nil {
		return nil, err
	}
	f.Keep(page.Version)
	return show("piece", page).with(f), nil
}

func (p *piecePage) read(tx *models.Tx, v *visit, id uuid.UUID) (err error) {
	if p.shownDay, err = v.shownDay(tx); err != nil {
		return err
	}
	if p.Equipment, err = models.Get[models.EquipmentContent](tx, id); err != nil {
		return err
	}
	if p.Open, err = models.List[models.EquipmentFinding](tx, models.Page{Limit: eventsShown}, models.Equal("equipment_id", id), models.OpenFindings(true)); err != nil {
		return err
	}
	for _, f := range p.Open {
		if f.Severity == models.ToMend {
			p.ToMend = append(p.ToMend, Option{Value: f.ID.String(), Label: f.Note})
		}
	}
	if p.Events, err = gear.LatestEvents(tx, id, eventsShown); err != nil {
		return err
	}
	return p.findPhotos(tx, v)
}

// findPhotos reads the photos of what happened to the piece and was found on it.
func (p *piecePage) findPhotos(tx *models.Tx, v *visit) (err error) {
	what := map[uuid.UUID]string{}
	for _, e := range p.Events {
		what[e.ID] = v.say("page.equipment.event."+string(e.Kind), nil)
		for _, f := range e.Findings {
			what[f.ID] = f.Note
		}
	}
	for _, f := range p.Open {
		what[f.ID] = f.Note
	}
	p.Photos, err = v.photosOf(tx, slices.Collect(maps.Keys(what)), func(photo models.Photo) string { return p.Content.Code + ": " + what[photo.SubjectID] })
	return err
}

// changePiece takes a piece out of service, or puts it back.
func changePiece(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("competent_person", "note")
	if err != nil {
		return nil, err
	}
	done := "piece_out"
	err = v.in(func(tx *models.Tx) error {
		var err error
		switch f.Value("do") {
		case "back":
			done = "piece_back"
			_, _, err = gear.PutBack(tx, id, f.Version, gear.Return{Stamp: gear.Stamp{ID: f.ID}, CompetentPerson: f.Value("competent_person"), Note: f.Value("note")})
		case "fall":
			_, _, err = gear.Withdraw(tx, id, gear.Withdrawal{Stamp: gear.Stamp{ID: f.ID}, Kind: models.ArrestedFall, Note: f.Value("note")})
		default:
			_, _, err = gear.Withdraw(tx, id, gear.Withdrawal{Stamp: gear.Stamp{ID: f.ID}, Kind: models.Withdrawn, Note: f.Value("note")})
		}
		return err
	})
	if err != nil {
		return v.again(f, err, piecePageOf)
	}
	return seeOther("/equipment/"+id.String(), done), nil
}

// mendFinding settles a finding that asked for mending.
func mendFinding(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("finding", "person")
	if err != nil {
		return nil, err
	}
	finding := f.Ref("finding")
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := gear.Mend(tx, finding, gear.Mending{Stamp: gear.Stamp{ID: f.ID}, Person: f.Value("person")})
			return err
		})
	}
	if err != nil {
		return v.again(f, err, piecePageOf)
	}
	return seeOther("/equipment/"+id.String(), "mended"), nil
}

// inspectionPage is the form of a look at a piece by a competent person.
type inspectionPage struct{ *models.Equipment }

func showInspection(v *visit) (*answer, error) { return inspectionPageOf(v, newForm(nil)) }

func inspectionPageOf(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page inspectionPage
	err = v.view(func(tx *models.Tx) (err error) {
		page.Equipment, err = models.Get[models.EquipmentContent](tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("inspection", page).with(f), nil
}

// inspectPiece keeps a competent person's look at a piece, with one thing found or nothing.
func inspectPiece(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("person", "findings.0.severity", "findings.0.note", "note")
	if err != nil {
		return nil, err
	}
	in := gear.Inspection{Stamp: gear.Stamp{ID: f.ID}, Kind: models.PeriodicInspection, Person: f.Value("person"), Note: f.Value("note")}
	if severity := f.Value("findings.0.severity"); severity != "" {
		// Its identifier follows from the form's, so that a form sent twice finds the same thing.
		in.Findings = []gear.Finding{{ID: uuid.NewSHA1(f.ID, []byte("finding")), Severity: models.Severity(severity), Note: f.Value("findings.0.note")}}
	}
	err = v.in(func(tx *models.Tx) error {
		_, _, err := gear.Inspect(tx, id, in)
		return err
	})
	if err != nil {
		return v.again(f, err, inspectionPageOf)
	}
	return seeOther("/equipment/"+id.String(), "inspected"), nil
}
