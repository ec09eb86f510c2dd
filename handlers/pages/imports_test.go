package pages_test

import (
	"bytes"
	"maps"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"palmero/models"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /imports":               "ca",
		"POST /imports":              "ca",
		"POST /imports/sample":       "ca",
		"GET /imports/{id}":          "ca",
		"POST /imports/{id}":         "ca",
		"POST /imports/{id}/take-in": "ca",
		"POST /imports/{id}/drop":    "ca",
	})
}

// sends sends a form with a file. A name of "" sends none.
func (b *browser) sends(name string, data []byte, form url.Values) *page {
	b.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for field, values := range form {
		if err := w.WriteField(field, values[0]); err != nil {
			b.Fatal(err)
		}
	}
	part, err := w.CreateFormFile("file", name)
	if err == nil {
		_, err = part.Write(data)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		b.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, "/imports", &body).WithContext(b.Context())
	r.Header.Set("Content-Type", w.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.Header.Set("Accept-Language", b.language)
	for _, c := range b.cookies {
		r.AddCookie(c)
	}
	recorded := httptest.NewRecorder()
	b.handler.ServeHTTP(recorded, r)
	p := &page{b, "POST /imports", recorded.Code, recorded.Header(), recorded.Body.String()}
	p.inspect()
	return p
}

// sent sends a file that is kept, and opens it.
func (b *browser) sent(kind, name string, data []byte) (*page, string) {
	b.Helper()
	to := b.sends(name, data, url.Values{"id": {models.NewID().String()}, "kind": {kind}}).wants(http.StatusSeeOther).header.Get("Location")
	return b.get(to), to
}

func importFile(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "imports", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// typed is what stands in the fields of a page's form, as a browser sends it.
func (p *page) typed(action string) url.Values {
	p.Helper()
	_, after, found := strings.Cut(p.body, `action="`+action+`"`)
	if !found {
		p.Fatalf("%s has no form for %s", p.what, action)
	}
	form, _, _ := strings.Cut(after, "</form>")
	values := url.Values{}
	for _, m := range regexp.MustCompile(`<input (?:type="hidden" |id="[^"]*" )name="([^"]*)"(?: type="text")? value="([^"]*)"`).FindAllStringSubmatch(form, -1) {
		values.Set(m[1], m[2])
	}
	for _, m := range regexp.MustCompile(`(?s)<select id="[^"]*" name="([^"]*)".*?</select>`).FindAllStringSubmatch(form, -1) {
		values.Set(m[1], "")
		if chosen := regexp.MustCompile(`<option value="([^"]*)" selected>`).FindStringSubmatch(m[0]); chosen != nil {
			values.Set(m[1], chosen[1])
		}
	}
	return values
}

// A clerk sends a week's sheet whose columns and words are the farm's own, says how it is read, settles what is asked, and takes it in once however often the button is pressed.
func TestAFileIsTakenIn(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("hazel", "en").speak("en")
		data := []byte("Quien;Cuando;Donde;Que;Cuantos;Min\n1;3/2/2026;A-1;Embolsado;160;300\n1;3/2/2026;Z-1;Embolsado;10;30\nNadie Nunca;3/2/2026;A-1;Embolsado;12;60\n")
		p, at := b.sent("crew-sheets", `C:\Users\hazel\semana.csv`, data)
		p.says(">semana.csv</span></h1>", "cannot be read as it is", "B Cuando")
		read := p.typed(at)
		for n, field := range []string{"worker", "date", "block", "operation", "pieces", "piece_minutes"} {
			read.Set("c"+string(rune('0'+n)), field)
		}
		read.Set("crew", "1")
		b.post(at, read).leads(at)
		p = b.get(at).says("can be read as two dates", "“Z-1” (Block) stands for", "“Embolsado” (Operation) stands for", "“Nadie Nunca” (Worker, by number or name) stands for")
		if !strings.Contains(p.main(), `<option value="bagging" selected>`) {
			t.Error("what an operation is called in Spanish is not offered for it")
		}
		stale := maps.Clone(read)
		b.post(at, stale).wants(http.StatusPreconditionFailed).says("Somebody changed this")

		read = p.typed(at)
		read.Set("date_order", "mdy")
		read.Set("new_workers", "yes")
		for n := range 3 {
			switch name := "w" + string(rune('0'+n)); read.Get(name + "g") {
			case "Z-1":
				read.Set(name, "B-2")
			case "Embolsado":
				read.Set(name, "bagging")
			}
		}
		b.post(at, read).leads(at)
		p = b.get(at).says("nothing stands in the way", "Together 182 pieces and 6:30 hours", "Nadie Nunca is in no book")
		take := p.typed(at + "/take-in")
		for range 2 {
			b.post(at+"/take-in", take).leads(at)
		}
		b.get(at).says("Taken in.", "Go on to the pay").hides("Take it in", "Throw the file away")
		b.get("/imports").says(">semana.csv</a>")

		p, other := b.sent("crew-sheets", "otra.csv", data)
		p.says("Lines that match recorded work", "160")
		read = p.typed(other)
		read.Set("all", "skip")
		read.Set("m2", "add")
		b.post(other, read).leads(other)
		p = b.get(other).says("nothing stands in the way")
		b.post(other+"/take-in", p.typed(other+"/take-in")).leads(other)
		b.get(other).says("Taken in.")
		s.as("hazel", "en").speak("es").get(other).says("Tomado.", "Registros que salen de las líneas")
	})
}

