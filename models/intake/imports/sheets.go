package imports

import (
	"cmp"
	"errors"
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
)

// sheetRows is how many rows go on one sheet at most: far more than a crew has, and few enough for one statement.
const sheetRows = 2_000

// takeSheets turns the rows into crew sheets, one for each crew, workday and garden, and submits them by day.
func (j *job) takeSheets() error {
	lots := map[string][]*work{}
	var all []*work
	for _, r := range j.rows {
		if !r.isWork() {
			r.report.Skipped++
			r.note("", "note.import_line_left_aside", nil)
			continue
		}
		w := r.understand()
		all = append(all, w)
		if w.lot != "" {
			lots[w.lot] = append(lots[w.lot], w)
		}
	}
	j.checkLots(lots)
	j.identify(all, lots)
	done := 0
	for _, rows := range j.sheetsOf(all) {
		if err := j.takeSheet(rows, lots); err != nil {
			return err
		}
		done += len(rows)
		j.progress(done)
	}
	return nil
}

// identify gives every good row its identity: the file's reference and what the row says, counted where rows say the same. A lot's is that of its rows.
func (j *job) identify(all []*work, lots map[string][]*work) {
	seen := map[string]int{}
	for _, w := range all {
		if j.bad[w.line] {
			continue
		}
		content := w.content()
		seen[content]++
		w.id = j.derived("row", content, itoa(seen[content]))
	}
	for _, rows := range lots {
		slices.SortFunc(rows, func(a, b *work) int { return cmp.Compare(a.id.String(), b.id.String()) })
		parts := []string{"lot"}
		for _, w := range rows {
			parts = append(parts, w.id.String())
		}
		for _, w := range rows {
			w.lotID = j.derived(parts...)
		}
	}
	j.own = map[uuid.UUID]bool{}
	for _, w := range all {
		for _, id := range w.ids() {
			j.own[id] = true
		}
	}
}

// sheetsOf sorts the good rows onto sheets, by day. The rows of a lot stay together.
func (j *job) sheetsOf(all []*work) [][]*work {
	type place struct {
		crew, garden uuid.UUID
		day          models.Date
	}
	groups := map[place][]*work{}
	var order []place
	for _, w := range all {
		if j.bad[w.line] {
			continue
		}
		p := place{w.crew, w.garden, w.day}
		if groups[p] == nil {
			order = append(order, p)
		}
		groups[p] = append(groups[p], w)
	}
	slices.SortStableFunc(order, func(a, b place) int { return a.day.Compare(b.day.Date) })
	var sheets [][]*work
	for _, p := range order {
		rows := groups[p]
		slices.SortStableFunc(rows, func(a, b *work) int { return cmp.Compare(b.lot, a.lot) })
		for len(rows) > 0 {
			n := min(sheetRows, len(rows))
			for n < len(rows) && rows[n].lot != "" && rows[n].lot == rows[n-1].lot {
				n++
			}
			sheets = append(sheets, rows[:n])
			rows = rows[n:]
		}
	}
	return sheets
}

// checkLots wants the rows of a lot to agree on its pieces, and keeps a lot out whole where one of its rows is wrong: its parts would not be right.
func (j *job) checkLots(lots map[string][]*work) {
	for _, rows := range lots {
		var pieces *work
		for _, w := range rows {
			switch {
			case w.pieces == nil:
			case pieces == nil:
				pieces = w
			case *pieces.pieces != *w.pieces:
				w.fault("pieces", "fault.lot_pieces_differ", payroll.Terms{"line": pieces.line})
			}
		}
		if pieces == nil && !slices.ContainsFunc(rows, func(w *work) bool { return w.has("pieces") }) {
			rows[0].fault("pieces", "fault.cell_needed", nil)
		}
		first := rows[0]
		for _, w := range rows {
			if !j.bad[w.line] && !j.bad[first.line] && (w.crew != first.crew || w.garden != first.garden) {
				w.fault("lot", "fault.lot_of_one_crew", payroll.Terms{"line": first.line})
			}
		}
		j.spoil(rows)
	}
}

// spoil keeps every row of a lot out where one is.
func (j *job) spoil(rows []*work) {
	i := slices.IndexFunc(rows, func(w *work) bool { return j.bad[w.line] })
	if i < 0 {
		return
	}
	for _, w := range rows {
		if !j.bad[w.line] {
			j.bad[w.line] = true
			w.note("lot", "note.import_lot_left_out", payroll.Terms{"line": rows[i].line})
		}
	}
}

