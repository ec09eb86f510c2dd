package pages

import (
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll/dated"
)

func payPaymentPages() []Page {
	return []Page{
		{Method: "GET", Path: "/pay/{id}/payments", Roles: office, handle: showPayments},
		{Method: "POST", Path: "/pay/{id}/payments", Roles: clerks, handle: recordPayments},
		{Method: "POST", Path: "/statements/{id}/payment", Roles: clerks, handle: recordPayment},
		{Method: "POST", Path: "/statements/{id}/unpaid", Roles: clerks, handle: takePaymentBack},
		{Method: "POST", Path: "/statements/{id}/void", Roles: office, handle: voidStatement},
	}
}

// The fields of a payment are named as the pointers of the first of a list.
const (
	paidOn    = "payments.0.paid_on"
	paidBy    = "payments.0.method"
	paidUnder = "payments.0.reference"
)

// methods are the ways of paying that the pages offer.
func (v *visit) methods() []Option {
	var all []Option
	for _, m := range []string{"check", "transfer", "cash"} {
		all = append(all, Option{Value: m, Label: v.say("payment."+m, nil)})
	}
	return all
}

// paymentsPage records how the statements of a run were paid.
type paymentsPage struct {
	Run     payrun.Run
	ToPay   []payrun.Brief
	Hidden  int // of those to be paid, how many are not listed one by one
	Methods []Option
	Clerk   bool
}

func showPayments(v *visit) (*answer, error) { return paymentsPageWith(v, nil) }

func paymentsPageWith(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := paymentsPage{Methods: v.methods(), Clerk: v.caller.Role == models.RoleClerk}
	err = v.view(func(tx *models.Tx) error {
		run, err := payrun.ReadRun(tx, id)
		if err != nil {
			return err
		}
		page.Run = run.Run
		if run.State == payrun.Draft {
			return nil
		}
		page.ToPay, err = payrun.ToPay(tx, id, nil)
		return err
	})
	if err != nil {
		return nil, err
	}
	if n := len(page.ToPay); n > peopleAtOnce {
		page.ToPay, page.Hidden = page.ToPay[:peopleAtOnce], n-peopleAtOnce
	}
	if f == nil {
		f = newForm(map[string]string{paidOn: page.Run.Payday.String(), paidBy: "check", "who": "all"})
	}
	return show("pay_payments", &page).with(f), nil
}

// recordPayments marks everybody's statements as paid, or those of the people chosen.
func recordPayments(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("who", paidOn, paidBy, paidUnder)
	if err != nil {
		return nil, err
	}
	var only []uuid.UUID
	if f.Value("who") == "chosen" {
		only = []uuid.UUID{}
		for _, s := range f.Values("statement") {
			if one, err := uuid.Parse(s); err == nil {
				only = append(only, one)
			}
		}
		if len(only) == 0 {
			f.fault("who", "page.fault.nobody_chosen", nil)
		}
	}
	if f.Value(paidOn) == "" {
		f.fault(paidOn, "page.fault.day_needed", nil)
	}
	day := f.Day(paidOn)
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			if err := payrun.Exists(tx, id); err != nil {
				return err
			}
			unpaid, err := payrun.ToPay(tx, id, only)
			if err != nil || len(unpaid) == 0 { // the button was pressed twice: all of it is recorded
				return err
			}
			_, err = payrun.Pay(tx, id, paymentsOf(unpaid, day, f.Value(paidBy), f.Value(paidUnder)))
			return err
		})
	}
	if err != nil {
		return v.again(f, err, paymentsPageWith)
	}
	return seeOther("/pay/"+id.String(), "paid"), nil
}

// paymentsOf are payments of statements, one after the other. Checks are numbered on from the first.
func paymentsOf(unpaid []payrun.Brief, day dated.Date, method, reference string) []payrun.Payment {
	payments := make([]payrun.Payment, len(unpaid))
	first, err := strconv.ParseUint(reference, 10, 63)
	for i := range unpaid {
		payments[i] = payrun.Payment{StatementID: unpaid[i].ID, PaidOn: models.Day(day), Method: method, Reference: reference}
		if method == "check" && err == nil {
			number := strconv.FormatUint(first+uint64(i), 10)
			payments[i].Reference = strings.Repeat("0", max(len(reference)-len(number), 0)) + number
		}
	}
	return payments
}

// onStatement makes a handler of something that happens to a statement.
func onStatement(done string, take func(tx *models.Tx, id uuid.UUID, f *Form) error, fields ...string) handler {
	return func(v *visit) (*answer, error) {
		id, err := v.id()
		if err != nil {
			return nil, err
		}
		f, err := v.form(fields...)
		if err != nil {
			return nil, err
		}
		if err = v.in(func(tx *models.Tx) error { return take(tx, id, f) }); err != nil {
			return v.again(f, err, sheetPageWith)
		}
		return seeOther("/statements/"+id.String(), done), nil
	}
}

var recordPayment = onStatement("one_paid", func(tx *models.Tx, id uuid.UUID, f *Form) error {
	sheet, err := payrun.ReadStatement(tx, id, nil)
	if err != nil {
		return err
	}
	f.found = nil
	if f.Value(paidOn) == "" {
		f.fault(paidOn, "page.fault.day_needed", nil)
	}
	payment := payrun.Payment{StatementID: id, PaidOn: models.Day(f.Day(paidOn)), Method: f.Value(paidBy), Reference: f.Value(paidUnder)}
	if err := f.Faulty(); err != nil {
		return err
	}
	_, err = payrun.Pay(tx, sheet.Run.ID, []payrun.Payment{payment})
	return err
}, paidOn, paidBy, paidUnder)

var takePaymentBack = onStatement("unpaid", func(tx *models.Tx, id uuid.UUID, f *Form) error {
	f.found = nil
	u := payrun.Unpaid{ID: f.ID, Outcome: payrun.PaymentOutcome(f.Value("outcome")), HappenedOn: models.Day(f.Day("happened_on")), Reason: f.Value("reason")}
	if f.Value("outcome") == "" {
		f.fault("outcome", "page.fault.choose", nil)
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	_, _, err := payrun.TakeBackPayment(tx, id, u)
	return err
}, "outcome", "happened_on", "reason")

var voidStatement = onStatement("void", func(tx *models.Tx, id uuid.UUID, f *Form) error {
	_, err := payrun.Void(tx, id, f.Value("reason"))
	return err
}, "reason")
