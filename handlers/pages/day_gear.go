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

// crewGear is where a crew lead hands gear out, takes it back and replaces it.
type crewGear struct {
	*desk
	gearChoices
	Known                      []daybook.Person // those of the day who are in the list of workers
	Held                       []gearHeld       // in their hands, by name
	Unacknowledged, ToTakeBack []Option
}

func showCrewGear(v *visit) (*answer, error) {
	return crewGearAgain(v, newForm(map[string]string{"quantity": "1", "condition": "new"}))
}

func crewGearAgain(v *visit, f *Form) (*answer, error) {
	return v.dayPage("day_gear", f, func(tx *models.Tx, d *desk) (any, error) {
		p := &crewGear{desk: d, Known: d.known()}
		var err error
		if p.gearChoices, err = v.gearChoices(tx); err != nil {
			return nil, err
		}
		return p, p.readHeld(tx)
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

// readHeld reads what the people of the day hold, everybody's together.
func (p *crewGear) readHeld(tx *models.Tx) error {
	ids := []uuid.UUID{uuid.Nil}
	for _, person := range p.Known {
		ids = append(ids, person.ID)
	}
	held, err := gear.Issues(tx, models.Page{Limit: gearShown}, models.Held(true), models.OneOf("i.worker_id", ids))
	if err != nil {
		return err
	}
	slices.SortStableFunc(held, func(a, b gear.IssueTold) int { return cmp.Compare(a.WorkerNumber, b.WorkerNumber) })
	for _, i := range held {
		p.Held = append(p.Held, gearHeld{i, gearLate(&i, shownDay{Today: p.Today})})
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
	f, err := v.dayForm(append(gearBackFields, "gear_kind_id", "equipment_id", "quantity", "condition", "who", "issue", "typed_name", "back", "due_on")...)
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
	if do == "back" && f.Value("replace") != "" {
		do = "replaced"
	}
	return seeOther("/day/gear"+d.Ask(), "gear_"+do), nil
}

// handGear hands the same to everybody who is ticked.
func handGear(tx *models.Tx, d *desk, f *Form) error {
	var who []uuid.UUID
	for _, p := range d.known() {
		if f.Holds("who", p.ID.String()) {
			who = append(who, p.ID)
		}
	}
	return handGearTo(tx, f, d.Key.Day, who)
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
func issueOf(tx *models.Tx, d *desk, f *Form, field string) (*models.GearIssue, error) {
	id := f.Ref(field)
	if f.Value(field) == "" {
		f.fault(field, "page.fault.choose", nil)
	}
	if err := f.Faulty(); err != nil {
		return nil, err
	}
	found, err := models.List[models.GearIssue](tx, models.Page{Limit: 1}, models.Equal("id", id))
	if err == nil && (len(found) == 0 || d.Name(found[0].WorkerID) == "") {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	return &found[0], nil
}

func acknowledgeOnPhone(tx *models.Tx, d *desk, f *Form) error {
	issue, err := issueOf(tx, d, f, "issue")
	if err == nil {
		_, _, err = gear.Acknowledge(tx, nil, issue.ID, gear.Acknowledgement{Stamp: gear.Stamp{ID: f.ID}, TypedName: f.Value("typed_name")})
	}
	return err
}

func takeGearBack(tx *models.Tx, d *desk, f *Form) error {
	issue, err := issueOf(tx, d, f, "back")
	if err != nil {
		return err
	}
	in := f.gearBack(issue, d.Key.Day)
	if err := f.Faulty(); err != nil {
		return err
	}
	_, _, err = gear.TakeBack(tx, issue.ID, in)
	return err
}
