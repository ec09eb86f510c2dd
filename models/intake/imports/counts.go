package imports

import (
	"strings"
	"time"

	"palmero/models/intake"
	"palmero/payroll"
)

// Part is a kind of record that rows become.
type Part string

// The parts, in the order in which they are told.
const (
	SheetPart      Part = "crew_sheets"
	TimePart       Part = "time_entries"
	TallyPart      Part = "tallies"
	LotPart        Part = "lots"
	BreakPart      Part = "periods_not_provided"
	WorkerPart     Part = "workers"
	BlockPart      Part = "blocks"
	PieceRatePart  Part = "piece_rates"
	HourlyRatePart Part = "hourly_rates"
)

// Parts lists them.
var Parts = []Part{SheetPart, TimePart, TallyPart, LotPart, BreakPart, WorkerPart, BlockPart, PieceRatePart, HourlyRatePart}

// PartCount is how many records of a part a file makes.
type PartCount struct {
	Recorded  int `json:"recorded"`  // new ones
	Corrected int `json:"corrected"` // how many of them stand in the place of others
	Repeated  int `json:"repeated"`  // that were there before
}

// Counts are what a file comes to, to be held against the paper.
type Counts struct {
	Parts   map[Part]PartCount `json:"parts"`
	Pieces  payroll.Pieces     `json:"pieces"`  // of the tallies and lots, those that were there before included
	Minutes payroll.Minutes    `json:"minutes"` // of the time entries, likewise, meal periods left out
}

func (c *Counts) add(part Part, outcome intake.Outcome, corrects bool) {
	if c.Parts == nil {
		c.Parts = map[Part]PartCount{}
	}
	n := c.Parts[part]
	switch {
	case outcome == intake.Repeated:
		n.Repeated++
	case outcome == intake.Recorded:
		if n.Recorded++; corrects {
			n.Corrected++
		}
	}
	c.Parts[part] = n
}

// sheetParts are the parts of a sheet, by the list that holds their lines.
var sheetParts = map[string]Part{"time": TimePart, "tallies": TallyPart, "lots": LotPart, "breaks": BreakPart, "new_workers": WorkerPart}

// addSheet counts a sheet by what became of its lines.
func (c *Counts) addSheet(s *intake.Sheet, r *intake.Receipt) {
	outcome := intake.Recorded
	if r.Repeated {
		outcome = intake.Repeated
	}
	c.add(SheetPart, outcome, false)
	corrects := map[string]bool{}
	for i, l := range s.Time {
		corrects["/time/"+itoa(i)] = l.Supersedes != nil
		if l.Kind != payroll.MealPeriod {
			c.Minutes += lengthOf(l)
		}
	}
	for i, l := range s.Tallies {
		corrects["/tallies/"+itoa(i)] = l.Supersedes != nil
		c.Pieces += l.Pieces
	}
	for i, l := range s.Lots {
		corrects["/lots/"+itoa(i)] = l.Supersedes != nil
		c.Pieces += l.Pieces
	}
	for i, l := range s.Breaks {
		corrects["/breaks/"+itoa(i)] = l.Supersedes != nil
	}
	for _, l := range r.Lines {
		list, _, _ := strings.Cut(strings.TrimPrefix(l.Pointer, "/"), "/")
		if part, ok := sheetParts[list]; ok && strings.Count(l.Pointer, "/") == 2 {
			c.add(part, l.Outcome, corrects[l.Pointer])
		}
	}
}

func lengthOf(l intake.TimeLine) payroll.Minutes {
	if l.Minutes != nil {
		return *l.Minutes
	}
	if l.Start == nil || l.End == nil {
		return 0
	}
	return payroll.Minutes(l.End.Sub(*l.Start) / time.Minute)
}
