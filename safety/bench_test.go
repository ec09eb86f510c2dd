package safety

import (
	"encoding/json"
	"testing"
)

// BenchmarkClearance answers for one worker, each way up, with nothing left to find.
func BenchmarkClearance(b *testing.B) {
	figure, _ := FigureOf("clearance")
	for _, way := range ways {
		b.Run(way, func(b *testing.B) {
			text, err := json.Marshal(passing(way))
			if err != nil {
				b.Fatal(err)
			}
			in := figure.New()
			if err := json.Unmarshal(text, in); err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				if answer, faults := figure.Answer(books(), in); len(faults) > 0 || !answer.(*ClearanceAnswer).Cleared {
					b.Fatalf("%+v %v", answer, faults)
				}
			}
		})
	}
}
