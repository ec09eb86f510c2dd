package pages_test

import (
	"maps"
	"net/http"
	"net/url"
	"testing"
)

// What the matrix is to know of operations and of the employer's settings.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /operations":       "ca",
		"POST /operations":      "a",
		"GET /operations/{id}":  "ca",
		"POST /operations/{id}": "a",
		"GET /employer":         "ca",
		"POST /employer":        "a",
	})
}

// Operations of the trade have their names in both languages; others are called as the owner calls them.
func TestOperationsAreSetUp(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("abril", "en").speak("en")
		form := url.Values{"id": {b.get("/operations").says("pollination", "polinización", "the bunch", "220").hidden("id")}, "daily_limit": {"lots"}}
		b.post("/operations", form).wants(http.StatusUnprocessableEntity).says(`href="#daily_limit"`, `value="lots"`)
		form.Set("daily_limit", "40")
		b.post("/operations", form).wants(http.StatusUnprocessableEntity).says(`href="#code"`, `href="#unit"`)
		form.Set("unit", "bunch")
		form.Set("known", "picking")
		form.Set("code", "hand weeding")
		b.post("/operations", form).wants(http.StatusUnprocessableEntity).says(`href="#code"`, "chosen above already")
		form.Set("known", "")
		for range 2 {
			b.post("/operations", form).leads("/operations?done=operation_new")
		}
		form.Set("id", b.get("/operations").says("hand weeding").hidden("id"))
		b.post("/operations", form).wants(http.StatusUnprocessableEntity).says("given to another record")
		form.Set("code", "")
		form.Set("known", "tie-down")
		b.post("/operations", form).leads("/operations?done=operation_new")
		at := "/operations/" + form.Get("id")
		change := url.Values{"version": {b.get(at).says("tie-down").hidden("version")}, "code": {"tie-down"}, "unit": {"palm"}, "daily_limit": {"0"}}
		b.post(at, change).wants(http.StatusUnprocessableEntity).says(`href="#daily_limit"`)
		change.Set("daily_limit", "55")
		b.post(at, change).leads("/operations?done=operation_kept")
		b.post(at, change).wants(http.StatusPreconditionFailed).says("55 palms")
		s.as("hazel", "en").speak("es").get(at).says("55 palmas").hides("Guardar los cambios")
		b.get("/rates").says("hand weeding")
	})
}

// The employer's settings are changed by whoever knows the latest of them, and switching the second person off says that it is on record.
func TestSettingsAreChanged(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("abril", "en").speak("en")
		p := b.get("/employer").says("Media Tarde Date Growers LLC", "Sunday", "00:00", "a second person")
		form := url.Values{"version": {p.hidden("version")}, "legal_name": {""}, "address": {"4100 Camino del Arenal"}, "size": {"some"}, "week_start": {"0"}, "payday": {"5"}, "workday_start": {"dawn"}}
		b.post("/employer", form).wants(http.StatusUnprocessableEntity).says(`href="#size"`, `href="#workday_start"`, `href="#approval"`)
		form.Set("size", "0")
		form.Set("workday_start", "04:30")
		form.Set("approval", "alone")
		b.post("/employer", form).wants(http.StatusUnprocessableEntity).says(`href="#legal_name"`, `href="#size"`)
		form.Set("legal_name", "Media Tarde Growers LLC")
		form.Set("size", "41")
		form.Set("week_start", "1")
		b.post("/employer", form).wants(http.StatusUnprocessableEntity).says("The workweek stays", `href="#week_start"`, "First day of the workweek: Sunday")
		form.Set("week_start", "0")
		b.post("/employer", form).leads("/employer?done=employer_alone")
		b.post("/employer", form).wants(http.StatusPreconditionFailed)
		b.get("/employer?done=employer_alone").says("is on record", "04:30", "no second person is needed")
		s.as("hazel", "en").speak("es").get("/employer").says("domingo", "viernes", "Media Tarde Growers LLC").hides("Guardar los cambios")
	})
}
