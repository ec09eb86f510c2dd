package payrun

import (
	"encoding/json"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// A week's records are read in two parts, so that memory stays bounded however many workers there are: first the ground, which all workers stand on, then the
// records of some workers at a time.

// ground is what bears on everybody's week: the law, the employer's set-up, the rates, the rolls, and what was decided about the week.
type ground struct {
	books       *localbooks.Library
	profile     *models.EmployerProfile
	gardens     map[uuid.UUID]*models.Garden
	blocks      map[uuid.UUID]*models.Block
	operations  map[uuid.UUID]*models.Operation
	pieceRates  map[uuid.UUID][]models.PieceRate  // by operation, in the order in which they were recorded
	hourlyRates map[uuid.UUID][]models.HourlyRate // by worker, everybody's under uuid.Nil, in that order too
	rolls       map[uuid.UUID][]dated.Date        // by whoever was called, the days
	decisions   map[string]string                 // by the subject of a problem of this week
	disputes    map[uuid.UUID]models.TallyAnswer  // by tally, where the worker's last word on it is a dispute
	heat        heat                              // how hot it was where
	unmeasured  map[place]bool                    // gardens on days of which it is not known, and matters
}

// records are some workers' records of a week, on the ground of everybody's.
type records struct {
	*ground
	workers map[uuid.UUID]*models.Worker // themselves, and the provisional hands who turned out to be them

	time    []models.TimeEntry
	tallies []models.Tally
	lots    map[uuid.UUID]*models.Lot
	breaks  []models.BreakRecord

	accepted  map[uuid.UUID][]Adjustment // by worker, what is owed for other weeks and on no approved statement yet
	paid      map[uuid.UUID]bool         // the workers whose week already stands on a statement of an approved run
	voided    map[uuid.UUID]uuid.UUID    // by worker, the last voided statement of the week
	answers   map[string]*standingAnswer // by question about a break
	sick      sickRecords
	bonuses   bonuses
	contracts contracts
}

// selection says which records of a week are gathered, and whose statements are made of them.
type selection struct {
	weekStart dated.Date
	through   dated.Date         // the last day that counts; the week's last where zero
	only      map[uuid.UUID]bool // make these workers' statements alone; everybody's where nil
	paidToo   bool               // also of workers whose week stands on an approved statement
	heldToo   bool               // also hand on the weeks that something holds, which have no figures
	bare      bool               // the week by itself, without what is owed for other weeks

	hands []uuid.UUID // where only a few are named: themselves and the provisional hands who turned out to be them, so that nothing is read of anybody else
}

// few is up to how many named workers the ground is narrowed to them.
const few = 10

// narrow finds out whose records alone the ground needs.
func (s *selection) narrow(b *models.Batch) (err error) {
	if s.only != nil && len(s.only) <= few {
		s.hands, err = handsByID(b, keysOf(s.only))
	}
	return err
}

// handsOf reads workers and the provisional hands who turned out to be them.
func handsOf(tx *models.Tx, workers []uuid.UUID) (people []models.Worker, err error) {
	err = tx.DB().Where("id IN ? OR same_as IN ?", workers, workers).Find(&people).Error
	return people, err
}

// handsByID are they by their identifiers, for what is asked along with them.
func handsByID(b *models.Batch, workers []uuid.UUID) ([]uuid.UUID, error) {
	type hand struct{ ID uuid.UUID }
	themselves := make([]hand, len(workers))
	for i, id := range workers {
		themselves[i].ID = id
	}
	hands, err := models.Known(b, b.DB().Table("workers").Where("id IN ? OR same_as IN ?", workers, workers), themselves)
	ids := make([]uuid.UUID, len(hands))
	for i, h := range hands {
		ids[i] = h.ID
	}
	return ids, err
}

func (s selection) first() models.Date { return models.Day(s.weekStart) }

func (s selection) last() models.Date {
	if s.through.IsZero() {
		return models.Day(s.weekStart.AddDays(6))
	}
	return models.Day(s.through)
}

// before is the day before the week: work across the start of a workday belongs to both days.
func (s selection) before() models.Date { return models.Day(s.weekStart.AddDays(-1)) }

// workersAtOnce is how many workers' records are held at a time.
const workersAtOnce = 200

// survey reads the ground of a week.
func survey(tx *models.Tx, shipped *rulebook.Library, sel selection) (*ground, error) {
	b := tx.Batch()
	if err := sel.narrow(b); err != nil {
		return nil, err
	}
	g := findGround(b, shipped, sel)
	return g, b.Err()
}

// findGround asks for the ground of a week, which is there once the batch was answered.
func findGround(b *models.Batch, shipped *rulebook.Library, sel selection) *ground {
	g := &ground{profile: &models.EmployerProfile{}, books: localbooks.Find(b, shipped)}
	models.Take(b, b.DB(), g.profile)
	g.findRates(b, sel)
	g.findRolls(b, sel)
	g.findDecisions(b, sel)
	g.findDisputes(b, sel)
	g.findPlaces(b)
	g.findHeat(b, sel)
	return g
}

// findPlaces reads gardens, blocks and operations.
func (g *ground) findPlaces(b *models.Batch) {
	var gardens []models.Garden
	var blocks []models.Block
	var operations []models.Operation
	b.Find(b.DB(), &gardens)
	b.Find(b.DB(), &blocks)
	b.Find(b.DB(), &operations)
	b.Then(func() error {
		g.gardens, g.blocks, g.operations = models.KeptByID(gardens), models.KeptByID(blocks), models.KeptByID(operations)
		return nil
	})
}

func (g *ground) findRates(b *models.Batch, sel selection) {
	var pieces []models.PieceRate
	b.Find(b.DB().Where("superseded_by IS NULL AND effective_on <= ?", sel.last()).Order("seq"), &pieces)
	var hours []models.HourlyRate
	own := models.Everything
	if sel.hands != nil {
		own = models.Where("(worker_id IS NULL OR worker_id IN ?)", sel.hands)
	}
	b.Find(b.DB().Scopes(own).Where("superseded_by IS NULL AND effective_on <= ?", sel.last()).Order("seq"), &hours)
	b.Then(func() error {
		g.pieceRates, g.hourlyRates = map[uuid.UUID][]models.PieceRate{}, map[uuid.UUID][]models.HourlyRate{}
		for _, r := range pieces {
			g.pieceRates[r.Content.OperationID] = append(g.pieceRates[r.Content.OperationID], r)
		}
		for _, r := range hours {
			of := uuid.Nil
			if r.Content.WorkerID != nil {
				of = *r.Content.WorkerID
			}
			g.hourlyRates[of] = append(g.hourlyRates[of], r)
		}
		return nil
	})
}

func (g *ground) findRolls(b *models.Batch, sel selection) {
	g.rolls = map[uuid.UUID][]dated.Date{}
	var sheets []models.CrewSheet
	b.Find(b.DB().Select("id", "seq", "workday", "roll").Scopes(sel.onRoll).Where("workday BETWEEN ? AND ?", sel.first(), sel.last()).Order("seq"), &sheets)
	b.Then(func() error {
		for _, s := range sheets {
			var roll []uuid.UUID
			if err := json.Unmarshal(s.Roll, &roll); err != nil {
				return fmt.Errorf("the roll of sheet %s cannot be read: %w", s.ID, err)
			}
			for _, id := range roll {
				g.rolls[id] = append(g.rolls[id], s.Workday.Date)
			}
		}
		return nil
	})
}

// onRoll keeps the sheets on whose roll one of the hands stands.
func (s *selection) onRoll(db *gorm.DB) *gorm.DB {
	if s.hands == nil {
		return db
	}
	var named []string
	var args []any
	for _, id := range s.hands {
		named, args = append(named, "roll LIKE ?"), append(args, "%"+id.String()+"%")
	}
	return db.Where("("+strings.Join(named, " OR ")+")", args...)
}

func (g *ground) findDecisions(b *models.Batch, sel selection) {
	var rows []decisionRow
	b.Find(b.DB().Where("week_start = ?", sel.first()), &rows)
	b.Then(func() error {
		g.decisions = make(map[string]string, len(rows))
		for _, d := range rows {
			g.decisions[d.Subject] = d.Decision
		}
		return nil
	})
}

// whose lists the workers whose week is to be reckoned, by number: those who have records in it, and those who were called on a roll.
func whose(tx *models.Tx, g *ground, sel selection) ([]uuid.UUID, error) {
	if sel.only != nil && len(sel.only) <= workersAtOnce {
		return byNumber(tx, "w.id IN @named", sel, keysOf(sel.only))
	}
	const recorded = `SELECT worker_id FROM time_entries WHERE employer_id = @employer AND workday BETWEEN @before AND @last
		UNION SELECT worker_id FROM tallies WHERE employer_id = @employer AND workday BETWEEN @first AND @last
		UNION SELECT worker_id FROM break_records WHERE employer_id = @employer AND workday BETWEEN @first AND @last
		UNION SELECT worker_id FROM sick_uses WHERE employer_id = @employer AND workday BETWEEN @first AND @last AND superseded_by IS NULL AND minutes > 0
		UNION SELECT worker_id FROM contracts WHERE employer_id = @employer AND settle_week = @first
		UNION ` + bonusWorkers
	ids, err := byNumber(tx, `w.id IN (SELECT coalesce(p.same_as, p.id) FROM workers p WHERE p.employer_id = @employer AND p.id IN (`+recorded+`))`, sel, nil)
	if err != nil || len(g.rolls) == 0 {
		return ids, err
	}
	there := make(map[uuid.UUID]bool, len(ids))
	for _, id := range ids {
		there[id] = true
	}
	called := map[uuid.UUID]bool{}
	for id := range g.rolls {
		if !there[id] {
			called[id] = true
		}
	}
	if len(called) == 0 {
		return ids, nil
	}
	more, err := byNumber(tx, "w.id IN (SELECT coalesce(p.same_as, p.id) FROM workers p WHERE p.employer_id = @employer AND p.id IN @named)", sel, keysOf(called))
	for _, id := range more {
		if !there[id] {
			ids = append(ids, id)
		}
	}
	return ids, err
}

func byNumber(tx *models.Tx, condition string, sel selection, named []uuid.UUID) ([]uuid.UUID, error) {
	var ids []uuid.UUID
	args := map[string]any{"employer": tx.Employer, "before": sel.before(), "first": sel.first(), "last": sel.last(), "named": named}
	err := tx.DB().Raw("SELECT w.id FROM workers w WHERE w.employer_id = @employer AND "+condition+" ORDER BY w.number", args).Scan(&ids).Error
	return ids, err
}

func keysOf(m map[uuid.UUID]bool) []uuid.UUID {
	ids := make([]uuid.UUID, 0, len(m))
	for id := range m {
		ids = append(ids, id)
	}
	return ids
}

// gather reads some workers' records of a week.
func gather(tx *models.Tx, g *ground, sel selection, workers []uuid.UUID) (*records, error) {
	b := tx.Batch()
	hands, err := handsByID(b, workers)
	if err != nil {
		return nil, err
	}
	r := findRecords(b, g, sel, workers, hands)
	return r, b.Err()
}

// findRecords asks for some workers' records of a week, which are there once the batch was answered; hands are they and the provisional hands who turned out to be them.
func findRecords(b *models.Batch, g *ground, sel selection, workers, hands []uuid.UUID) *records {
	r := &records{ground: g}
	var people []models.Worker
	b.Find(b.DB().Scopes(b.Among("id", hands)), &people)
	b.Then(func() error {
		r.workers = models.KeptByID(people)
		return nil
	})
	models.FindOfWorkers(b, hands, sel.before(), sel.last(), &r.time)
	models.FindOfWorkers(b, hands, sel.first(), sel.last(), &r.tallies)
	models.FindOfWorkers(b, hands, sel.first(), sel.last(), &r.breaks)
	var lots []models.Lot
	models.FindLotsOfWorkers(b, hands, sel.first(), sel.last(), &lots)
	b.Then(func() error {
		r.lots = models.RecordedByID(lots)
		return r.findPlacesOf(b.Tx)
	})
	r.findStatements(b, sel, workers)
	r.findAccepted(b, sel, workers)
	r.findAnswers(b, sel, workers)
	r.findSick(b, sel, workers, hands)
	r.findBonuses(b, sel, workers)
	r.findContracts(b, sel, workers)
	return r
}

// findPlacesOf reads the places anew where the records name one that the ground does not know. The ground itself stays as it is: weeks are reckoned on it meanwhile.
func (r *records) findPlacesOf(tx *models.Tx) error {
	if r.placesKnown() {
		return nil
	}
	own := *r.ground
	r.ground = &own
	b := tx.Batch()
	own.findPlaces(b)
	return b.Err()
}

func (r *records) placesKnown() bool {
	for i := range r.time {
		c := &r.time[i].Content
		if r.gardens[c.GardenID] == nil || c.BlockID != nil && r.blocks[*c.BlockID] == nil || c.OperationID != nil && r.operations[*c.OperationID] == nil {
			return false
		}
	}
	for i := range r.tallies {
		c := &r.tallies[i].Content
		if r.blocks[c.BlockID] == nil || r.operations[c.OperationID] == nil {
			return false
		}
	}
	return true
}

// findStatements reads who already stands on a statement of an approved run of the week, and whose was voided.
func (r *records) findStatements(b *models.Batch, sel selection, workers []uuid.UUID) {
	var rows []struct {
		ID, WorkerID uuid.UUID
		Voided       bool
	}
	b.Find(b.DB().Raw(`SELECT s.id, s.worker_id, s.voided_at IS NOT NULL AS voided
		FROM statements s JOIN pay_runs p ON p.employer_id = s.employer_id AND p.id = s.run_id
		WHERE s.employer_id = ? AND s.week_start = ? AND s.worker_id IN ? AND p.state <> 'draft' AND p.kind <> 'correction' ORDER BY s.seq`, b.Employer, sel.first(), workers), &rows)
	b.Then(func() error {
		r.paid, r.voided = map[uuid.UUID]bool{}, map[uuid.UUID]uuid.UUID{}
		for _, row := range rows {
			if row.Voided {
				r.voided[row.WorkerID] = row.ID
			} else {
				r.paid[row.WorkerID] = true
			}
		}
		return nil
	})
}

// findDisputes reads the tallies of the week on which the worker's last word is a dispute.
func (g *ground) findDisputes(b *models.Batch, sel selection) {
	var rows []models.TallyAnswer
	whose, args := "", []any{b.Employer, sel.first(), sel.last()}
	if sel.hands != nil {
		whose, args = "AND t.worker_id IN ? ", append(args, sel.hands)
	}
	b.Find(b.DB().Raw(`SELECT a.* FROM tally_answers a JOIN tallies t ON t.employer_id = a.employer_id AND t.id = a.tally_id
		WHERE a.employer_id = ? AND t.workday BETWEEN ? AND ? `+whose+`AND t.superseded_by IS NULL ORDER BY a.seq`, args...), &rows)
	b.Then(func() error {
		g.disputes = map[uuid.UUID]models.TallyAnswer{}
		for _, a := range rows {
			if a.Answer == models.Disputed {
				g.disputes[a.TallyID] = a
			} else {
				delete(g.disputes, a.TallyID)
			}
		}
		return nil
	})
}

// settled is the worker whose pay a record belongs to: the one it names, or whom that one turned out to be.
func (r *records) settled(id uuid.UUID) uuid.UUID {
	if w := r.workers[id]; w != nil && w.Content.SameAs != nil {
		return *w.Content.SameAs
	}
	return id
}
