package gear

import (
	"maps"
	"slices"
	"strings"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
)

// Stock says how many of a kind of gear came in, were counted or were thrown away.
type Stock struct {
	ID       uuid.UUID       `json:"id"`
	Move     models.GearMove `json:"move"`
	Quantity int64           `json:"quantity"`
	Note     string          `json:"note,omitempty"`
}

// mostInStock is how many of a kind there are at the most.
const mostInStock = 100_000

// MoveStock records a change of the stock. What is handed out is never refused for want of stock on paper, so that it may run below zero until somebody counts.
func MoveStock(tx *models.Tx, kind uuid.UUID, in Stock) (*models.GearStockMove, bool, error) {
	in.Note = strings.TrimSpace(in.Note)
	hash := models.ContentHash([]any{kind, in})
	if kept, err := models.Repeat[models.GearStockMove](tx, in.ID, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	k, err := locked[models.GearKindContent](tx, kind)
	if err != nil {
		return nil, false, err
	}
	c := models.NewChecker(tx)
	checkID(c, "/id", in.ID)
	c.OneOf("/move", string(in.Move), string(models.GearReceived), string(models.GearCounted), string(models.GearDiscarded))
	least := int64(1)
	if in.Move == models.GearCounted {
		least = 0
	}
	c.Range("/quantity", in.Quantity, least, mostInStock)
	c.OptionalText("/note", &in.Note, noteLimit)
	if err := done(c); err != nil {
		return nil, false, err
	}
	m := &models.GearStockMove{
		Keyed: models.Keyed{ID: in.ID, ContentHash: hash}, GearKindID: kind, Move: in.Move, Quantity: in.Quantity, OnHand: k.Content.OnHand, Note: in.Note,
		ReceivedAt: tx.Now, RecordedBy: tx.Actor,
	}
	switch in.Move {
	case models.GearReceived:
		m.OnHand += in.Quantity
	case models.GearDiscarded:
		m.OnHand -= in.Quantity
	case models.GearCounted:
		m.OnHand = in.Quantity
	}
	if err := tx.DB().Create(m).Error; err != nil {
		return nil, false, err
	}
	if err := tx.DB().Model(&models.GearKind{}).Where("id = ?", kind).UpdateColumn("on_hand", m.OnHand).Error; err != nil {
		return nil, false, err
	}
	return m, false, tx.Audit(models.Audit{
		Action: "stock", SubjectKind: "gear_kinds", SubjectID: kind, Before: map[string]any{"on_hand": k.Content.OnHand}, After: m, Reason: in.Note,
	})
}

// LatestMoves lists the last changes of a kind's stock, the latest first.
func LatestMoves(tx *models.Tx, kind uuid.UUID, most int) (moves []models.GearStockMove, err error) {
	err = tx.DB().Where("gear_kind_id = ?", kind).Order("seq DESC").Limit(most).Find(&moves).Error
	return moves, err
}

// restock adds to what is on hand of some kinds of gear in one statement, or takes away from it. In the order of the kinds, so that two sheets never wait for each other.
func restock(tx *models.Tx, more map[uuid.UUID]int64) error {
	kinds := slices.SortedFunc(maps.Keys(more), func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	if len(kinds) == 0 {
		return nil
	}
	var held []models.GearKind
	if err := tx.Locking().Scopes(tx.Among("id", kinds)).Order("id").Find(&held).Error; err != nil {
		return err
	}
	sum, args := strings.Builder{}, []any{}
	sum.WriteString("on_hand + CASE id")
	for _, kind := range kinds {
		sum.WriteString(" WHEN ? THEN ?")
		args = append(args, kind, more[kind])
	}
	sum.WriteString(" ELSE 0 END")
	return tx.DB().Model(&models.GearKind{}).Scopes(tx.Among("id", kinds)).UpdateColumn("on_hand", gorm.Expr(sum.String(), args...)).Error
}
