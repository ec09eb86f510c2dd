package pages

import (
	"errors"
	"net/url"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

func TestFormValues(t *testing.T) {
	id := uuid.MustParse("019b8f19-ee80-7003-8000-000000000004")
	f := &Form{values: url.Values{
		"day": {" 2026-03-02 "}, "pieces": {"64.5"}, "rate": {"1.155"}, "cents": {"12.00"}, "whole": {"-3"}, "ref": {id.String()}, "empty": {" "},
		"no-day": {"March"}, "no-pieces": {"many"}, "lines.0.pieces": {"1e3"},
	}}
	got := []any{f.Day("day"), f.Pieces("pieces"), f.Rate("rate"), f.Cents("cents"), f.Whole("whole"), f.Ref("ref"), f.Day("empty"), f.Pieces("empty"), f.Whole("missing")}
	want := []any{dated.MustDate("2026-03-02"), payroll.Pieces(64_500), payroll.Rate(11_550), payroll.Cents(12_00), int64(-3), id, dated.Date{}, payroll.Pieces(0), int64(0)}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("value %d: %v, want %v", i, got[i], want[i])
		}
	}
	if err := f.Faulty(); err != nil {
		t.Error(err)
	}
	f.Day("no-day")
	f.Pieces("no-pieces")
	f.Whole("lines.0.pieces")
	var e *models.Error
	if !errors.As(f.Faulty(), &e) {
		t.Fatal(f.Faulty())
	}
	var pointers []string
	for _, fault := range e.Faults {
		pointers = append(pointers, fault.Pointer+" "+fault.Key)
	}
	if diff := cmp.Diff([]string{"/no-day input.not_date", "/no-pieces input.not_decimal", "/lines/0/pieces input.not_whole"}, pointers); diff != "" {
		t.Error(diff)
	}
}

func TestInput(t *testing.T) {
	f := newForm(map[string]string{"garden": "2", "secret": "under the palms"})
	f.Faults = []FieldFault{{"garden", "There is no such garden."}}
	i, err := input(f, "garden", "Garden", "type", "select", "hint", "Where the work was done.", "required", true, "options", []Option{{Value: "1"}, {Value: "2"}})
	if err != nil || i.Options[0].Chosen || !i.Options[1].Chosen || i.Describes() != "garden-hint garden-fault" {
		t.Errorf("%+v, %v", i, err)
	}
	if i, err := input(f, "secret", "Secret", "type", "password"); err != nil || i.Value != "" {
		t.Errorf("a secret is shown again: %+v, %v", i, err)
	}
	for _, wrong := range [][]any{{"colour", "green"}, {"rows", "4"}, {"required", "yes"}} {
		if _, err := input(f, "garden", "Garden", wrong...); err == nil {
			t.Errorf("%v was taken", wrong)
		}
	}
	if i, err := input(nil, "garden", "Garden"); err != nil || i.Value != "" || i.Fault != "" {
		t.Errorf("without a form: %+v, %v", i, err)
	}
}
