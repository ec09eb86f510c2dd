package evidence

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
)

// Report is what a walk along an employer's seals and audit entries found.
type Report struct {
	Seals  int64
	Sealed int64             // entries under a seal
	Head   *models.AuditSeal // the last seal; nil where there is none
	Tail   int64             // entries that no seal covers yet
	Since  time.Time         // when the first of those was written
	Break  *Break            // the first thing that is wrong; the walk ends there
}

// Break is where the chain does not hold.
type Break struct {
	Kind     BreakKind `json:"kind"`
	Seal     int64     `json:"seal"`               // number of the seal; 0: in the unsealed tail
	Entry    uuid.UUID `json:"entry,omitzero"`     // where it is about one entry
	Expected int64     `json:"expected,omitempty"` // of MissingEntries and SurplusEntries: how many entries the seal covers
	Found    int64     `json:"found,omitempty"`    // of the same: how many there are
}

// BreakKind says what is wrong.
type BreakKind string

// The ways in which a chain breaks: an entry does not say any more what it said when it was written; entries under a seal have gone, or have come in; a seal is
// missing; a seal follows from another one than the one before it; a seal, or the entries under it, are not those that were sealed.
const (
	AlteredEntry   BreakKind = "altered_entry"
	MissingEntries BreakKind = "missing_entries"
	SurplusEntries BreakKind = "surplus_entries"
	MissingSeal    BreakKind = "missing_seal"
	ForeignSeal    BreakKind = "foreign_seal"
	AlteredSeal    BreakKind = "altered_seal"
)

// Verify walks the employer's chain from its beginning: every entry against its own hash, every seal against its entries and the seal before it.
func Verify(tx *models.Tx) (*Report, error) {
	w := &walk{report: &Report{}}
	w.entries = &pages[models.AuditEntry]{read: func(last *models.AuditEntry) ([]models.AuditEntry, error) {
		q := tx.DB().Order("tx, seq").Limit(pageSize)
		if last != nil {
			q = q.Where("(tx, seq) > (?, ?)", last.Tx, last.Seq)
		}
		var rows []models.AuditEntry
		err := q.Find(&rows).Error
		return rows, err
	}}
	seals := &pages[models.AuditSeal]{read: func(last *models.AuditSeal) ([]models.AuditSeal, error) {
		q := tx.DB().Order("number").Limit(pageSize)
		if last != nil {
			q = q.Where("number > ?", last.Number)
		}
		var rows []models.AuditSeal
		err := q.Find(&rows).Error
		return rows, err
	}}
	for {
		seal, err := seals.next()
		if err != nil {
			return nil, err
		}
		if seal == nil {
			return w.report, w.tail()
		}
		if err := w.seal(seal); err != nil || w.report.Break != nil {
			return w.report, err
		}
	}
}

// FindSeal returns the number of the employer's seal with that hash, as it was once printed; 0 where there is none.
func FindSeal(tx *models.Tx, hash string) (number int64, err error) {
	var found []models.AuditSeal
	if err := tx.DB().Where("hash = ?", hash).Limit(1).Find(&found).Error; err != nil || len(found) == 0 {
		return 0, err
	}
	return found[0].Number, nil
}

// walk is a verification on its way.
type walk struct {
	report  *Report
	entries *pages[models.AuditEntry]
}

// seal checks one seal with the entries under it.
func (w *walk) seal(seal *models.AuditSeal) error {
	var before models.AuditSeal
	if w.report.Head != nil {
		before = *w.report.Head
	}
	if seal.Number != before.Number+1 {
		return w.broken(Break{Kind: MissingSeal, Seal: before.Number + 1})
	}
	if seal.PreviousHash != before.Hash {
		return w.broken(Break{Kind: ForeignSeal, Seal: seal.Number})
	}
	var covered []models.SealedEntry
	for {
		e, err := w.entries.peek()
		if err != nil {
			return err
		}
		if e == nil || !seal.Covers(e) {
			break
		}
		if e.Hash() != e.ContentHash {
			return w.broken(Break{Kind: AlteredEntry, Seal: seal.Number, Entry: e.ID})
		}
		covered = append(covered, models.SealedEntry{ID: e.ID, ContentHash: e.ContentHash})
		w.entries.skip()
	}
	switch found := int64(len(covered)); {
	case found < seal.Entries:
		return w.broken(Break{Kind: MissingEntries, Seal: seal.Number, Expected: seal.Entries, Found: found})
	case found > seal.Entries:
		return w.broken(Break{Kind: SurplusEntries, Seal: seal.Number, Expected: seal.Entries, Found: found})
	case seal.Sum(covered) != seal.Hash:
		return w.broken(Break{Kind: AlteredSeal, Seal: seal.Number})
	}
	w.report.Seals++
	w.report.Sealed += seal.Entries
	w.report.Head = seal
	return nil
}

func (w *walk) broken(b Break) error {
	w.report.Break = &b
	return nil
}

// tail checks the entries that no seal covers yet, each by itself.
func (w *walk) tail() error {
	for {
		e, err := w.entries.next()
		if err != nil || e == nil {
			return err
		}
		if e.Hash() != e.ContentHash {
			return w.broken(Break{Kind: AlteredEntry, Entry: e.ID})
		}
		if w.report.Tail == 0 {
			w.report.Since = e.At
		}
		w.report.Tail++
	}
}

// pageSize is how many rows are held at a time.
const pageSize = 1000

// pages goes through a long list a page at a time.
type pages[R any] struct {
	read func(last *R) ([]R, error) // the next page after a row, or the first one
	page []R
	at   int
	end  bool
}

// peek returns the row that is next, or nil at the end.
func (p *pages[R]) peek() (*R, error) {
	if p.at == len(p.page) && !p.end {
		var last *R
		if len(p.page) > 0 {
			last = &p.page[len(p.page)-1]
		}
		page, err := p.read(last)
		if err != nil {
			return nil, err
		}
		p.page, p.at, p.end = page, 0, len(page) < pageSize
	}
	if p.at == len(p.page) {
		return nil, nil
	}
	return &p.page[p.at], nil
}

func (p *pages[R]) skip() { p.at++ }

// next returns the next row and goes past it.
func (p *pages[R]) next() (*R, error) {
	row, err := p.peek()
	if row != nil {
		p.skip()
	}
	return row, err
}
