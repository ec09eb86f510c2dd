package payroll

import (
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"palmero/payroll/dated"
)

func TestTermsKeepTheirTypes(t *testing.T) {
	day := dated.MustDate("2026-02-16")
	want := Terms{
		"text": "rate", "number": -3, "yes": true, "no": false, "cents": Cents(-105), "rate": Rate(11_500), "pieces": Pieces(12_500), "minutes": Minutes(450), "date": day,
		"texts": []string{"a", "b"}, "none": []string{}, "sums": []Cents{1, 2}, "rates": []Rate{1}, "counts": []Pieces{}, "lengths": []Minutes{3}, "dates": []dated.Date{day}, "numbers": []int{1}, "answers": []bool{true},
	}
	stored, err := json.Marshal(want)
	if err != nil {
		t.Fatal(err)
	}
	var got Terms
	if err := json.Unmarshal(stored, &got); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got, cmp.AllowUnexported(dated.Date{})); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestTermsRefuseWhatIsNone(t *testing.T) {
	if _, err := json.Marshal(Terms{"x": 1.5}); err == nil {
		t.Error("a fraction was stored")
	}
	for _, stored := range []string{`{"x": 1.5}`, `{"x": null}`, `{"x": {"rate": "1", "cents": "1"}}`, `{"x": {"weight": "1"}}`, `{"x": [1]}`, `{"x": {"rate": 1}}`, `[]`} {
		var got Terms
		if err := json.Unmarshal([]byte(stored), &got); err == nil {
			t.Errorf("%s was read as %v", stored, got)
		}
	}
}

func TestStatementsComeBackFromStorage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, want := draw(t)
		stored, err := json.Marshal(want)
		if err != nil {
			t.Fatal(err)
		}
		got := new(Statement)
		if err := json.Unmarshal(stored, got); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got, cmp.AllowUnexported(dated.Date{})); diff != "" {
			t.Fatalf("(-want +got):\n%s", diff)
		}
	})
}
