package pages_test

import (
	"encoding/json"
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"palmero/handlers/text"
	"palmero/models"
)

// What the matrix is to know of the audit trail.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /audit":        "a",
		"GET /audit/print":  "a",
		"POST /audit/check": "a",
		"GET /audit/{id}":   "a",
	})
	maps.Copy(looking, map[string]func(t *testing.T, s *site){
		"audit trail":   readTrail,
		"trail's words": lookForTrailWords,
	})
}

var trailLink = regexp.MustCompile(`href="(/audit/[0-9a-f-]{36})"`)

// readTrail reads the trail as its owner, narrowed in every way, and with nonsense.
func readTrail(t *testing.T, s *site) {
	b := s.as("abril", "en").speak("en")
	p := b.get("/audit").says("Audit trail", "Older entries", "Abril Sandoval", "Set-up"[:3])
	if n := len(trailLink.FindAllString(p.body, -1)); n != 30 {
		t.Errorf("%d entries on a page", n)
	}
	b.get("/audit?from=2026-02-17&through=2026-02-17").says("pay run: approved", "Tue Feb 17, 2026").hides("Older entries", "Feb 16, 2026,")
	b.get("/audit?who=hazel&what=pay_runs+draft").says("pay run: drafted", "Hazel Whitcomb").hides("approved</td>", "Older entries")
	b.get("/audit?who=Nobody+%25_").says("No account is called", "Nothing of the kind")
	b.get("/audit?from=x&through=9999-99-99&what=%3Cscript%3E&record=1&after=2").wants(http.StatusOK).hides("<script>alert")
	entry := trailLink.FindStringSubmatch(b.get("/audit?what=pay_runs+approve").body)
	if entry == nil {
		t.Fatal("no approval stands in the trail")
	}
	one := b.get(entry[1]).says("pay run: approved", "Before", "After", "changed", "state", "draft", "approved", "approved by", "Abril Sandoval")
	same := regexp.MustCompile(`href="(/audit\?record=[^"]+)"`).FindStringSubmatch(one.body)
	b.get(same[1]).says("All entries of one record", "pay run: drafted", "pay run: payment recorded")
	b.get("/audit/" + models.NewID().String()).wants(http.StatusNotFound)
	hurt := trailLink.FindStringSubmatch(b.get("/audit?what=incidents").body)
	b.get(hurt[1]).says("somebody&#39;s health").hides("happened_on", "as it was sealed</summary>")
	b.get("/audit/print?what=accounts").says("account: entered").hides("<form method=\"get\"")
	b.post("/audit/check", url.Values{"head": {"not a head"}}).says("All stands as it was sealed", "does not pass through", "notahead")
	if _, err := s.store.SealAll(t.Context()); err != nil {
		t.Fatal(err)
	}
	head := regexp.MustCompile(`<code>([0-9a-f]{64})</code>`).FindStringSubmatch(b.get("/audit").says("Head of the chain: seal ").body)
	b.post("/audit/check", url.Values{"head": {strings.ToUpper(head[1][:32]) + " " + head[1][32:]}}).says("All stands as it was sealed", "The chain passes through the head from paper")
	s.as("abril", "en").speak("es").get("/audit").says("Registro de cambios", "nómina")
}

// Whatever the season does, the trail says it in words, and shows no secret.
func lookForTrailWords(t *testing.T, s *site) {
	employer, err := s.store.FindEmployer(t.Context(), "media-tarde")
	if err != nil {
		t.Fatal(err)
	}
	var all []models.AuditEntry
	err = s.store.View(t.Context(), models.Scope{Employer: employer.ID}, func(tx *models.Tx) error { return tx.DB().Find(&all).Error })
	if err != nil {
		t.Fatal(err)
	}
	for _, language := range text.Languages() {
		c := text.For(language)
		missing, fields := map[string]bool{}, map[string]bool{}
		for _, e := range all {
			for family, word := range map[string]string{"audit_kind": e.SubjectKind, "audit_action": e.Action} {
				if !c.Has(family + "." + word) {
					missing[family+"."+word] = true
				}
			}
			for _, doc := range []models.Document{e.BeforeDoc, e.AfterDoc} {
				var whole map[string]any
				if json.Unmarshal(doc, &whole) != nil {
					continue
				}
				for key := range whole {
					if word := "audit_field." + strings.ToLower(key); len(key) < 30 {
						fields[word] = c.Has(word)
					}
					if strings.Contains(key, "secret") || strings.Contains(key, "hash") && key != "content_hash" {
						t.Errorf("the trail has %s", key)
					}
				}
			}
		}
		if len(missing) > 0 {
			t.Errorf("nothing is said in %s of %v", language, missing)
		}
		without := 0 // which are shown by the names that documents have for them
		for _, said := range fields {
			if !said {
				without++
			}
		}
		if without > len(fields)/10 {
			t.Errorf("%d of %d fields have no words in %s: %v", without, len(fields), language, fields)
		}
	}
}
