package payroll

import (
	"encoding/json"
	"testing"
)

// FuzzReckon hands the engine whatever document can be read as a week. It must answer with a statement or with faults, whose
// lines add up, and never panic.
func FuzzReckon(f *testing.F) {
	f.Add([]byte(typicalWeek), uint8(0))
	f.Add([]byte(`{"days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 1500, "rate": "1000000000"}]}]}`), uint8(1))
	f.Add([]byte(`{"week_start": "9999-12-30", "days": [{"date": "9999-12-31", "reports": [{"scheduled_minutes": 1, "ended_by": "employer"}]}]}`), uint8(2))
	f.Add([]byte(`{"days": [{"date": "2026-02-16", "tallies": [{"operation": "x", "unit": "y", "pieces": "0.001", "rate": "0.0001", "part": {"share": "0.000001"}}]}]}`), uint8(3))
	f.Add([]byte(`{"days": [{"date": "2026-02-16", "time": [{"kind": "meal", "start": "2026-02-16T10:00:00-08:00", "end": "2026-02-16T10:30:00-08:00"}]}]}`), uint8(0))
	f.Fuzz(func(t *testing.T, doc []byte, book uint8) {
		w := &Week{WeekStart: faultDate.AddDays(-320)}
		if json.Unmarshal(doc, w) != nil {
			return
		}
		if w.Rulebook == "" {
			keys := books().Keys()
			w.Rulebook = keys[int(book)%len(keys)]
		}
		s, faults := Reckon(books(), w)
		if (s == nil) == (len(faults) == 0) {
			t.Fatal("neither, or both, a statement and faults")
		}
		if s == nil {
			return
		}
		var sum Cents
		for _, l := range s.Lines {
			sum += l.Amount
		}
		if sum != s.Totals.Net {
			t.Fatalf("lines come to %s, net is %s", sum, s.Totals.Net)
		}
		if stored, err := json.Marshal(s); err != nil || json.Unmarshal(stored, new(Statement)) != nil {
			t.Fatalf("it cannot be stored: %v", err)
		}
	})
}
