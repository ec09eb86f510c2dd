package pages

import (
	"cmp"
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll"
)

// gearPages tell what gear there is and who holds it, hand it out, take it back and replace it. Nobody pays for it.
func gearPages() []Page {
	return []Page{
		{Method: "GET", Path: "/gear", Roles: guards, Nav: "page.nav.gear", Under: "/safety", handle: showGear},
		{Method: "GET", Path: "/gear/held", Roles: guards, handle: showGearHeld},
		{Method: "GET", Path: "/gear/hand", Roles: officer, handle: showGearHand},
		{Method: "POST", Path: "/gear/hand", Roles: officer, handle: handGearOut},
		{Method: "GET", Path: "/gear/issues/{id}", Roles: guards, handle: showGearIssue},
		{Method: "POST", Path: "/gear/issues/{id}", Roles: officer, handle: changeGearIssue},
		{Method: "GET", Path: "/gear/kinds/new", Roles: officer, handle: showNewGearKind},
		{Method: "POST", Path: "/gear/kinds/new", Roles: officer, handle: keepNewGearKind},
		{Method: "GET", Path: "/gear/kinds/{id}", Roles: guards, handle: showGearKind},
		{Method: "POST", Path: "/gear/kinds/{id}", Roles: officer, handle: moveGearStock},
		{Method: "GET", Path: "/gear/kinds/{id}/change", Roles: officer, handle: showGearKindChange},
		{Method: "POST", Path: "/gear/kinds/{id}/change", Roles: officer, handle: keepGearKindChange},
	}
}

// mostHeld is more than the people of a crew hold at once, or than is late.
const mostHeld = 50_000

// gearPage is the stock, and what is out by crew.
type gearPage struct {
	shownDay
	Kinds []gearStock      // by name and size
	Late  []gear.IssueTold // due back, and still out
	Crews []gearCrew
}

// gearStock is a kind of gear with its levels in words.
type gearStock struct {
	*models.GearKind
	Levels string
}

// Low tells whether fewer are on hand than there should be.
func (s gearStock) Low() bool { return s.Content.LowAt != nil && s.Content.OnHand < *s.Content.LowAt }

// gearCrew is what a crew's people hold, in figures.
type gearCrew struct {
	ID                 string // "": those in no crew
	Name               string
	Held, Late, Unsaid int
}

func showGear(v *visit) (*answer, error) {
	var page gearPage
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		kinds, err := models.All[models.GearKindContent](tx)
		if err != nil {
			return err
		}
		for _, k := range kinds {
			page.Kinds = append(page.Kinds, gearStock{k, v.gearLevels(&k.Content)})
		}
		slices.SortFunc(page.Kinds, func(a, b gearStock) int {
			return cmp.Or(cmp.Compare(a.Content.Name, b.Content.Name), cmp.Compare(a.Content.Size, b.Content.Size))
		})
		return page.count(tx)
	})
	if err != nil {
		return nil, err
	}
	return show("gear", page), nil
}

// count counts what is held by the crews of those who hold it, and reads what is late.
func (p *gearPage) count(tx *models.Tx) error {
	crewOf, names, err := gearCrews(tx, p.shownDay)
	if err != nil {
		return err
	}
	holdings, err := gear.Holdings(tx, p.Today)
	if err != nil {
		return err
	}
	counts := map[string]*gearCrew{}
	for _, h := range holdings {
		crew := crewOf[h.WorkerID]
		c := counts[crew]
		if c == nil {
			c = &gearCrew{ID: crew, Name: names[crew]}
			counts[crew] = c
		}
		c.Held += h.Held
		c.Late += h.Late
		c.Unsaid += h.Unsaid
	}
	for _, c := range counts {
		p.Crews = append(p.Crews, *c)
	}
	slices.SortFunc(p.Crews, func(a, b gearCrew) int {
		return cmp.Or(cmp.Compare(strings.Count(b.ID, "-"), strings.Count(a.ID, "-")), cmp.Compare(a.Name, b.Name))
	})
	p.Late, err = gear.Issues(tx, models.Page{Limit: mostHeld}, models.DueBefore(p.Today))
	slices.SortStableFunc(p.Late, func(a, b gear.IssueTold) int { return a.DueOn.Compare(b.DueOn.Date) })
	return err
}

// gearLate tells whether something was due back before the day.
func gearLate(i *gear.IssueTold, day shownDay) bool {
	return !i.DueOn.IsZero() && i.DueOn.Before(day.Today)
}

// gearCrews tells of everybody in a crew on a day which, by its identifier, and the crews' names.
func gearCrews(tx *models.Tx, day shownDay) (crewOf map[uuid.UUID]string, names map[string]string, err error) {
	members, err := models.List[models.CrewMember](tx, models.Page{Limit: mostMembers}, models.MembersOn(day.On))
	if err != nil {
		return nil, nil, err
	}
	crewOf, names = map[uuid.UUID]string{}, map[string]string{}
	for i := range members {
		crewOf[members[i].Content.WorkerID] = members[i].Content.CrewID.String()
	}
	called, err := crewNames(tx)
	for id, name := range called {
		names[id.String()] = name
	}
	return crewOf, names, err
}

