package pages

import (
	"encoding/json"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// correctionPages look once more at weeks that were paid, and settle people who leave.
func correctionPages() []Page {
	return []Page{
		{Method: "GET", Path: "/corrections", Roles: office, Nav: "page.nav.corrections", handle: showCorrections},
		{Method: "POST", Path: "/corrections", Roles: clerks, handle: reviewWeek},
		{Method: "POST", Path: "/corrections/decisions", Roles: clerks, handle: decideCorrection},
		{Method: "POST", Path: "/corrections/runs", Roles: clerks, handle: draftCorrection},
		{Method: "GET", Path: "/final-pay", Roles: clerks, handle: showFinalPay},
		{Method: "POST", Path: "/final-pay", Roles: clerks, handle: draftFinalPay},
	}
}

// correctionsPage is what a week that was paid comes to now, and what was decided about it.
type correctionsPage struct {
	Week     dated.Date // zero where none is chosen
	Found    []foundDifference
	Reviewed bool // whether it was reckoned once more just now
	Kept     []keptDifference
	Open     *keptDifference
	Owed     int // adjustments that are accepted, of the week
	Clerk    bool
}

// foundDifference is a difference that nothing can be paid by: against the worker, or of a week that cannot be reckoned now.
type foundDifference struct {
	payrun.Difference
	Told []toldProblem
}

// keptDifference is an adjustment with its worker and lines.
type keptDifference struct {
	payrun.Adjustment
	Number int64
	Name   string
	Lines  []payrun.LineDifference
	Open   bool
}

func showCorrections(v *visit) (*answer, error) { return correctionsPageWith(v, nil) }

func correctionsPageWith(v *visit, f *Form) (*answer, error) {
	page := correctionsPage{Week: v.day("week")}
	open := v.gin.Query("open")
	if f != nil {
		open = f.Value("open")
		if day, err := dated.ParseDate(f.Value("week")); err == nil {
			page.Week = day
		}
	}
	return v.showCorrections(&page, open, f)
}

func (v *visit) showCorrections(page *correctionsPage, open string, f *Form) (*answer, error) {
	page.Clerk = v.caller.Role == models.RoleClerk
	err := v.view(func(tx *models.Tx) error { return page.read(tx, open) })
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = newForm(map[string]string{"week": page.Week.String(), "records": "yes"})
		if page.Week.IsZero() {
			f.Set("week", "")
		}
	}
	if page.Open != nil {
		f.Keep(page.Open.Version)
	}
	return show("corrections", page).with(f), nil
}

// read reads the adjustments of the week, or the latest of all, those that an other review overtook left out.
func (p *correctionsPage) read(tx *models.Tx, open string) error {
	if p.Week.IsZero() {
		return nil
	}
	profile, err := tx.Profile()
	if err != nil {
		return err
	}
	p.Week = models.WeekOf(p.Week, profile.Content.WeekStart)
	kept, err := payrun.Adjustments(tx, p.Week, models.Page{Limit: mostCounts})
	if err != nil {
		return err
	}
	kept = slices.DeleteFunc(kept, func(a payrun.Adjustment) bool { return a.State == payrun.Overtaken })
	ids := make([]uuid.UUID, len(kept))
	for i := range kept {
		ids[i] = kept[i].WorkerID
	}
	workers, err := models.List[models.Worker](tx, models.Page{Limit: len(ids)}, models.OneOf("id", ids))
	if err != nil {
		return err
	}
	named := models.KeptByID(workers)
	for _, a := range kept {
		k := keptDifference{Adjustment: a, Open: a.ID.String() == open}
		if w := named[a.WorkerID]; w != nil {
			k.Number, k.Name = w.Content.Number, w.Content.Name
		}
		if err := json.Unmarshal(a.Lines, &k.Lines); err != nil {
			return err
		}
		p.Kept = append(p.Kept, k)
		if a.State == payrun.Accepted {
			p.Owed++
		}
	}
	for i := range p.Kept {
		if p.Kept[i].Open {
			p.Open = &p.Kept[i]
		}
	}
	return nil
}

// reviewWeek reckons a week that was paid once more. The same again finds the same, so the answer may be asked for again.
func reviewWeek(v *visit) (*answer, error) {
	f, err := v.form("week")
	if err != nil {
		return nil, err
	}
	page := correctionsPage{Week: f.Day("week"), Reviewed: true}
	if f.Value("week") == "" {
		f.fault("week", "page.fault.day_needed", nil)
	}
	var found []payrun.Difference
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			profile, err := tx.Profile()
			if err != nil {
				return err
			}
			found, err = payrun.Review(tx, v.Books, models.WeekOf(page.Week, profile.Content.WeekStart))
			return err
		})
	}
	if err != nil {
		f.Set("week", f.Value("week"))
		return v.again(f, err, correctionsPageWith)
	}
	for _, d := range found {
		if d.Adjustment == nil {
			page.Found = append(page.Found, foundDifference{d, v.tellProblems(d.Problems)})
		}
	}
	return v.showCorrections(&page, "", nil)
}

