package season

import (
	"encoding/json"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/gear"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/quantity"
)

// officer is the number of the safety officer's account.
const officer = 3

// planRegister has the officer enter palms, equipment and gear, the competent person train everybody, and the leads hand out what each needs, before the first day of work.
func (s *seeding) planRegister() {
	s.plan("2026-02-06 08:30", func() error { return s.in(id(ofAccount, officer), s.enterPalms) })
	s.plan("2026-02-06 09:00", func() error { return s.in(id(ofAccount, officer), s.enterEquipment) })
	for i := range s.Equipment {
		if p := &s.Equipment[i]; !p.Periodic.IsZero() {
			s.plan("2026-02-06 09:30", func() error {
				return s.inspect(officer, p, gear.Inspection{Stamp: s.stamp(p.Periodic.String() + " 10:00"), Kind: models.PeriodicInspection, Person: s.CompetentPerson})
			})
		}
	}
	s.plan("2026-02-06 10:15", s.enterGear)
	s.plan("2026-02-06 13:40", s.train)
	for crew := range s.Crews {
		s.plan("2026-02-06 15:10", func() error { return s.handOut(crew + 1) })
	}
}

// next makes the identifier of the next of a kind of safety records.
func (s *seeding) next(of kind) uuid.UUID {
	s.made[of]++
	return id(of, s.made[of])
}

// stamp identifies an event that happened at a time on the garden's clock.
func (s *seeding) stamp(at string) gear.Stamp {
	t, _ := clockTime(at, s.loc)
	return gear.Stamp{ID: s.next(ofEvent), HappenedAt: &t}
}

func (s *seeding) enterPalms(tx *models.Tx) error {
	var all errs
	all.of(gear.AddPalms(tx, gear.PalmRange{ID: id(ofPalms, 1), BlockID: s.block(s.Palms.Block), Prefix: s.Palms.Prefix, First: s.Palms.First, Last: s.Palms.Last, Digits: s.Palms.Digits}))
	for i := range s.Blocks {
		// Somebody looked for lines around every block and found none within three hundred feet.
		all.of(models.Create(tx, id(ofLineAbove, i+1), models.PowerLineContent{BlockID: id(ofBlock, i+1), Kind: models.NoPowerLine, Distance: *exactly(300)}))
	}
	return all.first
}

// palm is the palm of a label, which follows from its range.
func palm(label string) uuid.UUID { return uuid.NewSHA1(id(ofPalms, 1), []byte(label)) }

func (s *seeding) piece(code string) uuid.UUID {
	return id(ofPiece, number(s.Equipment, func(p piece) bool { return p.Code == code }))
}

func (s *seeding) enterEquipment(tx *models.Tx) error {
	var all errs
	for i, p := range s.Equipment {
		c := models.EquipmentContent{GardenID: id(ofGarden, 1), Kind: p.Kind, Code: p.Code, Description: p.Description, FirstUsedOn: models.Day(p.Periodic)}
		if p.Palm != "" {
			c.PalmID = ref(palm(p.Palm))
		}
		if p.Ratings != "" {
			if err := json.Unmarshal([]byte(p.Ratings), (*safety.Ratings)(&c.Ratings)); err != nil {
				return fmt.Errorf("ratings of %s: %w", p.Code, err)
			}
		}
		all.of(models.Create(tx, id(ofPiece, i+1), c))
	}
	return all.first
}

// inspect has an account record a look at a piece.
func (s *seeding) inspect(account int, p *piece, in gear.Inspection) error {
	return s.in(id(ofAccount, account), func(tx *models.Tx) error {
		_, _, err := gear.Inspect(tx, s.piece(p.Code), in)
		return err
	})
}

// enterGear enters the kinds of gear, and what came in of each.
func (s *seeding) enterGear() error {
	err := s.in(id(ofAccount, officer), func(tx *models.Tx) error {
		var all errs
		for i, k := range s.GearKinds {
			all.of(models.Create(tx, id(ofGearKind, i+1), models.GearKindContent{
				Kind: k.Kind, Name: k.Name, Size: k.Size, Protective: k.Protective, PunctureLevel: k.Puncture, Sheathed: k.Sheathed, LowAt: k.LowAt,
			}))
		}
		return all.first
	})
	for i, k := range s.GearKinds {
		if err == nil {
			err = s.in(id(ofAccount, officer), func(tx *models.Tx) error {
				_, _, err := gear.MoveStock(tx, id(ofGearKind, i+1), gear.Stock{ID: s.next(ofEvent), Move: models.GearReceived, Quantity: k.Received})
				return err
			})
		}
	}
	return err
}

// radioBack is when the radio is due back.
var radioBack = dated.MustDate("2026-02-27")

// handOut hands a crew what each of it needs; whoever takes it signs on the lead's phone. The lead gets a radio for three weeks.
func (s *seeding) handOut(crew int) error {
	members := s.Crews[crew-1].Members
	sheet := gear.Sheet{}
	hand := func(worker, k int, due models.Date) {
		sheet.Issues = append(sheet.Issues, gear.Issue{ID: id(ofIssue, worker*10+k), WorkerID: id(ofWorker, worker), GearKindID: id(ofGearKind, k), Quantity: 1, Condition: "new",
			IssuedOn: models.Day(dated.DateOf(s.clock.Now().In(s.loc))), DueOn: due, TypedName: s.Workers[worker-1].Name})
	}
	for _, w := range members {
		for i := range s.GearKinds {
			if s.GearKinds[i].fits(w) {
				hand(w, i+1, models.Date{})
			}
		}
	}
	if crew == 1 {
		hand(members[0], number(s.GearKinds, func(k gearKind) bool { return k.Kind == "radio" }), models.Day(radioBack))
	}
	return s.in(s.leadAccount(crew), func(tx *models.Tx) error {
		_, err := gear.Hand(tx, sheet)
		return err
	})
}

// train keeps the meetings that everybody was at, and what somebody learnt before.
func (s *seeding) train() error {
	for _, m := range s.Meetings {
		at := climbs.Meeting{ID: s.next(ofMeeting), Trained: s.trained(m), RecordedAt: s.clock.Now()}
		for i, k := range s.Crews {
			for _, w := range k.Members {
				if (len(m.Crews) == 0 || slices.Contains(m.Crews, i+1)) && !slices.Contains(m.But, w) {
					at.Attendees = append(at.Attendees, climbs.Attendee{ID: s.next(ofSignOff), WorkerID: id(ofWorker, w), Acknowledged: true})
				}
			}
		}
		err := s.in(id(ofAccount, officer), func(tx *models.Tx) error {
			_, _, err := climbs.Hold(tx, s.climbing, at)
			return err
		})
		if err != nil {
			return err
		}
	}
	return s.in(id(ofAccount, officer), func(tx *models.Tx) error {
		var all errs
		for _, m := range s.Before {
			all.of(climbs.SignOff(tx, s.climbing, climbs.SigningOff{ID: s.next(ofSignOff), WorkerID: id(ofWorker, m.Worker), Trained: s.trained(m), Acknowledged: true}))
		}
		return all.first
	})
}

func (s *seeding) trained(m meeting) models.Trained {
	return models.Trained{Topic: m.Topic, HeldOn: models.Day(m.Held), Trainer: s.CompetentPerson, Qualification: "Twenty years in the palms", Language: "es",
		Understanding: "Each showed it on the palm", Detail: m.Detail}
}

// exactly is a whole figure as a quantity.
func exactly(n int64) *models.Quantity { return models.QuantityOf(quantity.Of(n)) }
