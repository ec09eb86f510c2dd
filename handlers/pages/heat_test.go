package pages_test

import (
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"palmero/models"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /heat":                "lsa",
		"POST /heat":               "lsa",
		"GET /heat/ready":          "lsa",
		"POST /heat/ready":         "lsa",
		"GET /heat/sheet":          "lsa",
		"GET /heat/readings":       "lsa",
		"POST /heat/readings":      "sa",
		"GET /heat/readings/{id}":  "lsa",
		"POST /heat/readings/{id}": "lsa",
	})
}

var (
	readingLink = regexp.MustCompile(`/heat/readings/[0-9a-f-]{36}`)
	openField   = regexp.MustCompile(`name="(rows\.[0-9]+\.temperature_f)"`)
)

// The heat of a day is read by the hour, what is owed follows from it, and what nobody measured is shown as unknown.
func TestHeat(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		readTheAir(b)
		readManyHours(b)
		sayWhatIsReady(b)
		b.get("/heat?on=nonsense").says("Heat in")
		b.get("/heat?garden=nonsense").wants(http.StatusNotFound)
		b.get("/heat/sheet?on=2026-03-02").says(`lang="es"`, `lang="en"`, "desde 95 °F (35 °C)", "above 80 °F (27 °C)", "98 °F", "8 CCR 3395(e)")
		lead := s.as("ramiro", "es")
		lead.get("/day").says("Hoy hasta 98 °F", "Toca: agua, sombra, plan de calor extremo", `href="/heat?garden=`)
		lead.get("/heat").says("Anotar una lectura").hides("Recibir el archivo")
	})
}

func readTheAir(b *browser) {
	b.Helper()
	p := b.get("/heat?on=2026-03-02").says("Heat in", "97 °F", "Full dots", "nobody measured", "<svg", "Nobody measured the humidity")
	form := url.Values{"id": {p.hidden("id")}, "garden": {p.hidden("garden")}, "on": {"2026-03-02"}, "unit": {"c"}, "read_at": {"25:00"}, "temperature_f": {"hot"}}
	b.post("/heat", form).wants(http.StatusUnprocessableEntity).says(`href="#read_at"`, `href="#temperature_f"`, `value="hot"`)
	form.Set("read_at", "10:05")
	form.Set("temperature_f", "900")
	b.post("/heat", form).wants(http.StatusUnprocessableEntity).says(`href="#temperature_f"`, `value="900"`)
	form.Set("temperature_f", "31,5")
	form.Set("relative_humidity", "20")
	for range 2 {
		b.post("/heat", form).leads("/heat" + "?garden=" + form.Get("garden") + "&on=2026-03-02&done=heat_read")
	}
	b.get("/heat?on=2026-03-02").says("89 °F (32 °C)", "20 %").hides("Nobody measured the humidity")
	form.Set("temperature_f", "40")
	b.post("/heat", form).wants(http.StatusConflict)
	list := b.get("/heat/readings?on=2026-03-02")
	at := list.first(readingLink)
	one := b.get(at)
	b.post(at, url.Values{"id": {one.hidden("id")}, "unit": {"f"}, "temperature_f": {"55"}}).wants(http.StatusUnprocessableEntity).says(`href="#reason"`, `value="55"`)
	to := b.post(at, url.Values{"id": {one.hidden("id")}, "unit": {"f"}, "temperature_f": {"55"}, "reason": {"Read again"}}).wants(http.StatusSeeOther).header.Get("Location")
	b.get(to).says("The reading is corrected.", "55 °F (13 °C)")
	b.get(at).says("corrected later")
	b.get("/heat/readings/nonsense").wants(http.StatusNotFound)
}

// A day's worth goes in at once, or none of it.
func readManyHours(b *browser) {
	b.Helper()
	p := b.get("/heat/readings?on=2026-03-01").says("nobody measured yet")
	fields := openField.FindAllStringSubmatch(p.body, -1)
	form := url.Values{"id": {p.hidden("id")}, "garden": {p.hidden("garden")}, "on": {"2026-03-01"}, "unit": {"f"}, "do": {"hours"}, fields[8][1]: {"71"}, fields[9][1]: {"x"}}
	b.post("/heat/readings", form).wants(http.StatusUnprocessableEntity).says(`href="#`+fields[9][1]+`"`, `value="71"`)
	form.Set(fields[9][1], "720")
	b.post("/heat/readings", form).wants(http.StatusUnprocessableEntity).says(`href="#` + fields[9][1] + `"`)
	form.Set(fields[9][1], "72")
	for range 2 {
		b.post("/heat/readings", form).wants(http.StatusSeeOther)
	}
	b.get("/heat?on=2026-03-01").says("71 °F (22 °C)", "72 °F (22 °C)")
	file := url.Values{"id": {models.NewID().String()}, "garden": {p.hidden("garden")}, "on": {"2026-03-01"}, "do": {"file"}, "csv": {"when,how hot\n1,2"}}
	b.post("/heat/readings", file).wants(http.StatusUnprocessableEntity).says(`href="#csv"`, "how hot")
	file.Set("csv", "read_at,temperature_c,relative_humidity\n2026-03-01 12:15,25.5,30\n")
	for range 2 {
		b.post("/heat/readings", file).wants(http.StatusSeeOther)
	}
	b.get("/heat?on=2026-03-01").says("78 °F (26 °C)", "30 %")
}

func sayWhatIsReady(b *browser) {
	b.Helper()
	p := b.get("/heat/ready?on=2026-03-03").says("Ready for the heat")
	form := url.Values{"id": {p.hidden("id")}, "garden": {p.hidden("garden")}, "on": {"2026-03-03"}, "unit": {"f"}, "forecast_high_f": {"101"}, "shade_up": {"no"}, "shade_places": {"some"}}
	b.post("/heat/ready", form).wants(http.StatusUnprocessableEntity).says(`href="#shade_places"`, `value="some"`, `value="101"`)
	form.Set("shade_places", "12")
	for range 2 {
		b.post("/heat/ready", form).wants(http.StatusSeeOther)
	}
	before := strings.Count(b.get("/heat?on=2026-03-03").says("101 °F (38 °C)", "nobody has said whether it is ready").body, "not ready")
	p = b.get("/heat/ready?on=2026-03-03").says(`value="101"`, "Why it is changed")
	form.Set("id", p.hidden("id"))
	form.Set("replaces", p.hidden("replaces"))
	form.Set("shade_up", "yes")
	b.post("/heat/ready", form).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
	form.Set("reason", "Put up at ten")
	b.post("/heat/ready", form).wants(http.StatusSeeOther)
	if after := strings.Count(b.get("/heat?on=2026-03-03").body, "not ready"); before != 2 || after != 1 { // shade, and nobody who watches
		b.Errorf("%d, then %d are not ready", before, after)
	}
}
