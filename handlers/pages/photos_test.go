package pages_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"palmero/models"
)

// snapshot is a photo as a phone takes it: large, and held on its side.
func snapshot(t testing.TB, w, h int) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for x := range w {
		for y := range h {
			img.SetRGBA(x, y, color.RGBA{uint8(x), uint8(y), uint8(x * y), 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	exif := "\xff\xe1\x00\x22Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00\x12\x01\x03\x00\x01\x00\x00\x00\x06\x00\x00\x00\x00\x00\x00\x00"
	return append([]byte("\xff\xd8"+exif), b.Bytes()[2:]...)
}

// sendPhoto sends a form with a file.
func (b *browser) sendPhoto(path string, form url.Values, file []byte) *page {
	b.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for name := range form {
		if err := w.WriteField(name, form.Get(name)); err != nil {
			b.Fatal(err)
		}
	}
	part, err := w.CreateFormFile("photo", "../../etc/photo.exe")
	if err == nil {
		_, err = part.Write(file)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		b.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, path, &body).WithContext(b.Context())
	r.Header.Set("Content-Type", w.FormDataContentType())
	r.Header.Set("Accept", "text/html,*/*;q=0.8")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	for _, c := range b.cookies {
		r.AddCookie(c)
	}
	recorder := httptest.NewRecorder()
	b.handler.ServeHTTP(recorder, r)
	p := &page{b, "POST " + path, recorder.Code, recorder.Result().Header, recorder.Body.String()}
	p.inspect()
	return p
}

// A lead adds a photo to an item of a list, as the phone took it; the officer finds it beside the item. What is no photo is refused beside the field.
func TestPhotosOfAList(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		officer := s.as("oscar", "es").speak("en")
		list := officer.get("/checklists").first(checklistLink)
		id := strings.TrimPrefix(list, "/checklists/")
		at := "/photos/add?kind=checklist&of=" + id
		lead := s.as("ramiro", "es").speak("en")
		p := lead.get(at).says("What does it show?", `accept="image/jpeg,image/png"`)
		item := regexp.MustCompile(`(?s)<select id="item".*?<option value="([^"]+)"`).FindStringSubmatch(p.body)[1]
		form := url.Values{"id": {p.hidden("id")}, "kind": {"checklist"}, "of": {id}, "item": {item}}
		for name, sent := range map[string]struct {
			file []byte
			says string
		}{
			"nothing":           {nil, "Take or choose a photo first."},
			"a program":         {append([]byte("MZ\x90\x00\x03"), make([]byte, 400)...), "This is no photo"},
			"a drawing":         {[]byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`), "This is no photo"},
			"the head of a PNG": {[]byte("\x89PNG\r\n\x1a\n"), "This is no photo"},
			"20 MB":             {append([]byte("\xff\xd8\xff\xe0"), make([]byte, 20<<20)...), "more than 12 MB"},
		} {
			if p := lead.sendPhoto("/photos/add", form, sent.file).wants(http.StatusUnprocessableEntity).says(`href="#photo"`, sent.says, `value="`+item+`" selected`); t.Failed() {
				t.Fatalf("%s: %s", name, p.main())
			}
		}
		lead.sendPhoto("/photos/add", form, make([]byte, 40<<20)).wants(http.StatusRequestEntityTooLarge)
		wrong := url.Values{"kind": {"checklist"}, "of": {id}, "item": {"no such item"}}
		lead.sendPhoto("/photos/add", wrong, snapshot(t, 40, 30)).wants(http.StatusUnprocessableEntity)
		for range 2 {
			lead.sendPhoto("/photos/add", form, snapshot(t, 2400, 1800)).leads("/photos/add?kind=checklist&of=" + id + "&done=photo")
		}
		photo := regexp.MustCompile(`/photos/[0-9a-f-]{36}`)
		p = officer.get(list)
		shown := p.first(photo)
		if n := strings.Count(p.body, `src="`+shown+`/small"`); n != 1 || !strings.Contains(p.body, `alt="Photo 1: `) {
			t.Errorf("the photo is shown %d times: %s", n, p.main())
		}
		large, small := officer.get(shown).wants(http.StatusOK), officer.get(shown+"/small").wants(http.StatusOK)
		for name, c := range map[string]struct {
			*page
			w, h, most int
		}{"large": {large, 1200, 1600, 1 << 20}, "small": {small, 120, 160, 20_000}} {
			config, err := jpeg.DecodeConfig(strings.NewReader(c.body))
			if err != nil || config.Width != c.w || config.Height != c.h || len(c.body) > c.most || strings.Contains(c.body, "Exif") {
				t.Errorf("%s: %v, %d × %d, %d bytes", name, err, config.Width, config.Height, len(c.body))
			}
		}
		if how := large.header.Get("Content-Disposition"); !strings.HasPrefix(how, `inline; filename="`) || strings.Contains(how, "exe") || large.header.Get("Content-Type") != "image/jpeg" {
			t.Errorf("served as %s, %s", how, large.header.Get("Content-Type"))
		}
		for _, nobody := range []string{"/photos/add", "/photos/add?kind=workers&of=" + id, "/photos/add?kind=palm_event&of=" + models.NewID().String(), "/photos/" + models.NewID().String()} {
			lead.get(nobody).wants(http.StatusNotFound)
		}
		s.as("ines", "es").get(shown).wants(http.StatusForbidden)
	})
}

// photoForm is where a photo of something is added.
var photoForm = regexp.MustCompile(`/photos/add\?kind=[a-z_]+&of=[0-9a-f-]{36}`)

// addsPhoto adds a photo from the page of what it shows, and comes back to that page.
func (b *browser) addsPhoto(from string, kind *regexp.Regexp, says string) {
	b.Helper()
	at := b.get(from).first(kind)
	to, err := url.Parse(at)
	if err != nil {
		b.Fatal(err)
	}
	p := b.get(at).says(says)
	form := to.Query()
	form.Set("id", p.hidden("id"))
	b.sendPhoto("/photos/add", form, snapshot(b, 40, 30)).leads(at + "&done=photo")
	b.get(at+"&done=photo").says("/small", `href="`+from+`"`)
}

// A photo is added from the page of the palm and of the piece that it shows, and stands there beside the word or the finding.
func TestPhotosOfPalmsAndEquipment(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		palm := b.get("/palms-to-avoid").first(palmLink)
		b.addsPhoto(palm, photoForm, "Palm ")
		b.get(palm).says(`alt="Photo 1: Palm `)
		piece := b.get("/equipment").first(pieceLink)
		code := regexp.MustCompile(`<h1>([^,]+)`).FindStringSubmatch(b.get(piece).body)[1]
		look := url.Values{"findings.0.severity": {"to_mend"}, "findings.0.note": {"A <rung> is loose"}, "person": {"Óscar Peralta"}}
		b.post(piece+"/inspection", look).leads(piece + "?done=inspected")
		b.addsPhoto(piece, regexp.MustCompile(`/photos/add\?kind=equipment_finding&of=[0-9a-f-]{36}`), "<p>"+code+": ")
		b.addsPhoto(piece, regexp.MustCompile(`/photos/add\?kind=equipment_event&of=[0-9a-f-]{36}`), "a competent person")
		b.get(piece).says("Photo 1: ", "Photo 2: ", "A &lt;rung&gt; is loose")
		s.as("abril", "en").speak("en").get(piece).says("Photo 1: ").hides("/photos/add")
		lead := s.as("ramiro", "es")
		begin(t, s, lead)
		lead.addsPhoto("/day/palms", photoForm, "Palma ")
		for _, kind := range []string{"palm_event", "equipment_event", "equipment_finding", "checklist"} {
			b.get("/photos/add?kind=" + kind + "&of=" + models.NewID().String()).wants(http.StatusNotFound)
		}
	})
}