// takeSheet submits the rows of one sheet. Where some are refused the others are submitted without them, so that the days that follow are held against
// these; whether anything stays is decided at the end.
func (j *job) takeSheet(rows []*work, lots map[string][]*work) error {
	rec, err := j.recordedFor(rows)
	if err != nil {
		return err
	}
	plans := map[*work]plan{}
	var taken []*work
	for _, w := range rows {
		if p, ok := j.settle(w, rec); ok {
			plans[w] = p
			taken = append(taken, w)
		} else if w.lot != "" {
			j.spoil(lots[w.lot])
		}
	}
	var d *drawing
	var receipt *intake.Receipt
	for {
		taken = slices.DeleteFunc(taken, func(w *work) bool { return j.bad[w.line] })
		if len(taken) == 0 {
			return nil
		}
		d = j.draw(taken, plans, lots, rec)
		receipt, err = intake.Submit(j.tx, d.sheet, intake.Whole)
		if err == nil {
			break
		}
		var refused *models.Error
		if !errors.As(err, &refused) || refused.Kind != models.Invalid || !j.blame(d, refused.Faults) {
			return err
		}
		for _, w := range taken {
			if w.lot != "" {
				j.spoil(lots[w.lot])
			}
		}
	}
	j.report.addSheet(&d.sheet, receipt)
	for _, w := range taken {
		if rec.stored(w) {
			j.report.Repeated++
		} else {
			j.report.Recorded++
		}
	}
	return nil
}

// drawing is a sheet as it is submitted, with the rows that its lines come from.
type drawing struct {
	sheet  intake.Sheet
	origin map[string]origin // by the pointer of a line
}

// origin is the row and the fields that a line of the sheet comes from.
type origin struct {
	*work
	fields map[string]string // by the member of the line
}

// draw makes the sheet of some rows.
func (j *job) draw(rows []*work, plans map[*work]plan, lots map[string][]*work, rec *recorded) *drawing {
	first := rows[0]
	d := &drawing{origin: map[string]origin{}, sheet: intake.Sheet{
		ID:     j.derived("sheet", first.crew.String(), first.garden.String(), first.day.String(), first.sheetPart(rows)),
		CrewID: first.crew, GardenID: first.garden, Workday: first.day, RecordedAt: j.tx.Now,
	}}
	hands, drawn := map[uuid.UUID]bool{}, map[string]bool{}
	for _, w := range rows {
		if !hands[w.worker] {
			hands[w.worker] = true
			d.sheet.Roll = append(d.sheet.Roll, w.worker)
			if w.newName != "" {
				d.origin["/new_workers/"+itoa(len(d.sheet.NewWorkers))] = origin{w, map[string]string{"name": w.nameField()}}
				d.sheet.NewWorkers = append(d.sheet.NewWorkers, intake.NewWorker{ID: w.worker, Name: w.newName, Language: "es"})
			}
		}
		d.drawRow(w, plans[w])
		if w.lot != "" && !drawn[w.lot] {
			drawn[w.lot] = true
			d.drawLot(lots[w.lot], rec.lotBefore(w))
		}
	}
	return d
}

// sheetPart tells the sheets apart that one crew's day fills, by the row that each begins with. Days that fit on one have the same whatever is added.
func (w *work) sheetPart(rows []*work) string {
	if len(rows) < sheetRows {
		return ""
	}
	return w.id.String()
}

func (w *work) nameField() string {
	if w.has("worker") {
		return "worker"
	}
	return "worker_name"
}

func correction(old *uuid.UUID, reference string) intake.Correction {
	if old == nil {
		return intake.Correction{}
	}
	return intake.Correction{Supersedes: old, Reason: reference}
}

