package pages_test

import (
	"html"
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// What the matrix is to know of gardens and blocks.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /gardens":              "ca",
		"POST /gardens":             "a",
		"GET /gardens/{id}":         "ca",
		"POST /gardens/{id}":        "a",
		"POST /gardens/{id}/blocks": "a",
		"GET /blocks/{id}":          "ca",
		"POST /blocks/{id}":         "a",

		"POST /gardens/{id}/ending":    "a",
		"POST /blocks/{id}/ending":     "a",
		"POST /operations/{id}/ending": "a",
	})
}

// led is the first address on the page that begins in a way.
func (p *page) led(begins string) string {
	p.Helper()
	m := regexp.MustCompile(`href="(` + regexp.QuoteMeta(begins) + `[^"]*)"`).FindStringSubmatch(p.main())
	if m == nil {
		p.Fatalf("%s leads to nothing that begins with %s:\n%s", p.what, begins, p.main())
	}
	address, _, _ := strings.Cut(html.UnescapeString(m[1]), "#")
	return address
}

// The owner sets up a garden with its blocks, each once however often its form is sent, and changes them.
func TestGardensAreSetUp(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("abril", "en").speak("en")
		form := url.Values{"id": {b.get("/gardens").says("Huerta Media Tarde", "California (us-ca)", "Pacific time").hidden("id")}, "name": {" "}}
		b.post("/gardens", form).wants(http.StatusUnprocessableEntity).says(`href="#time_zone"`, "Choose")
		form.Set("time_zone", "America/Phoenix")
		b.post("/gardens", form).wants(http.StatusUnprocessableEntity).says(`href="#name"`, `href="#rulebook"`, `value="America/Phoenix" selected`)
		form.Set("name", "Tres Pozos")
		form.Set("rulebook", "atlantis")
		b.post("/gardens", form).wants(http.StatusUnprocessableEntity).says(`href="#rulebook"`)
		form.Set("rulebook", "us-az")
		at := "/gardens/" + form.Get("id")
		for range 2 {
			b.post("/gardens", form).leads(at + "?done=garden_new")
		}
		garden := b.get(at+"?done=garden_new").says("Add its blocks next", "Arizona", "no blocks yet", "begins at 00:00")

		block := url.Values{"id": {garden.hidden("id")}, "code": {"P-1"}, "variety": {"Medjool"}, "palms": {"many"}, "tallest": {"400"}}
		b.post(at+"/blocks", block).wants(http.StatusUnprocessableEntity).says(`href="#palms"`, `value="many"`)
		block.Set("palms", "84")
		b.post(at+"/blocks", block).wants(http.StatusUnprocessableEntity).says(`href="#tallest"`, "131 feet")
		block.Set("tallest", "41.5")
		for range 2 {
			b.post(at+"/blocks", block).leads(at + "?done=block_new")
		}
		shown := b.get(at).says("P-1", "41.5 ft (1265 cm)", "nobody has said")
		one := shown.led("/blocks/")
		block.Set("version", b.get(one).says("Block P-1, Tres Pozos", `value="41.5"`).hidden("version"))
		block.Set("bunches_per_palm", "14")
		b.post(one, block).leads(at + "?done=block_kept")
		b.post(one, block).wants(http.StatusPreconditionFailed).says("Somebody changed this", `name="version" value="2"`)
		b.get(at).says("1265 cm", `data-label="Bunches per palm">14`)

		form.Set("version", shown.hidden("version"))
		form.Set("engaging_entity", "Dunas del Sur Growers")
		b.post(at, form).leads(at + "?done=garden_kept")
		b.post(at, form).wants(http.StatusPreconditionFailed).says("Dunas del Sur Growers")
		b.get("/gardens").says("Tres Pozos", "Huerta Media Tarde")

		clerk := s.as("hazel", "en").speak("es")
		p := clerk.get("/gardens").says("Huertas y cuadros", "Tres Pozos").hides("Registrar la huerta")
		if strings.Contains(clerk.get(at).says("41.5 pies").main(), "<form") || strings.Contains(p.main(), "<form") {
			t.Error("the clerk is offered what only the administrator may")
		}
	})
}
