package handlers

import (
	"github.com/google/uuid"

	"palmero/models"
)

// tallyAnswer is a worker's word on a tally, with the name of the account that gave it.
type tallyAnswer struct {
	models.TallyAnswer
	Author string `json:"author"`
}

// answersOf reads what was said of tallies, in order.
func answersOf(tx *models.Tx, tallies []uuid.UUID) ([]tallyAnswer, error) {
	answers, err := models.List[models.TallyAnswer](tx, models.Page{Limit: unlimited}, models.OneOf("tally_id", tallies))
	if err != nil {
		return nil, err
	}
	return withAuthors(tx, answers)
}

func withAuthors(tx *models.Tx, answers []models.TallyAnswer) ([]tallyAnswer, error) {
	by := make([]uuid.UUID, len(answers))
	for i := range answers {
		by[i] = answers[i].AnsweredBy
	}
	names, err := accountNames(tx, by)
	shown := make([]tallyAnswer, len(answers))
	for i, a := range answers {
		shown[i] = tallyAnswer{a, names[a.AnsweredBy]}
	}
	return shown, err
}

func listAnswers(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var answers []tallyAnswer
	err = rq.view(func(tx *models.Tx) error {
		missing, err := tx.Missing("tallies", []uuid.UUID{id})
		if err == nil && missing[id] {
			err = errNotFound
		}
		if err == nil {
			answers, err = answersOf(tx, []uuid.UUID{id})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(page[tallyAnswer]{Items: answers}), nil
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
	var shown []tallyAnswer
	var repeated bool
	err = rq.in(func(tx *models.Tx) error {
		answer, again, err := models.AnswerTally(tx, *rq.caller.Worker, tally, in.ID, in.Answer, in.Note)
		repeated = again
		if err = withFaults(err, repeated, checkID("/id", in.ID)); err == nil {
			shown, err = withAuthors(tx, []models.TallyAnswer{*answer})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: shown[0], repeated: repeated}, nil
}
