package gear

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Sheet hands gear out: to one worker or to a whole crew. It may come again with other lines, each of which is known by its own identifier.
type Sheet struct {
	RecordedAt *time.Time `json:"recorded_at,omitempty"` // by the clock of the device; nil: now
	Issues     []Issue    `json:"issues"`
}

// Issue is gear for one worker.
type Issue struct {
	ID          uuid.UUID            `json:"id"`
	WorkerID    uuid.UUID            `json:"worker_id"`
	GearKindID  uuid.UUID            `json:"gear_kind_id"`
	EquipmentID *uuid.UUID           `json:"equipment_id,omitempty"` // which one, where it is in the register of equipment
	Quantity    int64                `json:"quantity"`
	Condition   models.GearCondition `json:"condition"`
	IssuedOn    models.Date          `json:"issued_on"`
	DueOn       models.Date          `json:"due_on,omitempty,omitzero"` // the day by which it is due back
	Note        string               `json:"note,omitempty"`
	TypedName   string               `json:"typed_name,omitempty"` // by which the worker acknowledged it on the phone of whoever hands it out
}

// Bounds of a sheet.
const (
	mostIssues   = 500
	mostOfAThing = 1_000
)

// Line says what became of a line of a sheet.
type Line struct {
	ID      uuid.UUID `json:"id"`
	Pointer string    `json:"pointer"`
	Outcome string    `json:"outcome"` // recorded or repeated
}

// handing is the state of taking in a sheet.
type handing struct {
	*models.Checker
	tx       *models.Tx
	issues   []Issue
	at       []string // where each issue stands
	hashes   []string
	earlier  map[uuid.UUID]*models.GearIssue
	recorded time.Time
}

// Hand keeps the issues of a sheet, all or none, and says which were kept before.
func Hand(tx *models.Tx, in Sheet) ([]Line, error) {
	h := &handing{Checker: models.NewChecker(tx), tx: tx, issues: slices.Clone(in.Issues)}
	stamp := Stamp{HappenedAt: in.RecordedAt}
	h.recorded = stamp.at(tx)
	h.Range("/issues", int64(len(h.issues)), 1, mostIssues)
	for i := range h.issues {
		h.at = append(h.at, pointer("/issues", i))
	}
	fresh, err := h.sort()
	if err != nil {
		return nil, err
	}
	if err := h.keep(fresh); err != nil {
		return nil, err
	}
	lines := make([]Line, len(h.issues))
	for i, issue := range h.issues {
		lines[i] = Line{issue.ID, h.at[i], "recorded"}
		if h.earlier[issue.ID] != nil {
			lines[i].Outcome = "repeated"
		}
	}
	if len(fresh) == 0 {
		return lines, nil
	}
	return lines, tx.Audit(models.Audit{Action: "hand_out", SubjectKind: "gear_issues", SubjectID: h.issues[fresh[0]].ID, After: map[string]any{"issues": h.rows(fresh)}})
}

// sort tells the new issues from those that are kept already, and checks the new ones.
func (h *handing) sort() (fresh []int, err error) {
	ids := make([]uuid.UUID, len(h.issues))
	for i := range h.issues {
		issue := &h.issues[i]
		issue.Note, issue.TypedName = strings.TrimSpace(issue.Note), strings.TrimSpace(issue.TypedName)
		ids[i] = issue.ID
		h.hashes = append(h.hashes, models.ContentHash(*issue))
	}
	var kept []models.GearIssue
	if err := h.tx.DB().Scopes(h.tx.Among("id", ids)).Find(&kept).Error; err != nil {
		return nil, err
	}
	h.earlier = byID(kept, func(i *models.GearIssue) uuid.UUID { return i.ID })
	seen := map[uuid.UUID]bool{}
	for i, id := range ids {
		switch earlier := h.earlier[id]; {
		case seen[id]:
			h.Fault(h.at[i]+"/id", "fault.id_twice", nil)
		case earlier == nil:
			fresh = append(fresh, i)
			h.check(i)
		case earlier.ContentHash != h.hashes[i]:
			h.Fault(h.at[i]+"/id", "fault.id_reused", nil)
		}
		seen[id] = true
	}
	if err := h.references(fresh); err != nil {
		return nil, err
	}
	return fresh, done(h.Checker)
}

