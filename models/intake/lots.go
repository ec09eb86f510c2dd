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

// checkParts wants each worker once, each part told in the one way that the lot is parted by, and parts that add up to the whole.
func (l *line) checkParts(lot *LotLine) {
	if !slices.Contains(partings, lot.Parting) {
		l.fault("/parting", "fault.not_one_of", payroll.Terms{"value": lot.Parting, "allowed": partings})
		return
	}
	if len(lot.Parts) == 0 {
		l.fault("/parts", "fault.no_parts", nil)
		return
	}
	var minutes payroll.Minutes
	var shares payroll.Share
	workers := map[uuid.UUID]bool{}
	for i, p := range lot.Parts {
		at := "/parts/" + itoa(i)
		l.checkWorker(at+"/worker_id", p.WorkerID)
		if workers[p.WorkerID] {
			l.fault(at+"/worker_id", "fault.worker_twice", nil)
		}
		workers[p.WorkerID] = true
		if l.b.ground.tallies[p.ID] != nil {
			l.fault(at+"/id", "fault.id_reused", nil)
		}
		l.checkPart(at, lot.Parting, p)
		if p.Minutes != nil {
			minutes += min(max(*p.Minutes, 0), 24*60)
		}
		if p.Share != nil {
			shares += min(max(*p.Share, 0), wholeShare)
		}
	}
	if lot.Parting == ByMinutes && minutes == 0 {
		l.fault("/parts", "fault.no_lot_minutes", nil)
	}
	if lot.Parting == ByShare && shares != wholeShare {
		l.fault("/parts", "fault.shares_not_whole", payroll.Terms{"sum": shares.String()})
	}
}

const wholeShare payroll.Share = 1_000_000

func (l *line) checkPart(at, parting string, p LotPart) {
	if (p.Minutes != nil) != (parting == ByMinutes) || (p.Share != nil) != (parting == ByShare) {
		l.fault(at, "fault.part_not_as_parted", payroll.Terms{"parting": parting})
		return
	}
	if p.Minutes != nil && (*p.Minutes < 0 || *p.Minutes > 24*60) {
		l.fault(at+"/minutes", "fault.not_between", payroll.Terms{"low": 0, "high": 24 * 60})
	}
	if p.Share != nil && (*p.Share <= 0 || *p.Share > wholeShare) {
		l.fault(at+"/share", "fault.share_range", nil)
	}
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
