package safety

import (
	"bytes"
	"encoding/json"
	"time"

	"palmero/payroll/dated"
)

// Restriction is until when an area may not be entered. Null says that there is none, which is not the same as saying nothing.
type Restriction struct {
	Known bool
	Until *time.Time // not before this moment
	Last  dated.Date // or not on this day or before
}

// UnmarshalNull takes a null: known, and none.
func (r *Restriction) UnmarshalNull() { *r = Restriction{Known: true} }

// UnmarshalText reads a moment (RFC 3339) or the last day.
func (r *Restriction) UnmarshalText(b []byte) error {
	if day, err := dated.ParseDate(string(b)); err == nil {
		*r = Restriction{Known: true, Last: day}
		return nil
	}
	until, err := time.Parse(time.RFC3339, string(b))
	if err != nil {
		return err
	}
	*r = Restriction{Known: true, Until: &until}
	return nil
}

// UnmarshalJSON reads what UnmarshalText and UnmarshalNull read.
func (r *Restriction) UnmarshalJSON(b []byte) error {
	if bytes.Equal(b, []byte("null")) {
		r.UnmarshalNull()
		return nil
	}
	var text string
	if err := json.Unmarshal(b, &text); err != nil {
		return err
	}
	return r.UnmarshalText([]byte(text))
}

// MarshalJSON writes the restriction as it is read.
func (r Restriction) MarshalJSON() ([]byte, error) {
	switch {
	case r.Until != nil:
		return json.Marshal(r.Until)
	case !r.Last.IsZero():
		return json.Marshal(r.Last)
	}
	return []byte("null"), nil
}

// holds tells whether the area is closed on the workday, at the moment where that is known.
func (r *Restriction) holds(workday dated.Date, at *time.Time) bool {
	switch {
	case r.Until != nil && at != nil:
		return at.Before(*r.Until)
	case r.Until != nil:
		return true // the moment is unknown
	}
	return !r.Last.IsZero() && !workday.After(r.Last)
}

// lastDay is the last day that the restriction touches, the zero date where there is none.
func (r *Restriction) lastDay() dated.Date {
	if r.Until != nil {
		return dated.DateOf(*r.Until)
	}
	return r.Last
}

// Outriggers are set or not; null says that the lift has none.
type Outriggers struct {
	Known, None, Set bool
}

// UnmarshalNull takes a null: the lift has none.
func (o *Outriggers) UnmarshalNull() { *o = Outriggers{Known: true, None: true} }

// UnmarshalBool takes whether they are set.
func (o *Outriggers) UnmarshalBool(set bool) { *o = Outriggers{Known: true, Set: set} }

// UnmarshalJSON reads null, true or false.
func (o *Outriggers) UnmarshalJSON(b []byte) error {
	if bytes.Equal(b, []byte("null")) {
		o.UnmarshalNull()
		return nil
	}
	var set bool
	if err := json.Unmarshal(b, &set); err != nil {
		return err
	}
	o.UnmarshalBool(set)
	return nil
}

// MarshalJSON writes the outriggers as they are read.
func (o Outriggers) MarshalJSON() ([]byte, error) {
	if !o.Known || o.None {
		return []byte("null"), nil
	}
	return json.Marshal(o.Set)
}
