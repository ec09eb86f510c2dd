package pages

import (
	"cmp"
	"slices"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll/dated"
)

// operationPages set up the kinds of hand work that are counted and paid.
func operationPages() []Page {
	return []Page{
		{Method: "GET", Path: "/operations", Roles: office, Nav: "page.set.operations", Under: "/set-up", handle: func(v *visit) (*answer, error) { return operationsPage(v, newForm(nil)) }},
		{Method: "POST", Path: "/operations", Roles: owners, handle: newOperation},
		{Method: "GET", Path: "/operations/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return operationPage(v, nil) }},
		{Method: "POST", Path: "/operations/{id}", Roles: owners, handle: changeOperation},
	}
}

// The operations of the trade, which have a name in every language, and the units that there are words for.
var (
	operationCodes = []string{"de-thorning", "pollination", "thinning", "tying", "bagging", "tie-down", "picking", "leaf pruning", "ground work"}
	operationUnits = []string{"bunch", "palm", "strand", "bag", "box", "bin", "pound", "kg"}
)

// operationList is the operations, and what the form of a new one offers.
type operationList struct {
	Operations   []operationRow
	Ended        []operationRow
	Codes, Units []Option
	May          bool
}

// operationRow is an operation with its name in every language.
type operationRow struct {
	*models.Operation
	English, Spanish string
}

func operationRowOf(o *models.Operation) operationRow {
	return operationRow{o, text.For(text.English).Operation(o.Content.Code), text.For(text.Spanish).Operation(o.Content.Code)}
}

// unitOptions are the units to count in, with one that is set already whatever it is.
func (v *visit) unitOptions(present string) []Option {
	units := operationUnits
	if present != "" && !slices.Contains(units, present) {
		units = append(slices.Clone(units), present)
	}
	options := []Option{{Label: v.say("page.set.choose", nil)}}
	for _, u := range units {
		options = append(options, Option{Value: u, Label: v.catalogue().Unit(u, false)})
	}
	return options
}

func operationsPage(v *visit, f *Form) (*answer, error) {
	list := operationList{Units: v.unitOptions(f.Value("unit")), May: v.mayChange(), Codes: []Option{{Label: v.say("page.set.own_operation", nil)}}}
	var today dated.Date
	err := v.view(func(tx *models.Tx) (err error) {
		if today, err = payrun.Today(tx); err != nil {
			return err
		}
		all, err := models.All[models.OperationContent](tx)
		for _, o := range all {
			list.Operations = append(list.Operations, operationRowOf(o))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(list.Operations, func(a, b operationRow) int { return cmp.Compare(a.Seq, b.Seq) })
	for _, code := range operationCodes {
		if !slices.ContainsFunc(list.Operations, func(o operationRow) bool { return o.Content.Code == code }) {
			list.Codes = append(list.Codes, Option{Value: code, Label: v.catalogue().Operation(code)})
		}
	}
	list.Ended = slices.DeleteFunc(slices.Clone(list.Operations), func(o operationRow) bool { return o.Content.InUse(today) })
	list.Operations = slices.DeleteFunc(list.Operations, func(o operationRow) bool { return !o.Content.InUse(today) })
	return show("set_operations", &list).with(f), nil
}

func operationContent(f *Form) models.OperationContent {
	return models.OperationContent{Code: cmp.Or(f.Value("known"), f.Value("code")), Unit: f.Value("unit"), DailyLimit: f.Pieces("daily_limit")}
}

func newOperation(v *visit) (*answer, error) {
	f, err := v.form("known", "code", "unit", "daily_limit")
	if err != nil {
		return nil, err
	}
	c := operationContent(f)
	if f.Value("known") != "" && f.Value("code") != "" {
		f.fault("code", "page.fault.chosen_and_named", nil)
	}
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := models.Create(tx, f.ID, c)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, operationsPage)
	}
	return seeOther("/operations", "operation_new"), nil
}

// operationShown is one operation.
type operationShown struct {
	operationRow
	Units []Option
	May   bool
	End   ending
}

func operationPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := operationShown{May: v.mayChange()}
	err = v.view(func(tx *models.Tx) error {
		o, err := models.Get[models.OperationContent](tx, id)
		if err == nil {
			page.operationRow = operationRowOf(o)
			page.End.Today, err = payrun.Today(tx)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	page.Units = v.unitOptions(page.Content.Unit)
	if f == nil {
		f = newForm(nil)
	}
	if c := page.Content; !f.Has("code") {
		f.fill(map[string]string{"code": c.Code, "unit": c.Unit, "daily_limit": c.DailyLimit.String()})
	}
	f.Keep(page.Version)
	page.End = ending{page.Content.Ending, page.End.Today, "operation", "/operations/" + id.String() + "/ending", f}
	return show("set_operation", &page).with(f), nil
}

func changeOperation(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("code", "unit", "daily_limit")
	if err != nil {
		return nil, err
	}
	c := operationContent(f)
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			kept, err := models.Get[models.OperationContent](tx, id)
			if err != nil {
				return err
			}
			c.Ending = kept.Content.Ending
			_, err = models.Update(tx, id, f.Version, c)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, operationPage)
	}
	return seeOther("/operations", "operation_kept"), nil
}
