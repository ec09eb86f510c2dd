package pages

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/climbs"
	"palmero/safety/checklists"
)

// checklistPages show the lists that leads filled in before a climb, and take the officer's word on them.
func checklistPages() []Page {
	return []Page{
		{Method: "GET", Path: "/checklists", Roles: guards, Nav: "page.nav.checklists", Under: "/safety", handle: showChecklists},
		{Method: "GET", Path: "/checklists/{id}", Roles: guards, handle: showChecklist},
		{Method: "POST", Path: "/checklists/{id}", Roles: officer, handle: reviewChecklist},
	}
}

// reviewDays is how far back lists are shown: what was not reviewed by then is history.
const reviewDays = 60

// filledAtOnce is how many lists a page shows of those that wait, and of those that were spoken on.
const filledAtOnce = 60

// checklistsPage is the lists that wait for the officer's word, the oldest first, and those that have it.
type checklistsPage struct {
	Waiting, Reviewed []filledList
	More              bool // whether more wait
	Zone              *time.Location
}

// filledList is a filled list with the names of what it is about.
type filledList struct {
	climbs.ReviewedChecklist
	Crew, Title, By string
}

func showChecklists(v *visit) (*answer, error) {
	var page checklistsPage
	err := v.view(func(tx *models.Tx) error {
		day, err := v.shownDay(tx)
		if err != nil {
			return err
		}
		page.Zone = day.Zone
		if page.Waiting, err = v.filledLists(tx, models.Reviewed(false), models.WorkedFrom(day.Today.AddDays(-reviewDays))); err != nil {
			return err
		}
		page.Reviewed, err = v.filledLists(tx, models.Reviewed(true), models.WorkedFrom(day.Today.AddDays(-1)))
		return err
	})
	if err != nil {
		return nil, err
	}
	if page.More = len(page.Waiting) > filledAtOnce; page.More {
		page.Waiting = page.Waiting[:filledAtOnce]
	}
	return show("checklists", page), nil
}

// filledLists reads the lists that stand and that the conditions keep.
func (v *visit) filledLists(tx *models.Tx, conditions ...models.Condition) ([]filledList, error) {
	filled, err := models.List[models.FilledChecklist](tx, models.Page{Limit: filledAtOnce}, append(conditions, models.Standing(true))...)
	if err != nil || len(filled) == 0 {
		return nil, err
	}
	reviewed, err := climbs.WithReviews(tx, filled)
	if err != nil {
		return nil, err
	}
	crews, err := crewNames(tx)
	if err != nil {
		return nil, err
	}
	accounts, err := accountNames(tx)
	lists := make([]filledList, len(reviewed))
	for i, r := range reviewed {
		lists[i] = filledList{r, crews[r.Content.CrewID], v.listTitle(r.Content.Checklist), accounts[r.RecordedBy]}
	}
	return lists, err
}

// listTitle is what a list is called, by its key where the program no longer has it.
func (v *visit) listTitle(key string) string {
	if list := climbBooks().Lists[key]; list != nil {
		return list.Title[v.language()]
	}
	return key
}

// checklistPage is one filled list, item by item.
type checklistPage struct {
	filledList
	Items     []answeredItem // defects first, then what was left out, then the rest
	Equipment []seenPiece
	Correct   *uuid.UUID // the list that took its place; nil: it stands
	Reviewer  string
	Photos    []shownPhoto // of no item in particular
	Zone      *time.Location
}

// answeredItem is an item of a list with what was found.
type answeredItem struct {
	ID, Ask, Found, Note, Authority, Link string
	Mark                                  string // "go", "look", "stop" or "plain"
	Piece                                 string // on which the defect was found
	Photos                                []shownPhoto
}

// seenPiece is a piece of equipment that was looked at.
type seenPiece struct {
	ID     uuid.UUID
	Code   string
	Defect bool
}

func showChecklist(v *visit) (*answer, error) { return checklistReview(v, newForm(nil)) }

func checklistReview(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page checklistPage
	err = v.view(func(tx *models.Tx) (err error) { return page.read(tx, v, id) })
	if err != nil {
		return nil, err
	}
	return show("checklist", page).with(f), nil
}

