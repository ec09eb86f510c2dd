package pages

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// bunchPages are where a crew lead looks at a sample of bunches, and where what was seen is read. Pay knows nothing of it.
func bunchPages() []Page {
	return slices.Concat([]Page{
		{Method: "GET", Path: "/day/bunches", Roles: leads, handle: showBunchDay},
		{Method: "GET", Path: "/day/bunches/look", Roles: leads, handle: lookAtBunch},
		{Method: "POST", Path: "/day/bunches", Roles: leads, handle: keepBunches},
		{Method: "GET", Path: "/bunches", Roles: coaches, handle: showBunchResults},
		{Method: "GET", Path: "/bunches/{id}", Roles: coaches, handle: showBunchCheck},
		{Method: "GET", Path: "/my/bunches", Roles: hands, handle: showOwnBunches},
	}, standardPages())
}

// coaches see bunch checks: leads those of their crews, administrators all.
var coaches = []models.Role{models.RoleCrewLead, models.RoleAdministrator}

// lead is the worker whose crews' checks the caller may read; nil: everybody's.
func (v *visit) lead() *uuid.UUID {
	if v.caller.Role == models.RoleCrewLead {
		return v.caller.Worker
	}
	return nil
}

// bunchPoint is a point of a standard in the reader's language.
type bunchPoint struct {
	*models.StandardPoint
	Name, Asked string
}

// bunchPoints puts the points of a standard into the reader's language.
func (v *visit) bunchPoints(points models.StandardPoints) []bunchPoint {
	shown := make([]bunchPoint, len(points))
	for i := range points {
		p := &points[i]
		shown[i] = bunchPoint{p, v.pointName(p.NameEN, p.NameES), v.pointAsked(p)}
	}
	return shown
}

func (v *visit) pointName(en, es string) string {
	if v.language() == "es" {
		return es
	}
	return en
}

// pointAsked says what is asked: "30 to 35 strands", lengths in both inches and centimetres.
func (v *visit) pointAsked(p *models.StandardPoint) string {
	if p.Kind == models.YesNoPoint {
		return v.say("page.bunch.asked_yes", nil)
	}
	said := v.rangeOf(p.Low, p.High, p.Unit)
	if _, twin := models.Twin(quantity.Number{}, p.Unit); twin != "" {
		said += " (" + v.rangeOf(twinOf(p.Low, p.Unit), twinOf(p.High, p.Unit), twin) + ")"
	}
	return said
}

// twinOf is a length in the other unit, to a tenth; nil of nil.
func twinOf(n *models.Quantity, unit string) *models.Quantity {
	if n == nil {
		return nil
	}
	twin, _ := models.Twin(n.Number, unit)
	return &models.Quantity{Number: twin.Round(1)}
}

func (v *visit) rangeOf(low, high *models.Quantity, unit string) string {
	terms := payroll.Terms{"unit": v.say("page.bunch.unit."+unit, nil)}
	key := "page.bunch.asked_between"
	switch {
	case low == nil:
		key, terms["high"] = "page.bunch.asked_at_most", high.String()
	case high == nil:
		key, terms["low"] = "page.bunch.asked_at_least", low.String()
	case low.Cmp(high.Number) == 0:
		key, terms["low"] = "page.bunch.asked_just", low.String()
	default:
		terms["low"], terms["high"] = low.String(), high.String()
	}
	return v.say(key, terms)
}

// bunchLine is a check in a list, in the reader's words.
type bunchLine struct {
	bunches.Told
	Worker, Crew, Block, Variety, Operation string // Worker is "" where nobody is named; Operation is its code
	By                                      string // who looked
	Sum                                     string // "7 of 10 bunches as asked."
	Good, Rest                              []string
}

