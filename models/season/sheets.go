package season

import (
	"math/rand/v2"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
)

// sendingTakes is how long after the day's end a sheet comes in: the lead walks to where the phone has a signal.
const sendingTakes = 12 * time.Minute

// planSheets has every crew day's sheet sent in when the day has ended.
func (s *seeding) planSheets() {
	for i, d := range s.Days {
		sheet := s.sheet(i+1, d)
		s.moments = append(s.moments, moment{*sheet.SentAt, func() error {
			return s.in(s.leadAccount(d.Crew), func(tx *models.Tx) error {
				_, err := intake.SubmitAsLead(tx, sheet, intake.Whole)
				return err
			})
		}})
	}
}

// ends is when a day's shape ends, on the garden's clock.
func (s *seeding) ends(d crewDay) string {
	shape := s.Shapes[d.Shape]
	return shape[len(shape)-1]
}

func (s *seeding) leadAccount(crew int) uuid.UUID {
	lead := s.Crews[crew-1].Members[0]
	return id(ofAccount, number(s.Accounts, func(a account) bool { return a.Worker == lead }))
}

func (s *seeding) operation(code string) uuid.UUID {
	return id(ofOperation, number(s.Operations, func(o operation) bool { return o.Code == code }))
}

func (s *seeding) block(code string) uuid.UUID {
	return id(ofBlock, number(s.Blocks, func(b block) bool { return b.Code == code }))
}

// line makes the identifier of the next line.
func (s *seeding) line() uuid.UUID {
	s.lines++
	return id(ofLine, s.lines)
}

// sheet is a crew day as its lead's phone would send it.
func (s *seeding) sheet(n int, d crewDay) intake.Sheet {
	recorded := *s.at(d, s.ends(d))
	sheet := intake.Sheet{ID: id(ofSheet, n), CrewID: id(ofCrew, d.Crew), Workday: models.Day(d.Day), GardenID: id(ofGarden, 1), RecordedAt: recorded}
	sent := recorded.Add(sendingTakes)
	sheet.SentAt = &sent
	hands := s.hands(d)
	if d.NewHand != "" {
		hands = append(hands, len(s.Workers)+1)
		sheet.NewWorkers = []intake.NewWorker{{ID: id(ofWorker, len(s.Workers)+1), Name: d.NewHand}}
	}
	for _, w := range hands {
		sheet.Roll = append(sheet.Roll, id(ofWorker, w))
		s.addTime(&sheet, d, w)
	}
	for half, w := range d.Work {
		s.addCounts(&sheet, d, w, half, hands)
	}
	for _, w := range d.NoSecondRest {
		sheet.Breaks = append(sheet.Breaks, intake.BreakLine{ID: s.line(), WorkerID: id(ofWorker, w), Fact: models.RestNotProvided})
	}
	return sheet
}

// hands are the numbers of the workers who were there.
func (s *seeding) hands(d crewDay) []int {
	if d.Only != nil {
		return slices.Clone(d.Only)
	}
	return slices.DeleteFunc(slices.Clone(s.Crews[d.Crew-1].Members), func(w int) bool { return slices.Contains(d.Absent, w) })
}

func (s *seeding) leads(worker int) bool {
	return slices.ContainsFunc(s.Accounts, func(a account) bool { return a.Role == models.RoleCrewLead && a.Worker == worker })
}

// at is a time of a crew day. The shapes are our own; one that cannot be read leaves a zero time, which the intake refuses.
func (s *seeding) at(d crewDay, clock string) *time.Time {
	t, _ := clockTime(d.Day.String()+" "+clock, s.loc)
	return &t
}

// stretch is a part of a day's shape.
type stretch struct {
	kind       payroll.TimeKind
	start, end *time.Time
	half       int // 0 before the meal period, 1 after it
}

func (s *seeding) stretches(d crewDay) []stretch {
	shape := s.Shapes[d.Shape]
	var all []stretch
	half := 0
	for i := 0; i+2 < len(shape); i += 2 {
		kind := payroll.TimeKind(shape[i+1])
		if kind == payroll.MealPeriod {
			half = len(d.Work) - 1
		}
		all = append(all, stretch{kind, s.at(d, shape[i]), s.at(d, shape[i+2]), half})
	}
	return all
}

