package season

import (
	"encoding/json"
	"errors"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/climbs"
	"palmero/models/gear"
	"palmero/payroll/dated"
	"palmero/safety"
)

// morning is a crew's morning before the work: where it goes, and what was prepared.
type morning struct {
	crew   int
	day    dated.Date
	blocks []string
	setups []uuid.UUID // one for each block
}

// planMornings has every crew prepare its climbs on every day of work: the officer plans for the heat, the leads go through the lists, say how they go up, and ask who may; the
// officer reviews the lists. Today's last list nobody has looked at yet.
func (s *seeding) planMornings() {
	var days []dated.Date
	var mornings []*morning
	for _, d := range s.Days {
		if !slices.Contains(days, d.Day) {
			days = append(days, d.Day)
			s.planHeat(d.Day)
		}
		i := slices.IndexFunc(mornings, func(m *morning) bool { return m.crew == d.Crew && m.day == d.Day })
		if i < 0 {
			i, mornings = len(mornings), append(mornings, &morning{crew: d.Crew, day: d.Day})
		}
		for _, w := range d.Work {
			if m := mornings[i]; !slices.Contains(m.blocks, w.In) {
				m.blocks = append(m.blocks, w.In)
			}
		}
	}
	for _, m := range mornings {
		s.planMorning(m)
	}
}

func (s *seeding) planMorning(m *morning) {
	day := m.day.String()
	s.plan(day+" 06:12", func() error { return s.prepare(m) })
	s.plan(day+" 06:25", func() error {
		return s.in(s.leadAccount(m.crew), func(tx *models.Tx) error {
			_, _, err := clearance.Give(tx, s.climbing.Rules, s.next(ofClearance), id(ofCrew, m.crew), m.day, s.say)
			return err
		})
	})
	if m.day == s.HotDay.Day {
		s.plan(day+" "+s.HotDay.LookedAgain, func() error { return s.sayHow(m, "Looked again after the rest") })
	}
}

// prepare fills in a list for each way up and says how the crew goes up in each block. The officer accepts the lists, but for today's of the first crew.
func (s *seeding) prepare(m *morning) error {
	if m.crew == 2 {
		if err := s.inspect(s.leadNumber(m.crew), &s.Equipment[s.harness(m.crew)], gear.Inspection{Stamp: s.stamp(m.day.String() + " 06:05"), Kind: models.PreUseInspection, Person: s.leadName(m.crew)}); err != nil {
			return err
		}
	}
	for _, way := range s.waysOf(m) {
		list, err := s.fill(m, way, nil)
		if err == nil && m.day == s.HotDay.Day && way == "attached_ladder" {
			err = s.findBadChain(m, list)
		} else if err == nil {
			err = s.accept(list)
		}
		if err != nil {
			return err
		}
	}
	return s.sayHow(m, "")
}

func (s *seeding) leadNumber(crew int) int {
	lead := s.Crews[crew-1].Members[0]
	return number(s.Accounts, func(a account) bool { return a.Worker == lead })
}

func (s *seeding) leadName(crew int) string { return s.Workers[s.Crews[crew-1].Members[0]-1].Name }

func (s *seeding) harness(crew int) int {
	return number(s.Equipment, func(p piece) bool { return p.Kind == models.Harness && p.Crew == crew }) - 1
}

func (s *seeding) wayTo(block string) *way {
	return &s.Ways[number(s.Ways, func(w way) bool { return slices.Contains(w.Blocks, block) })-1]
}

// waysOf lists the ways up of a crew's day.
func (s *seeding) waysOf(m *morning) (ways []string) {
	for _, b := range m.blocks {
		if w := s.wayTo(b).Way; !slices.Contains(ways, w) {
			ways = append(ways, w)
		}
	}
	return ways
}

// takenTo lists the codes of what a crew takes to some blocks.
func (s *seeding) takenTo(crew int, blocks ...string) (codes []string) {
	for _, p := range s.Equipment {
		there := slices.ContainsFunc(blocks, func(b string) bool { return slices.Contains(p.Ways, b) })
		if there && (p.Crew == 0 || p.Crew == crew) && !slices.Contains(s.stopped, p.Code) {
			codes = append(codes, p.Code)
		}
	}
	return codes
}

func (s *seeding) pieces(codes []string) []uuid.UUID {
	ids := make([]uuid.UUID, len(codes))
	for i, code := range codes {
		ids[i] = s.piece(code)
	}
	return ids
}

