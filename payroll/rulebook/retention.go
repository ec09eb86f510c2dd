package rulebook

import "palmero/payroll/dated"

// RecordKind is a kind of record that the law wants kept.
type RecordKind string

// The kinds of record.
const (
	PayrollRecords   RecordKind = "payroll"           // names, hours, wages, pieces, piece rates
	StatementRecords RecordKind = "statements"        // wage statements and deductions
	TimeRecords      RecordKind = "time_records"      // time cards, piece tickets, rate tables, schedules
	ContractorCopies RecordKind = "contractor_copies" // payroll records that a labor contractor hands to the grower
	H2ARecords       RecordKind = "h2a"               // field tallies, hours offered, earnings of an H-2A contract
	SickLeaveRecords RecordKind = "sick_leave"
)

// RecordKinds are all kinds of record.
var RecordKinds = []RecordKind{PayrollRecords, StatementRecords, TimeRecords, ContractorCopies, H2ARecords, SickLeaveRecords}

// Keep says how long a record is kept.
type Keep struct {
	Years int
	From  KeepFrom
}

// KeepFrom is what the years are counted from.
type KeepFrom string

// The starts of a retention period: the last day that the record tells of, or the decision on the H-2A application.
const (
	FromRecord        KeepFrom = "record"
	FromCertification KeepFrom = "certification"
)

// Retention is how long records of a kind are kept under one book of a chain.
type Retention struct {
	Kind RecordKind
	Keep
	Book   string // key of the book that asks for it
	Source dated.Source
}

// Retention returns how long records are kept that stand on a day: for each kind of record and each way of counting the
// years the longest period of the chain, in the order of [RecordKinds]. A kind that no book names is left out.
func (b *Book) Retention(day dated.Date) []Retention {
	var all []Retention
	for _, kind := range RecordKinds {
		for _, from := range []KeepFrom{FromRecord, FromCertification} {
			if r, ok := b.longest(kind, from, day); ok {
				all = append(all, r)
			}
		}
	}
	return all
}

func (b *Book) longest(kind RecordKind, from KeepFrom, day dated.Date) (longest Retention, found bool) {
	for at := b; at != nil; at = at.parent {
		s := at.retention[kind]
		if s == nil {
			continue
		}
		v, err := s.On(day)
		if err == nil && v.Value.From == from && (!found || v.Value.Years > longest.Years) {
			longest, found = Retention{kind, v.Value, at.key, v.Source}, true
		}
	}
	return longest, found
}

// Until returns the last day on which the record must still be kept, counted from the day that [Keep.From] names.
func (k Keep) Until(start dated.Date) dated.Date {
	y, m, d := start.Civil()
	return dated.NewDate(y+k.Years, m, d)
}

func (k Keep) protectsLike(held Keep) bool { return k.From == held.From && k.Years >= held.Years }

func readKeep(n dated.Node) Keep {
	f := n.Fields([]string{"years", "from"})
	return Keep{f["years"].Int(1), KeepFrom(f["from"].Word(string(FromRecord), string(FromCertification)))}
}
