package pages

import (
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/evidence"
	"palmero/models/payrun"
	"palmero/payroll/dated"
)

// trailPages show the audit trail to whoever answers for it: who did what, when, and whether it stands as it was sealed.
func trailPages() []Page {
	return []Page{
		{Method: "GET", Path: "/audit", Roles: owners, Nav: "page.nav.audit", Under: "/set-up", handle: func(v *visit) (*answer, error) { return trailPage(v, trailAtOnce, false) }},
		{Method: "GET", Path: "/audit/print", Roles: owners, handle: func(v *visit) (*answer, error) { return trailPage(v, trailOnPaper, true) }},
		{Method: "POST", Path: "/audit/check", Roles: owners, handle: checkTrail},
		{Method: "GET", Path: "/audit/{id}", Roles: owners, handle: showTrailEntry},
	}
}

// How many entries a page shows, on the screen and to be printed.
const (
	trailAtOnce  = 30
	trailOnPaper = 250
)

// trailList is a part of the trail.
type trailList struct {
	trailHead
	Entries     []trailRow
	What        []Option
	From        dated.Date
	Through     dated.Date
	Who, Record string
	Nobody      bool   // whether nobody is called what was asked for
	Query       string // what narrows the list, for links
	Older       string // the same from the last entry on; "" where it was the last of all
	Paper       bool
	Of          string // what the record is called that the list is narrowed to
}

// trailHead is where the chain of seals stands.
type trailHead struct {
	Seal     *models.AuditSeal // nil where nothing is sealed yet
	Unsealed int64
	Zone     *time.Location
}

// trailRow is an entry in a list.
type trailRow struct {
	*models.AuditEntry
	By, About string
}

func trailPage(v *visit, atOnce int, paper bool) (*answer, error) {
	page := trailList{Paper: paper, From: v.day("from"), Through: v.day("through"), Who: strings.TrimSpace(v.gin.Query("who"))}
	err := v.view(func(tx *models.Tx) error { return page.read(tx, v, atOnce) })
	if err != nil {
		return nil, err
	}
	f := newForm(map[string]string{"what": v.gin.Query("what")})
	return show("trail", &page).with(f), nil
}

func (p *trailList) read(tx *models.Tx, v *visit, atOnce int) (err error) {
	if err := p.readHead(tx); err != nil {
		return err
	}
	t, err := p.asked(tx, v)
	if err != nil {
		return err
	}
	var after *models.AuditEntry
	if id, err := uuid.Parse(v.gin.Query("after")); err == nil {
		if after, err = models.AuditEntryOf(tx, id); err != nil {
			return err
		}
	}
	found, err := t.Latest(tx, after, atOnce+1)
	if err != nil {
		return err
	}
	if len(found) > atOnce {
		found = found[:atOnce]
		p.Older = p.Query + "&after=" + found[atOnce-1].ID.String()
	}
	p.What = v.trailOptions()
	names, err := namesFor(tx, found, whom)
	if err != nil {
		return err
	}
	for i := range found {
		p.Entries = append(p.Entries, v.trailRow(&found[i], names))
	}
	if p.Record != "" && len(p.Entries) > 0 {
		p.Of = p.Entries[0].About
	}
	return nil
}

func (h *trailHead) readHead(tx *models.Tx) (err error) {
	if h.Zone, err = payrun.HomeZone(tx); err != nil {
		return err
	}
	if h.Seal, err = models.AuditHead(tx); err == nil {
		h.Unsealed, err = models.Unsealed(tx, h.Seal)
	}
	return err
}

// asked reads what narrows the list, and writes it anew for the links.
func (p *trailList) asked(tx *models.Tx, v *visit) (t models.Trail, err error) {
	q := url.Values{}
	if !p.From.IsZero() {
		t.From = startOf(p.From, p.Zone)
		q.Set("from", p.From.String())
	}
	if !p.Through.IsZero() {
		t.Before = startOf(p.Through.AddDays(1), p.Zone)
		q.Set("through", p.Through.String())
	}
	if p.Who != "" {
		q.Set("who", p.Who)
		if t.By, err = accountsCalled(tx, p.Who); err != nil {
			return t, err
		}
		p.Nobody = len(t.By) == 0
	}
	if what := v.gin.Query("what"); what != "" {
		t.Kind, t.Action, _ = strings.Cut(what, " ")
		q.Set("what", what)
	}
	if id, err := uuid.Parse(v.gin.Query("record")); err == nil {
		t.Subject, p.Record = id, id.String()
		q.Set("record", p.Record)
	}
	p.Query = q.Encode()
	return t, nil
}

