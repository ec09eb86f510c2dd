package pages

import (
	"bytes"
	"encoding/json"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// trailKinds are the kinds of records whose commands stand in the trail, with what is done with each, in the order in which people look for them.
var trailKinds = []struct {
	kind    string
	actions []string
}{
	{"pay_runs", []string{"draft", "redraft", "approve", "withdraw", "pay", "decide"}},
	{"statements", []string{"void", "paid", "failed", "unclaimed"}},
	{"break_answers", []string{"answer"}},
	{"adjustments", []string{"review", "accepted", "carried"}},
	{"bonuses", []string{"record", "correct"}},
	{"contracts", []string{"create", "update"}},
	{"contract_days", []string{"record", "correct"}},
	{"sick_uses", []string{"record", "correct"}},
	{"sick_entries", []string{"enter"}},
	{"piece_rates", []string{"record", "correct"}},
	{"hourly_rates", []string{"record", "correct"}},
	{"local_books", []string{"record", "correct"}},
	{"crew_sheets", []string{"record", "correct"}},
	{"tallies", []string{"record", "correct", "confirmed", "disputed"}},
	{"time_entries", []string{"record", "correct"}},
	{"employers", []string{"create", "update"}},
	{"accounts", []string{"create", "update", "issue_code", "set_secret", "sign_in", "sign_out", "end_session"}},
	{"workers", []string{"create", "update", "part", "hear_stop"}},
	{"crews", []string{"create", "update", "join", "part"}},
	{"crew_members", []string{"create", "update"}},
	{"gardens", []string{"create", "update", "end", "resume"}},
	{"blocks", []string{"create", "update"}},
	{"operations", []string{"create", "update"}},
	{"import_mappings", []string{"map"}},
	{"palm_ranges", []string{"create"}},
	{"palms", []string{"create", "avoid", "back_in_use", "photo"}},
	{"equipment", []string{"create", "update", "pre_use", "periodic", "after_event", "arrested_fall", "withdrawn", "mended", "returned", "retired", "photo"}},
	{"gear_kinds", []string{"create", "update", "stock"}},
	{"gear_issues", []string{"hand_out", "acknowledge", "take_back"}},
	{"filled_checklists", []string{"record", "correct", "review", "photo"}},
	{"climb_setups", []string{"record", "correct"}},
	{"clearances", []string{"give_clearance"}},
	{"clearance_exceptions", []string{"settle_exception", "settle_exceptions"}},
	{"stops", []string{"stop", "acknowledge_stop", "lift_stop"}},
	{"rule_overrides", []string{"record", "correct"}},
	{"training_topics", []string{"create", "update"}},
	{"training_meetings", []string{"record"}},
	{"training_sign_offs", []string{"record", "correct", "acknowledge_training"}},
	{"entry_restrictions", []string{"record", "correct"}},
	{"power_lines", []string{"create", "update"}},
	{"heat_plans", []string{"record", "correct"}},
	{"heat_readings", []string{"record", "correct"}},
	{"heat_imports", []string{"import"}},
	{"incidents", []string{"report", "correct", "add_to_case"}},
	{"injury_summaries", []string{"record", "correct"}},
	{"work_standards", []string{"create", "update"}},
	{"bunch_checks", []string{"record", "correct"}},
}

// trailNames are what the records are called that entries name.
type trailNames map[uuid.UUID]string

func (n trailNames) of(id uuid.UUID) string { return n[id] }

// identifier is one, wherever it stands in a document; whom is one that says for whom a record is, or with what.
var (
	identifier = regexp.MustCompile(`([0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12})`)
	whom       = regexp.MustCompile(`"(?:worker|crew|equipment)_id": ?"` + identifier.String() + `"`)
)

// mostNamedIn bounds how many identifiers of an entry are looked up: a sheet of records is told by how many there are.
const mostNamedIn = 60

// namesFor looks up what is called what, of what some entries are of and of the identifiers that are named in them, in one statement for each kind of record.
func namesFor(tx *models.Tx, entries []models.AuditEntry, named *regexp.Regexp) (trailNames, error) {
	wanted := map[uuid.UUID]bool{}
	for i := range entries {
		e := &entries[i]
		wanted[e.SubjectID] = true
		if e.AccountID != nil {
			wanted[*e.AccountID] = true
		}
		for _, doc := range []models.Document{e.BeforeDoc, e.AfterDoc} {
			for _, found := range named.FindAllSubmatch(doc, mostNamedIn) {
				if id, err := uuid.ParseBytes(found[1]); err == nil {
					wanted[id] = true
				}
			}
		}
	}
	ids := make([]uuid.UUID, 0, len(wanted))
	for id := range wanted {
		ids = append(ids, id)
	}
	names := make(trailNames, len(ids))
	for _, of := range []struct{ table, name string }{
		{"accounts", "name"}, {"workers", "name"}, {"crews", "name"}, {"gardens", "name"}, {"blocks", "code"}, {"operations", "code"}, {"equipment", "code"}, {"gear_kinds", "name"},
		{"local_books", "title"}, {"contracts", "job_order"},
	} {
		var rows []struct {
			ID   uuid.UUID
			Name string
		}
		err := tx.DB().Raw("SELECT id, "+of.name+" AS name FROM "+of.table+" WHERE employer_id = ? AND id IN ?", tx.Employer, ids).Scan(&rows).Error
		if err != nil {
			return nil, err
		}
		for _, r := range rows {
			names[r.ID] = r.Name
		}
	}
	return names, nil
}

// trailAbout says which record an entry is of: what it is called, or for whom or of which day it is.
func (v *visit) trailAbout(e *models.AuditEntry, n trailNames) string {
	if name := n.of(e.SubjectID); name != "" {
		return v.catalogue().Operation(name)
	}
	if slices.Contains(aboutHealth, e.SubjectKind) {
		return ""
	}
	var doc map[string]any
	for _, text := range []models.Document{e.AfterDoc, e.BeforeDoc} {
		if err := json.Unmarshal(text, &doc); err == nil && doc != nil {
			break
		}
	}
	var parts []string
	for _, key := range []string{"title", "name", "job_order", "what_for", "code", "worker_id", "crew_id", "equipment_id", "week_start", "workday", "held_on"} {
		s, ok := doc[key].(string)
		if !ok || s == "" {
			continue
		}
		if id, err := uuid.Parse(s); err == nil {
			s = n.of(id)
		} else if day, err := dated.ParseDate(s); err == nil {
			s = v.catalogue().Value(day)
		}
		if s != "" {
			parts = append(parts, s)
		}
		if len(parts) == 2 {
			break
		}
	}
	return strings.Join(parts, ", ")
}

// trailFact is a field of a record, before and after.
type trailFact struct {
	Name          string
	Before, After string
	Changed       bool
}

// mostFacts bounds how many rows an entry shows; the document as it was sealed has them all.
const mostFacts = 120

// trailFacts tells what stood before and after in words, what changed first.
func (v *visit) trailFacts(e *models.AuditEntry, names trailNames, zone *time.Location) []trailFact {
	s := trailSpeaker{v: v, names: names, zone: zone}
	before, after := s.facts(e.BeforeDoc), s.facts(e.AfterDoc)
	var rows []trailFact
	for _, f := range before {
		rows = append(rows, trailFact{Name: f.name, Before: f.value})
	}
	for _, f := range after {
		i := slices.IndexFunc(rows, func(r trailFact) bool { return r.Name == f.name })
		if i < 0 {
			rows = append(rows, trailFact{Name: f.name})
			i = len(rows) - 1
		}
		rows[i].After = f.value
	}
	for i := range rows {
		rows[i].Changed = len(before) > 0 && len(after) > 0 && rows[i].Before != rows[i].After
	}
	slices.SortStableFunc(rows, func(a, b trailFact) int {
		switch {
		case a.Changed == b.Changed:
			return 0
		case a.Changed:
			return -1
		}
		return 1
	})
	return rows[:min(len(rows), mostFacts)]
}

// said is a field with its value in words.
type said struct{ name, value string }

// trailSpeaker says documents in the reader's words.
type trailSpeaker struct {
	v     *visit
	names trailNames
	zone  *time.Location
}

// facts says the fields of a document, in its order.
func (s trailSpeaker) facts(doc models.Document) (all []said) {
	var whole any
	if err := json.Unmarshal(doc, &whole); err != nil {
		return nil
	}
	fields, ok := whole.(map[string]any)
	if !ok {
		return nil
	}
	if keyedByIdentifiers(fields) {
		return []said{{s.field("records"), s.value("records", fields)}}
	}
	for _, key := range orderOf(doc, fields) {
		if slices.Contains(unsaid, key) {
			continue
		}
		if inner, ok := fields[key].(map[string]any); ok && !keyedByIdentifiers(inner) {
			for _, k := range orderOf(nil, inner) {
				if value := s.value(k, inner[k]); value != "" && !slices.Contains(unsaid, k) {
					all = append(all, said{s.field(key) + ": " + s.field(k), value})
				}
			}
			continue
		}
		if value := s.value(key, fields[key]); value != "" {
			all = append(all, said{s.field(key), value})
		}
	}
	return all
}

// unsaid are the fields that say nothing to people: the record's own identifier, and sums over its content.
var unsaid = []string{"id", "ID", "EmployerID", "version", "updated_at", "digest", "content_hash", "input_digest", "rulebook_digest", "ids"}

// orderOf lists the keys of an object in the order in which its text has them, or by name.
func orderOf(text []byte, fields map[string]any) []string {
	var keys []string
	d := json.NewDecoder(bytes.NewReader(text))
	depth := 0
	for text != nil {
		token, err := d.Token()
		if err != nil {
			break
		}
		switch t := token.(type) {
		case json.Delim:
			if t == '{' || t == '[' {
				depth++
			} else {
				depth--
			}
		case string:
			if _, known := fields[t]; known && depth == 1 && !slices.Contains(keys, t) {
				keys = append(keys, t)
			}
		}
	}
	var rest []string
	for key := range fields {
		if !slices.Contains(keys, key) {
			rest = append(rest, key)
		}
	}
	slices.Sort(rest)
	return append(keys, rest...)
}

func keyedByIdentifiers(object map[string]any) bool {
	for key := range object {
		if _, err := uuid.Parse(key); err != nil {
			return false
		}
	}
	return len(object) > 0
}

// field says the name of a field.
func (s trailSpeaker) field(key string) string {
	if word := s.v.catalogue().Word("audit_field", key); word != key {
		return word
	}
	return strings.ReplaceAll(key, "_", " ")
}

// mostSaid bounds how many items of a list are said.
const mostSaid = 12

// value says a value; "" for nothing.
func (s trailSpeaker) value(key string, value any) string {
	c := s.v.catalogue()
	switch x := value.(type) {
	case nil:
		return ""
	case bool:
		return c.Value(x)
	case float64:
		return s.number(key, x)
	case string:
		return s.text(key, x)
	case []any:
		return s.list(key, x)
	case map[string]any:
		return s.object(x)
	}
	return ""
}

// object says an object within another: its fields where they are plain, else how much there is.
func (s trailSpeaker) object(x map[string]any) string {
	if keyedByIdentifiers(x) {
		return s.v.say("page.audit.records", payroll.Terms{"count": len(x)})
	}
	var parts []string
	for _, k := range orderOf(nil, x) {
		switch inner := x[k].(type) {
		case map[string]any:
			parts = append(parts, s.field(k)+" …")
		case []any:
			parts = append(parts, s.field(k)+" "+s.v.say("page.audit.records", payroll.Terms{"count": len(inner)}))
		default:
			if said := s.value(k, inner); said != "" && !slices.Contains(unsaid, k) {
				parts = append(parts, s.field(k)+" "+said)
			}
		}
	}
	return strings.Join(parts, ", ")
}

func (s trailSpeaker) list(key string, items []any) string {
	var parts []string
	for _, item := range items {
		if len(parts) == mostSaid {
			parts = append(parts, s.v.say("page.audit.more", payroll.Terms{"count": len(items) - mostSaid}))
			break
		}
		if said := s.value(key, item); said != "" {
			parts = append(parts, said)
		}
	}
	return strings.Join(parts, "; ")
}

// number says a number: minutes as hours, others as they are.
func (s trailSpeaker) number(key string, n float64) string {
	c := s.v.catalogue()
	if n != float64(int64(n)) {
		return strconv.FormatFloat(n, 'f', -1, 64)
	}
	switch whole := int64(n); {
	case key == "workday_start" || key == "minutes" || strings.HasSuffix(key, "_minutes"):
		return c.Value(payroll.Minutes(whole)) + " h"
	case key == "week_start" || key == "payday":
		return c.Say("weekday."+strconv.FormatInt(whole, 10), nil)
	case strings.HasSuffix(key, "_seconds"):
		return c.Value(payroll.Minutes(whole/60)) + " h"
	default:
		return strconv.FormatInt(whole, 10)
	}
}

// text says a text: what an identifier is of, a day, an instant, money, or a word.
func (s trailSpeaker) text(key, text string) string {
	c := s.v.catalogue()
	if text == "" {
		return ""
	}
	if id, err := uuid.Parse(text); err == nil {
		if name := s.names.of(id); name != "" {
			return name
		}
		return s.v.say("page.audit.unnamed", payroll.Terms{"id": text[len(text)-6:]})
	}
	if day, err := dated.ParseDate(text); err == nil {
		return c.Value(day)
	}
	if at, err := time.Parse(time.RFC3339Nano, text); err == nil {
		return c.Moment(at.In(s.zone))
	}
	if slices.Contains(moneyFields, key) {
		if rate, err := payroll.ParseRate(text); err == nil {
			return c.Value(rate)
		}
	}
	if role := "page.role." + text; key == "role" && c.Has(role) {
		return c.Say(role, nil)
	}
	for _, family := range []string{"audit_value", "time", "local"} {
		if word := c.Word(family, text); word != text {
			return word
		}
	}
	switch key {
	case "operation", "code":
		return c.Operation(text)
	case "unit":
		return c.Unit(text, true)
	}
	return text
}

// moneyFields hold decimals of dollars.
var moneyFields = []string{"rate", "offered_rate", "amount", "gross", "net", "pay", "proposed", "premiums", "total", "records_part", "rules_part", "engine_part"}

// readable is a document as it was sealed, set out in lines; "" where it says nothing.
func readable(doc models.Document) string {
	var b bytes.Buffer
	if string(doc) == "null" || len(doc) == 0 || json.Indent(&b, doc, "", "  ") != nil {
		return ""
	}
	if b.Len() > longestRaw {
		return strings.ToValidUTF8(b.String()[:longestRaw], "") + " …"
	}
	return b.String()
}

// longestRaw is how much of a document is shown as it was sealed, in bytes, so that the page stays light.
const longestRaw = 20_000
