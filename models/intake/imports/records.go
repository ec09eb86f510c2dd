package imports

import (
	"encoding/json"
	"errors"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
)

// proposal is what a row of the set-up asks for.
type proposal struct {
	content any      // what the row's identity follows from
	match   string   // the field at which a match shows
	words   []string // the record that the row matches; nil where it matches none
	same    bool     // whether that says the same already
	exists  func(id uuid.UUID) (bool, error)
	add     func(id uuid.UUID) error
	replace func(id uuid.UUID) error
}

// takeRecords takes in workers, blocks or rates, row by row. Rows with a number of their own come first, so that none is given away before.
func (j *job) takeRecords() error {
	rows := slices.Clone(j.rows)
	slices.SortStableFunc(rows, func(a, b *row) int {
		switch a, b := a.has("number"), b.has("number"); {
		case a && !b:
			return -1
		case b && !a:
			return 1
		}
		return 0
	})
	read := map[Kind]func(*row) (*proposal, error){Workers: (*row).proposeWorker, Blocks: (*row).proposeBlock, PieceRates: (*row).proposePieceRate, HourlyRates: (*row).proposeHourlyRate}[j.order.Kind]
	seen := map[string]int{}
	for i, r := range rows {
		for _, f := range fields[j.order.Kind] {
			if f.required && !r.has(f.name) {
				r.fault(f.name, "fault.cell_needed", nil)
			}
		}
		p, err := read(r)
		if err != nil {
			return err
		}
		if p != nil && !j.bad[r.line] {
			if err := r.take(p, seen); err != nil {
				return err
			}
		}
		if i%100 == 99 {
			j.progress(i + 1)
		}
	}
	return nil
}

// take stores what a row proposes, or asks.
func (r *row) take(p *proposal, seen map[string]int) error {
	document, err := json.Marshal(p.content)
	if err != nil {
		return err
	}
	seen[string(document)]++
	id := r.derived("row", string(r.order.Kind), string(document), itoa(seen[string(document)]))
	known, err := p.exists(id)
	if err != nil {
		return err
	}
	answer := r.order.OnMatch.to(r.line)
	switch {
	case known, p.same:
		r.report.Repeated++
		r.report.add(recordParts[r.order.Kind], intake.Repeated, false)
		return nil
	case p.words == nil, answer == Add:
		err = p.add(id)
	case answer == Replace:
		err = p.replace(id)
	case answer == Skip:
		r.report.Skipped++
		return nil
	default:
		r.ask(p.match, "fault.import_matches", payroll.Terms{"recorded": p.words})
		return nil
	}
	var refused *models.Error
	if errors.As(err, &refused) && refused.Kind == models.Invalid && len(refused.Faults) > 0 {
		for _, f := range refused.Faults {
			r.fault(strings.TrimSuffix(strings.TrimPrefix(f.Pointer, "/"), "_id"), f.Key, f.Terms)
		}
		return nil
	}
	if err == nil {
		r.report.Recorded++
		r.report.add(recordParts[r.order.Kind], intake.Recorded, p.words != nil && answer == Replace)
	}
	return err
}

// recordParts are what the rows of each kind of file become, where they are no work.
var recordParts = map[Kind]Part{Workers: WorkerPart, Blocks: BlockPart, PieceRates: PieceRatePart, HourlyRates: HourlyRatePart}

// isKept tells whether there is a record of the set-up.
func isKept[C any](tx *models.Tx, id uuid.UUID) (bool, error) {
	_, err := models.Get[C](tx, id)
	if models.KindOf(err) == models.NotFound {
		return false, nil
	}
	return err == nil, err
}

func isRecorded[C any](tx *models.Tx, id uuid.UUID) (bool, error) {
	found, err := models.List[models.Recorded[C]](tx, models.Page{Limit: 1}, models.Where("id = ?", id))
	return len(found) > 0, err
}

// day reads a date that may be left out.
func (r *row) day(field string) models.Date {
	if !r.has(field) {
		return models.Date{}
	}
	d, _ := r.date(field)
	return d
}

var languages = map[string]string{"en": "en", "english": "en", "ingles": "en", "es": "es", "spanish": "es", "espanol": "es", "": "es"}

