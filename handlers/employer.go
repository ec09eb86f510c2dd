package handlers

import (
	"net/http"

	"palmero/models"
)

func employerRoutes() []Route {
	return []Route{
		{Method: "GET", Path: "/api/v1/employer", Roles: office, Status: http.StatusOK, handle: getEmployer},
		{Method: "PUT", Path: "/api/v1/employer", Roles: admins, Status: http.StatusOK, handle: putEmployer},
	}
}

func getEmployer(rq *request) (*reply, error) {
	var profile *models.EmployerProfile
	err := rq.view(func(tx *models.Tx) (err error) {
		profile, err = tx.Profile()
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: profile, version: profile.Version}, nil
}

func putEmployer(rq *request) (*reply, error) {
	version, err := rq.ifMatch()
	if err != nil {
		return nil, err
	}
	var content models.EmployerContent
	if err := rq.decode(&content); err != nil {
		return nil, err
	}
	var profile *models.EmployerProfile
	err = rq.in(func(tx *models.Tx) (err error) {
		profile, err = tx.UpdateProfile(version, content)
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: profile, version: profile.Version}, nil
}
