package pages

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/failures"
	"palmero/models"
	"palmero/models/bunches"
	"palmero/payroll"
	"palmero/safety/quantity"
)

// bunchPad is the pad on which a sample of bunches is noted, one by one, and then the page on which it is told and kept.
type bunchPad struct {
	*desk
	bunchPlace
	Who    string // "" is the crew
	Sample bunches.Outcome
	Next   int    // the number of the bunch that is looked at now
	Most   bool   // whether no more bunches fit
	Enough bool   // whether the sample is to be told and kept
	Sum    string // what it comes to
	Good   []string
	Rest   []string
	Rows   []bunchPadRow
	Back   string // the address without the last bunch; "" where there is none
	More   string // the address of the next bunch
	Done   string // the address where it is told and kept

	Workers      []Option // of a correction: whose bunches they can turn out to be
	BlockChoices []Option // in which block
	WorkChoices  []Option // and at which operation
}

// bunchPadRow is a point of the bunch that is looked at now.
type bunchPadRow struct {
	bunchPoint
	Field, Value, Start, Fault string
}

// bunchLookFields are what the address of a look holds, apart from the bunch that is looked at now.
var bunchLookFields = []string{"crew", "on", "block", "operation", "worker", "instead", "standard", "s", "enough"}

// lookAtBunch shows the pad for the next bunch. What was pressed adds the bunch to those in the address, and goes on there.
func lookAtBunch(v *visit) (*answer, error) {
	f := newForm(nil)
	query := v.gin.Request.URL.Query()
	for name := range query {
		if strings.HasPrefix(name, "m.") || slices.Contains(bunchLookFields, name) {
			f.Set(name, query.Get(name))
		}
	}
	var to string
	a, err := v.bunchPad(f, func(tx *models.Tx, p *bunchPad) error {
		do := query.Get("do")
		if do == "" || p.Standard == nil {
			p.step(query.Get("step"))
			return nil
		}
		if do == "rest" {
			p.restYes(f)
		}
		next, err := p.take(tx, f, do == "enough")
		if err == nil {
			to = next
			return nil
		}
		if models.KindOf(err) != models.Invalid {
			return err
		}
		v.explain(f, failures.From(err))
		return nil
	})
	if err != nil || to == "" {
		return a, err
	}
	return seeOther(to, ""), nil
}

// bunchPad reads a look from a form, lets do act on it, and shows it.
func (v *visit) bunchPad(f *Form, do func(tx *models.Tx, p *bunchPad) error) (*answer, error) {
	return v.dayPage("day_bunch_look", f, func(tx *models.Tx, d *desk) (any, error) {
		p, err := v.readLook(tx, d, f)
		if err != nil {
			return nil, err
		}
		if p.Standard != nil {
			p.readRows(f)
		}
		if err := do(tx, p); err != nil {
			return nil, err
		}
		for i := range p.Rows {
			p.Rows[i].Fault = f.Fault(p.Rows[i].Field)
		}
		return p, nil
	})
}

// readLook reads what a look stands on, and the bunches so far.
func (v *visit) readLook(tx *models.Tx, d *desk, f *Form) (*bunchPad, error) {
	p := &bunchPad{desk: d}
	old, err := v.takeUp(tx, d, f)
	if err != nil {
		return nil, err
	}
	if p.bunchPlace, err = v.bunchPlaceOf(tx, d, f); err != nil {
		return nil, err
	}
	sample, err := p.readSample(tx, v, f, old)
	if err != nil || p.Standard == nil {
		return p, err
	}
	if old != nil {
		p.Workers = v.workerOptions(d, f)
		p.addPlaces(v, &old.Content)
	}
	if p.Who, err = d.bunchesOf(tx, f.Value("worker")); err != nil {
		return nil, err
	}
	p.tell(v, sample)
	p.Most = len(sample) == models.MostBunches
	p.Enough = len(sample) > 0 && (p.Most || f.Value("enough") != "")
	p.More, p.Done = lookPath(f, f.Value("s"), false), lookPath(f, f.Value("s"), true)
	if n := len(sample); n > 0 {
		p.Back = lookPath(f, writeSample(p.Standard.Content.Points, sample[:n-1]), false)
	}
	return p, nil
}

