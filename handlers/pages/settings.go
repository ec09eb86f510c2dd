package pages

import (
	"strconv"
	"time"

	"palmero/models"
	"palmero/payroll"
)

// settingsPages keep the employer as statements name it, and how its weeks and days run.
func settingsPages() []Page {
	return []Page{
		{Method: "GET", Path: "/employer", Roles: office, Nav: "page.set.employer", Under: "/set-up", handle: func(v *visit) (*answer, error) { return settingsPage(v, nil) }},
		{Method: "POST", Path: "/employer", Roles: owners, handle: changeSettings},
	}
}

// settings are the employer's, and what its form offers.
type settings struct {
	*models.EmployerProfile
	WeekStart, Payday, DayStart string // in words
	Weekdays, Approvals         []Option
	May                         bool
	Fixed                       bool // whether the workweek stays, since there are records that go by it
}

// weekdayWord is a weekday in full.
func (v *visit) weekdayWord(day time.Weekday) string {
	return v.say("page.set.weekday."+strconv.Itoa(int(day)), nil)
}

func settingsPage(v *visit, f *Form) (*answer, error) {
	page := settings{May: v.mayChange()}
	err := v.view(func(tx *models.Tx) (err error) {
		if page.EmployerProfile, err = tx.Profile(); err == nil {
			page.Fixed, err = tx.WorkweekFixed()
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	for day := time.Sunday; day <= time.Saturday; day++ {
		page.Weekdays = append(page.Weekdays, Option{Value: strconv.Itoa(int(day)), Label: v.weekdayWord(day)})
	}
	for _, word := range []string{"second", "alone"} {
		page.Approvals = append(page.Approvals, Option{Value: word, Label: v.say("page.set.approval_"+word, nil)})
	}
	c := page.Content
	page.WeekStart, page.Payday, page.DayStart = v.weekdayWord(c.WeekStart), v.weekdayWord(c.Payday), clockOf(c.WorkdayStart)
	if f == nil {
		f = newForm(map[string]string{"legal_name": c.LegalName, "address": c.Address, "tax_number": c.TaxNumber, "insurance_carrier": c.InsuranceCarrier,
			"size": strconv.FormatInt(c.Size, 10), "week_start": strconv.Itoa(int(c.WeekStart)), "payday": strconv.Itoa(int(c.Payday)), "workday_start": page.DayStart, "approval": "second"})
		if !c.SecondApprover {
			f.Set("approval", "alone")
		}
	}
	f.Keep(page.Version)
	return show("set_employer", &page).with(f), nil
}

// Clock reads minutes after midnight, as a time field sends them.
func (f *Form) Clock(name string) int64 {
	return readField(f, name, "page.fault.clock", func(s string) (int64, error) {
		t, err := time.Parse("15:04", s)
		return int64(t.Hour()*60 + t.Minute()), err
	})
}

func changeSettings(v *visit) (*answer, error) {
	f, err := v.form("legal_name", "address", "tax_number", "insurance_carrier", "size", "week_start", "payday", "workday_start", "approval")
	if err != nil {
		return nil, err
	}
	c := models.EmployerContent{
		LegalName: f.Value("legal_name"), Address: f.Value("address"), TaxNumber: f.Value("tax_number"), InsuranceCarrier: f.Value("insurance_carrier"), Size: f.Whole("size"),
		WeekStart: time.Weekday(f.Whole("week_start")), Payday: time.Weekday(f.Whole("payday")), WorkdayStart: f.Clock("workday_start"), SecondApprover: f.Value("approval") != "alone",
	}
	for _, name := range []string{"week_start", "payday", "workday_start", "approval"} {
		if f.Value(name) == "" {
			f.fault(name, "page.fault.choose", payroll.Terms{})
		}
	}
	done := "employer_kept"
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			before, err := tx.Profile()
			if err != nil {
				return err
			}
			if before.Content.SecondApprover && !c.SecondApprover {
				done = "employer_alone"
			}
			_, err = tx.UpdateProfile(f.Version, c)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, settingsPage)
	}
	return seeOther("/employer", done), nil
}
