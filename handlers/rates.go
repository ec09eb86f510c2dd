package handlers

import (
	"net/http"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
)

// rateRoutes: rates are listed, read and recorded, never changed. One that takes the place of another says which, and why.
func rateRoutes() []Route {
	standing := byFlag("standing", models.Standing)
	return slices.Concat(
		recorded[models.PieceRateContent]{
			path: "/api/v1/piece-rates", read: payStaff, write: office,
			filters: []filter{byID("operation_id"), byID("block_id"), standing},
			record:  models.Record[models.PieceRateContent],
		}.routes(),
		recorded[models.HourlyRateContent]{
			path: "/api/v1/hourly-rates", read: office, write: office,
			filters: []filter{byID("worker_id"), standing},
			record:  models.Record[models.HourlyRateContent],
		}.routes(),
	)
}

// recorded is a kind of record that is never changed, as the API serves it.
type recorded[C any] struct {
	path        string
	read, write []models.Role
	filters     []filter
	record      func(tx *models.Tx, id uuid.UUID, c C, how models.Recording) (*models.Recorded[C], bool, error)
}

// recording is a record that is sent in, on its own or in place of another.
type recording[C any] struct {
	ID         uuid.UUID  `json:"id"`
	Supersedes *uuid.UUID `json:"supersedes,omitempty"`
	Reason     string     `json:"reason,omitempty"`
	Content    C          `json:",inline"`
}

// reasonLimit is how long a reason may be, in characters.
const reasonLimit = 500

func (r recorded[C]) routes() []Route {
	return []Route{
		{Method: "GET", Path: r.path, Roles: r.read, Query: pageQuery(r.filters), Status: http.StatusOK, handle: r.list},
		{Method: "POST", Path: r.path, Roles: r.write, Status: http.StatusCreated, handle: taking(r.post)},
		{Method: "GET", Path: r.path + "/{id}", Roles: r.read, Status: http.StatusOK, handle: r.get},
		{Method: "GET", Path: r.path + "/{id}/chain", Roles: office, Status: http.StatusOK, handle: r.chain},
	}
}

func (r recorded[C]) list(rq *request) (*reply, error) {
	p, conditions, err := rq.page(r.filters...)
	if err != nil {
		return nil, err
	}
	var records []models.Recorded[C]
	err = rq.view(func(tx *models.Tx) (err error) {
		records, err = models.List[models.Recorded[C]](tx, p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(record *models.Recorded[C]) int64 { return record.Seq }
	return plain(paged(records, p.Limit, seq, func(record *models.Recorded[C]) *models.Recorded[C] { return record })), nil
}

func (r recorded[C]) get(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var records []models.Recorded[C]
	err = rq.view(func(tx *models.Tx) (err error) {
		records, err = models.List[models.Recorded[C]](tx, models.Page{Limit: 1}, models.Equal("id", id))
		return err
	})
	if err == nil && len(records) == 0 {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	return plain(&records[0]), nil
}

func (r recorded[C]) post(rq *request, in recording[C]) (*reply, error) {
	var record *models.Recorded[C]
	var repeated bool
	err := rq.in(func(tx *models.Tx) error {
		c := models.NewChecker(tx)
		c.OptionalText("/reason", &in.Reason, reasonLimit)
		faults, err := c.Done()
		if err != nil {
			return err
		}
		how := models.Recording{RecordedAt: tx.Now, Supersedes: in.Supersedes, Reason: in.Reason}
		record, repeated, err = r.record(tx, in.ID, in.Content, how)
		return withFaults(err, repeated, append(checkID("/id", in.ID), faults...))
	})
	if err != nil {
		return nil, err
	}
	return plain(record).at(r.path, record.ID, repeated), nil
}
