package pages

import (
	"cmp"
	"errors"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/models/heatday"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// standardPages are where the administrator says what is asked of a bunch. What was asked on a day stays what it was.
func standardPages() []Page {
	return []Page{
		{Method: "GET", Path: "/standards", Roles: owners, Nav: "page.nav.standards", Under: "/set-up", handle: showStandards},
		{Method: "GET", Path: "/standards/new", Roles: owners, handle: func(v *visit) (*answer, error) { return standardForm(v, nil) }},
		{Method: "POST", Path: "/standards", Roles: owners, handle: setStandard},
	}
}

// standardsPage is what is asked on a day.
type standardsPage struct {
	On, Today dated.Date
	Standards []shownStandard
	Ahead     []shownStandard // that have not begun, where the day is today
}

// shownStandard is a standard in the reader's language.
type shownStandard struct {
	models.WorkStandard
	Operation string // its code
	Shown     []bunchPoint
	Change    string // the address at which another is put in its place
}

func showStandards(v *visit) (*answer, error) {
	p := standardsPage{On: v.day("day")}
	f := newForm(nil)
	err := v.view(func(tx *models.Tx) (err error) {
		if p.Today, err = heatday.Today(tx); err != nil {
			return err
		}
		if p.On.IsZero() {
			p.On = p.Today
		}
		f.Set("day", p.On.String())
		operations, err := models.All[models.OperationContent](tx)
		if err != nil {
			return err
		}
		held, err := bunches.OnDay(tx, p.On)
		if err != nil {
			return err
		}
		p.Standards = v.shownStandards(held, operations)
		if p.On != p.Today {
			return nil
		}
		ahead, err := models.List[models.WorkStandard](tx, models.Page{Limit: mostAhead}, models.Standing(true), models.Where("effective_on > ?", models.Day(p.Today)))
		p.Ahead = v.shownStandards(ahead, operations)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("standards", p).with(f), nil
}

// mostAhead is more standards than anybody plans.
const mostAhead = 100

func (v *visit) shownStandards(all []models.WorkStandard, operations map[uuid.UUID]*models.Operation) (shown []shownStandard) {
	for _, s := range all {
		c := &s.Content
		q := url.Values{"operation": {c.OperationID.String()}, "variety": {c.Variety}}
		shown = append(shown, shownStandard{s, operations[c.OperationID].Content.Code, v.bunchPoints(c.Points), "/standards/new?" + q.Encode()})
	}
	slices.SortStableFunc(shown, func(a, b shownStandard) int {
		return cmp.Or(cmp.Compare(operations[a.Content.OperationID].Seq, operations[b.Content.OperationID].Seq), cmp.Compare(a.Content.Variety, b.Content.Variety), a.Content.EffectiveOn.Compare(b.Content.EffectiveOn.Date))
	})
	return shown
}

// newStandard is the form of a standard.
type newStandard struct {
	Operations []*models.Operation
	Varieties  []Option
	Rows       []standardRow
	Units      []Option
	Kinds      []Option
}

// standardRow is room for a point: its number for people, and what the names of its fields begin with.
type standardRow struct {
	No int
	At string
}

// spareRows is how many empty points a form begins with, beside those that are asked already.
const spareRows = 2

// pointField is a field of a point of the form.
func pointField(row int, name string) string { return "points." + strconv.Itoa(row) + "." + name }

// standardForm shows the form of a standard: a new one begins with what is asked today.
func standardForm(v *visit, f *Form) (*answer, error) {
	var p newStandard
	err := v.view(func(tx *models.Tx) error {
		today, err := heatday.Today(tx)
		if err != nil {
			return err
		}
		operations, err := models.All[models.OperationContent](tx, models.InUseOn(today))
		if err != nil {
			return err
		}
		p.Operations = slices.SortedFunc(maps.Values(operations), func(a, b *models.Operation) int { return cmp.Compare(a.Seq, b.Seq) })
		if f == nil {
			f = newForm(map[string]string{"operation_id": v.gin.Query("operation"), "variety": v.gin.Query("variety"), "effective_on": today.String()})
			if err := fillStandard(tx, f, today); err != nil {
				return err
			}
		}
		p.Varieties, err = v.varietyOptions(tx, today)
		return err
	})
	if err != nil {
		return nil, err
	}
	for i := range min(rowsOf(f), models.MostPoints) {
		p.Rows = append(p.Rows, standardRow{i + 1, pointField(i, "")})
	}
	p.Kinds = []Option{{Value: "", Label: v.say("page.bunch.kind.none", nil)}}
	for _, k := range []models.PointKind{models.YesNoPoint, models.NumberPoint} {
		p.Kinds = append(p.Kinds, Option{Value: string(k), Label: v.say("page.bunch.kind."+string(k), nil)})
	}
	for _, u := range models.PointUnits {
		p.Units = append(p.Units, Option{Value: u, Label: v.say("page.bunch.unit."+u, nil)})
	}
	return show("standard_new", &p).with(f), nil
}

// varietyOptions are the varieties that stand in the blocks in use, after every variety.
func (v *visit) varietyOptions(tx *models.Tx, today dated.Date) ([]Option, error) {
	blocks, err := models.All[models.BlockContent](tx, models.InUseOn(today))
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	for _, b := range blocks {
		known[b.Content.Variety] = true
	}
	options := []Option{{Label: v.say("page.bunch.every_variety", nil)}}
	for _, name := range slices.Sorted(maps.Keys(known)) {
		if name != "" {
			options = append(options, Option{Value: name, Label: name})
		}
	}
	return options, nil
}

// rowsOf is how many points a form has room for.
func rowsOf(f *Form) int {
	n, err := strconv.Atoi(f.Value("rows"))
	if err != nil || n < 1 {
		return spareRows
	}
	return n
}

// fillStandard puts into a form what is asked at the operation and of the variety that it names.
func fillStandard(tx *models.Tx, f *Form, today dated.Date) error {
	operation, err := uuid.Parse(f.Value("operation_id"))
	if err != nil {
		f.Set("rows", strconv.Itoa(spareRows))
		return nil
	}
	asked, err := bunches.InForce(tx, operation, f.Value("variety"), today)
	if err != nil {
		return err
	}
	rows := 0
	if asked != nil {
		for i, p := range asked.Content.Points {
			for name, value := range map[string]string{"point": p.Point, "name_en": p.NameEN, "name_es": p.NameES, "kind": string(p.Kind), "unit": p.Unit, "reason": p.Reason} {
				f.Set(pointField(i, name), value)
			}
			for name, bound := range map[string]*models.Quantity{"low": p.Low, "high": p.High} {
				if bound != nil {
					f.Set(pointField(i, name), bound.String())
				}
			}
		}
		rows = len(asked.Content.Points)
	}
	f.Set("rows", strconv.Itoa(min(rows+spareRows, models.MostPoints)))
	return nil
}

// pointFields are the fields of each point of the form.
var pointFields = []string{"point", "name_en", "name_es", "kind", "unit", "low", "high", "reason"}

// setStandard records what is asked from a day on, or that nothing is; or gives the form room for one point more.
func setStandard(v *visit) (*answer, error) {
	f, err := v.form("operation_id", "variety", "effective_on", "rows")
	if err != nil {
		return nil, err
	}
	rows := min(rowsOf(f), models.MostPoints)
	if f.Value("do") == "row" {
		f.Set("rows", strconv.Itoa(min(rows+1, models.MostPoints)))
		return standardForm(v, f)
	}
	c := models.WorkStandardContent{OperationID: f.Ref("operation_id"), Variety: f.Value("variety"), EffectiveOn: models.Day(f.Day("effective_on")), Withdrawn: f.Value("do") == "withdraw"}
	f.needDay("effective_on")
	var from []int // the row of each point
	for i := range rows {
		for _, name := range pointFields {
			f.Knows(pointField(i, name))
		}
		if p := f.point(i); p != nil && !c.Withdrawn {
			from = append(from, i)
			c.Points = append(c.Points, *p)
		}
	}
	keyed(c.Points)
	err = f.Faulty()
	if err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := bunches.SetStandard(tx, f.ID, c, models.Recording{RecordedAt: tx.Now})
			return err
		})
	}
	if err != nil {
		return v.again(f, onRows(err, from), standardForm)
	}
	if c.Withdrawn {
		return seeOther("/standards", "standard_withdrawn"), nil
	}
	return seeOther("/standards", "standard_kept"), nil
}