func (p *checklistPage) read(tx *models.Tx, v *visit, id uuid.UUID) error {
	day, err := v.shownDay(tx)
	if err != nil {
		return err
	}
	p.Zone = day.Zone
	filled, err := models.List[models.FilledChecklist](tx, models.Page{Limit: 1}, models.Equal("id", id))
	if err != nil {
		return err
	}
	if len(filled) == 0 {
		return errNotFound
	}
	reviewed, err := climbs.WithReviews(tx, filled)
	if err != nil {
		return err
	}
	p.ReviewedChecklist, p.Correct = reviewed[0], filled[0].SupersededBy
	return p.name(tx, v)
}

// name reads what goes by name, and the text of the list as it was asked.
func (p *checklistPage) name(tx *models.Tx, v *visit) error {
	crews, err := crewNames(tx)
	if err != nil {
		return err
	}
	accounts, err := accountNames(tx)
	if err != nil {
		return err
	}
	p.Crew, p.By, p.Title = crews[p.Content.CrewID], accounts[p.RecordedBy], v.listTitle(p.Content.Checklist)
	if p.Review != nil {
		p.Reviewer = accounts[p.Review.ReviewedBy]
	}
	ids := []uuid.UUID{uuid.Nil}
	for _, e := range p.Content.Equipment {
		ids = append(ids, e.EquipmentID)
	}
	pieces, err := models.List[models.Equipment](tx, models.Page{Limit: len(ids)}, models.OneOf("id", ids))
	if err != nil {
		return err
	}
	codes := map[uuid.UUID]string{}
	for _, e := range pieces {
		codes[e.ID] = e.Content.Code
	}
	for _, e := range p.Content.Equipment {
		p.Equipment = append(p.Equipment, seenPiece{e.EquipmentID, codes[e.EquipmentID], e.Defect})
	}
	list, err := climbBooks().ListOf(tx, p.Content.Checklist, p.Content.Digest)
	if err == nil && list != nil {
		p.sort(list, v.language(), codes)
	}
	if err != nil {
		return err
	}
	return p.findPhotos(tx, v)
}

// findPhotos puts the photos beside the items that they show.
func (p *checklistPage) findPhotos(tx *models.Tx, v *visit) error {
	asked := map[string]string{"": p.Title}
	for _, item := range p.Items {
		asked[item.ID] = item.Ask
	}
	photos, err := v.photosOf(tx, []uuid.UUID{p.ID}, func(photo models.Photo) string { return asked[photo.Item] })
	for i := range p.Items {
		p.Items[i].Photos = photos[p.ID.String()+p.Items[i].ID]
	}
	p.Photos = photos[p.ID.String()]
	return err
}

// sort puts the answers beside the items: what is wrong comes first, then what nobody answered, then the rest.
func (p *checklistPage) sort(list *checklists.Checklist, language string, codes map[uuid.UUID]string) {
	given := map[string]models.ItemAnswer{}
	for _, a := range p.Content.Answers {
		given[a.Item] = a
	}
	var wrong, open, fine []answeredItem
	for _, item := range list.Items {
		a, ok := given[item.ID]
		shown := answeredItem{ID: item.ID, Ask: item.Ask[language], Note: a.Note, Authority: item.Authority, Link: item.Link}
		if a.EquipmentID != nil {
			shown.Piece = codes[*a.EquipmentID]
		}
		switch {
		case !ok:
			shown.Mark = "look"
			open = append(open, shown)
		case checklists.Answer(a.Answer) == checklists.Defect:
			shown.Found, shown.Mark = item.Defect[language], "look"
			if item.Stops {
				shown.Mark = "stop"
			}
			wrong = append(wrong, shown)
		case checklists.Answer(a.Answer) == checklists.DoesNotApply:
			shown.Mark = "plain"
			fine = append(fine, shown)
		default:
			shown.Found, shown.Mark = item.OK[language], "go"
			fine = append(fine, shown)
		}
	}
	p.Items = append(append(wrong, open...), fine...)
}

// reviewChecklist keeps the officer's word on a list: accepted, sent back, or the climb stopped.
func reviewChecklist(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("decision", "reason")
	if err != nil {
		return nil, err
	}
	in := climbs.Reviewing{ID: f.ID, Decision: models.ReviewDecision(f.Value("decision")), Reason: f.Value("reason")}
	err = v.in(func(tx *models.Tx) error {
		_, _, err := climbs.Review(tx, id, in)
		return err
	})
	if err != nil {
		return v.again(f, err, checklistReview)
	}
	if in.Decision == models.StopClimb {
		return seeOther("/stops", "stopped"), nil
	}
	return seeOther("/checklists", "checklist_"+string(in.Decision)), nil
}
