package intake

import (
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

var partings = []string{ByMinutes, ByShare, ByHeads}

// checkLot judges a lot with its parts as one: it is kept or refused whole.
func (b *batch) checkLot(l *line, lot *LotLine) {
	content := models.LotContent{Workday: b.workday, BlockID: lot.BlockID, OperationID: lot.OperationID, Pieces: lot.Pieces, Parting: lot.Parting}
	hash := hashOf([]any{content, lot.Parts}, lot.Correction)
	if repeated(l, b.ground.lots[lot.ID], hash) {
		return
	}
	l.checkPlace(&lot.BlockID, &lot.OperationID)
	l.checkPieces(lot.Pieces, lot.OperationID, max(1, len(lot.Parts)))
	checkCorrection(l, lot.Correction, b.ground.lots, func(c *models.LotContent) *uuid.UUID { return c.SheetID })
	l.checkParts(lot)
	if l.bad {
		l.done(Refused, nil)
		return
	}
	if b.sheet != nil {
		content.SheetID = &b.sheet.ID
	}
	b.supersede("lots", lot.Correction, lot.ID)
	b.lotRows = append(b.lotRows, keep(b, lot.ID, hash, content, lot.Correction))
	for _, part := range b.parts(lot) {
		hash := hashOf(part.content, Correction{})
		part.content.SheetID = content.SheetID
		b.tallyRows = append(b.tallyRows, keep(b, part.id, hash, part.content, lot.Correction))
	}
	l.done(Recorded, nil)
}

// checkParts wants workers and identifiers that can be, and parts that make a whole.
func (l *line) checkParts(lot *LotLine) {
	for _, f := range PartFaults(lot.Parting, lot.Parts) {
		l.fault(f.Pointer, f.Key, f.Terms)
	}
	for i, p := range lot.Parts {
		at := "/parts/" + itoa(i)
		l.checkWorker(at+"/worker_id", p.WorkerID)
		if l.b.ground.tallies[p.ID] != nil {
			l.fault(at+"/id", "fault.id_reused", nil)
		}
	}
}

// PartFaults tells what is amiss with the parts of a lot among themselves, by pointers below the lot: each worker has one, it is told in the one way that the lot is parted by, and together they are the
// whole.
func PartFaults(parting string, parts []LotPart) (faults []payroll.Fault) {
	fault := func(pointer, key string, terms payroll.Terms) {
		faults = append(faults, payroll.Fault{Pointer: pointer, Key: key, Terms: terms})
	}
	if !slices.Contains(partings, parting) {
		fault("/parting", "fault.not_one_of", payroll.Terms{"value": parting, "allowed": partings})
		return faults
	}
	if len(parts) == 0 {
		fault("/parts", "fault.no_parts", nil)
		return faults
	}
	var minutes payroll.Minutes
	var shares payroll.Share
	workers := map[uuid.UUID]bool{}
	for i, p := range parts {
		at := "/parts/" + itoa(i)
		if workers[p.WorkerID] {
			fault(at+"/worker_id", "fault.worker_twice", nil)
		}
		workers[p.WorkerID] = true
		faults = append(faults, partFaults(at, parting, p)...)
		if p.Minutes != nil {
			minutes += min(max(*p.Minutes, 0), 24*60)
		}
		if p.Share != nil {
			shares += min(max(*p.Share, 0), wholeShare)
		}
	}
	if parting == ByMinutes && minutes == 0 {
		fault("/parts", "fault.no_lot_minutes", nil)
	}
	if parting == ByShare && shares != wholeShare {
		fault("/parts", "fault.shares_not_whole", payroll.Terms{"sum": shares.String()})
	}
	return faults
}

const wholeShare payroll.Share = 1_000_000

func partFaults(at, parting string, p LotPart) (faults []payroll.Fault) {
	if (p.Minutes != nil) != (parting == ByMinutes) || (p.Share != nil) != (parting == ByShare) {
		return []payroll.Fault{{Pointer: at, Key: "fault.part_not_as_parted", Terms: payroll.Terms{"parting": parting}}}
	}
	if p.Minutes != nil && (*p.Minutes < 0 || *p.Minutes > 24*60) {
		faults = append(faults, payroll.Fault{Pointer: at + "/minutes", Key: "fault.not_between", Terms: payroll.Terms{"low": 0, "high": 24 * 60}})
	}
	if p.Share != nil && (*p.Share <= 0 || *p.Share > wholeShare) {
		faults = append(faults, payroll.Fault{Pointer: at + "/share", Key: "fault.share_range"})
	}
	return faults
}

type partRow struct {
	id      uuid.UUID
	content models.TallyContent
}

// parts makes each worker's tally: the lot's minutes and heads are counted from the parts, so that they always add up.
func (b *batch) parts(lot *LotLine) []partRow {
	var lotMinutes payroll.Minutes
	for _, p := range lot.Parts {
		if p.Minutes != nil {
			lotMinutes += *p.Minutes
		}
	}
	heads := int64(len(lot.Parts))
	rows := make([]partRow, len(lot.Parts))
	for i, p := range lot.Parts {
		c := models.TallyContent{WorkerID: p.WorkerID, Workday: b.workday, BlockID: lot.BlockID, OperationID: lot.OperationID, LotID: &lot.ID, Share: p.Share}
		switch lot.Parting {
		case ByMinutes:
			c.PartMinutes, c.LotMinutes = p.Minutes, &lotMinutes
		case ByHeads:
			c.Heads = &heads
		}
		rows[i] = partRow{p.ID, c}
	}
	return rows
}
