package pages

import (
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/access"
	"palmero/models/payrun"
)

// accountsPages open accounts, suspend them, and hand out codes; who may do which for whom, package access says.
func accountsPages() []Page {
	return []Page{
		{Method: "GET", Path: "/accounts", Roles: office, Nav: "page.nav.accounts", Under: "/set-up", handle: func(v *visit) (*answer, error) { return accountsPage(v, nil) }},
		{Method: "POST", Path: "/accounts", Roles: office, handle: openAccount},
		{Method: "GET", Path: "/accounts/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return oneAccountPage(v, nil) }},
		{Method: "POST", Path: "/accounts/{id}", Roles: office, handle: changeAccount},
		{Method: "POST", Path: "/accounts/{id}/code", Roles: office, handle: issueCode},
	}
}

// accountFields are those of an account's form. The worker is given by number.
var accountFields = []string{"name", "sign_in_name", "role", "language", "worker_id", "suspended"}

const accountsAtOnce = 100

// accountsList are the accounts in the order in which they were opened.
type accountsList struct {
	Accounts []models.Account
	More     int64 // the place after which more follow; 0: none do
	Roles    []Option
}

func accountsPage(v *visit, f *Form) (*answer, error) {
	list := accountsList{Roles: v.roleOptions()}
	err := v.view(func(tx *models.Tx) (err error) {
		list.Accounts, err = models.List[models.Account](tx, models.Page{After: v.number("after"), Limit: accountsAtOnce})
		return err
	})
	if err != nil {
		return nil, err
	}
	if len(list.Accounts) > accountsAtOnce {
		list.Accounts = list.Accounts[:accountsAtOnce]
		list.More = list.Accounts[accountsAtOnce-1].Seq
	}
	if f == nil {
		if f, err = v.accountForm(); err != nil {
			return nil, err
		}
	}
	return show("accounts", list).with(f), nil
}

// accountForm is the form of a new account, filled in for the role and the worker whose number the query names.
func (v *visit) accountForm() (*Form, error) {
	f := newForm(map[string]string{"role": string(models.RoleWorker), "language": "es"})
	if role := v.gin.Query("role"); slices.ContainsFunc(v.roleOptions(), func(o Option) bool { return o.Value == role }) {
		f.Set("role", role)
	}
	number := v.number("worker")
	if number == 0 {
		return f, nil
	}
	err := v.view(func(tx *models.Tx) error {
		w, err := workerByNumber(tx, number)
		if err == nil && w != nil {
			f.fill(map[string]string{"name": w.Content.Name, "worker_id": strconv.FormatInt(number, 10), "language": w.Content.Language})
		}
		return err
	})
	return f, err
}

// roleOptions are the roles whose accounts the caller may open.
func (v *visit) roleOptions() []Option {
	roles := everyone
	if v.caller.Role == models.RoleClerk {
		roles = []models.Role{models.RoleWorker}
	}
	options := make([]Option, len(roles))
	for i, r := range roles {
		options[i] = Option{Value: string(r), Label: v.say("page.role."+string(r), nil)}
	}
	return options
}

// accountContent reads an account from its form.
func accountContent(tx *models.Tx, f *Form) (models.AccountContent, error) {
	c := models.AccountContent{Name: f.Value("name"), SignInName: f.Name("sign_in_name"), Role: models.Role(f.Value("role")), Language: f.Value("language"), Suspended: f.Value("suspended") != ""}
	if c.Role == "" {
		f.fault("role", "fault.empty", nil)
	}
	number := f.Whole("worker_id")
	if err := f.Faulty(); err != nil || number == 0 {
		return c, err
	}
	var workers []models.Worker
	if err := tx.DB().Where("number = ?", number).Limit(1).Find(&workers).Error; err != nil {
		return c, err
	}
	if len(workers) == 0 {
		return c, models.FaultAt("/worker_id", "fault.unknown_reference", nil)
	}
	c.WorkerID = &workers[0].ID
	return c, nil
}

func openAccount(v *visit) (*answer, error) {
	f, err := v.form(accountFields...)
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		c, err := accountContent(tx, f)
		if err == nil {
			_, _, err = access.CreateAccount(tx, v.caller.Role, f.ID, c)
		}
		return err
	})
	if err != nil {
		return v.again(f, err, accountsPage)
	}
	return seeOther("/accounts/"+f.ID.String(), "account_opened"), nil
}

// oneAccount is an account, with its code where one was just made: it is shown this once.
type oneAccount struct {
	Account *models.Account
	Signed  bool // whether its owner has set a secret
	MayCode bool
	Code    string
	Expires time.Time
	Zone    *time.Location
	Roles   []Option
}

func oneAccountPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := oneAccount{Roles: v.roleOptions()}
	number := ""
	err = v.view(func(tx *models.Tx) (err error) {
		if page.Account, err = models.Get[models.AccountContent](tx, id); err != nil {
			return err
		}
		if number, err = workerNumber(tx, page.Account.Content.WorkerID); err != nil {
			return err
		}
		page.Zone, err = payrun.HomeZone(tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	c := page.Account.Content
	page.Signed, page.MayCode = c.SecretHash != "", access.MayIssue(v.caller.Role, c.Role)
	if f == nil {
		f = newForm(map[string]string{"name": c.Name, "sign_in_name": c.SignInName, "role": string(c.Role), "language": c.Language, "worker_id": number})
		if c.Suspended {
			f.Set("suspended", "yes")
		}
	}
	f.Keep(page.Account.Version)
	return show("account_one", &page).with(f), nil
}

// workerNumber is the number of the worker whose account it is, "" where it is nobody's.
func workerNumber(tx *models.Tx, worker *uuid.UUID) (string, error) {
	if worker == nil {
		return "", nil
	}
	w, err := models.Get[models.WorkerContent](tx, *worker)
	if err != nil {
		return "", err
	}
	return strconv.FormatInt(w.Content.Number, 10), nil
}

func changeAccount(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(accountFields...)
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		c, err := accountContent(tx, f)
		if err == nil {
			_, err = access.UpdateAccount(tx, v.caller.Role, id, f.Version, c)
		}
		return err
	})
	if err != nil {
		return v.again(f, err, oneAccountPage)
	}
	return seeOther("/accounts/"+id.String(), "account_kept"), nil
}

// issueCode makes a code and shows it. It is kept nowhere in clear, so there is no address at which it could be read again.
func issueCode(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	code, err := v.Gate.IssueCode(v.ctx(), v.scope, v.caller.Role, id)
	if err != nil {
		return nil, err
	}
	a, err := oneAccountPage(v, nil)
	if err != nil {
		return nil, err
	}
	page := a.data.(*oneAccount)
	page.Code, page.Expires = code.Code, code.ExpiresAt
	return a, nil
}