// proposeWorker proposes a worker. One in the books with the same number or, where the row has none, the same name is a match; what the row leaves out
// stays as it is then.
func (r *row) proposeWorker() (*proposal, error) {
	c := models.WorkerContent{Name: r.text("name"), Address: r.text("address"), BirthDate: r.day("birth_date"), StartedOn: r.day("started_on"), EndedOn: r.day("ended_on")}
	var ok bool
	if c.Language, ok = languages[fold(r.text("language"))]; !ok {
		r.fault("language", "fault.not_one_of", payroll.Terms{"value": r.text("language"), "allowed": []string{"en", "es"}})
	}
	if r.has("number") {
		c.Number, _ = r.whole("number")
	}
	if r.bad[r.line] {
		return nil, nil
	}
	p := &proposal{content: c, match: "name", exists: func(id uuid.UUID) (bool, error) { return isKept[models.WorkerContent](r.tx, id) }}
	p.add = func(id uuid.UUID) error {
		if _, taken := r.known.byNumber[c.Number]; taken && c.Number > 0 {
			return models.FaultAt("/number", "fault.taken", nil)
		}
		kept, _, err := models.Create(r.tx, id, c)
		if err == nil {
			r.known.workers[id] = kept
			r.known.addWorker(id, kept.Content)
		}
		return err
	}
	old, err := r.matchingWorker(c)
	if err != nil || old == nil {
		return p, err
	}
	merged := r.mergeWorker(old.Content, c)
	p.words, p.same = []string{strconv.FormatInt(old.Content.Number, 10) + " " + old.Content.Name}, merged == old.Content
	if c.Number > 0 {
		p.match = "number"
	}
	p.replace = func(uuid.UUID) error {
		kept, err := models.Update(r.tx, old.ID, old.Version, merged)
		if err == nil {
			r.known.workers[old.ID] = kept
		}
		return err
	}
	return p, nil
}

func (r *row) matchingWorker(c models.WorkerContent) (*models.Worker, error) {
	if c.Number > 0 {
		return r.known.workers[r.known.byNumber[c.Number]], nil
	}
	ids := r.known.byName[fold(c.Name)]
	if len(ids) == 0 {
		return nil, nil
	}
	if len(ids) > 1 && r.order.OnMatch.to(r.line) == Replace {
		r.ask("name", "fault.name_of_several", payroll.Terms{"given": c.Name, "numbers": r.numbersOf(ids)})
	}
	return r.known.workers[ids[0]], nil
}

// mergeWorker is a worker as the row would have them.
func (r *row) mergeWorker(old, c models.WorkerContent) models.WorkerContent {
	old.Name, old.Address, old.StartedOn = c.Name, c.Address, c.StartedOn
	if r.has("birth_date") {
		old.BirthDate = c.BirthDate
	}
	if r.has("ended_on") {
		old.EndedOn = c.EndedOn
	}
	if r.has("language") {
		old.Language = c.Language
	}
	old.Provisional = old.Provisional && old.Address == ""
	return old
}

// proposeBlock proposes a block. One of the same garden with the same code is a match.
func (r *row) proposeBlock() (*proposal, error) {
	garden, _ := r.garden()
	c := models.BlockContent{GardenID: garden, Code: r.text("code"), Variety: r.text("variety")}
	if r.has("palms") {
		c.Palms, _ = r.whole("palms")
	}
	if r.has("tallest_cm") {
		c.TallestCM, _ = r.whole("tallest_cm")
	}
	if r.has("bunches_per_palm") {
		c.BunchesPerPalm, _ = r.whole("bunches_per_palm")
	}
	if r.bad[r.line] {
		return nil, nil
	}
	p := &proposal{content: c, match: "code", exists: func(id uuid.UUID) (bool, error) { return isKept[models.BlockContent](r.tx, id) }}
	var old *models.Block
	for _, b := range r.known.blocks {
		if b.Content.GardenID == garden && fold(b.Content.Code) == fold(c.Code) {
			old = b
		}
	}
	p.add = func(id uuid.UUID) error {
		if old != nil && old.Content.Code == c.Code {
			return models.FaultAt("/code", "fault.taken", nil)
		}
		kept, _, err := models.Create(r.tx, id, c)
		if err == nil {
			r.known.blocks[id] = kept
		}
		return err
	}
	if old == nil {
		return p, nil
	}
	if !r.has("bunches_per_palm") {
		c.BunchesPerPalm = old.Content.BunchesPerPalm
	}
	c.Ending = old.Content.Ending
	p.words, p.same = []string{old.Content.Code + " " + old.Content.Variety}, old.Content == c
	p.replace = func(uuid.UUID) error {
		kept, err := models.Update(r.tx, old.ID, old.Version, c)
		if err == nil {
			r.known.blocks[old.ID] = kept
		}
		return err
	}
	return p, nil
}