// check finds what is wrong with an issue by itself.
func (h *handing) check(i int) {
	issue, at := &h.issues[i], h.at[i]
	checkID(h.Checker, at+"/id", issue.ID)
	most := int64(mostOfAThing)
	if issue.EquipmentID != nil {
		most = 1
	}
	h.Range(at+"/quantity", issue.Quantity, 1, most)
	h.OneOf(at+"/condition", string(issue.Condition), models.Words(models.GearConditions)...)
	h.OptionalText(at+"/note", &issue.Note, noteLimit)
	h.OptionalText(at+"/typed_name", &issue.TypedName, nameLimit)
	if h.Day(at+"/issued_on", issue.IssuedOn.Date) && !issue.DueOn.IsZero() {
		if h.Planned(at+"/due_on", issue.DueOn.Date); issue.DueOn.Before(issue.IssuedOn.Date) {
			h.Fault(at+"/due_on", "fault.ends_before_start", nil)
		}
	}
}

// references wants workers, kinds of gear and equipment to be there, each in one statement, and the equipment to be free and in service.
func (h *handing) references(fresh []int) error {
	for _, r := range []struct {
		field, table, key, term string
		id                      func(*Issue) *uuid.UUID
	}{
		{"/worker_id", "workers", "fault.unknown_worker_id", "worker", func(i *Issue) *uuid.UUID { return &i.WorkerID }},
		{"/gear_kind_id", "gear_kinds", "fault.unknown_gear_kind", "gear", func(i *Issue) *uuid.UUID { return &i.GearKindID }},
		{"/equipment_id", "equipment", "fault.unknown_equipment", "equipment", func(i *Issue) *uuid.UUID { return i.EquipmentID }},
	} {
		var ids []uuid.UUID
		for _, i := range fresh {
			if id := r.id(&h.issues[i]); id != nil {
				ids = append(ids, *id)
			}
		}
		missing, err := h.tx.Missing(r.table, ids)
		if err != nil {
			return err
		}
		for _, i := range fresh {
			if id := r.id(&h.issues[i]); id != nil && missing[*id] {
				h.Fault(h.at[i]+r.field, r.key, payroll.Terms{r.term: id.String()})
			}
		}
	}
	return h.free(fresh)
}

// free wants the equipment that is handed out to be in service and in nobody else's hands.
func (h *handing) free(fresh []int) error {
	var ids []uuid.UUID
	for _, i := range fresh {
		if id := h.issues[i].EquipmentID; id != nil {
			ids = append(ids, *id)
		}
	}
	if len(ids) == 0 {
		return nil
	}
	var pieces []models.Equipment
	if err := h.tx.Locking().Scopes(h.tx.Among("id", ids)).Order("seq").Find(&pieces).Error; err != nil {
		return err
	}
	var held []uuid.UUID
	if err := h.tx.DB().Model(&models.GearIssue{}).Scopes(h.tx.Among("equipment_id", ids)).Where("closed_by IS NULL").Pluck("equipment_id", &held).Error; err != nil {
		return err
	}
	piece := models.KeptByID(pieces)
	for _, i := range fresh {
		id := h.issues[i].EquipmentID
		if id == nil || piece[*id] == nil {
			continue
		}
		terms := payroll.Terms{"code": piece[*id].Content.Code}
		if piece[*id].Content.State != models.InService {
			h.Fault(h.at[i]+"/equipment_id", "fault.equipment_out", terms)
		}
		if slices.Contains(held, *id) {
			h.Fault(h.at[i]+"/equipment_id", "fault.equipment_held", terms)
		}
		held = append(held, *id)
	}
	return nil
}

// rows are the new issues as they are kept.
func (h *handing) rows(fresh []int) []models.GearIssue {
	rows := make([]models.GearIssue, len(fresh))
	for n, i := range fresh {
		in := &h.issues[i]
		rows[n] = models.GearIssue{
			Keyed: models.Keyed{ID: in.ID, ContentHash: h.hashes[i]}, WorkerID: in.WorkerID, GearKindID: in.GearKindID, EquipmentID: in.EquipmentID, Quantity: in.Quantity,
			Condition: in.Condition, IssuedOn: in.IssuedOn, DueOn: in.DueOn, Note: in.Note, RecordedAt: h.recorded, ReceivedAt: h.tx.Now, RecordedBy: h.tx.Actor,
		}
		if in.TypedName != "" {
			rows[n].AcknowledgedBy = new(acknowledgement(in.ID))
		}
	}
	return rows
}

