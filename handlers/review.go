package handlers

import (
	"encoding/base64"
	"net/http"

	"palmero/models"
	waiting "palmero/models/review"
	"palmero/payroll"
)

// reviewRoutes: what waits for the safety officer.
func reviewRoutes() []Route {
	return []Route{{Method: "GET", Path: "/api/v1/review", Roles: planters, Query: []string{"cursor", "limit", "within"}, Status: http.StatusOK, handle: getReview}}
}

func getReview(rq *request) (*reply, error) {
	q := waiting.Question{Within: -1}
	place := filter{"cursor", func(value string) (condition, *payroll.Fault) {
		text, err := base64.RawURLEncoding.Strict().DecodeString(value)
		if q.After = string(text); err != nil || !waiting.IsPlace(q.After) {
			return nil, &payroll.Fault{Key: "fault.cursor"}
		}
		return models.Everything, nil
	}}
	p, _, err := rq.page(place, readsNumber("within", &q.Within))
	if err != nil {
		return nil, err
	}
	q.Limit = p.Limit
	var queue *waiting.Queue
	err = rq.view(func(tx *models.Tx) (err error) {
		queue, err = waiting.Look(tx, climbBooks(), q)
		return err
	})
	if err != nil {
		return nil, err
	}
	queue.Speak(rq.say)
	if queue.Next != "" {
		queue.Next = base64.RawURLEncoding.EncodeToString([]byte(queue.Next))
	}
	return plain(queue), nil
}
