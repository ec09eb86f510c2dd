package pages

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// gardenPages set up gardens and their blocks.
func gardenPages() []Page {
	return []Page{
		{Method: "GET", Path: "/gardens", Roles: office, Nav: "page.set.gardens", Under: "/set-up", handle: func(v *visit) (*answer, error) { return gardensPage(v, newForm(nil)) }},
		{Method: "POST", Path: "/gardens", Roles: owners, handle: newGarden},
		{Method: "GET", Path: "/gardens/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return gardenPage(v, nil) }},
		{Method: "POST", Path: "/gardens/{id}", Roles: owners, handle: changeGarden},
		{Method: "POST", Path: "/gardens/{id}/blocks", Roles: owners, handle: newBlock},
		{Method: "GET", Path: "/blocks/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return blockPage(v, nil) }},
		{Method: "POST", Path: "/blocks/{id}", Roles: owners, handle: changeBlock},
	}
}

// gardenZones are the time zones of the places whose rulebooks there are, each a word of the catalogue: page.set.zone.WORD.
var gardenZones = []struct{ name, word string }{
	{"America/Los_Angeles", "pacific"}, {"America/Phoenix", "arizona"}, {"America/Denver", "mountain"}, {"America/Chicago", "central"},
	{"America/New_York", "eastern"}, {"America/Anchorage", "alaska"}, {"Pacific/Honolulu", "hawaii"}, {"America/Puerto_Rico", "puerto_rico"},
}

// zoneWords says a time zone as people do, and by its name in the IANA database.
func (v *visit) zoneWords(name string) string {
	for _, z := range gardenZones {
		if z.name == name {
			return v.say("page.set.zone."+z.word, nil)
		}
	}
	return name
}

// zoneOptions are the zones to choose from, with one that is set already wherever it lies.
func (v *visit) zoneOptions(present string) []Option {
	options := []Option{{Label: v.say("page.set.choose", nil)}}
	for _, z := range gardenZones {
		options = append(options, Option{Value: z.name, Label: v.zoneWords(z.name)})
	}
	if !slices.ContainsFunc(options, func(o Option) bool { return o.Value == present }) {
		options = append(options, Option{Value: present, Label: present})
	}
	return options
}

// bookOptions are the rulebooks that a garden can name.
func (v *visit) bookOptions(tx *models.Tx) ([]Option, error) {
	books, err := localbooks.ForGardens(tx, v.Books)
	if err != nil {
		return nil, err
	}
	options := []Option{{Label: v.say("page.set.choose", nil)}}
	for _, b := range books {
		options = append(options, Option{Value: b.Key(), Label: b.Title() + " (" + b.Key() + ")"})
	}
	return options, nil
}

// mayChange tells whether the reader may do more here than read.
func (v *visit) mayChange() bool { return v.caller.Role == models.RoleAdministrator }

// gardenList are the gardens, with what stands in them.
type gardenList struct {
	Gardens      []gardenRow
	Zones, Books []Option
	May          bool
}

// gardenRow is a garden with its blocks and palms counted, those left out that have ended.
type gardenRow struct {
	*models.Garden
	Zone, Book    string
	Blocks, Palms int
}

func gardensPage(v *visit, f *Form) (*answer, error) {
	list := gardenList{Zones: v.zoneOptions(f.Value("time_zone")), May: v.mayChange()}
	err := v.view(func(tx *models.Tx) (err error) {
		if list.Books, err = v.bookOptions(tx); err != nil {
			return err
		}
		gardens, err := models.All[models.GardenContent](tx)
		if err != nil {
			return err
		}
		today, err := payrun.Today(tx)
		if err != nil {
			return err
		}
		var counted []struct {
			GardenID      uuid.UUID
			Blocks, Palms int
		}
		if err := tx.DB().Model(&models.Block{}).Select("garden_id, count(*) AS blocks, sum(palms) AS palms").Scopes(models.InUseOn(today)).Group("garden_id").Scan(&counted).Error; err != nil {
			return err
		}
		for _, g := range gardens {
			row := gardenRow{Garden: g, Zone: v.zoneWords(g.Content.TimeZone), Book: chosen(list.Books, g.Content.Rulebook)}
			for _, c := range counted {
				if c.GardenID == g.ID {
					row.Blocks, row.Palms = c.Blocks, c.Palms
				}
			}
			list.Gardens = append(list.Gardens, row)
		}
		slices.SortFunc(list.Gardens, func(a, b gardenRow) int { return cmp.Compare(a.Content.Number, b.Content.Number) })
		return nil
	})
	if err != nil {
		return nil, err
	}
	return show("set_gardens", &list).with(f), nil
}

// chosen is the label of an option, or its value where there is none such.
func chosen(options []Option, value string) string {
	for _, o := range options {
		if o.Value == value {
			return o.Label
		}
	}
	return value
}

// gardenFields are those of a garden's form.
var gardenFields = []string{"name", "time_zone", "rulebook", "engaging_entity", "engaging_entity_address"}

func gardenContent(f *Form) models.GardenContent {
	return models.GardenContent{Name: f.Value("name"), TimeZone: f.Value("time_zone"), Rulebook: f.Value("rulebook"),
		EngagingEntity: f.Value("engaging_entity"), EngagingEntityAddress: f.Value("engaging_entity_address")}
}

// keepGarden checks the rulebook of a garden, and keeps it.
func (v *visit) keepGarden(f *Form, keep func(*models.Tx, models.GardenContent) error) error {
	c := gardenContent(f)
	if c.TimeZone == "" {
		f.fault("time_zone", "page.fault.choose", nil)
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	return v.in(func(tx *models.Tx) error {
		faults, err := localbooks.Named(tx, v.Books, "/rulebook", c.Rulebook)
		if err == nil {
			err = models.Faulty(faults)
		}
		if err != nil {
			return err
		}
		return keep(tx, c)
	})
}

func newGarden(v *visit) (*answer, error) {
	f, err := v.form(gardenFields...)
	if err != nil {
		return nil, err
	}
	err = v.keepGarden(f, func(tx *models.Tx, c models.GardenContent) error {
		_, _, err := models.Create(tx, f.ID, c)
		return err
	})
	if err != nil {
		return v.again(f, err, gardensPage)
	}
	return seeOther("/gardens/"+f.ID.String(), "garden_new"), nil
}

// gardenShown is a garden with its blocks.
type gardenShown struct {
	gardenRow
	Zones, Books []Option
	List, Ended  []models.Block
	Today        dated.Date
	End          ending
	DayStart     string // when a workday begins, by the garden's clock
	May          bool
}

func gardenPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := gardenShown{May: v.mayChange()}
	err = v.view(func(tx *models.Tx) (err error) {
		if page.Garden, err = models.Get[models.GardenContent](tx, id); err != nil {
			return err
		}
		if page.Books, err = v.bookOptions(tx); err != nil {
			return err
		}
		profile, err := tx.Profile()
		if err != nil {
			return err
		}
		page.DayStart = clockOf(profile.Content.WorkdayStart)
		if page.Today, err = payrun.Today(tx); err != nil {
			return err
		}
		return tx.DB().Scopes(models.Equal("garden_id", id)).Order("code").Find(&page.List).Error
	})
	if err != nil {
		return nil, err
	}
	c := page.Content
	page.Zone, page.Book, page.Zones = v.zoneWords(c.TimeZone), chosen(page.Books, c.Rulebook), v.zoneOptions(c.TimeZone)
	end := endOf(page.List)
	page.Ended = slices.DeleteFunc(slices.Clone(page.List), func(b models.Block) bool { return b.Content.InUse(page.Today) })
	page.List = slices.DeleteFunc(page.List, func(b models.Block) bool { return !b.Content.InUse(page.Today) })
	for _, b := range page.List {
		page.Blocks, page.Palms = page.Blocks+1, page.Palms+int(b.Content.Palms)
	}
	if f == nil {
		f = newForm(nil)
	}
	if !f.Has("name") {
		f.fill(map[string]string{"name": c.Name, "time_zone": c.TimeZone, "rulebook": c.Rulebook, "engaging_entity": c.EngagingEntity, "engaging_entity_address": c.EngagingEntityAddress})
	}
	f.Keep(page.Version)
	page.End = ending{end, page.Today, "garden", "/gardens/" + id.String() + "/ending", f}
	return show("set_garden", &page).with(f), nil
}

// fill puts what is kept into a form's fields.
func (f *Form) fill(values map[string]string) {
	for name, value := range values {
		f.Set(name, value)
	}
}

// clockOf writes minutes after midnight as a clock shows them.
func clockOf(minutes int64) string { return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60) }

func changeGarden(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(gardenFields...)
	if err != nil {
		return nil, err
	}
	err = v.keepGarden(f, func(tx *models.Tx, c models.GardenContent) error {
		_, err := models.Update(tx, id, f.Version, c)
		return err
	})
	if err != nil {
		return v.again(f, err, gardenPage)
	}
	return seeOther("/gardens/"+id.String(), "garden_kept"), nil
}

// blockFields are those of a block's form. Heights are said in feet, as people do, and kept in centimetres.
var blockFields = []string{"code", "variety", "palms", "bunches_per_palm", "tallest"}

// blockContent reads a block from its form. A height that says what is kept leaves it to the centimetre.
func blockContent(f *Form, garden uuid.UUID, tallest int64) models.BlockContent {
	feet := f.Pieces("tallest")
	if feet != feetOf(tallest) {
		tallest = (int64(feet)*3048 + 50_000) / 100_000 // a foot has 30.48 cm
	}
	if f.Faulty() == nil && (tallest < 1 || tallest > 4_000) {
		f.fault("tallest", "page.fault.height", nil)
	}
	return models.BlockContent{GardenID: garden, Code: f.Value("code"), Variety: f.Value("variety"), Palms: f.Whole("palms"), BunchesPerPalm: f.Whole("bunches_per_palm"), TallestCM: tallest}
}

// feetOf are centimetres in feet, to the tenth.
func feetOf(cm int64) payroll.Pieces { return payroll.Pieces((cm*1000 + 1524) / 3048 * 100) }

func newBlock(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(blockFields...)
	if err != nil {
		return nil, err
	}
	c := blockContent(f, id, 0)
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := models.Create(tx, f.ID, c)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, gardenPage)
	}
	return seeOther("/gardens/"+id.String(), "block_new"), nil
}