// gearHeldPage is what the people of a crew hold, one by one.
type gearHeldPage struct {
	shownDay
	Crew string // "": those in no crew
	Held []gearHeld
}

// gearHeld is gear in somebody's hands.
type gearHeld struct {
	gear.IssueTold
	Late bool
}

func showGearHeld(v *visit) (*answer, error) {
	var page gearHeldPage
	asked := v.gin.Query("crew")
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		crewOf, names, err := gearCrews(tx, page.shownDay)
		if err != nil {
			return err
		}
		if page.Crew = names[asked]; asked != "" && page.Crew == "" {
			return errNotFound
		}
		holdings, err := gear.Holdings(tx, page.Today)
		if err != nil {
			return err
		}
		var holders []uuid.UUID
		for _, h := range holdings {
			if crewOf[h.WorkerID] == asked {
				holders = append(holders, h.WorkerID)
			}
		}
		held, err := gear.Issues(tx, models.Page{Limit: mostHeld}, models.Held(true), models.OneOf("i.worker_id", holders))
		for i := range held {
			page.Held = append(page.Held, gearHeld{held[i], gearLate(&held[i], page.shownDay)})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(page.Held, func(a, b gearHeld) int { return cmp.Compare(a.WorkerNumber, b.WorkerNumber) })
	return show("gear_held", page), nil
}

// gearLevels are the levels of gloves as they are kept, each with its scale.
func (v *visit) gearLevels(k *models.GearKindContent) string {
	var all []string
	if k.CutLevel != "" {
		all = append(all, v.say("page.gear.level_cut", payroll.Terms{"level": k.CutLevel}))
	}
	if k.PunctureLevel != nil {
		all = append(all, v.say("page.gear.level_puncture", payroll.Terms{"level": int(*k.PunctureLevel)}))
	}
	if k.EN388 != "" {
		all = append(all, v.say("page.gear.level_en388", payroll.Terms{"level": k.EN388}))
	}
	return strings.Join(all, "; ")
}

// gearChoices are what the forms of gear are chosen from.
type gearChoices struct {
	Kinds, Pieces, Conditions, Reasons []Option
}

// gearChoices reads them.
func (v *visit) gearChoices(tx *models.Tx) (c gearChoices, err error) {
	for _, condition := range models.GearConditions {
		c.Conditions = append(c.Conditions, Option{Value: string(condition), Label: v.say("page.gear.condition."+string(condition), nil)})
	}
	for _, reason := range models.GearReturnCodes {
		c.Reasons = append(c.Reasons, Option{Value: string(reason), Label: v.say("page.gear.reason."+string(reason), nil)})
	}
	kinds, err := models.All[models.GearKindContent](tx)
	if err != nil {
		return c, err
	}
	for _, k := range kinds {
		c.Kinds = append(c.Kinds, Option{Value: k.ID.String(), Label: sized(k.Content.Name, k.Content.Size)})
	}
	pieces, err := models.List[models.Equipment](tx, models.Page{Limit: mostPieces}, models.Equal("state", models.InService))
	for _, e := range pieces {
		c.Pieces = append(c.Pieces, Option{Value: e.ID.String(), Label: e.Content.Code + " · " + v.catalogue().Word("equipment", string(e.Content.Kind))})
	}
	for _, options := range [][]Option{c.Kinds, c.Pieces} {
		slices.SortFunc(options, func(a, b Option) int { return cmp.Compare(a.Label, b.Label) })
	}
	c.Pieces = append([]Option{{Label: v.say("page.gear.no_piece", nil)}}, c.Pieces...)
	return c, err
}

// gearHandPage is the form that hands the same to many.
type gearHandPage struct {
	shownDay
	gearChoices
	Crew  string
	Crews []Option
	Who   []Option
}

func showGearHand(v *visit) (*answer, error) {
	return gearHandOf(v, newForm(map[string]string{"crew": v.gin.Query("crew"), "quantity": "1", "condition": "new"}))
}

func gearHandOf(v *visit, f *Form) (*answer, error) {
	var page gearHandPage
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		if page.gearChoices, err = v.gearChoices(tx); err != nil {
			return err
		}
		if page.Crews, err = v.crewOptions(tx, page.shownDay); err != nil || len(page.Crews) == 0 {
			return err
		}
		if f.Value("crew") == "" {
			f.Set("crew", page.Crews[0].Value)
		}
		for _, c := range page.Crews {
			if c.Value == f.Value("crew") {
				page.Crew = c.Label
			}
		}
		all, err := v.membersByCrew(tx, page.shownDay)
		for _, o := range all {
			if name, ours := strings.CutSuffix(o.Label, " · "+page.Crew); ours {
				page.Who = append(page.Who, Option{Value: o.Value, Label: name})
			}
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("gear_hand", page).with(f), nil
}

func handGearOut(v *visit) (*answer, error) {
	f, err := v.form("gear_kind_id", "equipment_id", "quantity", "condition", "who", "due_on", "crew")
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		day, err := v.shownDay(tx)
		if err != nil {
			return err
		}
		var who []uuid.UUID
		for _, id := range f.Values("who") {
			if worker, err := uuid.Parse(id); err == nil {
				who = append(who, worker)
			}
		}
		return handGearTo(tx, f, models.Day(day.Today), who)
	})
	if err != nil {
		return v.again(f, err, gearHandOf)
	}
	return seeOther("/gear/held?crew="+f.Ref("crew").String(), "gear_hand"), nil
}

