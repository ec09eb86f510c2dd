package pages

import (
	"cmp"
	"errors"
	"path"
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/daybook"
	"palmero/models/gear"
	"palmero/payroll"
)

// crewGear is where a crew lead hands gear out and takes it back.
type crewGear struct {
	*desk
	Known                      []daybook.Person // those of the day who are in the list of workers
	Held                       []gear.IssueTold // in their hands, by name
	Kinds, Pieces              []Option
	Conditions, Reasons        []Option
	Unacknowledged, ToTakeBack []Option
}

func showCrewGear(v *visit) (*answer, error) {
	return crewGearAgain(v, newForm(map[string]string{"quantity": "1", "condition": "new"}))
}

func crewGearAgain(v *visit, f *Form) (*answer, error) {
	return v.dayPage("day_gear", f, func(tx *models.Tx, d *desk) (any, error) {
		p := &crewGear{desk: d, Known: d.known()}
		for _, condition := range models.GearConditions {
			p.Conditions = append(p.Conditions, Option{Value: string(condition), Label: v.say("page.gear.condition."+string(condition), nil)})
		}
		for _, reason := range models.GearReturnCodes {
			p.Reasons = append(p.Reasons, Option{Value: string(reason), Label: v.say("page.gear.reason."+string(reason), nil)})
		}
		return p, p.read(tx, v)
	})
}

// known are those of the day to whom gear can be handed: a hand who is in no list yet is nobody to the register until the day is sent.
func (d *desk) known() (known []daybook.Person) {
	for _, p := range d.People {
		if p.Number != 0 {
			known = append(known, p)
		}
	}
	return known
}

// read finds what there is to hand out, and what is out.
func (p *crewGear) read(tx *models.Tx, v *visit) error {
	kinds, err := models.All[models.GearKindContent](tx)
	if err != nil {
		return err
	}
	for _, k := range kinds {
		p.Kinds = append(p.Kinds, Option{Value: k.ID.String(), Label: sized(k.Content.Name, k.Content.Size)})
	}
	pieces, err := models.List[models.Equipment](tx, models.Page{Limit: mostPieces}, models.Equal("state", models.InService))
	if err != nil {
		return err
	}
	for _, e := range pieces {
		p.Pieces = append(p.Pieces, Option{Value: e.ID.String(), Label: e.Content.Code + " · " + v.catalogue().Word("equipment", string(e.Content.Kind))})
	}
	for _, options := range [][]Option{p.Kinds, p.Pieces} {
		slices.SortFunc(options, func(a, b Option) int { return cmp.Compare(a.Label, b.Label) })
	}
	p.Pieces = append([]Option{{Label: v.say("page.gear.no_piece", nil)}}, p.Pieces...)
	return p.readHeld(tx)
}

// readHeld reads what the people of the day hold, everybody's together.
func (p *crewGear) readHeld(tx *models.Tx) (err error) {
	ids := []uuid.UUID{uuid.Nil}
	for _, person := range p.Known {
		ids = append(ids, person.ID)
	}
	if p.Held, err = gear.Issues(tx, models.Page{Limit: gearShown}, models.Held(true), models.OneOf("i.worker_id", ids)); err != nil {
		return err
	}
	slices.SortStableFunc(p.Held, func(a, b gear.IssueTold) int { return cmp.Compare(a.WorkerNumber, b.WorkerNumber) })
	for _, i := range p.Held {
		label := i.Worker + ": " + sized(i.Gear, i.Size)
		if i.Equipment != nil {
			label += ", " + *i.Equipment
		}
		one := Option{Value: i.ID.String(), Label: label}
		p.ToTakeBack = append(p.ToTakeBack, one)
		if i.AcknowledgedAt == nil {
			p.Unacknowledged = append(p.Unacknowledged, one)
		}
	}
	return nil
}

// sized is a name with its size, where it has one.
func sized(name, size string) string {
	if size == "" {
		return name
	}
	return name + ", " + size
}

