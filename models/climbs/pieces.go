package climbs

import (
	"fmt"
	"slices"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll"
	"palmero/safety/checklists"
)

// mostPieces is how much equipment one list is for at the most.
const mostPieces = 100

// piecesOf reads the equipment that a list was filled in for, in the order sent. Each must be of a kind that the list looks at.
func piecesOf(tx *models.Tx, list *checklists.Checklist, in Filling) ([]models.Equipment, []payroll.Fault, error) {
	if len(in.Equipment) > mostPieces {
		return nil, []payroll.Fault{{Pointer: "/equipment_ids", Key: "fault.not_between", Terms: payroll.Terms{"low": 0, "high": mostPieces}}}, nil
	}
	var rows []models.Equipment
	if err := tx.DB().Where("id IN ?", in.Equipment).Find(&rows).Error; err != nil {
		return nil, nil, err
	}
	known := models.KeptByID(rows)
	var pieces []models.Equipment
	var faults []payroll.Fault
	for i, id := range in.Equipment {
		at, piece := fmt.Sprintf("/equipment_ids/%d", i), known[id]
		switch {
		case piece == nil:
			faults = append(faults, payroll.Fault{Pointer: at, Key: "fault.unknown_equipment", Terms: payroll.Terms{"equipment": id.String()}})
		case slices.Contains(in.Equipment[:i], id):
			faults = append(faults, payroll.Fault{Pointer: at, Key: "fault.id_twice"})
		case list != nil && len(itemsAbout(list, piece)) == 0:
			faults = append(faults, payroll.Fault{Pointer: at, Key: "fault.checklist_not_about", Terms: payroll.Terms{"code": piece.Content.Code, "checklist": list.Key}})
		default:
			pieces = append(pieces, *piece)
		}
	}
	return pieces, faults, nil
}

// itemsAbout are the items of a list that look at a piece.
func itemsAbout(list *checklists.Checklist, piece *models.Equipment) (items []checklists.Item) {
	for _, item := range list.Items {
		if slices.Contains(item.About, string(piece.Content.Kind)) {
			items = append(items, item)
		}
	}
	return items
}

// defects says on which pieces a defect that stops the climb was found: on the one that an answer names, else on every piece of the kinds that the item looks at.
func defects(list *checklists.Checklist, answers models.Answers, pieces []models.Equipment) []models.ChecklistEquipment {
	found := make([]models.ChecklistEquipment, len(pieces))
	for i := range pieces {
		found[i].EquipmentID = pieces[i].ID
		found[i].Defect = len(stopping(list, answers, &pieces[i])) > 0
	}
	return found
}

// stopping are the answers that found a defect on a piece that stops the climb.
func stopping(list *checklists.Checklist, answers models.Answers, piece *models.Equipment) (found []models.ItemAnswer) {
	for _, a := range answers {
		i := slices.IndexFunc(list.Items, func(item checklists.Item) bool { return item.ID == a.Item })
		if i < 0 || !list.Items[i].Stops || a.Answer != string(checklists.Defect) {
			continue
		}
		named := a.EquipmentID != nil
		if named && *a.EquipmentID == piece.ID || !named && slices.Contains(list.Items[i].About, string(piece.Content.Kind)) {
			found = append(found, a)
		}
	}
	return found
}

// lookedAt tells whether every item about a piece was answered, so that the list is an inspection of it before use.
func lookedAt(list *checklists.Checklist, answers models.Answers, piece *models.Equipment) bool {
	for _, item := range itemsAbout(list, piece) {
		if !slices.ContainsFunc(answers, func(a models.ItemAnswer) bool { return a.Item == item.ID }) {
			return false
		}
	}
	return true
}

// looks are what a list says of its pieces: what stops their use, or that they were looked over. A piece of which not every item was answered, and on which
// nothing was found, was not looked over.
func looks(list *checklists.Checklist, answers models.Answers, pieces []models.Equipment) (all []gear.Look) {
	for i := range pieces {
		look := gear.Look{EquipmentID: pieces[i].ID}
		for _, a := range stopping(list, answers, &pieces[i]) {
			look.Stopping = append(look.Stopping, a.Note)
		}
		if len(look.Stopping) > 0 || lookedAt(list, answers, &pieces[i]) {
			all = append(all, look)
		}
	}
	return all
}