// acknowledgement identifies the event by which an issue was acknowledged when it was handed out.
func acknowledgement(issue uuid.UUID) uuid.UUID { return uuid.NewSHA1(issue, []byte("acknowledged")) }

// keep writes the new issues, the acknowledgements that came with them, and what they take from the stock.
func (h *handing) keep(fresh []int) error {
	if err := models.InsertAll(h.tx, h.rows(fresh)); err != nil {
		return err
	}
	var events []models.GearIssueEvent
	taken := map[uuid.UUID]int64{}
	for _, i := range fresh {
		in := &h.issues[i]
		taken[in.GearKindID] -= in.Quantity
		if in.TypedName != "" {
			id := acknowledgement(in.ID)
			events = append(events, models.GearIssueEvent{
				Keyed: models.Keyed{ID: id, ContentHash: models.ContentHash(id)}, IssueID: in.ID, Kind: models.GearAcknowledged, TypedName: in.TypedName,
				HappenedAt: h.recorded, ReceivedAt: h.tx.Now, RecordedBy: h.tx.Actor,
			})
		}
	}
	if err := models.InsertAll(h.tx, events); err != nil {
		return err
	}
	return restock(h.tx, taken)
}

// Acknowledgement is a worker's word that the gear was handed over: from their own account without a name, on somebody else's phone by typing it.
type Acknowledgement struct {
	Stamp
	TypedName string `json:"typed_name,omitempty"`
}

