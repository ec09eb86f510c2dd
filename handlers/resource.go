package handlers

import (
	"net/http"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// kept is a kind of record of the set-up as the API serves it: listed, created, read and replaced.
type kept[C any] struct {
	path        string
	read, write []models.Role
	filters     []filter
	create      func(rq *request, tx *models.Tx, id uuid.UUID, c C) (*models.Kept[C], bool, error)
	update      func(rq *request, tx *models.Tx, id uuid.UUID, version int64, c C) (*models.Kept[C], error)
	check       func(rq *request, c C) ([]payroll.Fault, error) // what the records cannot check by themselves; may be nil
	show        func(rq *request, record *models.Kept[C]) any   // how much of a record the caller sees; nil: all
}

func (k kept[C]) routes() []Route {
	one := k.path + "/{id}"
	return []Route{
		{Method: "GET", Path: k.path, Roles: k.read, Query: pageQuery(k.filters), Status: http.StatusOK, handle: k.list},
		{Method: "POST", Path: k.path, Roles: k.write, Status: http.StatusCreated, handle: taking(k.post)},
		{Method: "GET", Path: one, Roles: k.read, Status: http.StatusOK, handle: k.get},
		{Method: "PUT", Path: one, Roles: k.write, Status: http.StatusOK, handle: k.put},
	}
}

func (k kept[C]) list(rq *request) (*reply, error) {
	p, conditions, err := rq.page(k.filters...)
	if err != nil {
		return nil, err
	}
	var records []models.Kept[C]
	err = rq.view(func(tx *models.Tx) (err error) {
		records, err = models.List[models.Kept[C]](tx, p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(r *models.Kept[C]) int64 { return r.Seq }
	return plain(paged(records, p.Limit, seq, func(r *models.Kept[C]) any { return k.shown(rq, r) })), nil
}

func (k kept[C]) shown(rq *request, record *models.Kept[C]) any {
	if k.show == nil {
		return record
	}
	return k.show(rq, record)
}

func (k kept[C]) post(rq *request, in created[C]) (*reply, error) {
	faults, err := k.faults(rq, in.Content)
	if err != nil {
		return nil, err
	}
	faults = append(checkID("/id", in.ID), faults...)
	var record *models.Kept[C]
	var repeated bool
	err = rq.in(func(tx *models.Tx) (err error) {
		record, repeated, err = k.create(rq, tx, in.ID, in.Content)
		return withFaults(err, repeated, faults)
	})
	if err != nil {
		return nil, err
	}
	return keptReply(record, k.shown(rq, record)).at(k.path, record.ID, repeated), nil
}

func (k kept[C]) faults(rq *request, c C) ([]payroll.Fault, error) {
	if k.check == nil {
		return nil, nil
	}
	return k.check(rq, c)
}

func (k kept[C]) get(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var record *models.Kept[C]
	err = rq.view(func(tx *models.Tx) (err error) {
		record, err = models.Get[C](tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	return keptReply(record, k.shown(rq, record)), nil
}

// put wants to know which version is replaced before it looks at what replaces it.
func (k kept[C]) put(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	version, err := rq.ifMatch()
	if err != nil {
		return nil, err
	}
	var c C
	if err := rq.decode(&c); err != nil {
		return nil, err
	}
	faults, err := k.faults(rq, c)
	if err != nil {
		return nil, err
	}
	var record *models.Kept[C]
	err = rq.in(func(tx *models.Tx) (err error) {
		record, err = k.update(rq, tx, id, version, c)
		return withFaults(err, false, faults)
	})
	if err != nil {
		return nil, err
	}
	return keptReply(record, k.shown(rq, record)), nil
}

// creating and updating fit what the models offer to what a resource wants, where nothing depends on who asks.
func creating[C any](fn func(*models.Tx, uuid.UUID, C) (*models.Kept[C], bool, error)) func(*request, *models.Tx, uuid.UUID, C) (*models.Kept[C], bool, error) {
	return func(_ *request, tx *models.Tx, id uuid.UUID, c C) (*models.Kept[C], bool, error) {
		return fn(tx, id, c)
	}
}

func updating[C any](fn func(*models.Tx, uuid.UUID, int64, C) (*models.Kept[C], error)) func(*request, *models.Tx, uuid.UUID, int64, C) (*models.Kept[C], error) {
	return func(_ *request, tx *models.Tx, id uuid.UUID, version int64, c C) (*models.Kept[C], error) {
		return fn(tx, id, version, c)
	}
}