// decideCorrection accepts a difference for payment, or puts it off.
func decideCorrection(v *visit) (*answer, error) {
	f, err := v.form("week", "open", "state", "records", "rules", "engine", "reason")
	if err != nil {
		return nil, err
	}
	id, err := uuid.Parse(f.Value("open"))
	if err != nil {
		return nil, errNotFound
	}
	d := payrun.AdjustmentDecision{State: payrun.AdjustmentState(f.Value("state")), Reason: f.Value("reason")}
	for _, part := range []payrun.Part{payrun.FromRecords, payrun.FromRules, payrun.FromEngine} {
		if f.Value(string(part)) != "" {
			d.Parts = append(d.Parts, part)
		}
	}
	if d.State == payrun.Accepted && len(d.Parts) == 0 {
		f.fault("records", "page.fault.choose", nil)
	}
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, err := payrun.DecideAdjustment(tx, id, f.Version, d)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, correctionsPageWith)
	}
	return seeOther("/corrections?week="+f.Value("week"), "correction_"+string(d.State)), nil
}

// draftCorrection drafts a run that pays at once whatever is accepted for weeks already paid.
func draftCorrection(v *visit) (*answer, error) {
	f, err := v.form("week")
	if err != nil {
		return nil, err
	}
	week := f.Day("week")
	if err = f.Faulty(); err != nil {
		return v.again(f, err, correctionsPageWith)
	}
	return v.draft(payrun.CorrectionStep, f, func(profile *models.EmployerProfile) payrun.DraftRequest {
		return payrun.DraftRequest{Kind: payrun.Correction, WeekStart: models.Day(models.WeekOf(week, profile.Content.WeekStart))}
	})
}

// finalPage settles people whose work has ended.
type finalPage struct{ Endings []Option }

func showFinalPay(v *visit) (*answer, error) { return finalPageWith(v, nil) }

func finalPageWith(v *visit, f *Form) (*answer, error) {
	var page finalPage
	for _, ending := range []payrun.Ending{payrun.Discharge, payrun.Quit, payrun.QuitWithNotice} {
		page.Endings = append(page.Endings, Option{Value: string(ending), Label: v.say("page.final."+string(ending), nil)})
	}
	if f == nil {
		f = newForm(nil)
		err := v.view(func(tx *models.Tx) error {
			today, err := payrun.Today(tx)
			if err != nil {
				return err
			}
			f.Set("through_date", today.String())
			return v.whoLeaves(tx, f)
		})
		if err != nil {
			return nil, err
		}
	}
	return show("final_pay", page).with(f), nil
}

// whoLeaves puts the worker whose number the query names into the form of a final pay, with their last day where it is known.
func (v *visit) whoLeaves(tx *models.Tx, f *Form) error {
	number := v.number("number")
	w, err := workerByNumber(tx, number)
	if err != nil || w == nil {
		return err
	}
	f.Set("number", strconv.FormatInt(number, 10))
	if !w.Content.EndedOn.IsZero() {
		f.Set("through_date", w.Content.EndedOn.String())
	}
	return nil
}

// draftFinalPay drafts the final pay of a worker through a day.
func draftFinalPay(v *visit) (*answer, error) {
	f, err := v.form("number", "through_date", "ending")
	if err != nil {
		return nil, err
	}
	through, number := f.Day("through_date"), f.Whole("number")
	if f.Value("number") == "" {
		f.fault("number", "page.fault.number_needed", nil)
	}
	if f.Value("through_date") == "" {
		f.fault("through_date", "page.fault.day_needed", nil)
	}
	if f.Value("ending") == "" {
		f.fault("ending", "page.fault.choose", nil)
	}
	var worker *models.Worker
	if err = f.Faulty(); err == nil {
		err = v.view(func(tx *models.Tx) (err error) {
			if worker, err = workerByNumber(tx, number); err == nil && worker == nil {
				err = models.FaultAt("/number", "page.fault.no_such_worker", payroll.Terms{"number": f.Value("number")})
			}
			return err
		})
	}
	if err != nil {
		return v.again(f, err, finalPageWith)
	}
	return v.draft(payrun.FinalStep, f, func(profile *models.EmployerProfile) payrun.DraftRequest {
		return payrun.DraftRequest{Kind: payrun.Final, WeekStart: models.Day(models.WeekOf(through, profile.Content.WeekStart)), Workers: []uuid.UUID{worker.ID},
			ThroughDate: models.Day(through), Ending: payrun.Ending(f.Value("ending"))}
	})
}
