package handlers

import (
	"bytes"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

func statementRoutes() []Route {
	return []Route{
		{Method: "GET", Path: "/api/v1/statements/{id}", Roles: office, Query: []string{"language"}, Status: http.StatusOK, handle: getStatement},
		{Method: "POST", Path: "/api/v1/statements/{id}/void", Roles: office, Status: http.StatusOK, handle: taking(voidStatement)},
		{Method: "GET", Path: "/api/v1/statements/{id}/payment-events", Roles: office, Status: http.StatusOK, handle: getPaymentEvents},
		{Method: "POST", Path: "/api/v1/statements/{id}/payment-events", Roles: clerks, Status: http.StatusCreated, handle: taking(takeBackPayment)},
	}
}

func getStatement(rq *request) (*reply, error) { return rq.statement(nil) }

// briefStatement is a statement in a list.
type briefStatement struct {
	ID            uuid.UUID        `json:"id"`
	RunID         uuid.UUID        `json:"run_id"`
	RunNumber     int64            `json:"run_number"`
	State         payrun.State     `json:"state"` // of the run
	WeekStart     models.Date      `json:"week_start"`
	Worker        workerInBrief    `json:"worker"`
	WorkedMinutes payroll.Minutes  `json:"worked_minutes"`
	Totals        documents.Totals `json:"totals"`
	Payment       *payment         `json:"payment"`
	Void          *void            `json:"void"`       // null where it stands
	ReissueOf     *uuid.UUID       `json:"reissue_of"` // the void statement in whose place it stands
}

// void says when and why a statement was taken back.
type void struct {
	At     time.Time `json:"at"`
	Reason string    `json:"reason"`
}

// payment is how and when a statement was paid.
type payment struct {
	PaidOn    models.Date `json:"paid_on"`
	Method    string      `json:"method"`
	Reference string      `json:"reference"`
}

func briefSeq(b *payrun.Brief) int64 { return b.Seq }

func showBrief(b *payrun.Brief) briefStatement {
	return briefStatement{
		ID: b.ID, RunID: b.RunID, RunNumber: b.RunNumber, State: b.State, WeekStart: b.WeekStart,
		Worker: workerInBrief{b.WorkerID, b.WorkerNumber, b.WorkerName}, WorkedMinutes: b.WorkedMinutes,
		Totals: totalsOf(&b.StatementRow), Payment: showPayment(&b.StatementRow), Void: showVoid(&b.StatementRow), ReissueOf: b.ReissueOf,
	}
}

func totalsOf(r *payrun.StatementRow) documents.Totals {
	return documents.Totals{
		StraightTime: r.StraightTime, Premiums: r.Premiums, Other: r.Other, Gross: r.Gross, Taxes: r.Taxes, Deductions: r.Deductions,
		Reimbursements: r.Reimbursements, Net: r.Net,
	}
}

func showPayment(r *payrun.StatementRow) *payment {
	if r.PaidOn.IsZero() {
		return nil
	}
	return &payment{r.PaidOn, r.PaidMethod, r.PaidReference}
}

func showVoid(r *payrun.StatementRow) *void {
	if r.VoidedAt == nil {
		return nil
	}
	return &void{r.VoidedAt.UTC(), r.VoidReason}
}

// wholeStatement is a statement with everything that belongs to it.
type wholeStatement struct {
	ID        uuid.UUID           `json:"id"`
	Run       runInBrief          `json:"run"`
	Heading   payrun.Heading      `json:"heading"`
	Statement documents.Statement `json:"statement"`
	Detail    []payrun.Detail     `json:"detail"`
	Payment   *payment            `json:"payment"`
	Void      *void               `json:"void"`
	ReissueOf *uuid.UUID          `json:"reissue_of"`
}

// runInBrief says of which run a statement is.
type runInBrief struct {
	ID        uuid.UUID      `json:"id"`
	Number    int64          `json:"number"`
	Kind      payrun.RunKind `json:"kind"`
	State     payrun.State   `json:"state"`
	WeekStart models.Date    `json:"week_start"`
	Payday    models.Date    `json:"payday"`
}

// statement answers with the statement in the path, as JSON or as a page. With a worker it must be theirs.
func (rq *request) statement(worker *uuid.UUID) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	lang, err := rq.chosenLanguage()
	if err != nil {
		return nil, err
	}
	var sheet *payrun.Sheet
	var book *rulebook.Book
	err = rq.view(func(tx *models.Tx) (err error) {
		if sheet, err = payrun.ReadStatement(tx, id, worker); err == nil {
			book, err = localbooks.BookOf(tx, rq.Books, sheet.Figures.Rulebook)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	r := plain(showSheet(sheet, book, text.For(lang)))
	if prefersHTML(rq.gin.GetHeader("Accept")) {
		if r, err = statementPage(sheet, book, text.For(lang)); err != nil {
			return nil, err
		}
	}
	if r.header == nil {
		r.header = http.Header{}
	}
	r.header.Set("Content-Language", lang)
	r.header.Set("Vary", "Accept, Accept-Language")
	return r, nil
}

func showSheet(s *payrun.Sheet, book *rulebook.Book, c *text.Catalogue) wholeStatement {
	statement := documents.StatementJSON(&s.Figures, c)
	statement.Cite(book, documents.RulebookPath)
	return wholeStatement{
		ID:      s.Row.ID,
		Run:     runInBrief{s.Run.ID, s.Run.Number, s.Run.Kind, s.Run.State, s.Run.WeekStart, s.Run.Payday},
		Heading: s.Heading, Statement: statement, Detail: append([]payrun.Detail{}, s.Detail...), Payment: showPayment(&s.Row),
		Void: showVoid(&s.Row), ReissueOf: s.Row.ReissueOf,
	}
}

func statementPage(s *payrun.Sheet, book *rulebook.Book, c *text.Catalogue) (*reply, error) {
	var b bytes.Buffer
	sheet := documents.SheetOf(s)
	sheet.Book = book
	if err := documents.StatementHTML(&b, sheet, c); err != nil {
		return nil, err
	}
	r := document("text/html; charset=utf-8", b.Bytes())
	r.header = http.Header{"Content-Security-Policy": {documents.StatementPolicy()}}
	return r, nil
}

func voidStatement(rq *request, in reasoned) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var sheet *payrun.Sheet
	var book *rulebook.Book
	err = rq.in(func(tx *models.Tx) error {
		if err := in.check(tx); err != nil {
			return err
		}
		if _, err = payrun.Void(tx, id, in.Reason); err == nil {
			sheet, err = payrun.ReadStatement(tx, id, nil)
		}
		if err == nil {
			book, err = localbooks.BookOf(tx, rq.Books, sheet.Figures.Rulebook)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(showSheet(sheet, book, text.For(rq.language()))), nil
}

// paymentEvent is one thing that happened to a statement's payment, with the name of the account that recorded it.
type paymentEvent struct {
	payrun.PaymentEvent
	Author string `json:"author"`
}

func showEvents(tx *models.Tx, events []payrun.PaymentEvent) ([]paymentEvent, error) {
	by := make([]uuid.UUID, len(events))
	for i := range events {
		by[i] = events[i].RecordedBy
	}
	names, err := models.AccountNames(tx, by)
	shown := make([]paymentEvent, len(events))
	for i, e := range events {
		shown[i] = paymentEvent{e, names[e.RecordedBy]}
	}
	return shown, err
}

func getPaymentEvents(rq *request) (*reply, error) { return rq.paymentEvents(nil) }

// paymentEvents answers with what happened to the payment of the statement in the path. With a worker it must be theirs.
func (rq *request) paymentEvents(worker *uuid.UUID) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var shown []paymentEvent
	err = rq.view(func(tx *models.Tx) error {
		if _, err := payrun.ReadStatement(tx, id, worker); err != nil {
			return err
		}
		events, err := payrun.PaymentEvents(tx, id)
		if err == nil {
			shown, err = showEvents(tx, events)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(page[paymentEvent]{Items: shown}), nil
}

func takeBackPayment(rq *request, in payrun.Unpaid) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var shown []paymentEvent
	var repeated bool
	err = rq.in(func(tx *models.Tx) error {
		event, again, err := payrun.TakeBackPayment(tx, id, in)
		repeated = again
		if err = withFaults(err, repeated, checkID("/id", in.ID)); err == nil {
			shown, err = showEvents(tx, []payrun.PaymentEvent{*event})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: shown[0], repeated: repeated}, nil
}

// chosenLanguage is the one that the query asks for, else the one to speak anyway.
func (rq *request) chosenLanguage() (string, error) {
	asked, given := rq.gin.GetQuery("language")
	switch {
	case !given:
		return rq.language(), nil
	case slices.Contains(text.Languages(), asked):
		return asked, nil
	}
	return "", faultyQuery([]payroll.Fault{
		{Pointer: "language", Key: "fault.not_one_of", Terms: payroll.Terms{"value": asked, "allowed": text.Languages()}},
	})
}

// prefersHTML tells whether an Accept header would rather have a page than JSON. JSON is what is had without asking.
func prefersHTML(accept string) bool {
	var html, json float64
	for _, part := range strings.Split(accept, ",") {
		kind, parameters, err := mime.ParseMediaType(part)
		if err != nil {
			continue
		}
		quality := 1.0
		if q, err := strconv.ParseFloat(parameters["q"], 64); err == nil {
			quality = q
		}
		switch kind {
		case "text/html", "text/*", "application/xhtml+xml":
			html = max(html, quality)
		case "application/json", "application/*":
			json = max(json, quality)
		}
	}
	return html > json
}
