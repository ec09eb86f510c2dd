package safety

import (
	"reflect"
	"slices"
	"time"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// Say tells a message in the reader's language.
type Say func(key string, terms Terms) string

// Base is what every answer carries. Its messages are keys with terms until [Base.Speak] has put them into words.
type Base struct {
	Rulebook   string      `json:"rulebook"`
	On         dated.Date  `json:"on"`
	Parts      []Part      `json:"parts"` // of the sum, so that it can be redone by hand
	Provisions []Provision `json:"provisions"`
	Notes      []Note      `json:"notes"`
	Advice     string      `json:"advice"`
}

// Part is one part of a sum, or a limit that a figure was held to.
type Part struct {
	Name  string          `json:"name"`
	Value quantity.Number `json:"value"`
	Unit  string          `json:"unit"`
}

// Provision is what an answer rests on.
type Provision struct {
	Authority string         `json:"authority"`
	Title     string         `json:"title"`
	Link      string         `json:"link"`
	ReadOn    dated.Date     `json:"read_on"`
	Standing  dated.Standing `json:"standing"`
}

// Note is something to know about an answer.
type Note struct {
	Code  string `json:"code"`
	Text  string `json:"text"`
	terms Terms
}

// Class says whether a rule is the law's or the employer's own.
type Class = rulebook.Class

// Result is what a rule found.
type Result string

// The results that make a reason.
const (
	Violation Result = "violation"
	Missing   Result = "missing"
	Warning   Result = "warning"
)

// Reason is one thing that stands against going up, or that is to be kept in mind.
type Reason struct {
	Code      string `json:"code"`
	Class     Class  `json:"class"`
	Blocks    bool   `json:"blocks"`
	Result    Result `json:"result"`
	Text      string `json:"text"`
	Authority string `json:"authority"`
	Fact      string `json:"fact"` // JSON pointer of the fact
	key       string
	terms     Terms
}

// HeatIndexAnswer is how hot it feels, and what is owed at that air temperature.
type HeatIndexAnswer struct {
	HeatIndex quantity.Number `json:"heat_index_f"`
	Band      Band            `json:"band"`
	Duties    []Duty          `json:"duties"`
	Base
}

// Band is how dangerous the heat is.
type Band string

// The bands, from the least dangerous.
const (
	Lower    Band = "lower"
	Moderate Band = "moderate"
	High     Band = "high"
	VeryHigh Band = "very_high"
)

// Duty is something owed to people in the heat.
type Duty struct {
	Code      string `json:"code"`
	Text      string `json:"text"`
	Authority string `json:"authority"`
	terms     Terms
}

// FallClearanceAnswer is the room that a fall needs below it.
type FallClearanceAnswer struct {
	FreeFall  quantity.Number  `json:"free_fall_ft"`
	Required  quantity.Number  `json:"required_ft"`
	SwingDrop *quantity.Number `json:"swing_drop_ft"`
	Enough    *bool            `json:"enough"` // nil where it is not told how much room there is
	Base
}

// LadderAnswer is whether a ladder may be used, and how it is set up. A figure that lacks its facts is nil.
type LadderAnswer struct {
	BaseFt     *quantity.Number `json:"base_ft"`
	TopSupport *quantity.Number `json:"top_support_ft"`
	Angle      *quantity.Number `json:"angle_deg"`
	DutyLimit  *quantity.Number `json:"duty_limit_lb"`
	Total      *quantity.Number `json:"total_lb"`
	OK         bool             `json:"ok"`
	Reasons    []Reason         `json:"reasons"`
	Base
}

// LiftAnswer is whether a lift may go up as it is loaded and as the wind blows.
type LiftAnswer struct {
	Load    *quantity.Number `json:"load_lb"`
	Margin  *quantity.Number `json:"margin_lb"`
	OK      bool             `json:"ok"`
	Reasons []Reason         `json:"reasons"`
	Base
}

// RateAnswer is how often people were hurt, for every hundred in a year. The rates by kind are nil where only cases were counted.
type RateAnswer struct {
	Rate             quantity.Number  `json:"rate"`
	TotalRecordable  *quantity.Number `json:"total_recordable"`
	AwayOrRestricted *quantity.Number `json:"days_away_restricted"`
	DaysAway         *quantity.Number `json:"days_away"`
	Base
}

// RecordableAnswer is whether an injury goes into the log, and how soon it is reported.
type RecordableAnswer struct {
	Recordable        *bool            `json:"recordable"` // nil: cannot be told from what is known
	ReportWithinHours *quantity.Number `json:"report_within_hours"`
	Reasons           []Criterion      `json:"reasons"`
	Base
}

// Criterion is why an injury is recorded or reported, or what must be known to tell.
type Criterion struct {
	Code      string `json:"code"`
	Text      string `json:"text"`
	Authority string `json:"authority"`
	Fact      string `json:"fact"`
	terms     Terms
}

// ClearanceAnswer is whether a worker may go up. ValidUntil is nil where the moment of asking is unknown.
type ClearanceAnswer struct {
	Cleared    bool         `json:"cleared"`
	Overridden []Overridden `json:"overridden"`
	Reasons    []Reason     `json:"reasons"`
	ValidUntil *time.Time   `json:"valid_until"`
	Base
}

// Overridden is a reason of the house that a competent person has set aside for the day.
type Overridden struct {
	Code   string    `json:"code"`
	By     string    `json:"by"`
	Reason string    `json:"reason"`
	At     time.Time `json:"at"`
}

// Speak puts the messages into words.
func (b *Base) Speak(say Say) {
	for i := range b.Notes {
		b.Notes[i].Text = say("note."+b.Notes[i].Code, b.Notes[i].terms)
	}
	b.Advice = say("safety.advice", nil)
}

func speakReasons(reasons []Reason, say Say) {
	for i := range reasons {
		r := &reasons[i]
		r.Text = say(r.key, r.terms)
	}
}

// Speak puts the messages into words.
func (a *HeatIndexAnswer) Speak(say Say) {
	a.Base.Speak(say)
	for i := range a.Duties {
		a.Duties[i].Text = say("duty."+a.Duties[i].Code, a.Duties[i].terms)
	}
}

// Speak puts the messages into words.
func (a *LadderAnswer) Speak(say Say) { a.Base.Speak(say); speakReasons(a.Reasons, say) }

// Speak puts the messages into words.
func (a *LiftAnswer) Speak(say Say) { a.Base.Speak(say); speakReasons(a.Reasons, say) }

// Speak puts the messages into words.
func (a *ClearanceAnswer) Speak(say Say) { a.Base.Speak(say); speakReasons(a.Reasons, say) }

// Speak puts the messages into words.
func (a *RecordableAnswer) Speak(say Say) {
	a.Base.Speak(say)
	for i := range a.Reasons {
		a.Reasons[i].Text = say("criterion."+a.Reasons[i].Code, a.Reasons[i].terms)
	}
}

// Against makes a reason that no rule of the book gives: a decision of people, such as a stop, or a record that is not there. It cannot be set aside.
func Against(code string, result Result, authority, fact string, terms Terms) Reason {
	return Reason{Code: code, Class: rulebook.House, Blocks: true, Result: result, Authority: authority, Fact: fact, key: "reason." + code, terms: terms}
}

// Stand puts a reason into an answer, which no longer clears.
func (a *ClearanceAnswer) Stand(r Reason) {
	a.Reasons = append([]Reason{r}, a.Reasons...)
	a.Cleared, a.ValidUntil = false, nil
}

// Join takes in the answer for another ladder or lift that the same worker uses: cleared is who is cleared with both.
func (a *ClearanceAnswer) Join(b *ClearanceAnswer) {
	for _, r := range b.Reasons {
		same := func(known Reason) bool {
			return known.Code == r.Code && known.Fact == r.Fact && reflect.DeepEqual(known.terms, r.terms)
		}
		if !slices.ContainsFunc(a.Reasons, same) {
			a.Reasons = append(a.Reasons, r)
		}
	}
	a.Cleared = a.Cleared && b.Cleared
	if !a.Cleared || b.ValidUntil == nil {
		a.ValidUntil = nil
	} else if a.ValidUntil != nil && b.ValidUntil.Before(*a.ValidUntil) {
		a.ValidUntil = b.ValidUntil
	}
}