// Acknowledge records that a worker took the gear. Worker is whose account it is, nil on somebody else's phone; to an account there are no issues but its own.
func Acknowledge(tx *models.Tx, worker *uuid.UUID, issue uuid.UUID, in Acknowledgement) (*models.GearIssueEvent, bool, error) {
	in.TypedName = strings.TrimSpace(in.TypedName)
	hash := models.ContentHash([]any{issue, in})
	if kept, err := models.Repeat[models.GearIssueEvent](tx, in.ID, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	kept, err := heldIssue(tx, issue)
	if err == nil && worker != nil && kept.WorkerID != *worker {
		err = &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	if err != nil {
		return nil, false, err
	}
	c := models.NewChecker(tx)
	in.checkStamp(c)
	if worker == nil {
		c.Text("/typed_name", &in.TypedName, nameLimit)
	} else if in.TypedName != "" {
		c.Fault("/typed_name", "fault.own_account", nil)
	}
	if err := done(c); err != nil {
		return nil, false, err
	}
	e := &models.GearIssueEvent{IssueID: issue, Kind: models.GearAcknowledged, ByWorker: worker != nil, TypedName: in.TypedName, HappenedAt: in.at(tx)}
	e.ID, e.ContentHash = in.ID, hash
	if err := keepIssueEvent(tx, e, "acknowledged_by", kept.AcknowledgedBy == nil); err != nil {
		return nil, false, err
	}
	return e, false, tx.Audit(models.Audit{Action: "acknowledge", SubjectKind: "gear_issues", SubjectID: issue, Before: kept, After: e})
}

// GiveBack says that gear came back, is lost, or was replaced by other gear for the same worker, and why.
type GiveBack struct {
	Stamp
	Reason      models.GearReturnCode `json:"reason"`
	Restock     bool                  `json:"restock,omitempty"` // whether it can be handed out again
	Note        string                `json:"note,omitempty"`
	Replacement *Replacement          `json:"replacement,omitempty"`
}

// Replacement is the gear that takes the place of what came back.
type Replacement struct {
	ID          uuid.UUID            `json:"id"`
	GearKindID  uuid.UUID            `json:"gear_kind_id"`
	EquipmentID *uuid.UUID           `json:"equipment_id,omitempty"`
	Quantity    int64                `json:"quantity"`
	Condition   models.GearCondition `json:"condition"`
	IssuedOn    models.Date          `json:"issued_on"`
	DueOn       models.Date          `json:"due_on,omitempty,omitzero"`
	Note        string               `json:"note,omitempty"`
	TypedName   string               `json:"typed_name,omitempty"`
}

// TakeBack closes an issue. Nothing that is lost or broken is ever charged to the worker: there is nothing in the program that could.
func TakeBack(tx *models.Tx, issue uuid.UUID, in GiveBack) (*models.GearIssueEvent, bool, error) {
	in.Note = strings.TrimSpace(in.Note)
	hash := models.ContentHash([]any{issue, in})
	if kept, err := models.Repeat[models.GearIssueEvent](tx, in.ID, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	kept, err := heldIssue(tx, issue)
	if err != nil {
		return nil, false, err
	}
	if err := in.check(tx); err != nil {
		return nil, false, err
	}
	if kept.ClosedBy != nil {
		return nil, false, &models.Error{Kind: models.Conflict, Key: "problem.gear_closed"}
	}
	e := &models.GearIssueEvent{IssueID: issue, Kind: models.GearReturned, Reason: in.Reason, Restocked: in.Restock, Note: in.Note, HappenedAt: in.at(tx)}
	e.ID, e.ContentHash = in.ID, hash
	if in.Reason == "lost" {
		e.Kind = models.GearMissing
	}
	after := map[string]any{"event": e}
	if in.Replacement != nil {
		e.Kind, e.ReplacedBy = models.GearReplaced, &in.Replacement.ID
		if after["replacement"], err = in.replace(tx, kept); err != nil {
			return nil, false, err
		}
	}
	if err := keepIssueEvent(tx, e, "closed_by", true); err != nil {
		return nil, false, err
	}
	if in.Restock {
		if err := restock(tx, map[uuid.UUID]int64{kept.GearKindID: kept.Quantity}); err != nil {
			return nil, false, err
		}
	}
	return e, false, tx.Audit(models.Audit{Action: "take_back", SubjectKind: "gear_issues", SubjectID: issue, Before: kept, After: after, Reason: in.Note})
}

func (in *GiveBack) check(tx *models.Tx) error {
	c := models.NewChecker(tx)
	in.checkStamp(c)
	c.OneOf("/reason", string(in.Reason), models.Words(models.GearReturnCodes)...)
	if c.OptionalText("/note", &in.Note, noteLimit); in.Reason == "other" && in.Note == "" {
		c.Fault("/note", "fault.empty", nil)
	}
	if in.Restock && (in.Reason == "lost" || in.Reason == "damaged") {
		c.Fault("/restock", "fault.restock", nil)
	}
	return done(c)
}

// replace hands out what takes the place of an issue, to the same worker. A piece of equipment is replaced by another one: the first is still out.
func (in *GiveBack) replace(tx *models.Tx, old *models.GearIssue) ([]models.GearIssue, error) {
	r := in.Replacement
	h := &handing{Checker: models.NewChecker(tx), tx: tx, at: []string{"/replacement"}, recorded: in.at(tx)}
	h.issues = []Issue{{
		ID: r.ID, WorkerID: old.WorkerID, GearKindID: r.GearKindID, EquipmentID: r.EquipmentID, Quantity: r.Quantity, Condition: r.Condition,
		IssuedOn: r.IssuedOn, DueOn: r.DueOn, Note: r.Note, TypedName: r.TypedName,
	}}
	fresh, err := h.sort()
	if err == nil && len(fresh) == 0 {
		err = models.FaultAt("/replacement/id", "fault.id_reused", nil)
	}
	if err != nil {
		return nil, err
	}
	return h.rows(fresh), h.keep(fresh)
}

// heldIssue reads an issue and holds it until the transaction ends.
func heldIssue(tx *models.Tx, id uuid.UUID) (*models.GearIssue, error) {
	var found []models.GearIssue
	err := tx.Locking().Where("id = ?", id).Limit(1).Find(&found).Error
	if err == nil && len(found) == 0 {
		err = &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	if err != nil {
		return nil, err
	}
	return &found[0], nil
}

// keepIssueEvent writes an event and the mark that it leaves on its issue, unless there is one already.
func keepIssueEvent(tx *models.Tx, e *models.GearIssueEvent, mark string, leaves bool) error {
	e.ReceivedAt, e.RecordedBy = tx.Now, tx.Actor
	if err := tx.DB().Create(e).Error; err != nil || !leaves {
		return err
	}
	return tx.DB().Model(&models.GearIssue{}).Where("id = ?", e.IssueID).UpdateColumn(mark, e.ID).Error
}
