package pages

import (
	"cmp"
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll"
	"palmero/safety"
	"palmero/safety/quantity"
)

// equipmentKeepPages take equipment into the register, correct what is set of it, and retire it.
func equipmentKeepPages() []Page {
	return []Page{
		{Method: "GET", Path: "/equipment/new", Roles: officer, handle: showNewPiece},
		{Method: "POST", Path: "/equipment/new", Roles: officer, handle: takeInPiece},
		{Method: "GET", Path: "/equipment/{id}/change", Roles: officer, handle: showPieceChange},
		{Method: "POST", Path: "/equipment/{id}/change", Roles: officer, handle: keepPieceChange},
		{Method: "POST", Path: "/equipment/{id}/retirement", Roles: officer, handle: retirePiece},
	}
}

// rating is a field for one of the ratings of a kind of equipment.
type rating struct {
	Part, Name string
	Whole      bool     // whether it is a whole number
	Words      []string // the words that it may be; nil: a number, or any text
	Text       bool
}

// Field is the name of its field, which is also where its fault points.
func (r rating) Field() string { return "ratings." + r.Part + "." + r.Name }

// Mode is the keyboard that it is typed with.
func (r rating) Mode() string {
	switch {
	case r.Text:
		return "text"
	case r.Whole:
		return "numeric"
	}
	return "decimal"
}

// The ratings that each kind of equipment may have.
var (
	attachedRatings = []rating{
		{Part: "ladder", Name: "sections", Whole: true}, {Part: "ladder", Name: "section_length_ft"}, {Part: "ladder", Name: "wires", Whole: true}, {Part: "ladder", Name: "wire_gauge", Whole: true},
		{Part: "ladder", Name: "rung_spacing_in"}, {Part: "ladder", Name: "rung_length_in"}, {Part: "ladder", Name: "rated_load_lb"}, {Part: "ladder", Name: "chain_ultimate_lb"},
		{Part: "ladder", Name: "material", Words: []string{"metal", "wood", "fiberglass"}},
	}
	portableRatings = []rating{
		{Part: "ladder", Name: "kind", Words: []string{"single", "extension", "stepladder", "orchard"}}, {Part: "ladder", Name: "duty_type", Words: []string{"IAA", "IA", "I", "II", "III"}},
		{Part: "ladder", Name: "length_ft"}, {Part: "ladder", Name: "rungs", Whole: true}, {Part: "ladder", Name: "sections", Whole: true},
		{Part: "ladder", Name: "material", Words: []string{"metal", "wood", "fiberglass"}},
	}
	lanyardRatings = []rating{
		{Part: "lanyard", Name: "lanyard", Words: []string{"synthetic", "wire_rope", "chain"}}, {Part: "lanyard", Name: "lanyard_ft"}, {Part: "lanyard", Name: "working_load_lb"}, {Part: "lanyard", Name: "chain_ultimate_lb"},
	}
	ratingsOf = map[models.EquipmentKind][]rating{
		models.AttachedLadder: attachedRatings, models.PortableLadder: portableRatings, models.Lanyard: lanyardRatings, models.ClimbingGear: lanyardRatings,
		models.Lift: {
			{Part: "lift", Name: "type", Words: []string{"boom", "scissor", "orchard_tower", "forklift_basket"}}, {Part: "lift", Name: "rated_lb"}, {Part: "lift", Name: "wind_limit_mph"}, {Part: "lift", Name: "slope_limit_deg"},
		},
		models.Anchor: {{Part: "anchor", Name: "anchor", Words: []string{"trunk", "crown", "structure", "boom"}}, {Part: "anchor", Name: "anchor_judged_by", Text: true}, {Part: "anchor", Name: "anchor_lb"}},
	}
)

// piecePaper is the form of what is set of a piece.
type piecePaper struct {
	Piece   *models.Equipment    // nil: a new one
	Kind    models.EquipmentKind // "": to be chosen first
	Kinds   []models.EquipmentKind
	Gardens []Option
	Blocks  []Option
	Ratings []rating
}

// Attached tells whether the piece belongs to one palm.
func (p piecePaper) Attached() bool { return p.Kind == models.AttachedLadder }

// pieceFields are the fields of the form but for the ratings.
var pieceFields = []string{"code", "garden_id", "description", "maker", "model", "serial", "block", "palm_id", "first_used_on", "retire_by", "inspection_months", "inspection_source"}

