package measuring

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"time"

	"github.com/google/uuid"

	"palmero/handlers"
	"palmero/handlers/tokens"
	"palmero/models"
	"palmero/models/access"
	"palmero/models/payrun"
)

// clerk asks the API, within this process, as the employer's clerk.
type clerk struct {
	api   http.Handler
	token string
}

// signIn builds the API on the store and signs the clerk in.
func (m *measure) signIn(ctx context.Context) (*clerk, error) {
	secret := make([]byte, tokens.MinSecret)
	if _, err := rand.Read(secret); err != nil {
		return nil, err
	}
	store := m.employer.Store
	issuer, err := tokens.NewIssuer(tokens.Keys{Current: tokens.Key{ID: "bench", Secret: secret}}, "palmero-bench", time.Hour, Now)
	if err != nil {
		return nil, err
	}
	api, err := handlers.New(handlers.Config{Store: store, Books: m.books, Issuer: issuer, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		return nil, err
	}
	code, err := access.New(store, access.Options{}).IssueCode(ctx, models.Scope{Employer: m.employer.Clerk.Employer}, models.RoleAdministrator, m.employer.Clerk.Actor)
	if err != nil {
		return nil, err
	}
	c := &clerk{api: api}
	body, err := json.Marshal(map[string]string{"employer": m.Employer, "account": string(models.RoleClerk), "code": code.Code, "secret": rand.Text()})
	if err != nil {
		return nil, err
	}
	request := httptest.NewRequestWithContext(ctx, http.MethodPost, "/api/v1/first-sign-in", bytes.NewReader(body))
	request.Header.Set("Content-Type", "application/json")
	answer, err := c.ask(request)
	if err != nil {
		return nil, err
	}
	var signedIn struct {
		Token string `json:"access_token"`
	}
	err = json.Unmarshal(answer, &signedIn)
	c.token = signedIn.Token
	return c, err
}

func (c *clerk) ask(request *http.Request) ([]byte, error) {
	recorder := httptest.NewRecorder()
	c.api.ServeHTTP(recorder, request)
	answer, err := io.ReadAll(recorder.Result().Body)
	if err == nil && recorder.Code != http.StatusOK {
		err = fmt.Errorf("%s %s: status %d: %s", request.Method, request.URL.Path, recorder.Code, answer)
	}
	return answer, err
}

func (c *clerk) statement(ctx context.Context, id uuid.UUID, kind string) error {
	request := httptest.NewRequestWithContext(ctx, http.MethodGet, "/api/v1/statements/"+id.String(), nil)
	request.Header.Set("Accept", kind)
	request.Header.Set("Authorization", "Bearer "+c.token)
	_, err := c.ask(request)
	return err
}

// statements asks for the run's statements as JSON and as pages, over the API: with the caller's session looked up, and everything that a statement says.
func (m *measure) statements(ctx context.Context) error {
	c, err := m.signIn(ctx)
	if err != nil {
		return err
	}
	ids, err := m.statementIDs(ctx)
	if err != nil {
		return err
	}
	for _, as := range []struct{ name, kind string }{{"statements out, JSON", "application/json"}, {"statements out, HTML", "text/html"}} {
		var own, reference float64
		err := m.part(Part{Name: as.name, People: len(ids)}, func() error {
			for _, id := range ids {
				if err := timed(&own, func() error { return c.statement(ctx, id, as.kind) }); err != nil {
					return err
				}
				if err := timed(&reference, func() error { return m.reference.Statement(ctx, id) }); err != nil {
					return err
				}
			}
			return nil
		})
		m.last().Seconds, m.last().Reference = own, reference
		if err != nil {
			return err
		}
	}
	return nil
}

func (m *measure) statementIDs(ctx context.Context) (ids []uuid.UUID, err error) {
	err = m.employer.Store.View(ctx, m.employer.Clerk, func(tx *models.Tx) error {
		some, err := payrun.RunStatements(tx, m.run.ID, models.Page{Limit: mostRead})
		for _, b := range some[:min(len(some), mostRead)] {
			ids = append(ids, b.ID)
		}
		return err
	})
	return ids, err
}