// point reads a point of the form; nil where its row is empty.
func (f *Form) point(row int) *models.StandardPoint {
	value := func(name string) string { return f.Value(pointField(row, name)) }
	if value("name_en") == "" && value("name_es") == "" && value("kind") == "" {
		return nil
	}
	p := &models.StandardPoint{Point: value("point"), NameEN: value("name_en"), NameES: value("name_es"), Kind: models.PointKind(value("kind")), Reason: value("reason")}
	if p.Kind == models.NumberPoint {
		p.Unit, p.Low, p.High = value("unit"), f.bound(pointField(row, "low")), f.bound(pointField(row, "high"))
	}
	return p
}

// bound reads a number; nil where nothing stands.
func (f *Form) bound(name string) *models.Quantity {
	if f.Value(name) == "" {
		return nil
	}
	return models.QuantityOf(readField(f, name, "input.not_decimal", func(s string) (quantity.Number, error) { return quantity.Parse(strings.Replace(s, ",", ".", 1)) }))
}

// keyed gives points that are new a key of their own, made of their English name.
func keyed(points models.StandardPoints) {
	taken := map[string]bool{}
	for _, p := range points {
		taken[p.Point] = true
	}
	for i := range points {
		if points[i].Point != "" {
			continue
		}
		key := strings.Trim(strings.Map(keyLetter, strings.ToLower(points[i].NameEN)), "_")
		if key = key[:min(len(key), 55)]; len(key) < 2 || key[0] < 'a' {
			key = "point_" + strconv.Itoa(i+1) + key
		}
		for n := 2; taken[key]; n++ {
			key = strings.TrimRight(key, "_0123456789") + "_" + strconv.Itoa(n)
		}
		points[i].Point, taken[key] = key, true
	}
}

func keyLetter(r rune) rune {
	if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
		return r
	}
	return '_'
}

// onRows tells the faults of points beside the rows that they were read from.
func onRows(err error, from []int) error {
	var e *models.Error
	if !errors.As(err, &e) {
		return err
	}
	moved := *e
	moved.Faults = make([]payroll.Fault, len(e.Faults))
	for i, fault := range e.Faults {
		if part := strings.Split(fault.Pointer, "/"); len(part) == 4 && part[1] == "points" {
			if n, err := strconv.Atoi(part[2]); err == nil && n < len(from) {
				part[2] = strconv.Itoa(from[n])
				fault.Pointer = strings.Join(part, "/")
			}
		}
		moved.Faults[i] = fault
	}
	return &moved
}
