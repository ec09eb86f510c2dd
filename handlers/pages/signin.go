package pages

import (
	"net/http"

	"palmero/models"
	"palmero/models/access"
)

func signInPages() []Page {
	return []Page{
		{Method: "GET", Path: "/sign-in", Open: true, handle: plainForm("sign_in", "to")},
		{Method: "POST", Path: "/sign-in", Open: true, handle: signIn},
		{Method: "GET", Path: "/first-sign-in", Open: true, handle: plainForm("first_sign_in", "to")},
		{Method: "POST", Path: "/first-sign-in", Open: true, handle: firstSignIn},
		{Method: "POST", Path: "/sign-out", Open: true, handle: signOut},
		{Method: "POST", Path: "/language", Open: true, handle: switchLanguage},
	}
}

// plainForm shows a page that is nothing but a form, with some fields filled from the query.
func plainForm(template string, fromQuery ...string) handler {
	return func(v *visit) (*answer, error) {
		f := newForm(nil)
		for _, name := range fromQuery {
			f.Set(name, v.gin.Query(name))
		}
		return show(template, nil).with(f), nil
	}
}

func signIn(v *visit) (*answer, error) {
	f, err := v.form("employer", "account", "secret", "keep", "to")
	if err != nil {
		return nil, err
	}
	granted, err := v.Gate.SignIn(v.ctx(), access.Name{Employer: f.Name("employer"), Account: f.Name("account")}, f.Secret("secret"))
	return v.signedIn(f, granted, err, "sign_in")
}

func firstSignIn(v *visit) (*answer, error) {
	f, err := v.form("employer", "account", "code", "secret", "again", "keep", "to")
	if err != nil {
		return nil, err
	}
	secret := f.Secret("secret")
	if again := f.Secret("again"); again != secret {
		f.fault("again", "fault.secret_differs", nil)
		return v.again(f, f.Faulty(), formAgain("first_sign_in"))
	}
	granted, err := v.Gate.FirstSignIn(v.ctx(), access.Name{Employer: f.Name("employer"), Account: f.Name("account")}, f.Value("code"), secret)
	return v.signedIn(f, granted, err, "first_sign_in")
}

// signedIn goes on to the page that was asked for, or back to the form.
func (v *visit) signedIn(f *Form, granted *access.Granted, err error, template string) (*answer, error) {
	if err == nil {
		err = v.begin(granted, f.Value("keep") != "")
	}
	if err != nil {
		return v.again(f, err, formAgain(template))
	}
	return seeOther(within(f.Value("to")), ""), nil
}

// formAgain shows a page that is nothing but a form once more.
func formAgain(template string) func(*visit, *Form) (*answer, error) {
	return func(_ *visit, f *Form) (*answer, error) { return show(template, nil).with(f), nil }
}

// signOut ends the session and has the browser forget all that it has of us. Whoever's session has ended already is signed out as well.
func signOut(v *visit) (*answer, error) {
	if v.caller != nil {
		err := v.in(func(tx *models.Tx) error { return access.SignOut(tx, v.caller) })
		if err != nil {
			return nil, err
		}
	}
	for _, name := range []string{sessionCookie, languageCookie} {
		if _, err := v.gin.Request.Cookie(v.cookieName(name)); err == nil {
			v.setCookie(name, "", -1)
		}
	}
	v.gin.Writer.Header()[http.CanonicalHeaderKey("Clear-Site-Data")] = []string{`"cache", "cookies", "storage"`}
	return seeOther("/sign-in", "signed_out"), nil
}