// bunchLines puts checks into the reader's words.
func (v *visit) bunchLines(tx *models.Tx, checks []models.BunchCheck) ([]bunchLine, error) {
	told, err := bunches.Tell(tx, checks)
	if err != nil || len(told) == 0 {
		return nil, err
	}
	blocks, err := models.All[models.BlockContent](tx)
	if err != nil {
		return nil, err
	}
	operations, err := models.All[models.OperationContent](tx)
	if err != nil {
		return nil, err
	}
	crews, err := models.All[models.CrewContent](tx)
	if err != nil {
		return nil, err
	}
	var workers, authors []uuid.UUID
	for _, c := range checks {
		authors = append(authors, c.RecordedBy)
		if c.Content.WorkerID != nil {
			workers = append(workers, *c.Content.WorkerID)
		}
	}
	names, err := workerNames(tx, workers)
	if err != nil {
		return nil, err
	}
	by, err := models.AccountNames(tx, authors)
	lines := make([]bunchLine, len(told))
	for i, t := range told {
		c := &t.Content
		l := bunchLine{Told: t, Crew: crews[c.CrewID].Content.Name, Block: blocks[c.BlockID].Content.Code, Variety: blocks[c.BlockID].Content.Variety,
			Operation: operations[c.OperationID].Content.Code, By: by[t.RecordedBy]}
		if c.WorkerID != nil {
			l.Worker = names[*c.WorkerID]
		}
		l.Sum, l.Good, l.Rest = v.tellSample(c.AsAsked, c.LookedAt, t.Points)
		lines[i] = l
	}
	return lines, err
}

// workerNames are the names of some workers.
func workerNames(tx *models.Tx, ids []uuid.UUID) (map[uuid.UUID]string, error) {
	var workers []models.Worker
	if err := tx.DB().Scopes(tx.Among("id", ids)).Find(&workers).Error; err != nil {
		return nil, err
	}
	names := make(map[uuid.UUID]string, len(workers))
	for _, w := range workers {
		names[w.ID] = w.Content.Name
	}
	return names, nil
}

// tellSample says what a sample comes to in one sentence; then the points that were as asked on every bunch looked at, and what was not so, each with on how many.
func (v *visit) tellSample(asAsked, lookedAt int64, points []bunches.PointTold) (sum string, good, rest []string) {
	key := "page.bunch.told"
	switch {
	case asAsked == lookedAt && lookedAt == 1:
		key = "page.bunch.told_one"
	case asAsked == lookedAt:
		key = "page.bunch.told_all"
	}
	sum = v.say(key, payroll.Terms{"good": int(asAsked), "count": int(lookedAt)})
	for _, p := range points {
		name := v.pointName(p.Asked.NameEN, p.Asked.NameES)
		if p.LookedAt > 0 && p.AsAsked == p.LookedAt {
			good = append(good, name)
		}
		rest = append(rest, v.tellPoint(name, p.Asked, p.PointCount)...)
	}
	return sum, good, rest
}

// tellPoint says on how many bunches a point was not as asked; nothing where it always was.
func (v *visit) tellPoint(name string, asked *models.StandardPoint, n models.PointCount) (said []string) {
	for _, part := range []struct {
		key   string
		count int64
		bound *models.Quantity
	}{{"page.bunch.not_so", n.Not(), nil}, {"page.bunch.under", n.Under, asked.Low}, {"page.bunch.over", n.Over, asked.High}} {
		if part.count == 0 {
			continue
		}
		terms := payroll.Terms{"point": name, "count": int(part.count)}
		if part.bound != nil {
			terms["bound"] = part.bound.String()
			terms["unit"] = v.say("page.bunch.unit."+asked.Unit, nil)
		}
		said = append(said, v.say(part.key, terms))
	}
	return said
}

// bunchDay is where a lead chooses whose bunches to look at, and sees what was looked at lately.
type bunchDay struct {
	*desk
	bunchPlace
	Whose  []bunchLink // whose bunches can be looked at
	Recent []bunchLine
}

// bunchPlace is an operation in a block, with what is asked there.
type bunchPlace struct {
	At       struct{ Block, Operation uuid.UUID } // zero where nobody has said
	Standard *models.WorkStandard                 // nil: nothing is asked
	Points   []bunchPoint
}

// Placed tells whether somebody has said where.
func (p bunchPlace) Placed() bool { return p.At.Block != uuid.Nil }

// bunchLink leads to the bunches of somebody; "" is the crew.
type bunchLink struct{ Name, Path string }

// bunchesShown is how many checks a page lists.
const bunchesShown = 15

func showBunchDay(v *visit) (*answer, error) {
	f := newForm(map[string]string{"block": v.gin.Query("block"), "operation": v.gin.Query("operation")})
	return v.dayPage("day_bunches", f, func(tx *models.Tx, d *desk) (any, error) {
		p := &bunchDay{desk: d}
		checks, err := bunches.Latest(tx, bunchesShown, models.Equal("crew_id", d.Key.Crew), models.WorkedThrough(d.Day))
		if err != nil {
			return nil, err
		}
		if d.Draft.Place == nil && f.Value("block") == "" && len(checks) > 0 { // where bunches were looked at last
			f.Set("block", checks[0].Content.BlockID.String())
			f.Set("operation", checks[0].Content.OperationID.String())
		}
		if p.bunchPlace, err = v.bunchPlaceOf(tx, d, f); err != nil {
			return nil, err
		}
		if p.Standard != nil {
			p.Whose = d.bunchLinks(&p.bunchPlace)
		}
		p.Recent, err = v.bunchLines(tx, checks)
		return p, err
	})
}

