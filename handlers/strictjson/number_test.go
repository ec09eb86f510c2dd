package strictjson

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// metred is a length that remembers under which name it came.
type metred struct{ Name, Digits string }

func (m *metred) UnmarshalNumber(name, number string) error {
	if len(number) > 6 {
		return errors.New("too fine")
	}
	*m = metred{name, number}
	return nil
}

// maybe is true, false, or said to be neither.
type maybe struct{ Said string }

func (m *maybe) UnmarshalNull()       { m.Said = "null" }
func (m *maybe) UnmarshalBool(b bool) { m.Said = map[bool]string{true: "yes", false: "no"}[b] }

type measured struct {
	Height *metred  `json:"height_ft,omitempty" twin:"height_m"`
	Parts  []metred `json:"parts_ft,omitempty" twin:"parts_m"`
	Set    maybe    `json:"set,omitzero"`
	Deep   *metred  `json:"deep_ft" twin:"deep_m"`
}

func TestNumbersTwinsAndNulls(t *testing.T) {
	deep := &metred{"deep_ft", "1"}
	for _, tc := range []struct {
		in   string
		want measured
	}{
		{`{"deep_ft": 1, "height_ft": 7.50}`, measured{Deep: deep, Height: &metred{"height_ft", "7.50"}}},
		{`{"deep_ft": 1, "height_m": 2.286}`, measured{Deep: deep, Height: &metred{"height_m", "2.286"}}},
		{`{"deep_m": 1e2, "parts_m": [1, -2]}`, measured{Deep: &metred{"deep_m", "1e2"}, Parts: []metred{{"parts_m", "1"}, {"parts_m", "-2"}}}},
		{`{"deep_ft": 1, "height_ft": null, "set": null}`, measured{Deep: deep, Set: maybe{"null"}}},
		{`{"deep_ft": 1, "set": true}`, measured{Deep: deep, Set: maybe{"yes"}}},
		{`{"deep_ft": 1, "set": false}`, measured{Deep: deep, Set: maybe{"no"}}},
	} {
		var got measured
		if faults := Decode([]byte(tc.in), &got); len(faults) > 0 {
			t.Errorf("%s: %v", tc.in, faults)
		} else if diff := cmp.Diff(tc.want, got); diff != "" {
			t.Errorf("%s: %s", tc.in, diff)
		}
	}
	for in, want := range map[string]string{
		`{"deep_ft": 1, "height_ft": "7.5"}`:            "/height_ft input.want_number",
		`{"deep_ft": 1, "height_m": true}`:              "/height_m input.want_number",
		`{"deep_ft": 1, "height_ft": 1.00000000}`:       "/height_ft input.number_too_fine",
		`{"deep_ft": 1, "parts_m": [1, 1.00000000]}`:    "/parts_m/1 input.number_too_fine",
		`{"deep_ft": 1, "height_ft": 1, "height_m": 1}`: "/height_m input.twin",
		`{"deep_ft": 1, "height_m": 1, "height_m": 1}`:  "/height_m input.twin",
		`{"height_ft": 1}`:                              "/deep_ft input.missing",
		`{"deep_ft": 1, "set": 0}`:                      "/set input.want_boolean",
		`{"deep_ft": 1, "heightFt": 0}`:                 "/heightFt input.unknown_meant",
	} {
		faults := Decode([]byte(in), new(measured))
		if len(faults) != 1 || faults[0].Pointer+" "+faults[0].Key != want {
			t.Errorf("%s: %v, want %s", in, faults, want)
		}
	}
}