// readSample reads the bunches so far by the standard that they were noted by, which is the one to hold them against: but a check that is corrected to another place is held
// against what is asked there.
func (p *bunchPad) readSample(tx *models.Tx, v *visit, f *Form, old *models.BunchCheck) (models.SampledBunches, error) {
	notedBy := p.Standard
	moved := old != nil && (old.Content.BlockID != p.At.Block || old.Content.OperationID != p.At.Operation)
	if id, err := uuid.Parse(f.Value("standard")); err == nil && (p.Standard == nil || p.Standard.ID != id) {
		found, err := models.List[models.WorkStandard](tx, models.Page{Limit: 1}, models.Equal("id", id))
		if err != nil {
			return nil, err
		}
		if len(found) == 0 || !moved && found[0].Content.OperationID != p.At.Operation {
			return nil, errNotFound
		}
		notedBy = &found[0]
	}
	if notedBy == nil {
		return nil, nil
	}
	sample, ok := readSample(notedBy.Content.Points, f.Value("s"))
	if !ok {
		return nil, errNotFound
	}
	if moved && p.Standard != notedBy {
		p.checkFit(f, notedBy, sample)
	} else {
		p.Standard = notedBy
	}
	p.Points = v.bunchPoints(p.Standard.Content.Points)
	f.Set("standard", p.Standard.ID.String())
	f.Set("s", writeSample(p.Standard.Content.Points, sample))
	return sample, nil
}

// checkFit says beside the field where nothing is asked at the place, or not all that was noted. The bunches then stay with what they were noted by.
func (p *bunchPad) checkFit(f *Form, notedBy *models.WorkStandard, sample models.SampledBunches) {
	if p.Standard != nil && bunches.Fits(sample, notedBy.Content.Points, p.Standard.Content.Points) {
		return
	}
	f.fault("operation", "page.bunch.other_points", payroll.Terms{"operation": p.CodeOf(p.At.Operation), "block": p.BlockCode(p.At.Block)})
	p.Standard = notedBy
}

