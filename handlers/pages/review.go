package pages

import (
	"encoding/base64"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/review"
)

// reviewPages show what waits for the safety officer.
func reviewPages() []Page {
	return []Page{{Method: "GET", Path: "/review", Roles: officer, handle: showReview}}
}

// How many things that wait the first page shows, and a page of the whole list.
const (
	waitingFirst  = 20
	waitingAtOnce = 50
)

// waitingPage is a page of what waits for the officer, the worst and oldest first.
type waitingPage struct {
	*review.Queue
	Things []waitingThing
	After  string // where the page after this one begins; "": there is none
	Later  bool   // whether this is not the first page
}

// waitingThing is one thing that waits, and the page where it is seen to.
type waitingThing struct {
	review.Item
	Path    string // "": there is no page of it
	Settles bool   // whether it can be settled on that page, and not only be read of
}

// Due tells whether the day of the thing is that by which it has to be done, and not the one since which it waits.
func (w waitingThing) Due() bool {
	return w.Kind == review.IncidentDeadline || w.Kind == review.TrainingEnds
}

func officerHome(v *visit) (*answer, error) {
	page, err := v.waiting("", waitingFirst)
	return show("officer_home", page), err
}

// showReview shows the whole list page by page. A place in it that is none is the beginning.
func showReview(v *visit) (*answer, error) {
	after, err := base64.RawURLEncoding.Strict().DecodeString(v.gin.Query("after"))
	if err != nil || !review.IsPlace(string(after)) {
		after = nil
	}
	page, err := v.waiting(string(after), waitingAtOnce)
	return show("review", page), err
}

func (v *visit) waiting(after string, limit int) (*waitingPage, error) {
	page := &waitingPage{Later: after != ""}
	err := v.view(func(tx *models.Tx) (err error) {
		page.Queue, err = review.Look(tx, climbBooks(), review.Question{Within: -1, After: after, Limit: limit})
		return err
	})
	if err != nil {
		return nil, err
	}
	page.Speak(v.say)
	for _, item := range page.Items {
		path, settles := seenToAt(&item)
		page.Things = append(page.Things, waitingThing{item, path, settles})
	}
	if page.Next != "" {
		page.After = base64.RawURLEncoding.EncodeToString([]byte(page.Next))
	}
	return page, nil
}

// seenToAt is the page of a thing that waits, and whether it can be settled there.
func seenToAt(i *review.Item) (path string, settles bool) {
	switch i.Kind {
	case review.StopUnheard:
		return "/stops/" + about(i, "stops"), false
	case review.IncidentDeadline:
		return deadlineAt(i), true
	case review.ChecklistFailed, review.Checklist:
		return "/checklists/" + about(i, "filled_checklists"), true
	case review.EquipmentOut:
		return "/equipment/" + about(i, "equipment"), true
	case review.InspectionDue:
		return "/equipment/" + about(i, "equipment") + "/inspection", true
	case review.RetirementDue:
		return "/equipment/" + about(i, "equipment"), false
	case review.GearDue:
		return "/gear/issues/" + about(i, "gear_issues"), true
	case review.StockLow:
		return "/gear/kinds/" + about(i, "gear_kinds"), true
	case review.WithoutClearance:
		return "/uncleared-work/" + about(i, "worker") + "?on=" + i.Since.String(), true
	case review.TrainingEnded, review.TrainingEnds:
		return "/training/meeting", true
	}
	return "", false
}

// deadlineAt is the page on which what a deadline asks is put on record: the case's, or the year's summary.
func deadlineAt(i *review.Item) string {
	if c := about(i, "incidents"); c != uuid.Nil.String() {
		return "/incidents/" + c
	}
	return "/injury-summary"
}

// about is the identifier of what an item is about.
func about(i *review.Item, kind string) string {
	for _, s := range i.Subjects {
		if s.Kind == kind {
			return s.ID.String()
		}
	}
	return uuid.Nil.String()
}
