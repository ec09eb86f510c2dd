package pages

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/intake/imports"
	"palmero/models/intake/spreadsheet"
	"palmero/models/payrun"
	"palmero/payroll"
)

// importPages take in what a farm has in spreadsheets: a file is sent, looked at, corrected in how it is read, and taken in. Between these steps the file is kept here, so that what was looked at
// is what is taken in.
func importPages() []Page {
	return []Page{
		{Method: "GET", Path: "/imports", Roles: office, Nav: "page.nav.imports", Under: "/set-up", handle: func(v *visit) (*answer, error) { return importsPage(v, newForm(nil)) }},
		{Method: "POST", Path: "/imports", Roles: office, Most: mostOfAnUpload, handle: keepImport},
		{Method: "POST", Path: "/imports/sample", Roles: office, handle: importSample},
		{Method: "GET", Path: "/imports/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return importPage(v, newForm(nil)) }},
		{Method: "POST", Path: "/imports/{id}", Roles: office, handle: readImport},
		{Method: "POST", Path: "/imports/{id}/take-in", Roles: office, handle: takeInImport},
		{Method: "POST", Path: "/imports/{id}/drop", Roles: office, handle: dropImport},
	}
}

// mostOfAFile is how many bytes of a spreadsheet are taken. A larger one is read to its end all the same, up to mostOfAnUpload: a browser that is cut off shows no answer.
const (
	mostOfAFile    = 16 << 20
	mostOfAnUpload = 64 << 20
)

// importsList is what was sent and waits, and what was taken in.
type importsList struct {
	Kinds          []Option
	Waiting, Ended []imports.Import
	Zone           *time.Location
	Megabytes      int
	Days           int
}

// takes are the kinds of file that the reader may take in.
func (v *visit) takes() (kinds []imports.Kind) {
	for _, k := range imports.Kinds {
		if slices.Contains(k.Takers(), v.caller.Role) {
			kinds = append(kinds, k)
		}
	}
	return kinds
}

const latestImports = 20

func importsPage(v *visit, f *Form) (*answer, error) {
	list := importsList{Megabytes: mostOfAFile >> 20, Days: imports.KeptDays}
	for _, k := range v.takes() {
		list.Kinds = append(list.Kinds, Option{Value: string(k), Label: v.say("page.imports.kind."+slugOf(k), nil)})
	}
	err := v.view(func(tx *models.Tx) (err error) {
		if list.Zone, err = payrun.HomeZone(tx); err != nil {
			return err
		}
		list.Waiting, list.Ended, err = imports.Latest(tx, v.takes(), latestImports)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("imports", &list).with(f), nil
}

// slugOf is a kind as keys have it.
func slugOf(k imports.Kind) string { return strings.ReplaceAll(string(k), "-", "_") }

// keepImport keeps a file that is sent, and tries it.
func keepImport(v *visit) (*answer, error) {
	f, file, err := v.upload("file", mostOfAFile, "kind", "file", "reference")
	if err != nil {
		return nil, err
	}
	switch {
	case file.name == "":
		f.fault("file", "page.fault.choose_file", nil)
	case len(file.data) == 0:
		f.fault("file", "fault.file_empty", nil)
	case len(file.data) > mostOfAFile:
		f.fault("file", "fault.file_too_large", payroll.Terms{"limit": mostOfAFile >> 20})
	}
	kind := imports.Kind(f.Value("kind"))
	if !slices.Contains(v.takes(), kind) {
		f.fault("kind", "page.fault.choose_kind", nil)
	}
	f.Set("reference", referenceOr(f.Value("reference"), file.name))
	if len(f.found) == 0 {
		var refusal *spreadsheet.Refusal
		if _, err := spreadsheet.Read(file.data, ""); errors.As(err, &refusal) {
			f.fault("file", refusal.Key, refusal.Terms)
		}
	}
	var i *imports.Import
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) (err error) {
			if i, err = imports.Keep(tx, f.ID, kind, f.Value("reference"), file.data); err == nil && i.State == imports.Waiting {
				i, err = imports.Begin(tx, i.ID, i.Version, imports.Checking, imports.Choices{Accept: intake.Whole})
			}
			return err
		})
	}
	if err != nil {
		return v.again(f, err, importsPage)
	}
	v.workOn(i)
	return seeOther("/imports/"+i.ID.String(), ""), nil
}

func referenceOr(given, otherwise string) string {
	if given != "" {
		return given
	}
	return otherwise
}

// workOn lets a file that was set to be worked on go its way, which goes on when the browser is gone, and waits a moment for its end.
func (v *visit) workOn(i *imports.Import) {
	if !i.UnderWay() {
		return
	}
	ended := make(chan struct{})
	ctx, scope, site := context.WithoutCancel(v.ctx()), v.scope, v.Site
	go func() {
		defer close(ended)
		defer func() {
			if p := recover(); p != nil { // nobody else is there to catch it
				site.Log.Error("an import panicked", "cause", fmt.Sprint(p), "stack", string(debug.Stack()))
			}
		}()
		var e *models.Error
		if err := i.Work(ctx, site.Store, scope); err != nil && !errors.As(err, &e) {
			site.Log.Error("an import failed", "error", err)
		}
	}()
	select {
	case <-ended:
	case <-time.After(patience):
	}
}