// proposePieceRate proposes a piece rate. One for the same operation and the same palms from the same day is a match.
func (r *row) proposePieceRate() (*proposal, error) {
	c := models.PieceRateContent{Variety: r.text("variety"), EffectiveOn: r.day("effective_on")}
	if r.has("operation") {
		c.OperationID, _ = r.operation()
	}
	if r.has("block") {
		if id, ok := r.block(); ok {
			c.BlockID = &id
		}
	}
	if r.has("rate") {
		c.Rate, _ = read(r, "rate", payroll.ParseRate)
	}
	if r.bad[r.line] {
		return nil, nil
	}
	same := func(o models.PieceRateContent) bool {
		return o.Variety == c.Variety && (o.BlockID == nil) == (c.BlockID == nil) && (o.BlockID == nil || *o.BlockID == *c.BlockID)
	}
	standing, err := models.List[models.PieceRate](r.tx, models.Page{Limit: maxStanding},
		models.Where("operation_id = ? AND effective_on = ? AND superseded_by IS NULL", c.OperationID, c.EffectiveOn))
	return rateProposal(r, c, c.Rate, standing, same, func(o models.PieceRateContent) payroll.Rate { return o.Rate }, models.Record[models.PieceRateContent]), err
}

// proposeHourlyRate proposes an hourly rate, of one worker or, where the row names nobody, of everybody. One from the same day is a match.
func (r *row) proposeHourlyRate() (*proposal, error) {
	c := models.HourlyRateContent{EffectiveOn: r.day("effective_on")}
	if r.has("worker") || r.has("worker_number") || r.has("worker_name") {
		if id, _, ok := r.worker(); ok {
			c.WorkerID = &id
		}
	}
	if r.has("rate") {
		c.Rate, _ = read(r, "rate", payroll.ParseRate)
	}
	if r.bad[r.line] {
		return nil, nil
	}
	same := func(o models.HourlyRateContent) bool {
		return (o.WorkerID == nil) == (c.WorkerID == nil) && (o.WorkerID == nil || *o.WorkerID == *c.WorkerID)
	}
	standing, err := models.List[models.HourlyRate](r.tx, models.Page{Limit: maxStanding}, models.Where("effective_on = ? AND superseded_by IS NULL", c.EffectiveOn))
	return rateProposal(r, c, c.Rate, standing, same, func(o models.HourlyRateContent) payroll.Rate { return o.Rate }, models.Record[models.HourlyRateContent]), err
}

// maxStanding is how many rates of one day are looked at.
const maxStanding = 100_000

func rateProposal[C any](r *row, c C, rate payroll.Rate, standing []models.Recorded[C], same func(C) bool, rateOf func(C) payroll.Rate,
	record func(*models.Tx, uuid.UUID, C, models.Recording) (*models.Recorded[C], bool, error)) *proposal {
	p := &proposal{content: c, match: "rate", exists: func(id uuid.UUID) (bool, error) { return isRecorded[C](r.tx, id) }}
	keep := func(id uuid.UUID, how models.Recording) error {
		how.RecordedAt = r.tx.Now
		_, _, err := record(r.tx, id, c, how)
		return err
	}
	p.add = func(id uuid.UUID) error { return keep(id, models.Recording{}) }
	for i := range standing {
		if old := &standing[i]; same(old.Content) {
			p.words, p.same = []string{rateOf(old.Content).String()}, rateOf(old.Content) == rate
			p.replace = func(id uuid.UUID) error {
				return keep(id, models.Recording{Supersedes: &old.ID, Reason: r.order.Reference})
			}
		}
	}
	return p
}