// handGearTo hands the same to everybody who is named.
func handGearTo(tx *models.Tx, f *Form, day models.Date, who []uuid.UUID) error {
	line := gear.Issue{GearKindID: f.Ref("gear_kind_id"), Quantity: f.Whole("quantity"), Condition: models.GearCondition(f.Value("condition")), IssuedOn: day, DueOn: models.Day(f.Day("due_on"))}
	if piece := f.Ref("equipment_id"); piece != uuid.Nil {
		line.EquipmentID = &piece
	}
	var sheet gear.Sheet
	for _, worker := range who {
		// The identifier follows from the form's, so that a form sent twice hands out once.
		line.ID, line.WorkerID = uuid.NewSHA1(f.ID, worker[:]), worker
		sheet.Issues = append(sheet.Issues, line)
	}
	if len(sheet.Issues) == 0 {
		f.fault("who", "page.fault.choose", nil)
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	_, err := gear.Hand(tx, sheet)
	return onOneForm(err)
}

// gearBack reads how gear comes back, and what takes its place where something does: the same kind, as many, new.
func (f *Form) gearBack(issue *models.GearIssue, day models.Date) gear.GiveBack {
	in := gear.GiveBack{Stamp: gear.Stamp{ID: f.ID}, Reason: models.GearReturnCode(f.Value("reason")), Restock: f.Value("restock") != "", Note: f.Value("note")}
	if f.Value("replace") == "" {
		return in
	}
	in.Replacement = &gear.Replacement{
		ID: uuid.NewSHA1(f.ID, []byte("replacement")), GearKindID: issue.GearKindID, Quantity: issue.Quantity, Condition: models.GearConditions[0], IssuedOn: day, DueOn: models.Day(f.Day("replacement.due_on")),
	}
	if kind := f.Ref("replacement.gear_kind_id"); kind != uuid.Nil {
		in.Replacement.GearKindID = kind
	}
	if piece := f.Ref("replacement.equipment_id"); piece != uuid.Nil {
		in.Replacement.EquipmentID = &piece
	}
	return in
}

// gearBackFields are the fields of taking back and replacing.
var gearBackFields = []string{"reason", "note", "restock", "replace", "replacement.gear_kind_id", "replacement.equipment_id", "replacement.due_on"}

// gearIssuePage is one thing in one worker's hands.
type gearIssuePage struct {
	shownDay
	gearHeld
	gearChoices
	Levels string
}

func showGearIssue(v *visit) (*answer, error) { return gearIssueOf(v, newForm(nil)) }

func gearIssueOf(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page gearIssuePage
	err = v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		found, err := gear.Issues(tx, models.Page{Limit: 1}, models.Equal("i.id", id))
		if err == nil && len(found) == 0 {
			err = errNotFound
		}
		if err != nil {
			return err
		}
		page.gearHeld = gearHeld{found[0], gearLate(&found[0], page.shownDay)}
		if page.gearChoices, err = v.gearChoices(tx); err != nil {
			return err
		}
		kind, err := models.Get[models.GearKindContent](tx, found[0].GearKindID)
		if err == nil {
			page.Levels = v.gearLevels(&kind.Content)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	if f.Value("replacement.gear_kind_id") == "" {
		f.Set("replacement.gear_kind_id", page.GearKindID.String())
	}
	return show("gear_issue", page).with(f), nil
}

func changeGearIssue(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(append([]string{"typed_name"}, gearBackFields...)...)
	if err != nil {
		return nil, err
	}
	done := "gear_back"
	err = v.in(func(tx *models.Tx) error {
		found, err := models.List[models.GearIssue](tx, models.Page{Limit: 1}, models.Equal("id", id))
		if err == nil && len(found) == 0 {
			err = errNotFound
		}
		if err != nil {
			return err
		}
		if f.Value("do") == "acknowledge" {
			done = "gear_acknowledge"
			_, _, err = gear.Acknowledge(tx, nil, id, gear.Acknowledgement{Stamp: gear.Stamp{ID: f.ID}, TypedName: f.Value("typed_name")})
			return err
		}
		day, err := v.shownDay(tx)
		if err != nil {
			return err
		}
		in := f.gearBack(&found[0], models.Day(day.Today))
		if in.Replacement != nil {
			done = "gear_replaced"
		}
		if err := f.Faulty(); err != nil {
			return err
		}
		_, _, err = gear.TakeBack(tx, id, in)
		return err
	})
	if err != nil {
		return v.again(f, err, gearIssueOf)
	}
	return seeOther("/gear/issues/"+id.String(), done), nil
}
