package quantity

import (
	"encoding/json"
	"errors"
	"testing"
)

func read(t *testing.T, name, text string) Number {
	t.Helper()
	var n Number
	if err := n.UnmarshalNumber(name, text); err != nil {
		t.Fatalf("%s %s: %v", name, text, err)
	}
	return n
}

// The twins meet their customary units exactly, by the definitions of foot, inch, pound, mile per hour and degree.
func TestTwinsAreExact(t *testing.T) {
	for _, tc := range []struct{ name, text, twin, metric string }{
		{"height_ft", "7.5", "height_m", "2.286"},
		{"height_ft", "20", "height_m", "6.096"},
		{"rung_spacing_in", "12", "rung_spacing_mm", "304.8"},
		{"rated_lb", "250", "rated_kg", "113.39809250"},
		{"temperature_f", "95", "temperature_c", "35"},
		{"temperature_f", "-40", "temperature_c", "-40"},
		{"wind_mph", "28", "wind_m_s", "12.51712"},
	} {
		customary, metric := read(t, tc.name, tc.text), read(t, tc.twin, tc.metric)
		if customary.Cmp(metric) != 0 {
			t.Errorf("%s %s is %s, not %s", tc.twin, tc.metric, metric, customary)
		}
		if Twin(tc.name) != tc.twin || metric.Pointer("/a/"+tc.name) != "/a/"+tc.twin || customary.Pointer("/a/"+tc.name) != "/a/"+tc.name {
			t.Errorf("the twin of %s is %s", tc.name, Twin(tc.name))
		}
		if back := customary.In(tc.name, &metric); back.Cmp(read(t, "", tc.metric)) != 0 || customary.In(tc.name, &customary).Cmp(customary) != 0 {
			t.Errorf("%s %s is %s in metric", tc.name, tc.text, back)
		}
	}
	var unknown *Number
	if unknown.Pointer("/height_ft") != "/height_ft" || Twin("others") != "" {
		t.Error("a name without a twin got one")
	}
}

func TestReading(t *testing.T) {
	for text, want := range map[string]string{"0": "0", "-0": "0", "27.9": "27.9", "1e3": "1000", "2.5E-1": "0.25", "0.1234567": "0.123457", "-1.50": "-1.5"} {
		written, err := json.Marshal(read(t, "", text))
		if err != nil || string(written) != want {
			t.Errorf("%s is written as %s, %v; want %s", text, written, err, want)
		}
	}
	for text, want := range map[string]error{
		"": ErrNotNumber, "null": ErrNotNumber, "1/3": ErrNotNumber, "0x1p-2": ErrNotNumber, "1.2.3": ErrNotNumber, "NaN": ErrNotNumber,
		"1e400000000": ErrTooFine, "1e-16": ErrTooFine, "0.00000000000000000000000000000000000000000001": ErrTooFine,
	} {
		var n Number
		if err := n.UnmarshalJSON([]byte(text)); !errors.Is(err, want) {
			t.Errorf("%q: %v, want %v", text, err, want)
		}
	}
}

func TestArithmetic(t *testing.T) {
	tenth := Thousandths(100)
	if Sum([]Number{tenth, tenth, tenth}).Cmp(Thousandths(300)) != 0 || Of(1).Per(Of(3)).Times(Of(3)).Cmp(Of(1)) != 0 {
		t.Error("a third of something is lost")
	}
	if got := Of(1).Per(Of(3)).String(); got != "0.333" {
		t.Error(got)
	}
	if got := Thousandths(6850).Round(1).String(); got != "6.9" {
		t.Errorf("6.85 rounds to %s", got)
	}
	if got := Near(-2.345678, 2).String(); got != "-2.35" {
		t.Error(got)
	}
	one, two := Of(1), Of(2)
	if Max(one, two) != two || Max(two, one) != two || Min(one, two) != one || Min(two, one) != one || !two.Over(one) || one.Over(one) || !one.Under(two) || one.Under(one) {
		t.Error("order is lost")
	}
	if (Number{}).Cmp(Of(0)) != 0 || Of(5).Minus(Of(2)).Float() != 3 {
		t.Error("zero is not 0")
	}
}
