package handlers

import (
	"net/http"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

const (
	breakQuestionsPath = "/api/v1/break-questions"
	breakAnswersPath   = "/api/v1/break-answers"
)

func breakRoutes() []Route {
	narrowing := []string{"cursor", "limit", "date", "period", "crew_id", "worker_id", "open"}
	return []Route{
		{Method: "GET", Path: runsPath + "/{id}/break-questions", Roles: office, Query: narrowing, Status: http.StatusOK, handle: listRunQuestions},
		{Method: "GET", Path: breakQuestionsPath, Roles: office, Query: append([]string{"week_start"}, narrowing...), Status: http.StatusOK, handle: listWeekQuestions},
		{Method: "GET", Path: breakAnswersPath, Roles: office, Query: []string{"cursor", "limit", "worker_id", "from", "to"}, Status: http.StatusOK, handle: listBreakAnswers},
		{Method: "POST", Path: breakAnswersPath, Roles: clerks, Status: http.StatusCreated, handle: taking(answerBreaks)},
	}
}

// breakReason is one thing that the records of a day show.
type breakReason struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// breakQuestion asks about a break that the records do not show as it is owed, with the premium that is paid unless somebody answers that it is not owed.
type breakQuestion struct {
	Question  string                 `json:"question"` // names it, with what the records show now
	Worker    workerInBrief          `json:"worker"`
	Date      dated.Date             `json:"date"`
	Period    payroll.Period         `json:"period"`
	Shown     []breakReason          `json:"shown"`
	Text      string                 `json:"text"`
	Premium   payroll.Cents          `json:"premium"`
	Basis     string                 `json:"basis"`
	Authority string                 `json:"authority"`
	Reasons   []payrun.NotOwedReason `json:"reasons"` // that may be given why it is not owed
	Answer    *givenAnswer           `json:"answer"`  // null: it is paid as proposed
}

// givenAnswer is an answer, with its reason in words.
type givenAnswer struct {
	AnswerID   uuid.UUID            `json:"answer_id"`
	Outcome    payrun.Outcome       `json:"outcome"`
	Reason     payrun.NotOwedReason `json:"reason,omitempty"`
	Text       string               `json:"text"`
	Note       string               `json:"note"`
	AnsweredAt time.Time            `json:"answered_at"`
	AnsweredBy uuid.UUID            `json:"answered_by"`
}

func (rq *request) showGiven(a *payrun.KeptAnswer) *givenAnswer {
	if a == nil {
		return nil
	}
	key := "break_answer." + string(a.Outcome)
	if a.Reason != "" {
		key = "break_answer." + string(a.Reason)
	}
	return &givenAnswer{a.AnswerID, a.Outcome, a.Reason, rq.say(key, nil), a.Note, a.AnsweredAt, a.AnsweredBy}
}

// sayProblem says what a problem is about.
func (rq *request) sayProblem(p *payrun.Problem) string {
	return documents.ProblemText(p, text.For(rq.language()))
}

func (rq *request) showQuestion(k *payrun.KeptProblem) breakQuestion {
	d := k.Question
	shown := breakQuestion{
		Question: k.ID(), Worker: workerInBrief{k.WorkerID, k.WorkerNumber, k.WorkerName}, Date: k.Date, Period: d.Period, Text: rq.sayProblem(&k.Problem),
		Premium: d.Premium, Authority: d.Authority, Reasons: payrun.ReasonsFor(d), Answer: rq.showGiven(k.Answer), Shown: make([]breakReason, len(d.Reasons)),
	}
	if d.Basis.Key != "" {
		shown.Basis = rq.say(d.Basis.Key, d.Basis.Terms)
	}
	for i, r := range d.Reasons {
		shown.Shown[i] = breakReason{r.Code, rq.say("break."+r.Code, r.Terms)}
	}
	return shown
}

// questionsAbout reads which questions are asked for.
func (rq *request) questionsAbout() (payrun.QuestionsAbout, models.Page, error) {
	var about payrun.QuestionsAbout
	p, _, err := rq.page(readsDay("week_start", &about.Week), readsDay("date", &about.Date), readsWord("period", &about.Period, string(payroll.MissedMeal), string(payroll.MissedRest), string(payroll.MissedRecovery)),
		readsID("crew_id", &about.Crew), readsID("worker_id", &about.Worker), readsFlag("open", &about.Open))
	return about, p, err
}

func listRunQuestions(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	about, p, err := rq.questionsAbout()
	if err != nil {
		return nil, err
	}
	var kept []payrun.KeptProblem
	err = rq.view(func(tx *models.Tx) (err error) {
		kept, err = payrun.RunQuestions(tx, id, about)
		return err
	})
	if err != nil {
		return nil, err
	}
	return rq.questionsReply(kept, p), nil
}

func listWeekQuestions(rq *request) (*reply, error) {
	about, p, err := rq.questionsAbout()
	if err != nil {
		return nil, err
	}
	var kept []payrun.KeptProblem
	err = rq.view(func(tx *models.Tx) (err error) {
		if about.Week, err = weekAsked(tx.Batch(), about.Week); err == nil {
			kept, err = payrun.WeekBreaks(tx, rq.Books, about)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return rq.questionsReply(kept, p), nil
}

// questionsReply is a page of questions, which are numbered in their order.
func (rq *request) questionsReply(kept []payrun.KeptProblem, p models.Page) *reply {
	kept = slices.DeleteFunc(kept, func(k payrun.KeptProblem) bool { return int64(k.No) <= p.After })
	return plain(paged(kept, p.Limit, func(k *payrun.KeptProblem) int64 { return int64(k.No) }, rq.showQuestion))
}

// answeredBreak is an answer to one question, as the history has it.
type answeredBreak struct {
	seq          int64
	Worker       workerInBrief  `json:"worker"`
	Date         models.Date    `json:"date"`
	About        payroll.Period `json:"about"`
	Question     string         `json:"question"`
	Answer       *givenAnswer   `json:"answer"`
	SupersededBy *uuid.UUID     `json:"superseded_by"` // null: it stands
}

func listBreakAnswers(rq *request) (*reply, error) {
	var about payrun.AnswersAbout
	p, _, err := rq.page(readsID("worker_id", &about.Worker), readsDay("from", &about.First), readsDay("to", &about.Last))
	if err != nil {
		return nil, err
	}
	var kept []payrun.KeptAnswer
	err = rq.view(func(tx *models.Tx) (err error) {
		kept, err = payrun.BreakAnswers(tx, about, p)
		return err
	})
	if err != nil {
		return nil, err
	}
	show := func(a *payrun.KeptAnswer) answeredBreak {
		return answeredBreak{a.Seq, workerInBrief{a.WorkerID, a.WorkerNumber, a.WorkerName}, a.Workday, a.About, a.Question, rq.showGiven(a), a.SupersededBy}
	}
	return plain(paged(kept, p.Limit, func(a *payrun.KeptAnswer) int64 { return a.Seq }, show)), nil
}

func answerBreaks(rq *request, in payrun.BreakAnswering) (*reply, error) {
	var answer *payrun.BreakAnswer
	var repeated bool
	err := rq.in(func(tx *models.Tx) (err error) {
		answer, repeated, err = payrun.AnswerBreaks(tx, rq.Books, in)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: answer, repeated: repeated}, nil
}

// readsID reads a query parameter that is an identifier.
func readsID(name string, into *uuid.UUID) filter {
	f := byID(name)
	return filter{name, func(value string) (condition, *payroll.Fault) {
		c, fault := f.read(value)
		if fault == nil {
			*into = uuid.MustParse(value)
		}
		return c, fault
	}}
}

// readsWord reads a query parameter that is one of a few words.
func readsWord[W ~string](name string, into *W, words ...string) filter {
	f := byWord(name, words...)
	return filter{name, func(value string) (condition, *payroll.Fault) {
		c, fault := f.read(value)
		*into = W(value)
		return c, fault
	}}
}

// readsFlag reads a query parameter that is true or false.
func readsFlag(name string, into **bool) filter {
	return byFlag(name, func(flag bool) condition {
		*into = &flag
		return models.Everything
	})
}
