package pages

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
)

// palmPages show the palms that nobody is to go up, and take words against palms and for them.
func palmPages() []Page {
	return []Page{
		{Method: "GET", Path: "/palms-to-avoid", Roles: guards, handle: showAvoided},
		{Method: "POST", Path: "/palms-to-avoid", Roles: officer, handle: speakAgainstPalm},
		{Method: "GET", Path: "/palms-to-avoid/{id}", Roles: guards, handle: showPalm},
		{Method: "POST", Path: "/palms-to-avoid/{id}", Roles: officer, handle: releasePalm},
	}
}

// palmsAtOnce is how many palms to avoid a page lists.
const palmsAtOnce = 300

// avoidedPage is the palms to avoid by block, those of blocks that have ended left out.
type avoidedPage struct {
	shownDay
	Palms   []gear.PalmToAvoid
	Blocks  []Option
	Reasons []Option
}

func showAvoided(v *visit) (*answer, error) { return avoidedPageOf(v, newForm(nil)) }

func avoidedPageOf(v *visit, f *Form) (*answer, error) {
	var page avoidedPage
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		if page.Palms, err = gear.PalmsToAvoid(tx, models.Page{Limit: palmsAtOnce}, gear.PalmsInUse(models.Day(page.On))); err != nil {
			return err
		}
		blocks, err := models.All[models.BlockContent](tx, models.InUseOn(page.On))
		for _, b := range blocks {
			page.Blocks = append(page.Blocks, Option{Value: b.ID.String(), Label: b.Content.Code})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(page.Blocks, func(a, b Option) int { return cmp.Compare(a.Label, b.Label) })
	slices.SortStableFunc(page.Palms, func(a, b gear.PalmToAvoid) int {
		return cmp.Or(cmp.Compare(a.Block, b.Block), cmp.Compare(a.Label, b.Label))
	})
	for _, reason := range models.PalmReasons {
		page.Reasons = append(page.Reasons, Option{Value: string(reason), Label: v.catalogue().Word("palm_reason", string(reason))})
	}
	return show("palms", page).with(f), nil
}

func speakAgainstPalm(v *visit) (*answer, error) {
	f, err := v.form("block_id", "label", "reason", "note")
	if err != nil {
		return nil, err
	}
	block := f.Ref("block_id")
	in := gear.Avoid{Stamp: gear.Stamp{ID: f.ID}, BlockID: &block, Label: f.Value("label"), Reason: models.PalmReason(f.Value("reason")), Note: f.Value("note")}
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := gear.AvoidPalm(tx, in)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, avoidedPageOf)
	}
	return seeOther("/palms-to-avoid", "palm_avoided"), nil
}

// avoidedPalm is one palm with what was said of it.
type avoidedPalm struct {
	shownDay
	*models.Palm
	Block  string
	Events []models.PalmEvent
	Photos map[string][]shownPhoto // by the identifier of the event
}

func showPalm(v *visit) (*answer, error) { return avoidedPalmOf(v, newForm(nil)) }

func avoidedPalmOf(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page avoidedPalm
	err = v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		if page.Palm, err = models.Get[models.PalmContent](tx, id); err != nil {
			return err
		}
		block, err := models.Get[models.BlockContent](tx, page.Palm.Content.BlockID)
		if err != nil {
			return err
		}
		page.Block = block.Content.Code
		if page.Events, err = gear.PalmEvents(tx, id); err != nil {
			return err
		}
		var of []uuid.UUID
		for _, e := range page.Events {
			of = append(of, e.ID)
		}
		page.Photos, err = v.photosOf(tx, of, func(photo models.Photo) string {
			return v.palmEventWords(page.Palm, block, &page.Events[slices.Index(of, photo.SubjectID)])
		})
		return err
	})
	if err != nil {
		return nil, err
	}
	f.Keep(page.Version)
	return show("palm", page).with(f), nil
}

func releasePalm(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("competent_person", "note")
	if err != nil {
		return nil, err
	}
	in := gear.BackInUse{Stamp: gear.Stamp{ID: f.ID}, CompetentPerson: f.Value("competent_person"), Note: f.Value("note")}
	err = v.in(func(tx *models.Tx) error {
		_, _, err := gear.ReleasePalm(tx, id, f.Version, in)
		return err
	})
	if err != nil {
		return v.again(f, err, avoidedPalmOf)
	}
	return seeOther("/palms-to-avoid", "palm_back"), nil
}
