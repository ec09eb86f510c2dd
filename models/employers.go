package models

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
)

// Employer is an entry of the directory: all that is known of an employer before anyone has signed in.
type Employer struct {
	ID         uuid.UUID `gorm:"primaryKey"`
	SignInName string
	CreatedAt  time.Time
}

// EmployerProfile is the employer as statements name it, with the settings of its weeks and days.
type EmployerProfile struct {
	EmployerID uuid.UUID       `gorm:"primaryKey" json:"-"`
	Version    int64           `json:"version"`
	UpdatedAt  time.Time       `json:"updated_at"`
	Content    EmployerContent `gorm:"embedded" json:"-"`
}

// EmployerContent is what an administrator sets of an employer.
type EmployerContent struct {
	LegalName        string       `json:"legal_name"`
	Address          string       `json:"address"`
	TaxNumber        string       `json:"tax_number"`
	InsuranceCarrier string       `json:"insurance_carrier"`
	Size             int64        `json:"size"`          // head count, for rules that depend on it
	WeekStart        time.Weekday `json:"week_start"`    // 0 Sunday … 6 Saturday
	WorkdayStart     int64        `json:"workday_start"` // minutes after midnight at which a workday begins
	Payday           time.Weekday `json:"payday"`
	SecondApprover   bool         `json:"second_approver"` // whether pay needs a second person's approval
}

// TableName tells gorm the table.
func (EmployerProfile) TableName() string { return "employer_profiles" }

// MarshalJSON writes the profile's own fields and its content's as one object.
func (p EmployerProfile) MarshalJSON() ([]byte, error) {
	type head EmployerProfile
	return joined(head(p), p.Content)
}

func (e *EmployerContent) check(tx *Tx) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Text("/legal_name", &e.LegalName, longText)
	c.Text("/address", &e.Address, longText)
	c.OptionalText("/tax_number", &e.TaxNumber, shortText)
	c.OptionalText("/insurance_carrier", &e.InsuranceCarrier, longText)
	c.Range("/size", e.Size, 1, 1_000_000)
	c.Range("/week_start", int64(e.WeekStart), 0, 6)
	c.Range("/workday_start", e.WorkdayStart, 0, 24*60-1)
	c.Range("/payday", int64(e.Payday), 0, 6)
	return c.Done()
}

// FindEmployer looks up an employer in the directory by the name that its people sign in with.
func (s *Store) FindEmployer(ctx context.Context, signInName string) (*Employer, error) {
	var e Employer
	err := s.read.WithContext(ctx).Where("sign_in_name = ?", signInName).Take(&e).Error
	return &e, translate(err)
}

// Employers lists the directory.
func (s *Store) Employers(ctx context.Context) ([]Employer, error) {
	var all []Employer
	err := s.read.WithContext(ctx).Order("sign_in_name").Find(&all).Error
	return all, translate(err)
}

// FoundEmployer enters an employer in the directory together with its profile, as the command line does. What else belongs to it from the
// start is done in the same transaction.
func (s *Store) FoundEmployer(ctx context.Context, id uuid.UUID, signInName string, content EmployerContent, also ...func(*Tx) error) error {
	return s.In(ctx, Scope{Employer: id}, func(tx *Tx) error {
		faults, err := content.check(tx)
		if err == nil {
			err = Faulty(faults)
		}
		if err != nil {
			return err
		}
		if err := tx.DB().Create(&Employer{ID: id, SignInName: signInName, CreatedAt: tx.Now}).Error; err != nil {
			return translate(err)
		}
		profile := EmployerProfile{Version: 1, UpdatedAt: tx.Now, Content: content}
		if err := tx.DB().Create(&profile).Error; err != nil {
			return translate(err)
		}
		if err := tx.Audit(Audit{Action: "create", SubjectKind: "employers", SubjectID: id, After: profile}); err != nil {
			return err
		}
		for _, do := range also {
			if err := do(tx); err != nil {
				return err
			}
		}
		return nil
	})
}

// Profile returns the employer of the transaction.
func (t *Tx) Profile() (*EmployerProfile, error) {
	var p EmployerProfile
	err := t.DB().Take(&p).Error
	return &p, translate(err)
}

// WorkweekFixed tells whether anything is on record that goes by the workweek: work, leave, pay, or what is to be paid in a week.
func (t *Tx) WorkweekFixed() (fixed bool, err error) {
	tables := []string{"time_entries", "tallies", "break_records", "sick_uses", "bonuses", "contracts", "pay_runs"}
	query := "SELECT EXISTS (SELECT 1 FROM " + strings.Join(tables, " WHERE employer_id = @employer) OR EXISTS (SELECT 1 FROM ") + " WHERE employer_id = @employer)"
	err = t.DB().Raw(query, map[string]any{"employer": t.Employer}).Scan(&fixed).Error
	return fixed, translate(err)
}

// checkWorkweek wants the workweek to stay once anything goes by it. A workweek is fixed, and a change must not evade overtime (29 CFR 778.105); the hours that fall into the old week
// and the new are then reckoned both ways (29 CFR 778.301 and 778.302, all from memory), which nothing here does, and weeks that are paid could not be reviewed any more.
func (e *EmployerContent) checkWorkweek(t *Tx, old *EmployerContent) error {
	if e.WeekStart == old.WeekStart {
		return nil
	}
	fixed, err := t.WorkweekFixed()
	if err == nil && fixed {
		err = FaultAt("/week_start", "fault.workweek_fixed", nil)
	}
	return err
}

// UpdateProfile replaces the employer's settings, provided that version still stands.
func (t *Tx) UpdateProfile(version int64, content EmployerContent) (*EmployerProfile, error) {
	var p EmployerProfile
	if err := t.Locking().Take(&p).Error; err != nil {
		return nil, translate(err)
	}
	if p.Version != version {
		return nil, &Error{Kind: Stale, Key: "problem.stale_version"}
	}
	faults, err := content.check(t)
	if err == nil {
		err = Faulty(faults)
	}
	if err != nil {
		return nil, err
	}
	if err := content.checkWorkweek(t, &p.Content); err != nil {
		return nil, err
	}
	before := p
	p.Content, p.Version, p.UpdatedAt = content, version+1, t.Now
	if err := t.DB().Select("*").Omit("employer_id").Where("version = ?", version).Updates(&p).Error; err != nil {
		return nil, translate(err)
	}
	return &p, t.Audit(Audit{Action: "update", SubjectKind: "employers", SubjectID: t.Employer, Before: before, After: p})
}
