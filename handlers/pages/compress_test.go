package pages_test

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// A page goes out compressed where it was asked for from one of ours, and as it is where another site led to it.
func TestPagesAreCompressed(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		worker := s.as("ines", "en")
		withoutIDs := func(body string) string { return idsIn.ReplaceAllString(body, "") } // a form's is made anew for every page
		plain := withoutIDs(worker.get("/my/week").body)
		for _, c := range []struct {
			name    string
			headers map[string]string
			short   bool
		}{
			{"from one of ours", map[string]string{"Accept-Encoding": "gzip, br", "Sec-Fetch-Site": "same-origin"}, true},
			{"by the address bar", map[string]string{"Accept-Encoding": "br;q=1.0, gzip;q=0.8", "Sec-Fetch-Site": "none"}, true},
			{"an old browser, from one of ours", map[string]string{"Accept-Encoding": "gzip", "Referer": "http://example.com/my/pay"}, true},
			{"from another site", map[string]string{"Accept-Encoding": "gzip", "Sec-Fetch-Site": "cross-site"}, false},
			{"an old browser, from elsewhere", map[string]string{"Accept-Encoding": "gzip", "Referer": "http://elsewhere.example/"}, false},
			{"an old browser that says nothing", map[string]string{"Accept-Encoding": "gzip"}, false},
			{"one that does not take it", map[string]string{"Accept-Encoding": "gzip;q=0", "Sec-Fetch-Site": "none"}, false},
			{"one that says nothing of it", map[string]string{"Sec-Fetch-Site": "none"}, false},
		} {
			r := httptest.NewRequest(http.MethodGet, "/my/week", nil)
			r.Header.Set("Accept-Language", "en")
			for name, value := range c.headers {
				r.Header.Set(name, value)
			}
			for _, cookie := range worker.cookies {
				r.AddCookie(cookie)
			}
			w := httptest.NewRecorder()
			s.handler.ServeHTTP(w, r)
			body, short := w.Body.String(), w.Header().Get("Content-Encoding") == "gzip"
			if short {
				z, err := gzip.NewReader(strings.NewReader(body))
				if err != nil {
					t.Fatal(err)
				}
				whole, err := io.ReadAll(z)
				if err != nil {
					t.Fatal(err)
				}
				body = string(whole)
			}
			if short != c.short || withoutIDs(body) != plain || !strings.Contains(w.Header().Get("Vary"), "Accept-Encoding") {
				t.Errorf("%s: compressed %v, %d bytes of %d, Vary %q", c.name, short, len(body), len(plain), w.Header().Get("Vary"))
			}
		}
	})
}