// startOf is the instant at which a day begins somewhere.
func startOf(day dated.Date, zone *time.Location) time.Time {
	year, month, n := day.Civil()
	return time.Date(year, month, n, 0, 0, 0, 0, zone)
}

// mostCalled bounds how many accounts a name may stand for.
const mostCalled = 100

// accountsCalled finds the accounts of a name, or of a part of one.
func accountsCalled(tx *models.Tx, who string) ([]uuid.UUID, error) {
	ids := []uuid.UUID{}
	part := "%" + strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(strings.ToLower(who)) + "%"
	err := tx.DB().Model(&models.Account{}).Where(`sign_in_name = ? OR lower(name) LIKE ? ESCAPE '\'`, strings.ToLower(who), part).Order("seq").Limit(mostCalled).Pluck("id", &ids).Error
	return ids, err
}

// trailOptions are what the list can be narrowed to: everything of a kind of record, or one thing done with it.
func (v *visit) trailOptions() []Option {
	options := []Option{{Label: v.say("page.audit.everything", nil)}}
	for _, kind := range trailKinds {
		name := v.catalogue().Word("audit_kind", kind.kind)
		options = append(options, Option{Value: kind.kind, Label: name})
		for _, action := range kind.actions {
			options = append(options, Option{Value: kind.kind + " " + action, Label: name + ": " + v.catalogue().Word("audit_action", action)})
		}
	}
	return options
}

// trailRow says an entry on a line.
func (v *visit) trailRow(e *models.AuditEntry, names trailNames) trailRow {
	row := trailRow{AuditEntry: e, About: v.trailAbout(e, names)}
	switch {
	case e.AccountID != nil:
		row.By = names.of(*e.AccountID)
	case e.SubjectKind == "accounts":
		row.By = names.of(e.SubjectID)
	}
	if row.By == "" {
		row.By = v.say("page.audit.command_line", nil)
	}
	return row
}

// trailCheck is what came of looking at the whole trail.
type trailCheck struct {
	trailHead
	*evidence.Report
	Asked string // the head that was held against the chain; "" where none was
	Found int64  // the number of its seal; 0: the chain does not pass through it
}

// checkTrail looks at every entry and every seal, and holds a printed head against the chain.
func checkTrail(v *visit) (*answer, error) {
	f, err := v.form("head")
	if err != nil {
		return nil, err
	}
	page := trailCheck{Asked: strings.ToLower(strings.Join(strings.Fields(f.Value("head")), ""))}
	err = v.view(func(tx *models.Tx) (err error) {
		if err = page.readHead(tx); err != nil {
			return err
		}
		if page.Report, err = evidence.Verify(tx); err != nil || page.Asked == "" {
			return err
		}
		page.Found, err = evidence.FindSeal(tx, page.Asked)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("trail_check", &page), nil
}

// trailEntry is one entry, with what stood before and after.
type trailEntry struct {
	trailRow
	Rows   []trailFact
	Kept   bool // whether nothing of it is shown: it is about somebody's health
	Raw    [2]string
	Sealed *models.AuditSeal // the seal that covers it; nil where none does yet
	Zone   *time.Location
}

func showTrailEntry(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page trailEntry
	err = v.view(func(tx *models.Tx) error {
		e, err := models.AuditEntryOf(tx, id)
		if err != nil {
			return err
		}
		if page.Zone, err = payrun.HomeZone(tx); err != nil {
			return err
		}
		if page.Sealed, err = sealOver(tx, e); err != nil {
			return err
		}
		page.Kept = slices.Contains(aboutHealth, e.SubjectKind)
		names, err := namesFor(tx, []models.AuditEntry{*e}, identifier)
		if err != nil {
			return err
		}
		page.trailRow = v.trailRow(e, names)
		if !page.Kept {
			page.Rows = v.trailFacts(e, names, page.Zone)
			page.Raw = [2]string{readable(e.BeforeDoc), readable(e.AfterDoc)}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return show("trail_entry", &page), nil
}

// sealOver finds the seal that covers an entry.
func sealOver(tx *models.Tx, e *models.AuditEntry) (*models.AuditSeal, error) {
	var found []models.AuditSeal
	err := tx.DB().Where("(last_tx, last_seq) >= (?, ?)", e.Tx, e.Seq).Order("last_tx, last_seq").Limit(1).Find(&found).Error
	if err != nil || len(found) == 0 {
		return nil, err
	}
	return &found[0], nil
}

// aboutHealth are the kinds of records whose content is nobody's business here: leave taken for an illness, and what became of an injury.
var aboutHealth = []string{"sick_uses", "sick_entries", "incidents"}
