package payroll

import "testing"

// typicalWeek is six days of a picker in California: piece work in two operations, a shared lot, meetings, rest, heat.
const typicalWeek = `{"id": "W14", "employer_size": 40, "hourly_rate": "17.50", "days": [
	{"date": "2026-02-16", "time": [{"kind": "nonproductive", "minutes": 15}, {"kind": "piece", "minutes": 445}, {"kind": "rest", "minutes": 20}, {"kind": "meal", "minutes": 30}],
	 "tallies": [{"operation": "pollination", "unit": "bunch", "pieces": "160", "rate": "1.15"}]},
	{"date": "2026-02-17", "time": [{"kind": "nonproductive", "minutes": 15}, {"kind": "piece", "minutes": 445}, {"kind": "rest", "minutes": 20}, {"kind": "meal", "minutes": 30}],
	 "tallies": [{"operation": "pollination", "unit": "bunch", "pieces": "148", "rate": "1.15"}, {"operation": "thinning", "unit": "bunch", "pieces": "40", "rate": "0.85"}]},
	{"date": "2026-02-18", "time": [{"kind": "nonproductive", "minutes": 15}, {"kind": "piece", "minutes": 385}, {"kind": "hourly", "minutes": 60}, {"kind": "rest", "minutes": 20}, {"kind": "meal", "minutes": 30}],
	 "tallies": [{"operation": "pollination", "unit": "bunch", "pieces": "120", "rate": "1.15"}, {"operation": "bagging", "unit": "bunch", "pieces": "900", "rate": "0.4", "part": {"minutes": 120, "lot_minutes": 720}}]},
	{"date": "2026-02-19", "time": [{"kind": "nonproductive", "minutes": 15}, {"kind": "piece", "minutes": 505}, {"kind": "rest", "minutes": 20}, {"kind": "recovery", "minutes": 10}, {"kind": "meal", "minutes": 30}],
	 "tallies": [{"operation": "pollination", "unit": "bunch", "pieces": "171", "rate": "1.15"}], "periods_not_provided": ["meal"]},
	{"date": "2026-02-20", "time": [{"kind": "nonproductive", "minutes": 15}, {"kind": "piece", "minutes": 445}, {"kind": "rest", "minutes": 20}, {"kind": "meal", "minutes": 30}],
	 "tallies": [{"operation": "pollination", "unit": "bunch", "pieces": "90", "rate": "1.15"}, {"operation": "thinning", "unit": "bunch", "pieces": "31", "rate": "0.85"}]},
	{"date": "2026-02-21", "time": [{"kind": "piece", "minutes": 290}, {"kind": "rest", "minutes": 10}],
	 "tallies": [{"operation": "thinning", "unit": "bunch", "pieces": "110", "rate": "0.85"}]}],
	"bonuses": [{"kind": "production", "amount": "25.00"}]}`

// BenchmarkReckon measures the engine alone, without the reading of the document.
func BenchmarkReckon(b *testing.B) {
	w := week(b, typicalWeek)
	library := books()
	b.ReportAllocs()
	for b.Loop() {
		if _, faults := Reckon(library, w); len(faults) > 0 {
			b.Fatal(faults)
		}
	}
}
