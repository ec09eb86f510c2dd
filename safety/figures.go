package safety

import "palmero/safety/rulebook"

// Answer is what a figure answers; it is encoded with encoding/json after it has been put into words.
type Answer interface{ Speak(Say) }

// Figure is one of the things that can be asked.
type Figure struct {
	Name   string
	New    func() any                                                    // an empty document, to be read into
	Answer func(books *rulebook.Library, document any) (Answer, []Fault) // exactly one of the two non-empty
}

// Figures lists them by name.
func Figures() []Figure {
	return []Figure{
		figure("clearance", func(in *Clearance) Head { return Head{in.Rulebook, in.Workday} }, clearance),
		figure("fall-clearance", func(in *FallClearance) Head { return in.Head }, fallClearance),
		figure("heat-index", func(in *HeatIndex) Head { return in.Head }, heatIndex),
		figure("incident-rate", func(in *IncidentRate) Head { return in.Head }, incidentRate),
		figure("ladder-setup", func(in *LadderSetup) Head { return in.Head }, ladderSetup),
		figure("lift-load", func(in *LiftLoad) Head { return in.Head }, liftLoad),
		figure("recordable", func(in *Recordable) Head { return in.Head }, recordable),
	}
}

// FigureOf returns the figure of a name.
func FigureOf(name string) (Figure, bool) {
	for _, f := range Figures() {
		if f.Name == name {
			return f, true
		}
	}
	return Figure{}, false
}

func figure[In, Out any](name string, head func(*In) Head, fn func(*sum, *In) *Out) Figure {
	return Figure{
		Name: name,
		New:  func() any { return new(In) },
		Answer: func(books *rulebook.Library, document any) (Answer, []Fault) {
			in := document.(*In)
			if faults := check(in); len(faults) > 0 {
				return nil, faults
			}
			s, faults := begin(books, head(in))
			if len(faults) > 0 {
				return nil, faults
			}
			if out := fn(s, in); len(s.faults) == 0 {
				return any(out).(Answer), nil
			}
			return nil, s.faults
		},
	}
}