// fill fills in the list of a way, everything in order but for what was found, on its own or in place of another.
func (s *seeding) fill(m *morning, way string, found []models.ItemAnswer, supersedes ...uuid.UUID) (uuid.UUID, error) {
	blocks := slices.DeleteFunc(slices.Clone(m.blocks), func(b string) bool { return s.wayTo(b).Way != way })
	list := s.climbing.Lists[way]
	in := climbs.Filling{
		ID: s.next(ofChecklist), CrewID: id(ofCrew, m.crew), GardenID: id(ofGarden, 1), Workday: models.Day(m.day), Way: way, Checklist: list.Key, Digest: list.Digest,
		Equipment: s.pieces(s.takenTo(m.crew, blocks...)), RecordedAt: s.clock.Now(),
	}
	if len(supersedes) > 0 {
		in.Supersedes, in.Reason = &supersedes[0], "Se revisó otra vez la cadena de la L-23"
	}
	for _, item := range list.Items {
		answer := models.ItemAnswer{Item: item.ID, Answer: "ok"}
		if i := slices.IndexFunc(found, func(a models.ItemAnswer) bool { return a.Item == item.ID }); i >= 0 {
			answer = found[i]
		}
		in.Answers = append(in.Answers, answer)
	}
	return in.ID, s.in(s.leadAccount(m.crew), func(tx *models.Tx) error {
		_, _, err := climbs.Fill(tx, s.climbing, in)
		return err
	})
}

// findBadChain is the lead's second look: the chain of a ladder is worn through. That ladder is out of service from then on, and the crew goes up without it by a new list.
func (s *seeding) findBadChain(m *morning, first uuid.UUID) error {
	const code = "L-23"
	bad, err := s.fill(m, "attached_ladder", []models.ItemAnswer{
		{Item: "chain", Answer: "defect", EquipmentID: ref(s.piece(code)), Note: "Un eslabón de la cadena está gastado casi hasta la mitad"},
	}, first)
	if err != nil {
		return err
	}
	s.stopped = append(s.stopped, code)
	_, err = s.fill(m, "attached_ladder", nil, bad)
	return err
}

// accept is the officer's word on a list in which nothing was found.
func (s *seeding) accept(list uuid.UUID) error {
	return s.in(id(ofAccount, officer), func(tx *models.Tx) error {
		_, _, err := climbs.Review(tx, list, climbs.Reviewing{ID: s.next(ofReview), Decision: models.Accepted, Reason: "Completa y en orden"})
		return err
	})
}

// sayHow records how a crew goes up in each block, for the first time or because somebody looked again.
func (s *seeding) sayHow(m *morning, again string) error {
	for i, b := range m.blocks {
		c := models.ClimbSetupContent{
			CrewID: id(ofCrew, m.crew), Workday: models.Day(m.day), BlockID: s.block(b), Way: s.wayTo(b).Way, Equipment: s.pieces(s.takenTo(m.crew, b)),
			OperationID: s.operation(s.workIn(m, b)),
		}
		if p := s.harness(m.crew); p >= 0 {
			c.Equipment = append(c.Equipment, id(ofPiece, p+1))
		}
		setup := (*safety.Setup)(&c.Setup)
		if err := errors.Join(json.Unmarshal([]byte(s.wayTo(b).Setup), setup), json.Unmarshal([]byte(s.Seen), setup)); err != nil {
			return err
		}
		how, setupID := models.Recording{RecordedAt: s.clock.Now()}, s.next(ofSetup)
		if again != "" {
			how.Supersedes, how.Reason = &m.setups[i], again
		} else {
			m.setups = append(m.setups, setupID)
		}
		err := s.in(s.leadAccount(m.crew), func(tx *models.Tx) error {
			_, _, err := clearance.RecordSetup(tx, s.climbing.Rules, setupID, c, how)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// workIn is what a crew does first in a block on its day.
func (s *seeding) workIn(m *morning, block string) string {
	for _, d := range s.Days {
		for _, w := range d.Work {
			if d.Day == m.day && d.Crew == m.crew && w.In == block {
				return w.Of
			}
		}
	}
	return ""
}

// planHeat has the officer plan a day by its forecast and read the thermometer.
func (s *seeding) planHeat(day dated.Date) {
	forecast, readings := s.Forecast, map[string]int64{"06:00": s.Morning}
	if day == s.HotDay.Day {
		forecast = s.HotDay.Forecast
		for clock, f := range s.HotDay.Readings {
			readings[clock] = f
		}
	}
	s.plan(day.String()+" 05:50", func() error {
		return s.in(id(ofAccount, officer), func(tx *models.Tx) error {
			plan := models.HeatPlanContent{GardenID: id(ofGarden, 1), Workday: models.Day(day), ForecastHigh: exactly(forecast), WaterReady: new(true), ShadeUp: new(true), HighHeatPlan: new(true),
				Observation: "Por parejas, y los mayordomos por radio"}
			_, _, err := models.Record(tx, s.next(ofHeatPlan), plan, models.Recording{RecordedAt: tx.Now})
			return err
		})
	})
	for clock, f := range readings {
		s.plan(day.String()+" "+clock, func() error {
			return s.in(id(ofAccount, officer), func(tx *models.Tx) error {
				reading := models.HeatReadingContent{GardenID: id(ofGarden, 1), ReadAt: tx.Now.Truncate(time.Minute), Temperature: *exactly(f), Source: "Termómetro del patio"}
				_, _, err := models.Record(tx, s.next(ofReading), reading, models.Recording{RecordedAt: tx.Now})
				return err
			})
		})
	}
}