// bunchPlaceOf reads what is asked at the block and operation that a form names, or where the crew works. The form holds them afterwards.
func (v *visit) bunchPlaceOf(tx *models.Tx, d *desk, f *Form) (p bunchPlace, err error) {
	at := d.padPlace(f.Value("block"), f.Value("operation"))
	if at.Block == uuid.Nil || at.Operation == uuid.Nil {
		return p, nil
	}
	p.At.Block, p.At.Operation = at.Block, at.Operation
	f.Set("block", at.Block.String())
	f.Set("operation", at.Operation.String())
	i := slices.IndexFunc(d.Blocks, func(b *models.Block) bool { return b.ID == at.Block })
	if p.Standard, err = bunches.InForce(tx, at.Operation, d.Blocks[i].Content.Variety, d.Day); err == nil && p.Standard != nil {
		p.Points = v.bunchPoints(p.Standard.Content.Points)
	}
	return p, err
}

// bunchLinks lead to the bunches of everybody who is there, or of the whole crew while nobody was called; the crew itself comes last.
func (d *desk) bunchLinks(p *bunchPlace) (links []bunchLink) {
	path := func(worker string) string {
		q := url.Values{"crew": {d.Key.Crew.String()}, "on": {d.Day.String()}, "block": {p.At.Block.String()}, "operation": {p.At.Operation.String()}}
		if worker != "" {
			q.Set("worker", worker)
		}
		return "/day/bunches/look?" + q.Encode()
	}
	for _, person := range d.known() {
		if person.Here || len(d.Draft.Roll) == 0 {
			links = append(links, bunchLink{person.Name, path(person.ID.String())})
		}
	}
	return append(links, bunchLink{"", path("")})
}

// Bunch checks while they are being made stand in the address of the page: what was seen so far is never lost, and going back takes the last bunch back.

// writeSample writes bunches for an address: the marks of each in the order of the points, "-" for what nobody looked at.
func writeSample(points models.StandardPoints, sample models.SampledBunches) string {
	written := make([]string, len(sample))
	for i, b := range sample {
		marks := make([]string, len(points))
		for n := range points {
			marks[n] = writeMark(b.Marks, points[n].Point)
		}
		written[i] = strings.Join(marks, "_")
	}
	return strings.Join(written, "~")
}

func writeMark(marks []models.BunchMark, point string) string {
	for _, m := range marks {
		switch {
		case m.Point != point:
		case m.Number != nil:
			return m.Number.String()
		case *m.Yes:
			return "y"
		default:
			return "n"
		}
	}
	return "-"
}

// readSample reads bunches from an address; false where they are none of these points'.
func readSample(points models.StandardPoints, written string) (sample models.SampledBunches, ok bool) {
	if written == "" {
		return nil, true
	}
	for w := range strings.SplitSeq(written, "~") {
		marks := strings.Split(w, "_")
		if len(marks) != len(points) || len(sample) == models.MostBunches {
			return nil, false
		}
		var b models.SampledBunch
		for i, m := range marks {
			mark, read := readMark(&points[i], m)
			if !read {
				return nil, false
			}
			if mark != nil {
				b.Marks = append(b.Marks, *mark)
			}
		}
		sample = append(sample, b)
	}
	return sample, true
}

// readMark reads what was seen of a point: nil where nobody looked at it, false where that cannot be read.
func readMark(p *models.StandardPoint, s string) (*models.BunchMark, bool) {
	m := &models.BunchMark{Point: p.Point}
	switch {
	case s == "" || s == "-":
		return nil, true
	case p.Kind == models.YesNoPoint && (s == "y" || s == "n"):
		m.Yes = new(s == "y")
		return m, true
	case p.Kind == models.NumberPoint:
		n, err := quantity.Parse(strings.Replace(s, ",", ".", 1))
		m.Number = models.QuantityOf(n)
		return m, err == nil
	}
	return nil, false
}

// bunchField is the field of a point on the pad.
func bunchField(n int) string { return "m." + strconv.Itoa(n) }

// Workday is the day of the check.
func (l bunchLine) Workday() dated.Date { return l.Content.Workday.Date }