// A worker says from the own account that a training took place and that a stop is understood, once each, and of nobody else's.
func TestOwnWordOnTrainingAndStops(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		officer := s.as("oscar", "es").speak("en")
		p := officer.get("/training/meeting?crew=019b8f19-ee80-7005-8000-000000000003")
		form := url.Values{"id": {p.hidden("id")}, "crew": {p.hidden("crew")}, "topic": {"hand_tools"}, "held_on": {"2026-03-02"}, "trainer": {"Óscar Peralta"},
			"qualification": {"Twenty years at the work"}, "language": {"es"}, "understanding": {"Everybody showed it"}}
		for _, m := range memberBox.FindAllStringSubmatch(p.body, -1) {
			form.Add("attendees", m[1])
		}
		officer.post("/training/meeting", form).leads("/training?done=meeting")
		stop := url.Values{"crew_id": {"019b8f19-ee80-7005-8000-000000000003"}, "workday": {"2026-03-02"}, "reason": {"Wind over the <palms>"}}
		officer.post("/stops/new", stop).leads("/stops?done=stopped")

		b := s.as("ines", "es").speak("en")
		p = b.get("/my/safety").says("I was there and understood it", "Wind over the &lt;palms&gt;", "I have understood it")
		training := p.first(regexp.MustCompile(`/my/training/[0-9a-f-]{36}`))
		of := p.first(regexp.MustCompile(`/my/stops/[0-9a-f-]{36}`))
		for path, done := range map[string]string{training: "own_training", of: "own_stop"} {
			word := url.Values{"id": {models.NewID().String()}}
			for range 2 {
				b.post(path, word).leads("/my/safety?done=" + done)
			}
			b.post(path, url.Values{}).wants(http.StatusConflict)
		}
		b.get("/my/safety").says("you said: I have understood it").hides(training + `"`)
		s.as("ramiro", "es").post(training, url.Values{}).wants(http.StatusNotFound)
	})
}
