package pages

import (
	"strconv"

	"palmero/models"
	"palmero/models/gear"
)

// gearKindPage is a kind of gear with its stock.
type gearKindPage struct {
	shownDay
	*models.GearKind
	Levels string
	Moves  []models.GearStockMove // the latest first
}

// movesShown is how many of the latest changes of a stock a page tells.
const movesShown = 30

func showGearKind(v *visit) (*answer, error) {
	return gearKindOf(v, newForm(map[string]string{"move": "received"}))
}

func gearKindOf(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page gearKindPage
	err = v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		if page.GearKind, err = models.Get[models.GearKindContent](tx, id); err != nil {
			return err
		}
		page.Moves, err = gear.LatestMoves(tx, id, movesShown)
		return err
	})
	if err != nil {
		return nil, err
	}
	page.Levels = v.gearLevels(&page.Content)
	return show("gear_kind", page).with(f), nil
}

// moveGearStock records what came in, was counted or was thrown away.
func moveGearStock(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("move", "quantity", "note")
	if err != nil {
		return nil, err
	}
	in := gear.Stock{ID: f.ID, Move: models.GearMove(f.Value("move")), Quantity: f.Whole("quantity"), Note: f.Value("note")}
	if f.Value("quantity") == "" {
		f.fault("quantity", "fault.empty", nil)
	}
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := gear.MoveStock(tx, id, in)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, gearKindOf)
	}
	return seeOther("/gear/kinds/"+id.String(), "gear_stock"), nil
}

// gearKindPaper is the form of a kind of gear.
type gearKindPaper struct {
	Kind  *models.GearKind // nil: a new one
	Kinds []Option
	YesNo []Option
}

var gearKindFields = []string{"kind", "name", "size", "protective", "cut_level", "puncture_level", "en388", "sheathed", "low_at"}

func showNewGearKind(v *visit) (*answer, error) {
	return newGearKindOf(v, newForm(map[string]string{"kind": "gloves"}))
}

func newGearKindOf(v *visit, f *Form) (*answer, error) {
	return show("gear_kind_paper", v.gearKindPaper(nil)).with(f), nil
}

func (v *visit) gearKindPaper(kind *models.GearKind) gearKindPaper {
	page := gearKindPaper{Kind: kind, YesNo: v.yesNoUnknown()}
	for _, k := range models.GearKinds {
		page.Kinds = append(page.Kinds, Option{Value: k, Label: v.say("page.gear.kind."+k, nil)})
	}
	return page
}

// gearKind reads what the form says of a kind.
func (f *Form) gearKind() models.GearKindContent {
	return models.GearKindContent{
		Kind: f.Value("kind"), Name: f.Value("name"), Size: f.Value("size"), Protective: f.Value("protective") != "", CutLevel: f.Value("cut_level"), PunctureLevel: f.count("puncture_level"),
		EN388: f.Value("en388"), Sheathed: f.yesNo("sheathed"), LowAt: f.count("low_at"),
	}
}

func keepNewGearKind(v *visit) (*answer, error) {
	f, err := v.form(gearKindFields...)
	if err != nil {
		return nil, err
	}
	content := f.gearKind()
	var kept *models.GearKind
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) (err error) {
			kept, _, err = models.Create(tx, f.ID, content)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, newGearKindOf)
	}
	return seeOther("/gear/kinds/"+kept.ID.String(), "gear_kind"), nil
}

func showGearKindChange(v *visit) (*answer, error) { return gearKindChangeOf(v, newForm(nil)) }

func gearKindChangeOf(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var kind *models.GearKind
	err = v.view(func(tx *models.Tx) (err error) {
		kind, err = models.Get[models.GearKindContent](tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	if !f.Has("name") {
		f.fillGearKind(&kind.Content)
	}
	f.Keep(kind.Version)
	return show("gear_kind_paper", v.gearKindPaper(kind)).with(f), nil
}

// fillGearKind puts what is kept of a kind into the form.
func (f *Form) fillGearKind(k *models.GearKindContent) {
	for name, value := range map[string]string{"kind": k.Kind, "name": k.Name, "size": k.Size, "cut_level": k.CutLevel, "en388": k.EN388} {
		f.Set(name, value)
	}
	if k.Protective {
		f.Set("protective", "yes")
	}
	if k.Sheathed != nil {
		f.Set("sheathed", map[bool]string{true: "yes", false: "no"}[*k.Sheathed])
	}
	for name, n := range map[string]*int64{"puncture_level": k.PunctureLevel, "low_at": k.LowAt} {
		if n != nil {
			f.Set(name, strconv.FormatInt(*n, 10))
		}
	}
}

func keepGearKindChange(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(gearKindFields...)
	if err != nil {
		return nil, err
	}
	content := f.gearKind()
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, err := models.Update(tx, id, f.Version, content)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, gearKindChangeOf)
	}
	return seeOther("/gear/kinds/"+id.String(), "gear_kind"), nil
}
