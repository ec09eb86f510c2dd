package handlers

import (
	"encoding/json"
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

const adjustmentsPath = "/api/v1/adjustments"

func adjustmentRoutes() []Route {
	const one = adjustmentsPath + "/{id}"
	return []Route{
		{Method: "GET", Path: adjustmentsPath, Roles: office, Query: []string{"cursor", "limit", "week_start"}, Status: http.StatusOK, handle: listAdjustments},
		{Method: "POST", Path: adjustmentsPath + "/reviews", Roles: clerks, Status: http.StatusOK, handle: taking(reviewWeek)},
		{Method: "GET", Path: one, Roles: office, Status: http.StatusOK, handle: getAdjustment},
		{Method: "POST", Path: one + "/decision", Roles: clerks, Status: http.StatusOK, handle: decideAdjustment},
	}
}

// parts are where a difference comes from.
type parts struct {
	Records payroll.Cents `json:"records"`
	Rules   payroll.Cents `json:"rules"`
	Engine  payroll.Cents `json:"engine"`
}

// lineDifference is one line as it was paid and as it is now, named in the reader's language.
type lineDifference struct {
	payrun.LineDifference
	Text string `json:"text"`
}

func (rq *request) showLines(lines []payrun.LineDifference) []lineDifference {
	shown := make([]lineDifference, len(lines))
	for i, l := range lines {
		shown[i] = lineDifference{l, rq.say("line."+string(l.Code), nil)}
		if l.Operation != "" {
			shown[i].Text += ": " + rq.operation(l.Operation)
		}
	}
	return shown
}

// reviewing names a week that was paid.
type reviewing struct {
	WeekStart models.Date `json:"week_start"`
}

// review is what a week that was paid comes to now.
type review struct {
	WeekStart   models.Date  `json:"week_start"`
	Differences []difference `json:"differences"`
}

// difference is what a review finds for one worker.
type difference struct {
	Worker       workerInBrief    `json:"worker"`
	Paid         payroll.Cents    `json:"paid"`
	Now          *payroll.Cents   `json:"now"`   // null where the week cannot be reckoned now
	Parts        *parts           `json:"parts"` // null there as well
	Lines        []lineDifference `json:"lines"`
	AdjustmentID *uuid.UUID       `json:"adjustment_id"` // null where there is nothing to pay
	Problems     []myProblem      `json:"problems"`
}

func (rq *request) showDifference(d *payrun.Difference) difference {
	shown := difference{
		Worker: workerInBrief{d.WorkerID, d.WorkerNumber, d.WorkerName}, Paid: d.Paid, Lines: rq.showLines(d.Lines),
		AdjustmentID: d.Adjustment, Problems: rq.showProblems(d.Problems),
	}
	if len(d.Problems) == 0 {
		shown.Now, shown.Parts = &d.Now, &parts{d.Records, d.Rules, d.Engine}
	}
	return shown
}

func reviewWeek(rq *request, in reviewing) (*reply, error) {
	var found []payrun.Difference
	err := rq.in(func(tx *models.Tx) error {
		profile, err := tx.Profile()
		if err != nil {
			return err
		}
		c := models.NewChecker(tx)
		if first := models.WeekOf(in.WeekStart.Date, profile.Content.WeekStart); c.Day("/week_start", in.WeekStart.Date) && first != in.WeekStart.Date {
			c.Fault("/week_start", "fault.not_week_start", payroll.Terms{"nearest": first})
		}
		faults, err := c.Done()
		if err == nil {
			err = models.Faulty(faults)
		}
		if err == nil {
			found, err = payrun.Review(tx, rq.Books, in.WeekStart.Date)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	shown := review{in.WeekStart, make([]difference, len(found))}
	for i := range found {
		shown.Differences[i] = rq.showDifference(&found[i])
	}
	return plain(shown), nil
}

// adjustment is a difference as it is kept and decided about.
type adjustment struct {
	seq        int64
	ID         uuid.UUID              `json:"id"`
	Worker     workerInBrief          `json:"worker"`
	ForWeek    models.Date            `json:"for_week"`
	Parts      parts                  `json:"parts"`
	Lines      []lineDifference       `json:"lines"`
	State      payrun.AdjustmentState `json:"state"`
	Chosen     []string               `json:"chosen"` // the parts that the amount is made of
	Amount     payroll.Cents          `json:"amount"`
	Reason     string                 `json:"reason"`
	ProposedAt time.Time              `json:"proposed_at"`
	ProposedBy uuid.UUID              `json:"proposed_by"`
	DecidedAt  *time.Time             `json:"decided_at"`
	DecidedBy  *uuid.UUID             `json:"decided_by"`
	Version    int64                  `json:"version"`
}

// showAdjustments makes adjustments readable, with their workers' names.
func (rq *request) showAdjustments(tx *models.Tx, kept []payrun.Adjustment) ([]adjustment, error) {
	workers, err := workersInBrief(tx, kept)
	if err != nil {
		return nil, err
	}
	shown := make([]adjustment, len(kept))
	for i, a := range kept {
		var lines []payrun.LineDifference
		if err := json.Unmarshal(a.Lines, &lines); err != nil {
			return nil, err
		}
		shown[i] = adjustment{
			seq: a.Seq, ID: a.ID, Worker: workers[a.WorkerID], ForWeek: a.ForWeek, Parts: parts{a.RecordsPart, a.RulesPart, a.EnginePart}, Lines: rq.showLines(lines),
			State: a.State, Chosen: []string{}, Amount: a.Amount, Reason: a.Reason,
			ProposedAt: a.ProposedAt, ProposedBy: a.ProposedBy, DecidedAt: a.DecidedAt, DecidedBy: a.DecidedBy, Version: a.Version,
		}
		if a.Parts != "" {
			shown[i].Chosen = strings.Split(a.Parts, ",")
		}
	}
	return shown, nil
}

func workersInBrief(tx *models.Tx, of []payrun.Adjustment) (map[uuid.UUID]workerInBrief, error) {
	ids := make([]uuid.UUID, len(of))
	for i := range of {
		ids[i] = of[i].WorkerID
	}
	workers, err := models.List[models.Worker](tx, models.Page{Limit: len(ids)}, models.OneOf("id", ids))
	briefs := make(map[uuid.UUID]workerInBrief, len(workers))
	for _, w := range workers {
		briefs[w.ID] = workerInBrief{w.ID, w.Content.Number, w.Content.Name}
	}
	return briefs, err
}

func listAdjustments(rq *request) (*reply, error) {
	var week dated.Date
	p, _, err := rq.page(readsDay("week_start", &week))
	if err != nil {
		return nil, err
	}
	var shown []adjustment
	err = rq.view(func(tx *models.Tx) error {
		kept, err := payrun.Adjustments(tx, week, p)
		if err == nil {
			shown, err = rq.showAdjustments(tx, kept)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(shown, p.Limit, func(a *adjustment) int64 { return a.seq }, func(a *adjustment) *adjustment { return a })), nil
}

func getAdjustment(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var shown []adjustment
	err = rq.view(func(tx *models.Tx) error {
		kept, err := models.List[payrun.Adjustment](tx, models.Page{Limit: 1}, models.Equal("id", id))
		if err == nil && len(kept) == 0 {
			err = errNotFound
		}
		if err == nil {
			shown, err = rq.showAdjustments(tx, kept)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: shown[0], version: shown[0].Version}, nil
}

func decideAdjustment(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	version, err := rq.ifMatch()
	if err != nil {
		return nil, err
	}
	var in payrun.AdjustmentDecision
	if err := rq.decode(&in); err != nil {
		return nil, err
	}
	var shown []adjustment
	err = rq.in(func(tx *models.Tx) error {
		decided, err := payrun.DecideAdjustment(tx, id, version, in)
		if err == nil {
			shown, err = rq.showAdjustments(tx, []payrun.Adjustment{*decided})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: shown[0], version: shown[0].Version}, nil
}
