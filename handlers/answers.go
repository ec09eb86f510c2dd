package handlers

import (
	"github.com/google/uuid"

	"palmero/models"
)

func listAnswers(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var answers []models.SaidOfTally
	err = rq.view(func(tx *models.Tx) error {
		missing, err := tx.Missing("tallies", []uuid.UUID{id})
		if err == nil && missing[id] {
			err = errNotFound
		}
		if err == nil {
			answers, err = models.AnswersOf(tx, []uuid.UUID{id})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(page[models.SaidOfTally]{Items: answers}), nil
}

// answering is a worker's word on a tally as it is sent in.
type answering struct {
	ID     uuid.UUID     `json:"id"`
	Answer models.Answer `json:"answer"`
	Note   string        `json:"note,omitempty"`
}

func answerTally(rq *request, in answering) (*reply, error) {
	tally, err := rq.id()
	if err != nil {
		return nil, err
	}
	var shown []models.SaidOfTally
	var repeated bool
	err = rq.in(func(tx *models.Tx) error {
		answer, again, err := models.AnswerTally(tx, *rq.caller.Worker, tally, in.ID, in.Answer, in.Note)
		repeated = again
		if err = withFaults(err, repeated, checkID("/id", in.ID)); err == nil {
			shown, err = models.WithAuthors(tx, []models.TallyAnswer{*answer})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: shown[0], repeated: repeated}, nil
}