// changeGear hands gear out, takes it back, or keeps the name by which somebody took it.
func changeGear(v *visit) (*answer, error) {
	f, err := v.dayForm("gear_kind_id", "equipment_id", "quantity", "condition", "who", "issue", "typed_name", "back", "reason", "note", "restock")
	if err != nil {
		return nil, err
	}
	do := f.Value("do")
	var d *desk
	err = v.in(func(tx *models.Tx) (err error) {
		if d, err = v.desk(tx, f.Value("crew"), f.Value("on")); err != nil {
			return err
		}
		switch do {
		case "hand":
			return handGear(tx, d, f)
		case "acknowledge":
			return acknowledgeOnPhone(tx, d, f)
		case "back":
			return takeGearBack(tx, d, f)
		}
		return errNotFound
	})
	if err != nil {
		return v.again(f, err, crewGearAgain)
	}
	return seeOther("/day/gear"+d.Ask(), "gear_"+do), nil
}

// handGear hands the same to everybody who is ticked.
func handGear(tx *models.Tx, d *desk, f *Form) error {
	line := gear.Issue{GearKindID: f.Ref("gear_kind_id"), Quantity: f.Whole("quantity"), Condition: models.GearCondition(f.Value("condition")), IssuedOn: d.Key.Day}
	if piece := f.Ref("equipment_id"); piece != uuid.Nil {
		line.EquipmentID = &piece
	}
	var sheet gear.Sheet
	for _, p := range d.known() {
		if f.Holds("who", p.ID.String()) {
			// The identifier follows from the form's, so that a form sent twice hands out once.
			line.ID, line.WorkerID = uuid.NewSHA1(f.ID, p.ID[:]), p.ID
			sheet.Issues = append(sheet.Issues, line)
		}
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

// onOneForm tells the faults of a sheet's lines once, beside the fields from which all lines were made.
func onOneForm(err error) error {
	var e *models.Error
	if !errors.As(err, &e) {
		return err
	}
	once := *e
	once.Faults = nil
	for _, fault := range e.Faults {
		if strings.HasPrefix(fault.Pointer, "/issues/") {
			fault.Pointer = "/" + path.Base(fault.Pointer)
		}
		if !slices.ContainsFunc(once.Faults, func(f payroll.Fault) bool { return f.Pointer == fault.Pointer && f.Key == fault.Key }) {
			once.Faults = append(once.Faults, fault)
		}
	}
	return &once
}

// issueOf is the issue that a field names, which must be in the hands of somebody of the day, or have been.
func issueOf(tx *models.Tx, d *desk, f *Form, field string) (uuid.UUID, error) {
	id := f.Ref(field)
	if f.Value(field) == "" {
		f.fault(field, "page.fault.choose", nil)
	}
	if err := f.Faulty(); err != nil {
		return id, err
	}
	found, err := models.List[models.GearIssue](tx, models.Page{Limit: 1}, models.Equal("id", id))
	if err == nil && (len(found) == 0 || d.Name(found[0].WorkerID) == "") {
		err = errNotFound
	}
	return id, err
}

func acknowledgeOnPhone(tx *models.Tx, d *desk, f *Form) error {
	issue, err := issueOf(tx, d, f, "issue")
	if err == nil {
		_, _, err = gear.Acknowledge(tx, nil, issue, gear.Acknowledgement{Stamp: gear.Stamp{ID: f.ID}, TypedName: f.Value("typed_name")})
	}
	return err
}

func takeGearBack(tx *models.Tx, d *desk, f *Form) error {
	issue, err := issueOf(tx, d, f, "back")
	if err == nil {
		_, _, err = gear.TakeBack(tx, issue, gear.GiveBack{
			Stamp: gear.Stamp{ID: f.ID}, Reason: models.GearReturnCode(f.Value("reason")), Restock: f.Value("restock") != "", Note: f.Value("note"),
		})
	}
	return err
}