// blockShown is a block with its garden.
type blockShown struct {
	*models.Block
	Garden *models.Garden
	May    bool
	End    ending
}

func blockPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := blockShown{May: v.mayChange()}
	err = v.view(func(tx *models.Tx) (err error) {
		if page.Block, err = models.Get[models.BlockContent](tx, id); err == nil {
			page.Garden, err = models.Get[models.GardenContent](tx, page.Content.GardenID)
		}
		if err == nil {
			page.End.Today, err = payrun.Today(tx)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = newForm(nil)
	}
	if c := page.Content; !f.Has("code") {
		f.fill(map[string]string{"code": c.Code, "variety": c.Variety, "palms": fmt.Sprint(c.Palms), "tallest": feetOf(c.TallestCM).String()})
		if c.BunchesPerPalm > 0 {
			f.Set("bunches_per_palm", fmt.Sprint(c.BunchesPerPalm))
		}
	}
	f.Keep(page.Version)
	page.End = ending{page.Content.Ending, page.End.Today, "block", "/blocks/" + id.String() + "/ending", f}
	return show("set_block", page).with(f), nil
}

func changeBlock(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(blockFields...)
	if err != nil {
		return nil, err
	}
	var garden uuid.UUID
	err = v.in(func(tx *models.Tx) error {
		kept, err := models.Get[models.BlockContent](tx, id)
		if err != nil {
			return err
		}
		garden, f.found = kept.Content.GardenID, nil
		c := blockContent(f, garden, kept.Content.TallestCM)
		c.Ending = kept.Content.Ending
		if err := f.Faulty(); err != nil {
			return err
		}
		_, err = models.Update(tx, id, f.Version, c)
		return err
	})
	if err != nil {
		return v.again(f, err, blockPage)
	}
	return seeOther("/gardens/"+garden.String(), "block_kept"), nil
}