func showNewPiece(v *visit) (*answer, error) {
	return newPieceOf(v, newForm(map[string]string{"kind": v.gin.Query("kind")}))
}

func newPieceOf(v *visit, f *Form) (*answer, error) {
	page := piecePaper{Kinds: models.EquipmentKinds}
	if kind := models.EquipmentKind(f.Value("kind")); slices.Contains(models.EquipmentKinds, kind) {
		page.Kind, page.Ratings = kind, ratingsOf[kind]
	}
	return v.piecePaper(page, f)
}

func (v *visit) piecePaper(page piecePaper, f *Form) (*answer, error) {
	err := v.view(func(tx *models.Tx) error {
		gardens, err := models.All[models.GardenContent](tx)
		if err != nil {
			return err
		}
		for _, g := range gardens {
			page.Gardens = append(page.Gardens, Option{Value: g.ID.String(), Label: g.Content.Name})
		}
		blocks, err := models.All[models.BlockContent](tx)
		for _, b := range blocks {
			page.Blocks = append(page.Blocks, Option{Value: b.ID.String(), Label: b.Content.Code})
		}
		return err
	})
	for _, options := range [][]Option{page.Gardens, page.Blocks} {
		slices.SortFunc(options, func(a, b Option) int { return cmp.Compare(a.Label, b.Label) })
	}
	return show("piece_paper", page).with(f), err
}

// pieceForm reads the form of a piece with all that its kind may have.
func (v *visit) pieceForm() (*Form, error) {
	f, err := v.form(pieceFields...)
	if err != nil {
		return nil, err
	}
	for _, r := range ratingsOf[models.EquipmentKind(f.Value("kind"))] {
		f.Knows(r.Field())
	}
	return f, nil
}

func takeInPiece(v *visit) (*answer, error) {
	f, err := v.pieceForm()
	if err != nil {
		return nil, err
	}
	var kept *models.Equipment
	err = v.in(func(tx *models.Tx) error {
		content, err := f.piece(tx)
		if err != nil {
			return err
		}
		kept, _, err = models.Create(tx, f.ID, content)
		return err
	})
	if err != nil {
		return v.again(f, err, newPieceOf)
	}
	return seeOther("/equipment/"+kept.ID.String(), "piece_new"), nil
}

// piece reads what the form says of a piece.
func (f *Form) piece(tx *models.Tx) (models.EquipmentContent, error) {
	f.found = nil // the transaction may run more than once
	c := models.EquipmentContent{
		GardenID: f.Ref("garden_id"), Kind: models.EquipmentKind(f.Value("kind")), Code: f.Value("code"), Description: f.Value("description"), Maker: f.Value("maker"), Model: f.Value("model"),
		Serial: f.Value("serial"), FirstUsedOn: models.Day(f.Day("first_used_on")), RetireBy: models.Day(f.Day("retire_by")), InspectionMonths: f.count("inspection_months"), InspectionSource: f.Value("inspection_source"),
	}
	var err error
	if c.Kind == models.AttachedLadder {
		if c.PalmID, err = f.palmOfPiece(tx); err != nil {
			return c, err
		}
	}
	if c.Ratings, err = f.ratings(c.Kind); err != nil {
		return c, err
	}
	return c, f.Faulty()
}

// palmOfPiece finds the palm by its block and the number painted on it.
func (f *Form) palmOfPiece(tx *models.Tx) (*uuid.UUID, error) {
	block := f.Ref("block")
	if f.Value("palm_id") == "" {
		f.fault("palm_id", "fault.empty", nil)
		return nil, nil
	}
	found, err := models.List[models.Palm](tx, models.Page{Limit: 1}, models.Equal("block_id", block), models.Equal("label", f.Value("palm_id")))
	if err != nil || len(found) > 0 {
		if err == nil {
			return &found[0].ID, nil
		}
		return nil, err
	}
	code := ""
	if b, err := models.Get[models.BlockContent](tx, block); err == nil {
		code = b.Content.Code
	}
	f.fault("palm_id", "fault.unknown_palm_of_block", payroll.Terms{"palm": f.Value("palm_id"), "block": code})
	return nil, nil
}

