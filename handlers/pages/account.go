package pages

import (
	"palmero/models"
	"palmero/models/access"
)

func accountPages() []Page {
	return []Page{
		{Method: "GET", Path: "/account", Roles: everyone, Nav: "page.nav.account", handle: showAccount},
		{Method: "POST", Path: "/account/language", Roles: everyone, handle: keepLanguage},
		{Method: "POST", Path: "/account/secret", Roles: everyone, handle: changeSecret},
	}
}

// accountPage is somebody's own account.
type accountPage struct {
	Account  *models.Account
	Employer string // its legal name
	Least    int    // how many characters the secret has at least
	Language *Form
	Secret   *Form
}

func showAccount(v *visit) (*answer, error) { return ownAccountPage(v, newForm(nil), newForm(nil)) }

func ownAccountPage(v *visit, language, secret *Form) (*answer, error) {
	page := accountPage{Least: access.LeastSecret(v.caller.Role), Language: language, Secret: secret}
	err := v.view(func(tx *models.Tx) (err error) {
		if page.Account, err = models.Get[models.AccountContent](tx, v.caller.Account); err != nil {
			return err
		}
		profile, err := tx.Profile()
		if err == nil {
			page.Employer = profile.Content.LegalName
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	if language.Value("language") == "" {
		language.Set("language", page.Account.Content.Language)
	}
	return show("account", page), nil
}

// keepLanguage sets the account's language, which then holds on this device too.
func keepLanguage(v *visit) (*answer, error) {
	f, err := v.form("language")
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error { return access.SetLanguage(tx, v.caller, f.Value("language")) })
	if err != nil {
		return v.again(f, err, func(v *visit, f *Form) (*answer, error) { return ownAccountPage(v, f, newForm(nil)) })
	}
	v.setCookie(languageCookie, "", -1)
	return seeOther("/account", "language"), nil
}

func changeSecret(v *visit) (*answer, error) {
	f, err := v.form("current", "secret", "again")
	if err != nil {
		return nil, err
	}
	if f.Secret("again") != f.Secret("secret") {
		f.fault("again", "fault.secret_differs", nil)
	}
	if err = f.Faulty(); err == nil {
		err = v.Gate.ChangeSecret(v.ctx(), v.scope, v.caller, f.Secret("current"), f.Secret("secret"))
	}
	if err != nil {
		return v.again(f, err, func(v *visit, f *Form) (*answer, error) { return ownAccountPage(v, newForm(nil), f) })
	}
	return seeOther("/account", "secret"), nil
}
