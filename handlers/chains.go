package handlers

import (
	"github.com/google/uuid"

	"palmero/models"
)

// link is a record of a chain of corrections, with the name of the account that recorded it.
type link[C any] struct {
	Author string             `json:"author"`
	Record models.Recorded[C] `json:"record"`
}

// chain answers with a record, all that it took the place of and all that took its place, oldest first.
func (r recorded[C]) chain(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var links []link[C]
	err = rq.view(func(tx *models.Tx) (err error) {
		links, err = linksOf[C](tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(page[link[C]]{Items: links}), nil
}

func linksOf[C any](tx *models.Tx, id uuid.UUID) ([]link[C], error) {
	records, err := models.Chain[C](tx, id)
	if err != nil {
		return nil, err
	}
	by := make([]uuid.UUID, len(records))
	for i := range records {
		by[i] = records[i].RecordedBy
	}
	names, err := models.AccountNames(tx, by)
	links := make([]link[C], len(records))
	for i, record := range records {
		links[i] = link[C]{names[record.RecordedBy], record}
	}
	return links, err
}

// lotLink is a lot of a chain with its parts, which are corrected with it.
type lotLink struct {
	link[models.LotContent]
	Parts []models.Tally `json:"parts"`
}

func lotChain(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var lots []lotLink
	err = rq.view(func(tx *models.Tx) error {
		links, err := linksOf[models.LotContent](tx, id)
		if err != nil {
			return err
		}
		lots = make([]lotLink, len(links))
		for i, l := range links {
			lots[i].link = l
			lots[i].Parts, err = models.List[models.Tally](tx, models.Page{Limit: unlimited}, models.Equal("lot_id", l.Record.ID))
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return plain(page[lotLink]{Items: lots}), nil
}