// addTime adds a worker's day. Leads are paid by the hour; all others work by the piece.
func (s *seeding) addTime(sheet *intake.Sheet, d crewDay, worker int) {
	all := s.stretches(d)
	lastRest := number(all, func(t stretch) bool { return t.kind == payroll.Rest && t.half == all[len(all)-1].half })
	for i, t := range all {
		switch {
		case t.kind == payroll.MealPeriod && slices.Contains(d.NoMeal, worker), i == lastRest-1 && (slices.Contains(d.NoSecondRest, worker) || slices.Contains(d.NoRestTold, worker)):
			t.kind = payroll.Piece
		case s.leads(worker) && (t.kind == payroll.Piece || t.kind == payroll.Nonproductive):
			t.kind = payroll.Hourly
		}
		line := intake.TimeLine{ID: s.line(), WorkerID: id(ofWorker, worker), Kind: t.kind, Start: t.start, End: t.end, BlockID: ref(s.block(d.Work[t.half].In))}
		if t.kind == payroll.Piece {
			line.OperationID = ref(s.operation(d.Work[t.half].Of))
		}
		if i == len(all)-1 && slices.Contains(d.ForgotToStop, worker) {
			line.End = nil
		}
		sheet.Time = append(sheet.Time, line)
	}
}

// usualMinutes are the piece minutes of a full day, in which a practised hand does the usual count.
const usualMinutes = 445

// addCounts adds what each hand did of one piece of work, or the lot that they made together.
func (s *seeding) addCounts(sheet *intake.Sheet, d crewDay, w work, half int, hands []int) {
	minutes := 0
	for _, t := range s.stretches(d) {
		if t.kind == payroll.Piece && t.half == half {
			minutes += int(t.end.Sub(*t.start).Minutes())
		}
	}
	lot := intake.LotLine{BlockID: s.block(w.In), OperationID: s.operation(w.Of), Parting: intake.ByHeads}
	for _, hand := range hands {
		if s.leads(hand) {
			continue
		}
		pieces := s.count(d, w, hand, minutes)
		if w.Lot {
			lot.Pieces += pieces
			lot.Parts = append(lot.Parts, intake.LotPart{ID: s.line(), WorkerID: id(ofWorker, hand)})
			continue
		}
		sheet.Tallies = append(sheet.Tallies, intake.TallyLine{ID: s.line(), WorkerID: id(ofWorker, hand), BlockID: lot.BlockID, OperationID: lot.OperationID, Pieces: pieces})
	}
	if w.Lot {
		lot.ID = s.line()
		sheet.Lots = append(sheet.Lots, lot)
	}
}

// newHandPace is the pace of somebody who is new to the work, in percent of the usual.
const newHandPace = 70

// count is what a worker did in so many minutes: by their pace and the height of the palms, better or worse by a few percent from day to
// day. Chance is seeded by the day and the worker, so every season is the same.
func (s *seeding) count(d crewDay, w work, worker, minutes int) payroll.Pieces {
	for _, c := range d.Counts {
		if c.Worker == worker && c.Of == w.Of {
			return c.Pieces
		}
	}
	pace := newHandPace
	if worker <= len(s.Workers) {
		pace = s.Workers[worker-1].Pace
	}
	usual := s.Operations[number(s.Operations, func(o operation) bool { return o.Code == w.Of })-1].Usual
	tall := s.Blocks[number(s.Blocks, func(b block) bool { return b.Code == w.In })-1].TallestCM
	climb := 100 - max(0, int(tall)-900)/32
	luck := 94 + rand.New(rand.NewPCG(uint64(d.Day.DaysSince(seasonStart.Date)), uint64(worker))).IntN(13)
	return payroll.Pieces(usual*pace*climb*luck*minutes/(usualMinutes*1_000_000)) * 1000
}