// drawRow adds the lines of one row, but for its part in a lot.
func (d *drawing) drawRow(w *work, p plan) {
	place := map[string]string{"worker_id": w.whoField(), "block_id": "block", "operation_id": "operation", "kind": "kind", "pieces": "pieces"}
	with := func(more map[string]string) origin {
		for member, field := range place {
			more[member] = field
		}
		return origin{w, more}
	}
	for i, s := range w.time {
		d.origin["/time/"+itoa(len(d.sheet.Time))] = with(map[string]string{"start": cmp.Or(s.startField, s.from), "end": s.endField, "minutes": s.from, "": cmp.Or(s.startField, s.from)})
		d.sheet.Time = append(d.sheet.Time, intake.TimeLine{
			ID: w.timeID(i), WorkerID: w.worker, Kind: s.kind, BlockID: w.block, OperationID: w.operation, Start: s.start, End: s.end, Minutes: s.minutes,
			Correction: correction(p.time[i], w.order.Reference),
		})
	}
	if w.pieces != nil && w.lot == "" {
		d.origin["/tallies/"+itoa(len(d.sheet.Tallies))] = with(map[string]string{"": "pieces"})
		d.sheet.Tallies = append(d.sheet.Tallies, intake.TallyLine{
			ID: w.tallyID(), WorkerID: w.worker, BlockID: *w.block, OperationID: *w.operation, Pieces: *w.pieces, Correction: correction(p.tally, w.order.Reference),
		})
	}
	for i, f := range w.breaks {
		d.origin["/breaks/"+itoa(len(d.sheet.Breaks))] = with(map[string]string{"fact": f.field, "": f.field})
		d.sheet.Breaks = append(d.sheet.Breaks, intake.BreakLine{
			ID: w.breakID(i), WorkerID: w.worker, Fact: f.fact, Correction: correction(p.breaks[i], w.order.Reference),
		})
	}
}

func (w *work) timeID(i int) uuid.UUID  { return derived(w.id, "time", itoa(i)) }
func (w *work) tallyID() uuid.UUID      { return derived(w.id, "tally") }
func (w *work) breakID(i int) uuid.UUID { return derived(w.id, "break", itoa(i)) }
func (w *work) partID() uuid.UUID       { return derived(w.lotID, "part", w.id.String()) }

// drawLot makes one count of the rows that are its parts, parted by shares or minutes where the rows have them, else by heads.
func (d *drawing) drawLot(rows []*work, before *uuid.UUID) {
	first := rows[0]
	line := intake.LotLine{
		ID: first.lotID, BlockID: *first.block, OperationID: *first.operation, Parting: intake.ByHeads, Correction: correction(before, first.order.Reference),
	}
	at := "/lots/" + itoa(len(d.sheet.Lots))
	d.origin[at] = origin{first, map[string]string{"": "lot", "pieces": "pieces", "parting": "lot", "parts": "lot", "block_id": "block", "operation_id": "operation"}}
	for _, w := range rows {
		if w.pieces != nil {
			line.Pieces = *w.pieces
		}
		switch {
		case w.share != nil:
			line.Parting = intake.ByShare
		case w.lotMinutes != nil && line.Parting == intake.ByHeads:
			line.Parting = intake.ByMinutes
		}
		d.origin[at+"/parts/"+itoa(len(line.Parts))] = origin{w, map[string]string{"": "lot", "worker_id": w.whoField(), "minutes": "lot_minutes", "share": "share"}}
		line.Parts = append(line.Parts, intake.LotPart{ID: w.partID(), WorkerID: w.worker, Minutes: w.lotMinutes, Share: w.share})
	}
	d.sheet.Lots = append(d.sheet.Lots, line)
}

// blame turns the faults of a sheet into those of its rows, and tells whether it could.
func (j *job) blame(d *drawing, faults []payroll.Fault) bool {
	blamed := len(faults) > 0
	for _, f := range faults {
		o, member, ok := d.find(f.Pointer)
		if !ok {
			blamed = false
			continue
		}
		key, terms := f.Key, f.Terms
		if other, isText := terms["other"].(string); isText {
			if theirs, _, ok := d.find(other); ok {
				key, terms = "fault.overlaps_line", payroll.Terms{"line": theirs.line}
			} else {
				key, terms = "fault.overlaps_recorded", nil
			}
		}
		o.fault(o.fields[member], key, terms)
	}
	return blamed
}

// find is the row that a pointer into the sheet points to, and the member of its line.
func (d *drawing) find(pointer string) (origin, string, bool) {
	for at := pointer; at != ""; at = at[:max(strings.LastIndexByte(at, '/'), 0)] {
		if o, ok := d.origin[at]; ok {
			return o, strings.TrimPrefix(strings.TrimPrefix(pointer, at), "/"), true
		}
	}
	return origin{}, "", false
}
