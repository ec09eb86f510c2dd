package season

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/models/injuries"
	"palmero/payroll/dated"
)

// Whose hand was hurt, and the kind of gear that she had on it.
const (
	hurtWorker = 14
	hurtGloves = 2
)

// caseOfHand is the identifier of the season's one injury.
func caseOfHand() uuid.UUID { return id(ofIncident, 2) }

// planInjury has a thorn go through a torn glove on the first day of de-thorning. The officer says what became of it, from the clinic to the log, and her gloves are replaced.
func (s *seeding) planInjury() {
	s.plan("2026-02-09 14:35", s.reportHand)
	s.plan("2026-02-09 15:20", func() error {
		return s.in(s.leadAccount(2), func(tx *models.Tx) error {
			_, _, err := gear.TakeBack(tx, id(ofIssue, hurtWorker*10+hurtGloves), gear.GiveBack{Stamp: gear.Stamp{ID: s.next(ofEvent), HappenedAt: &tx.Now}, Reason: "damaged", Note: "El izquierdo, roto de la palma"})
			return err
		})
	})
	no := false
	s.become("2026-02-09 17:40", models.IncidentEventContent{Kind: models.FactsEvent, Note: "En la clínica le sacaron la punta de la espina y le dieron tres puntadas.",
		CaseFacts: models.CaseFacts{Treatment: "medical", Unconscious: &no, Death: &no, Inpatient: &no, Amputation: &no, EyeLoss: &no, Disfigurement: &no}})
	s.become("2026-02-09 17:45", models.IncidentEventContent{Kind: models.WorkEvent, WorkStatus: models.Away, FromDate: models.Day(dated.MustDate("2026-02-10")),
		Note: "El médico dice que no use la mano hasta que le quiten las puntadas."})
	s.plan("2026-02-13 06:05", func() error {
		return s.in(s.leadAccount(2), func(tx *models.Tx) error {
			_, err := gear.Hand(tx, gear.Sheet{Issues: []gear.Issue{{ID: s.next(ofIssue), WorkerID: id(ofWorker, hurtWorker), GearKindID: id(ofGearKind, hurtGloves), Quantity: 1, Condition: "new",
				IssuedOn: models.Day(dated.DateOf(tx.Now.In(s.loc))), TypedName: s.Workers[hurtWorker-1].Name}}})
			return err
		})
	})
	s.become("2026-02-13 06:10", models.IncidentEventContent{Kind: models.WorkEvent, WorkStatus: models.Back, FromDate: models.Day(dated.MustDate("2026-02-13")), Note: "Con guantes nuevos."})
	yes := true
	s.become("2026-02-13 09:15", models.IncidentEventContent{Kind: models.Decision, Recordable: &yes, Note: "Puntadas y tres días sin trabajar: va en la bitácora. Los guantes se revisan ahora cada mañana con la lista."})
}

// become has the officer add something to the case of the hand.
func (s *seeding) become(at string, content models.IncidentEventContent) {
	s.plan(at, func() error {
		return s.in(id(ofAccount, officer), func(tx *models.Tx) error {
			content.HappenedAt = tx.Now
			_, _, err := injuries.Add(tx, s.climbing.Rules, caseOfHand(), s.next(ofCaseEvent), content)
			return err
		})
	})
}

func (s *seeding) reportHand() error {
	return s.in(s.leadAccount(2), func(tx *models.Tx) error {
		report := injuries.NewReport{IncidentReport: models.IncidentReport{
			Kind: "thorn_puncture", HappenedAt: tx.Now.Add(-25 * time.Minute), WorkerID: ref(id(ofWorker, hurtWorker)), GardenID: id(ofGarden, 1), BlockID: ref(s.block("B-1")),
			OperationID: ref(s.operation("de-thorning")), Place: "En la canasta, entre las hojas", JobTitle: "Palmera", BodyPart: "Mano izquierda", Cause: "Espina de palma",
			Description: "Al cortar espinas, una le entró en la palma de la mano por donde el guante ya estaba roto. Se le lavó la mano y se la llevó a la clínica.",
			Involved:    models.Involved{GearIssueIDs: models.IDs{id(ofIssue, hurtWorker*10+hurtGloves)}},
		}}
		_, _, err := injuries.Report(tx, s.climbing.Rules, caseOfHand(), report, models.Recording{RecordedAt: tx.Now}, tx.Actor)
		return err
	})
}
