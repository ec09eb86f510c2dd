package gear

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
)

// IssueTold is an issue with the names of what and whom it is about, and what became of it.
type IssueTold struct {
	models.GearIssue `gorm:"embedded"`
	WorkerNumber     int64                 `json:"worker_number"`
	Worker           string                `json:"worker"`
	Kind             string                `json:"kind"`
	Gear             string                `json:"gear"`
	Size             string                `json:"size,omitempty"`
	Equipment        *string               `json:"equipment,omitempty"` // the code painted on it
	IssuedBy         string                `json:"issued_by"`           // the name of whoever handed it out
	AcknowledgedAt   *time.Time            `json:"acknowledged_at,omitempty"`
	AcknowledgedName *string               `json:"acknowledged_name,omitempty"` // typed on somebody else's phone; empty: from the worker's own account
	ClosedAt         *time.Time            `json:"closed_at,omitempty"`
	ClosedAs         *models.GearIssueKind `json:"closed_as,omitempty"`
	ClosedReason     *string               `json:"closed_reason,omitempty"`
}

// Issues lists them with their names in one statement, one more than the page's limit where more follow. The conditions name the columns of gear_issues, or i.worker_id.
func Issues(tx *models.Tx, page models.Page, conditions ...models.Condition) ([]IssueTold, error) {
	return models.Read[IssueTold](tx, tx.DB().Table("gear_issues AS i").
		Select("i.*, w.number AS worker_number, w.name AS worker, k.kind, k.name AS gear, k.size, e.code AS equipment, a.name AS issued_by, "+
			"y.happened_at AS acknowledged_at, y.typed_name AS acknowledged_name, c.happened_at AS closed_at, c.kind AS closed_as, c.reason AS closed_reason").
		Joins("JOIN workers w ON w.employer_id = i.employer_id AND w.id = i.worker_id").
		Joins("JOIN gear_kinds k ON k.employer_id = i.employer_id AND k.id = i.gear_kind_id").
		Joins("JOIN accounts a ON a.employer_id = i.employer_id AND a.id = i.recorded_by").
		Joins("LEFT JOIN equipment e ON e.employer_id = i.employer_id AND e.id = i.equipment_id").
		Joins("LEFT JOIN gear_issue_events y ON y.employer_id = i.employer_id AND y.id = i.acknowledged_by").
		Joins("LEFT JOIN gear_issue_events c ON c.employer_id = i.employer_id AND c.id = i.closed_by").
		Scopes(conditions...).Where("i.seq > ?", page.After).Order("i.seq").Limit(page.Limit+1))
}

// Holding is how much gear somebody holds: all of it, what was due back before a day, and what they have not said they have.
type Holding struct {
	WorkerID           uuid.UUID
	Held, Late, Unsaid int
}

// Holdings counts what everybody holds, in one statement.
func Holdings(tx *models.Tx, day dated.Date) ([]Holding, error) {
	var holdings []Holding
	err := tx.DB().Model(&models.GearIssue{}).Scopes(models.Held(true)).
		Select("worker_id, count(*) AS held, count(CASE WHEN due_on < ? THEN 1 END) AS late, count(CASE WHEN acknowledged_by IS NULL THEN 1 END) AS unsaid", models.Day(day)).
		Group("worker_id").Scan(&holdings).Error
	return holdings, err
}
