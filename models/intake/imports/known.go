package imports

import (
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// known is what rows refer to, by the names that files have for it.
type known struct {
	profile    *models.EmployerProfile
	workers    map[uuid.UUID]*models.Worker
	byNumber   map[int64]uuid.UUID
	byName     map[string][]uuid.UUID // folded
	crews      map[uuid.UUID]*models.Crew
	gardens    map[uuid.UUID]*models.Garden
	blocks     map[uuid.UUID]*models.Block
	operations map[uuid.UUID]*models.Operation
}

func learn(tx *models.Tx) (*known, error) {
	k := &known{byNumber: map[int64]uuid.UUID{}, byName: map[string][]uuid.UUID{}}
	for _, step := range []func() error{
		func() (err error) { k.profile, err = tx.Profile(); return },
		func() (err error) { k.workers, err = models.All[models.WorkerContent](tx); return },
		func() (err error) { k.crews, err = models.All[models.CrewContent](tx); return },
		func() (err error) { k.gardens, err = models.All[models.GardenContent](tx); return },
		func() (err error) { k.blocks, err = models.All[models.BlockContent](tx); return },
		func() (err error) { k.operations, err = models.All[models.OperationContent](tx); return },
	} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	for id, w := range k.workers {
		k.addWorker(id, w.Content)
	}
	return k, nil
}

// addWorker makes a worker findable. A provisional hand who turned out to be somebody is found as that worker.
func (k *known) addWorker(id uuid.UUID, w models.WorkerContent) {
	if w.SameAs != nil {
		id = *w.SameAs
	}
	k.byNumber[w.Number] = id
	if name := fold(w.Name); !slices.Contains(k.byName[name], id) {
		k.byName[name] = append(k.byName[name], id)
	}
}

// worker finds who a row is about. A name that is in no book is asked about, or taken in as a provisional worker.
func (r *row) worker() (id uuid.UUID, newName string, ok bool) {
	if r.has("worker_number") {
		n, ok := r.whole("worker_number")
		return r.byNumber("worker_number", n, ok)
	}
	field := "worker"
	if !r.has(field) {
		field = "worker_name"
	}
	name := r.text(field)
	if name == "" {
		r.fault(r.whoField(), "fault.cell_needed", nil)
		return uuid.Nil, "", false
	}
	if n, err := strconv.ParseInt(plainNumber(name), 10, 64); err == nil {
		return r.byNumber(field, n, true)
	}
	return r.byName(field, name)
}

func (r *row) whoField() string {
	for _, f := range []string{"worker", "worker_number", "worker_name"} {
		if r.job.has(f) {
			return f
		}
	}
	return ""
}

// byNumber finds a worker by number, and wants a name beside it to be theirs.
func (r *row) byNumber(field string, n int64, ok bool) (uuid.UUID, string, bool) {
	if !ok {
		return uuid.Nil, "", false
	}
	id, found := r.known.byNumber[n]
	if !found {
		r.fault(field, "fault.unknown_worker_number", payroll.Terms{"number": int(n)})
		return uuid.Nil, "", false
	}
	name, theirs := r.text("worker_name"), r.known.workers[id].Content.Name
	if name != "" && field == "worker_number" && !sameName(name, theirs) {
		r.fault("worker_name", "fault.name_of_another", payroll.Terms{"number": int(n), "name": theirs, "given": name})
		return uuid.Nil, "", false
	}
	return id, "", true
}

func (r *row) byName(field, name string) (uuid.UUID, string, bool) {
	ids := r.known.byName[fold(name)]
	if last, first, swapped := strings.Cut(name, ","); len(ids) == 0 && swapped {
		ids, name = r.known.byName[fold(first+" "+last)], strings.TrimSpace(first)+" "+strings.TrimSpace(last)
	}
	switch {
	case len(ids) == 1:
		return ids[0], "", true
	case len(ids) > 1:
		r.ask(field, "fault.name_of_several", payroll.Terms{"given": name, "numbers": r.numbersOf(ids)})
	case r.order.NewWorkers && r.order.Kind == CrewSheets:
		r.note(field, "note.import_new_worker", payroll.Terms{"name": name})
		return r.derived("new hand", fold(name)), name, true
	default:
		r.ask(field, "fault.unknown_worker_name", payroll.Terms{"given": name})
	}
	return uuid.Nil, "", false
}

func (r *row) numbersOf(ids []uuid.UUID) []string {
	var numbers []string
	for _, id := range ids {
		numbers = append(numbers, strconv.FormatInt(r.known.workers[id].Content.Number, 10))
	}
	slices.Sort(numbers)
	return numbers
}

// sameName tells whether two names are one, written with the last name first or not.
func sameName(a, b string) bool {
	if fold(a) == fold(b) {
		return true
	}
	last, first, swapped := strings.Cut(a, ",")
	return swapped && fold(first+" "+last) == fold(b)
}

// derived makes an identifier within the file's reference.
func (j *job) derived(parts ...string) uuid.UUID {
	return derived(j.tx.Employer, append([]string{"import", j.order.Reference}, parts...)...)
}

// named finds the one record that a cell, or else the mapping's own word, names by number or name. Where neither says anything there has to be one alone.
func named[C any](r *row, field, fallback string, all map[uuid.UUID]*models.Kept[C], of func(*C) (int64, string)) (uuid.UUID, bool) {
	given := r.text(field)
	if given == "" {
		given = fallback
	}
	if given == "" {
		if len(all) == 1 {
			for id := range all {
				return id, true
			}
		}
		if r.job.has(field) {
			r.fault(field, "fault.cell_needed", nil)
		} else {
			r.bad[r.line] = true
			r.once("fault.say_which_"+field, nil)
		}
		return uuid.Nil, false
	}
	var found []uuid.UUID
	for id, record := range all {
		number, name := of(&record.Content)
		if plainNumber(given) == strconv.FormatInt(number, 10) && number > 0 || fold(name) == fold(given) {
			found = append(found, id)
		}
	}
	if len(found) == 1 {
		return found[0], true
	}
	key := "fault.unknown_word"
	if len(found) > 1 {
		key = "fault.word_for_several"
	}
	if r.job.has(field) && r.text(field) != "" {
		r.fault(field, key, payroll.Terms{"given": given})
	} else {
		r.bad[r.line] = true
		r.once(key, payroll.Terms{"given": given})
	}
	return uuid.Nil, false
}

func (r *row) crew() (uuid.UUID, bool) {
	return named(r, "crew", r.mapping.Crew, r.known.crews, func(c *models.CrewContent) (int64, string) { return c.Number, c.Name })
}

func (r *row) garden() (uuid.UUID, bool) {
	return named(r, "garden", r.mapping.Garden, r.known.gardens, func(c *models.GardenContent) (int64, string) { return c.Number, c.Name })
}

func (r *row) operation() (uuid.UUID, bool) {
	return named(r, "operation", "", r.known.operations, func(c *models.OperationContent) (int64, string) { return 0, c.Code })
}

// block finds a block by its code, in the row's garden where the code stands in several.
func (r *row) block() (uuid.UUID, bool) {
	within := r.known.blocks
	if r.has("garden") || r.mapping.Garden != "" {
		garden, ok := r.garden()
		if !ok {
			return uuid.Nil, false
		}
		within = map[uuid.UUID]*models.Block{}
		for id, b := range r.known.blocks {
			if b.Content.GardenID == garden {
				within[id] = b
			}
		}
	}
	return named(r, "block", "", within, func(c *models.BlockContent) (int64, string) { return 0, c.Code })
}