// ratings reads the ratings of a kind, those that were filled in.
func (f *Form) ratings(kind models.EquipmentKind) (models.Ratings, error) {
	parts := map[string]map[string]any{}
	for _, r := range ratingsOf[kind] {
		if f.Value(r.Field()) == "" {
			continue
		}
		if parts[r.Part] == nil {
			parts[r.Part] = map[string]any{}
		}
		parts[r.Part][r.Name] = f.rating(r)
	}
	if kind == models.AttachedLadder && parts["ladder"] != nil {
		parts["ladder"]["kind"] = "attached"
	}
	var ratings safety.Ratings
	if len(f.found) > 0 {
		return models.Ratings{}, nil // what cannot be read is told first
	}
	text, err := json.Marshal(parts)
	if err == nil {
		err = json.Unmarshal(text, &ratings)
	}
	return models.Ratings(ratings), err
}

// rating reads one rating as JSON has it.
func (f *Form) rating(r rating) any {
	text := f.Value(r.Field())
	switch {
	case r.Words != nil || r.Text:
		return text
	case r.Whole:
		return f.Whole(r.Field())
	}
	number, err := quantity.Parse(strings.Replace(text, ",", ".", 1))
	if err != nil {
		f.fault(r.Field(), "input.not_decimal", payroll.Terms{"value": text})
	}
	return number
}

// showPieceChange shows what is set of a piece, to be corrected.
func showPieceChange(v *visit) (*answer, error) { return pieceChangeOf(v, newForm(nil)) }

func pieceChangeOf(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page piecePaper
	err = v.view(func(tx *models.Tx) (err error) {
		if page.Piece, err = models.Get[models.EquipmentContent](tx, id); err != nil || f.Has("kind") {
			return err
		}
		return f.fillPiece(tx, &page.Piece.Content)
	})
	if err != nil {
		return nil, err
	}
	page.Kind = page.Piece.Content.Kind
	page.Ratings = ratingsOf[page.Kind]
	f.Keep(page.Piece.Version)
	return v.piecePaper(page, f)
}

// fillPiece puts what is kept of a piece into the form.
func (f *Form) fillPiece(tx *models.Tx, c *models.EquipmentContent) error {
	for name, value := range map[string]string{
		"kind": string(c.Kind), "code": c.Code, "garden_id": c.GardenID.String(), "description": c.Description, "maker": c.Maker, "model": c.Model, "serial": c.Serial, "inspection_source": c.InspectionSource,
	} {
		f.Set(name, value)
	}
	if !c.FirstUsedOn.IsZero() {
		f.Set("first_used_on", c.FirstUsedOn.String())
	}
	if !c.RetireBy.IsZero() {
		f.Set("retire_by", c.RetireBy.String())
	}
	if c.InspectionMonths != nil {
		f.Set("inspection_months", strconv.FormatInt(*c.InspectionMonths, 10))
	}
	if err := f.fillRatings(c); err != nil || c.PalmID == nil {
		return err
	}
	palm, err := models.Get[models.PalmContent](tx, *c.PalmID)
	if err == nil {
		f.Set("block", palm.Content.BlockID.String())
		f.Set("palm_id", palm.Content.Label)
	}
	return err
}

// fillRatings puts the ratings into the form.
func (f *Form) fillRatings(c *models.EquipmentContent) error {
	text, err := json.Marshal(safety.Ratings(c.Ratings))
	if err != nil {
		return err
	}
	var parts map[string]map[string]any
	if err := json.Unmarshal(text, &parts); err != nil {
		return err
	}
	for _, r := range ratingsOf[c.Kind] {
		switch value := parts[r.Part][r.Name].(type) {
		case string:
			f.Set(r.Field(), value)
		case float64:
			f.Set(r.Field(), strconv.FormatFloat(value, 'f', -1, 64))
		}
	}
	return nil
}

func keepPieceChange(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.pieceForm()
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		content, err := f.piece(tx)
		if err != nil {
			return err
		}
		_, err = models.Update(tx, id, f.Version, content)
		return err
	})
	if err != nil {
		return v.again(f, err, pieceChangeOf)
	}
	return seeOther("/equipment/"+id.String(), "piece_changed"), nil
}

// retirePiece ends the life of a piece.
func retirePiece(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("why_retired")
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		_, _, err := gear.Retire(tx, id, f.Version, gear.Retirement{Stamp: gear.Stamp{ID: f.ID}, Note: f.Value("why_retired")})
		return movingFaults(err, func(pointer string) string { return strings.Replace(pointer, "/note", "/why_retired", 1) })
	})
	if err != nil {
		return v.again(f, err, piecePageOf)
	}
	return seeOther("/equipment/"+id.String(), "piece_retired"), nil
}