// takeUp returns the check that a correction takes the place of, nil where none is corrected. The correction begins with what it says: its bunches too, unless the address has others.
func (v *visit) takeUp(tx *models.Tx, d *desk, f *Form) (*models.BunchCheck, error) {
	if f.Value("instead") == "" {
		return nil, nil
	}
	checks, err := models.List[models.BunchCheck](tx, models.Page{Limit: 1}, models.Equal("id", f.Ref("instead")), models.Equal("crew_id", d.Key.Crew), models.Equal("workday", d.Key.Day))
	if err == nil && len(checks) == 0 {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	if f.Has("remark") {
		return &checks[0], nil
	}
	told, err := bunches.Tell(tx, checks)
	if err != nil {
		return nil, err
	}
	c := &told[0].Content
	f.Set("remark", c.Remark)
	if c.PalmID != nil {
		palm, err := models.Get[models.PalmContent](tx, *c.PalmID)
		if err != nil {
			return nil, err
		}
		f.Set("palm", palm.Content.Label)
	}
	if f.Has("s") {
		return &checks[0], nil
	}
	for name, value := range map[string]string{"block": c.BlockID.String(), "operation": c.OperationID.String(), "standard": c.StandardID.String(),
		"s": writeSample(told[0].Standard.Content.Points, c.Bunches)} {
		f.Set(name, value)
	}
	if c.WorkerID != nil {
		f.Set("worker", c.WorkerID.String())
	}
	return &checks[0], nil
}

// workerOptions are the people of the day, after the crew; whoever a check names already can stay named.
func (v *visit) workerOptions(d *desk, f *Form) []Option {
	options := []Option{{Label: v.say("page.bunch.nobody", nil)}}
	for _, p := range d.known() {
		options = append(options, Option{Value: p.ID.String(), Label: p.Name})
	}
	if named := f.Value("worker"); named != "" && !slices.ContainsFunc(options, func(o Option) bool { return o.Value == named }) {
		options = append(options, Option{Value: named, Label: v.say("page.bunch.named_before", nil)})
	}
	return options
}

// addPlaces adds the blocks and operations of which a check can turn out to be: those in use on the day, and its own.
func (p *bunchPad) addPlaces(v *visit, was *models.BunchCheckContent) {
	for _, b := range p.Blocks {
		if b.Content.InUse(p.Day) || b.ID == was.BlockID {
			p.BlockChoices = append(p.BlockChoices, Option{Value: b.ID.String(), Label: b.Content.Code + " · " + b.Content.Variety})
		}
	}
	for _, o := range p.Operations {
		if o.Content.InUse(p.Day) || o.ID == was.OperationID {
			p.WorkChoices = append(p.WorkChoices, Option{Value: o.ID.String(), Label: v.catalogue().Operation(o.Content.Code)})
		}
	}
}

// bunchesOf is the name of the worker whose bunches are looked at; "" is the crew.
func (d *desk) bunchesOf(tx *models.Tx, worker string) (string, error) {
	if worker == "" {
		return "", nil
	}
	id, err := uuid.Parse(worker)
	if err != nil {
		return "", errNotFound
	}
	if name := d.Name(id); name != "" {
		return name, nil
	}
	names, err := workerNames(tx, []uuid.UUID{id})
	if err == nil && names[id] == "" {
		err = errNotFound
	}
	return names[id], err
}

func (p *bunchPad) tell(v *visit, sample models.SampledBunches) {
	points := p.Standard.Content.Points
	p.Sample, p.Next = bunches.JudgeAll(points, sample), len(sample)+1
	told := make([]bunches.PointTold, len(points))
	for i := range points {
		told[i] = bunches.PointTold{Asked: &points[i], PointCount: p.Sample.Points[i]}
	}
	if len(sample) > 0 {
		p.Sum, p.Good, p.Rest = v.tellSample(p.Sample.AsAsked, p.Sample.LookedAt, told)
	}
}

// lookPath is the address of a look with some bunches.
func lookPath(f *Form, sample string, enough bool) string {
	q := url.Values{}
	for _, name := range bunchLookFields {
		if value := f.Value(name); value != "" && name != "s" && name != "enough" {
			q.Set(name, value)
		}
	}
	if sample != "" || q.Has("instead") {
		q.Set("s", sample)
	}
	if enough {
		q.Set("enough", "yes")
	}
	return "/day/bunches/look?" + q.Encode()
}

// readRows puts what was noted of the bunch that is looked at now beside its points.
func (p *bunchPad) readRows(f *Form) {
	for i, point := range p.Points {
		f.Knows(bunchField(i))
		row := bunchPadRow{bunchPoint: point, Field: bunchField(i), Value: f.Value(bunchField(i)), Start: "0"}
		switch {
		case point.Low != nil:
			row.Start = point.Low.String()
		case point.High != nil:
			row.Start = point.High.String()
		}
		p.Rows = append(p.Rows, row)
	}
}

// step brings a number one up or down, from the bound where nothing stands yet.
func (p *bunchPad) step(pressed string) {
	what, field, _ := strings.Cut(pressed, ":")
	for i := range p.Rows {
		row := &p.Rows[i]
		if row.Field != field || row.Kind != models.NumberPoint {
			continue
		}
		if row.Value == "" {
			row.Value = row.Start
			return
		}
		n, err := quantity.Parse(strings.Replace(row.Value, ",", ".", 1))
		switch {
		case err != nil:
		case what == "more":
			row.Value = n.Plus(quantity.Of(1)).String()
		case what == "less":
			row.Value = quantity.Max(n.Minus(quantity.Of(1)), quantity.Of(0)).String()
		}
	}
}

// Asks tells whether a point is answered in a way.
func (p *bunchPad) Asks(kind models.PointKind) bool {
	return slices.ContainsFunc(p.Points, func(point bunchPoint) bool { return point.Kind == kind })
}

// restYes says yes to every point on which nothing was said.
func (p *bunchPad) restYes(f *Form) {
	for _, row := range p.Rows {
		if row.Kind == models.YesNoPoint && row.Value != "y" && row.Value != "n" {
			f.Set(row.Field, "y")
		}
	}
}

// take adds the bunch that was looked at to the sample and returns where to go on.
func (p *bunchPad) take(tx *models.Tx, f *Form, enough bool) (string, error) {
	points := p.Standard.Content.Points
	var now models.SampledBunch
	at := map[int]string{} // the field of each mark
	for i := range points {
		mark, ok := readMark(&points[i], f.Value(bunchField(i)))
		switch {
		case !ok:
			f.fault(bunchField(i), "page.bunch.no_number", payroll.Terms{"value": f.Value(bunchField(i))})
		case mark != nil:
			at[len(now.Marks)] = bunchField(i)
			now.Marks = append(now.Marks, *mark)
		}
	}
	if err := f.Faulty(); err != nil {
		return "", err
	}
	sample, _ := readSample(points, f.Value("s"))
	if len(now.Marks) == 0 {
		if enough && len(sample) > 0 {
			return p.Done, nil
		}
		return "", models.FaultAt("/"+strings.ReplaceAll(bunchField(0), ".", "/"), "page.bunch.nothing_noted", nil)
	}
	c := models.BunchCheckContent{Bunches: models.SampledBunches{now}}
	faults, err := c.CheckMarks(tx, points)
	if err != nil {
		return "", err
	}
	for i := range faults {
		for n, field := range at {
			if strings.HasPrefix(faults[i].Pointer, "/bunches/0/marks/"+strconv.Itoa(n)+"/") {
				faults[i].Pointer = "/" + strings.ReplaceAll(field, ".", "/")
				break
			}
		}
	}
	if err := models.Faulty(faults); err != nil {
		return "", err
	}
	return lookPath(f, writeSample(points, append(sample, c.Bunches...)), enough), nil
}

// keepBunches records a look that is done.
func keepBunches(v *visit) (*answer, error) {
	f, err := v.dayForm("block", "operation", "worker", "instead", "standard", "s", "palm", "remark", "reason")
	if err != nil {
		return nil, err
	}
	f.Set("enough", "yes")
	err = v.in(func(tx *models.Tx) error {
		d, err := v.desk(tx, f.Value("crew"), f.Value("on"))
		if err != nil {
			return err
		}
		p, err := v.readLook(tx, d, f)
		if err != nil {
			return err
		}
		if p.Standard == nil {
			return errNotFound
		}
		l := bunches.Look{ID: f.ID, StandardID: p.Standard.ID, CrewID: d.Key.Crew, Workday: d.Key.Day, BlockID: p.At.Block, Remark: f.Value("remark"), RecordedAt: tx.Now, Reason: f.Value("reason")}
		l.Bunches, _ = readSample(p.Standard.Content.Points, f.Value("s"))
		l.WorkerID, l.Supersedes = refOrNil(f.Ref("worker")), refOrNil(f.Ref("instead"))
		if l.PalmID, err = palmOf(tx, p.At.Block, f.Value("palm")); err != nil {
			return err
		}
		if err := f.Faulty(); err != nil {
			return err
		}
		_, _, err = bunches.Record(tx, l)
		return err
	})
	if err != nil {
		return v.again(f, err, func(v *visit, f *Form) (*answer, error) {
			return v.bunchPad(f, func(*models.Tx, *bunchPad) error { return nil })
		})
	}
	return seeOther("/bunches/"+f.ID.String(), "bunches_kept"), nil
}

func refOrNil(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

// palmOf finds a palm of a block by what is painted on it; nil where nothing was said.
func palmOf(tx *models.Tx, block uuid.UUID, label string) (*uuid.UUID, error) {
	if label == "" {
		return nil, nil
	}
	found, err := models.List[models.Palm](tx, models.Page{Limit: 1}, models.Equal("block_id", block), models.Equal("label", label))
	if err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return nil, models.FaultAt("/palm", "page.bunch.no_palm", payroll.Terms{"palm": label})
	}
	return &found[0].ID, nil
}