// Every problem is told by line and column, the good lines may be taken in without the others, and what is thrown away is gone.
func TestAFileWithFaults(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("hazel", "en").speak("en")
		p, at := b.sent("blocks", "blocks.csv", []byte("Block,Variety,Palms,Height cm,Garden\nX-1,Barhi,40,900,1\nX-2,Barhi,many,900,1\n"))
		p.says("X-2", "is not a number", "C <small>Palms</small>", "Leave out the 1 lines")
		take := p.typed(at + "/take-in")
		b.post(at+"/take-in", take).leads(at)
		p = b.get(at).says("Nothing was stored")
		take = p.typed(at + "/take-in")
		take.Set("good_lines", "yes")
		b.post(at+"/take-in", take).leads(at)
		b.get(at).says("Taken in.")

		p, at = b.sent("crew-sheets", "ten-faults.csv", importFile(t, "ten-faults.csv"))
		p.says(">8</th>", "C <small>Fecha</small>", "windows-1252").hides("Take it in")
		drop := p.typed(at + "/drop")
		for range 2 {
			b.post(at+"/drop", drop).leads("/imports?done=import_dropped")
		}
		b.get(at).says("Thrown away")
		b.post(at, p.typed(at)).wants(http.StatusPreconditionFailed)
		b.get("/imports?done=import_dropped").hides("ten-faults.csv")

		owner := s.as("abril", "en").speak("en")
		owner.get(at).wants(http.StatusForbidden)
		owner.get("/imports").says(">Blocks<").hides(">Crew sheets<", ">Workers<")
		owner.sends("workers.csv", []byte("a,b\n1,2\n"), url.Values{"kind": {"workers"}}).wants(http.StatusUnprocessableEntity).says(`href="#kind"`)
	})
}

// What is no spreadsheet is refused beside its field, and the same upload twice is one file.
func TestFilesThatAreNone(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("hazel", "en").speak("en")
		form := url.Values{"id": {models.NewID().String()}, "kind": {"crew-sheets"}, "reference": {"week 9"}}
		for name, data := range map[string][]byte{
			"": nil, "empty.csv": {}, "picture.png": {0x89, 'P', 'N', 'G', 0, 1, 2, 0xff}, "large.csv": bytes.Repeat([]byte("a,b\n"), 5<<20), "broken.xlsx": []byte("PK\x03\x04 and no more"),
		} {
			b.sends(name, data, form).wants(http.StatusUnprocessableEntity).says(`href="#file"`, `value="week 9"`)
		}
		b.post("/imports", url.Values{"kind": {"crew-sheets"}}).wants(http.StatusUnprocessableEntity).says(`href="#file"`)
		form.Set("kind", "ladders")
		b.sends("x.csv", []byte("a,b\n1,2\n"), form).wants(http.StatusUnprocessableEntity).says(`href="#kind"`)
		form.Set("kind", "crew-sheets")
		var to []string
		for range 2 {
			to = append(to, b.sends("x.csv", []byte("a,b\n1,2\n"), form).wants(http.StatusSeeOther).header.Get("Location"))
		}
		if to[0] != to[1] || strings.Count(b.get("/imports").body, ">Go on with week 9<") != 1 {
			t.Errorf("an upload sent twice: %v", to)
		}
		b.sends("x.csv", []byte("c,d\n1,2\n"), form).wants(http.StatusConflict)
	})
}

// A sample is understood as it is, holds the farm's own workers and blocks, and records nothing that nobody filled in.
func TestSamplesAreUnderstood(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		for _, language := range []string{"en", "es"} {
			b := s.as("hazel", language).speak(language)
			for _, kind := range []string{"crew-sheets", "workers", "blocks", "piece-rates", "hourly-rates"} {
				data := b.sample(kind)
				p, at := b.sent(kind, kind+language+".csv", data)
				if kind == "crew-sheets" && !bytes.Contains(data, []byte("Inés Barraza")) || kind == "blocks" && !bytes.Contains(data, []byte("A-4")) {
					t.Errorf("%s", data)
				}
				if options := p.typed(at); slices.Contains(slices.Collect(maps.Keys(options)), "c0") && options.Get("c0") == "" {
					t.Errorf("%s in %s: the first column is not understood", kind, language)
				}
				if strings.Contains(p.main(), `id="good_lines"`) {
					t.Errorf("%s in %s: something would be recorded", kind, language)
				}
			}
		}
	})
}

// sample downloads a sample.
func (b *browser) sample(kind string) []byte {
	b.Helper()
	r := httptest.NewRequest(http.MethodPost, "/imports/sample", strings.NewReader("kind="+kind)).WithContext(b.Context())
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	for _, c := range b.cookies {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	b.handler.ServeHTTP(w, r)
	if w.Code != http.StatusOK || !strings.HasPrefix(w.Header().Get("Content-Disposition"), "attachment;") {
		b.Fatalf("%d %s", w.Code, w.Body)
	}
	return w.Body.Bytes()
}
