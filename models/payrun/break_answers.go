package payrun

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Outcome is what a clerk says to a question about a break.
type Outcome string

// The outcomes: the premium is owed, as proposed, or it is not, for a reason.
const (
	PremiumOwed    Outcome = "owed"
	PremiumNotOwed Outcome = "not_owed"
)

// NotOwedReason is why a premium is not owed although the records speak for it.
type NotOwedReason string

// The reasons that the law knows. Waived, Provided and OnDuty are about meal periods, TakenUnrecorded about rest and recovery periods, Declined about all of them.
const (
	Waived          NotOwedReason = "waived"           // by mutual consent, in a day that is short enough
	Provided        NotOwedReason = "provided"         // in full and in time, and not recorded so: by what evidence
	OnDuty          NotOwedReason = "on_duty"          // on duty and paid, by a written agreement that the work's nature calls for
	Declined        NotOwedReason = "declined"         // the worker was relieved and free to take it, and chose otherwise
	TakenUnrecorded NotOwedReason = "taken_unrecorded" // taken within time that is recorded as work, and paid as rest now
)

// entryWrong is no reason: a record that is wrong is corrected, and the question goes with it.
const entryWrong = "entry_wrong"

// ReasonsFor are the reasons that may be given to a question.
func ReasonsFor(d *payroll.Decision) []NotOwedReason {
	switch {
	case d.Period != payroll.MissedMeal:
		return []NotOwedReason{TakenUnrecorded, Declined}
	case d.Waivable == "":
		return []NotOwedReason{Provided, OnDuty, Declined}
	}
	return []NotOwedReason{Waived, Provided, OnDuty, Declined}
}

// BreakAnswering answers one question, or many of the same shape at once.
type BreakAnswering struct {
	ID        uuid.UUID     `json:"id"`
	Outcome   Outcome       `json:"outcome"`
	Reason    NotOwedReason `json:"reason,omitempty"` // where it is not owed
	Note      string        `json:"note,omitempty"`   // who said so, by what evidence; wanted where it is not owed
	Replace   bool          `json:"replace,omitempty"`
	Questions []string      `json:"questions"` // as the lists name them
}

// BreakAnswer is an answer as it is kept.
type BreakAnswer struct {
	models.Keyed
	Outcome    Outcome       `json:"outcome"`
	Reason     NotOwedReason `json:"reason,omitempty"`
	Note       string        `json:"note"`
	AnsweredAt time.Time     `json:"answered_at"`
	AnsweredBy uuid.UUID     `json:"answered_by"`
}

// TableName tells gorm the table.
func (BreakAnswer) TableName() string { return "break_answers" }

// AnsweredBreak is a question that was answered: whose day, which breaks of it, and (in Question) what the records showed then.
type AnsweredBreak struct {
	EmployerID   uuid.UUID      `gorm:"primaryKey" json:"-"`
	ID           uuid.UUID      `gorm:"primaryKey" json:"id"`
	Seq          int64          `gorm:"->" json:"-"`
	AnswerID     uuid.UUID      `json:"answer_id"`
	WorkerID     uuid.UUID      `json:"worker_id"`
	Workday      models.Date    `json:"workday"`
	About        payroll.Period `json:"about"` // meal, or rest for rest and recovery periods
	Question     string         `json:"question"`
	SupersededBy *uuid.UUID     `json:"superseded_by"` // the answer that took its place
}

// TableName tells gorm the table.
func (AnsweredBreak) TableName() string { return "answered_breaks" }

// standingAnswer is what an answer that stands says.
type standingAnswer struct {
	Question string
	Outcome  Outcome
	Reason   NotOwedReason
}

// questionsAtOnce bounds a command.
const questionsAtOnce = 5000

// AnswerBreaks records one answer to questions about breaks, as they stand now. A question whose records have moved is refused, and so is one that has an
// answer, unless that is to be replaced. Repeats are answered as by Create.
func AnswerBreaks(tx *models.Tx, books *rulebook.Library, q BreakAnswering) (*BreakAnswer, bool, error) {
	q.Note = strings.TrimSpace(q.Note)
	hash := models.ContentHash(q)
	var stored BreakAnswer
	if err := tx.DB().Where("id = ?", q.ID).Limit(1).Find(&stored).Error; err != nil {
		return nil, false, err
	}
	if q.ID != uuid.Nil && stored.ID == q.ID {
		if stored.ContentHash != hash {
			return nil, true, &models.Error{Kind: models.Conflict, Key: "problem.id_reused"}
		}
		return &stored, true, nil
	}
	named, err := q.check(tx)
	if err != nil {
		return nil, false, err
	}
	old, err := q.checkStanding(tx, books, named)
	if err != nil {
		return nil, false, err
	}
	a := &BreakAnswer{Keyed: models.Keyed{ID: q.ID, ContentHash: hash}, Outcome: q.Outcome, Reason: q.Reason, Note: q.Note, AnsweredAt: tx.Now, AnsweredBy: tx.Actor}
	if err := tx.DB().Create(a).Error; err != nil {
		return nil, false, err
	}
	for some := range slices.Chunk(old, workersAtOnce) {
		if err := tx.DB().Model(&AnsweredBreak{}).Scopes(tx.Among("id", some)).UpdateColumn("superseded_by", a.ID).Error; err != nil {
			return nil, false, err
		}
	}
	for i := range named {
		named[i].ID, named[i].AnswerID = tx.NewID(), a.ID
	}
	if err := models.InsertAll(tx, named); err != nil {
		return nil, false, err
	}
	return a, false, tx.Audit(models.Audit{Action: "answer", SubjectKind: "break_answers", SubjectID: a.ID, Reason: q.Note,
		After: map[string]any{"outcome": q.Outcome, "reason": q.Reason, "questions": q.Questions, "replaces": len(old)}})
}

// check wants a whole answer, and returns the questions that it names.
func (q *BreakAnswering) check(tx *models.Tx) ([]AnsweredBreak, error) {
	c := models.NewChecker(tx)
	c.OneOf("/outcome", string(q.Outcome), string(PremiumOwed), string(PremiumNotOwed))
	c.OptionalText("/note", &q.Note, 500)
	switch {
	case q.Outcome == PremiumNotOwed && q.Reason == entryWrong:
		c.Fault("/reason", "fault.correct_the_record", nil)
	case q.Outcome == PremiumNotOwed:
		c.OneOf("/reason", string(q.Reason), string(Waived), string(Provided), string(OnDuty), string(Declined), string(TakenUnrecorded))
		if q.Note == "" {
			c.Fault("/note", "fault.break_note_needed", nil)
		}
	case q.Reason != "":
		c.Fault("/reason", "fault.owed_without_reason", nil)
	}
	if n := len(q.Questions); n == 0 || n > questionsAtOnce {
		c.Fault("/questions", "fault.not_between", payroll.Terms{"low": 1, "high": questionsAtOnce})
	}
	named := make([]AnsweredBreak, 0, len(q.Questions))
	seen := map[string]bool{}
	for i, text := range q.Questions {
		a, ok := readQuestion(text)
		if about := a.WorkerID.String() + a.Workday.String() + string(a.About); !ok || seen[about] {
			c.Fault("/questions/"+itoa(int64(i)), "fault.no_such_question", nil)
		} else {
			seen[about] = true
		}
		named = append(named, a)
	}
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	return named, err
}

// readQuestion reads whose day and which breaks a question is about.
func readQuestion(text string) (AnsweredBreak, bool) {
	parts := strings.Split(text, "|")
	if len(parts) != 4 || !strings.HasPrefix(parts[1], breakProblem) {
		return AnsweredBreak{}, false
	}
	worker, err := uuid.Parse(parts[0])
	day, bad := dated.ParseDate(parts[2])
	about := payroll.MissedRest
	if strings.Contains(parts[1], "meal") {
		about = payroll.MissedMeal
	}
	return AnsweredBreak{WorkerID: worker, Workday: models.Day(day), About: about, Question: text}, err == nil && bad == nil
}

// checkStanding holds the questions against the weeks as they are now, and returns the answers that the new one takes the place of.
func (q *BreakAnswering) checkStanding(tx *models.Tx, books *rulebook.Library, named []AnsweredBreak) (old []uuid.UUID, err error) {
	asked, err := askedNow(tx, books, named)
	if err != nil {
		return nil, err
	}
	answered, err := answeredNow(tx, named)
	if err != nil {
		return nil, err
	}
	c := models.NewChecker(tx)
	for i := range named {
		at := "/questions/" + itoa(int64(i))
		d := asked[named[i].Question]
		if d == nil {
			c.Fault(at, "fault.no_such_question", nil)
			continue
		}
		if reasons := ReasonsFor(d); q.Outcome == PremiumNotOwed && !slices.Contains(reasons, q.Reason) {
			allowed := make([]string, len(reasons))
			for j, r := range reasons {
				allowed[j] = string(r)
			}
			c.Fault(at, "fault.reason_not_here", payroll.Terms{"reason": string(q.Reason), "allowed": allowed})
		}
		if before := answered[named[i].key()]; before != nil {
			if before.Question == named[i].Question && !q.Replace {
				c.Fault(at, "fault.answered_already", nil)
			}
			old = append(old, before.ID)
		}
	}
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	return old, err
}

// answerKey is what has one answer that stands.
type answerKey struct {
	worker uuid.UUID
	day    dated.Date
	about  payroll.Period
}

func (a *AnsweredBreak) key() answerKey { return answerKey{a.WorkerID, a.Workday.Date, a.About} }

// askedNow reckons the weeks of the questions anew, and returns what is asked in them.
func askedNow(tx *models.Tx, books *rulebook.Library, named []AnsweredBreak) (map[string]*payroll.Decision, error) {
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	weeks := map[dated.Date]map[uuid.UUID]bool{}
	for i := range named {
		week := models.WeekOf(named[i].Workday.Date, profile.Content.WeekStart)
		if weeks[week] == nil {
			weeks[week] = map[uuid.UUID]bool{}
		}
		weeks[week][named[i].WorkerID] = true
	}
	asked := map[string]*payroll.Decision{}
	for week, workers := range weeks {
		questions, err := WeekQuestions(tx, books, week, workers)
		if err != nil {
			return nil, err
		}
		for i := range questions {
			asked[questions[i].ID()] = questions[i].Question
		}
	}
	return asked, nil
}

// answeredNow reads the answers that stand to what the questions are about.
func answeredNow(tx *models.Tx, named []AnsweredBreak) (map[answerKey]*AnsweredBreak, error) {
	first, last := named[0].Workday, named[0].Workday
	workers := map[uuid.UUID]bool{}
	for i := range named {
		workers[named[i].WorkerID] = true
		if named[i].Workday.Before(first.Date) {
			first = named[i].Workday
		}
		if named[i].Workday.After(last.Date) {
			last = named[i].Workday
		}
	}
	answered := map[answerKey]*AnsweredBreak{}
	for some := range slices.Chunk(keysOf(workers), workersAtOnce) {
		var rows []AnsweredBreak
		err := tx.DB().Scopes(tx.Among("worker_id", some)).Where("workday BETWEEN ? AND ? AND superseded_by IS NULL", first, last).Find(&rows).Error
		if err != nil {
			return nil, err
		}
		for i := range rows {
			answered[rows[i].key()] = &rows[i]
		}
	}
	return answered, nil
}

// WeekQuestions are the questions about breaks in a week as its records are now, paid or not, of some workers or (with nil) of all, by worker and day.
func WeekQuestions(tx *models.Tx, books *rulebook.Library, weekStart dated.Date, workers map[uuid.UUID]bool) ([]Problem, error) {
	sel := selection{weekStart: weekStart, only: workers, paidToo: true, bare: true}
	res, err := reckon(tx, books, sel, func(*statement) error { return nil })
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(res.problems, func(p Problem) bool { return p.Question == nil }), nil
}

// findAnswers reads the answers about breaks that stand, of some workers in a week.
func (r *records) findAnswers(b *models.Batch, sel selection, workers []uuid.UUID) {
	var rows []standingAnswer
	b.Find(b.DB().Raw(`SELECT b.question, a.outcome, a.reason FROM answered_breaks b
		JOIN break_answers a ON a.employer_id = b.employer_id AND a.id = b.answer_id
		WHERE b.employer_id = ? AND b.worker_id IN ? AND b.workday BETWEEN ? AND ? AND b.superseded_by IS NULL`, b.Employer, workers, sel.first(), sel.last()), &rows)
	b.Then(func() error {
		r.answers = make(map[string]*standingAnswer, len(rows))
		for i := range rows {
			r.answers[rows[i].Question] = &rows[i]
		}
		return nil
	})
}

// KeptAnswer is an answer to one question, with whose day it is about.
type KeptAnswer struct {
	AnsweredBreak
	Outcome      Outcome
	Reason       NotOwedReason
	Note         string
	AnsweredAt   time.Time
	AnsweredBy   uuid.UUID
	WorkerNumber int64
	WorkerName   string
}

// AnswersAbout narrows a list of answers; what is zero narrows nothing.
type AnswersAbout struct {
	Worker      uuid.UUID
	First, Last dated.Date
}

// BreakAnswers lists what was answered, replaced answers too, in the order in which it came in.
func BreakAnswers(tx *models.Tx, about AnswersAbout, p models.Page) ([]KeptAnswer, error) {
	where, args := "b.employer_id = ? AND b.seq > ?", []any{tx.Employer, p.After}
	narrow := func(condition string, value any) { where, args = where+" AND "+condition, append(args, value) }
	if about.Worker != uuid.Nil {
		narrow("b.worker_id = ?", about.Worker)
	}
	if !about.First.IsZero() {
		narrow("b.workday >= ?", models.Day(about.First))
	}
	if !about.Last.IsZero() {
		narrow("b.workday <= ?", models.Day(about.Last))
	}
	var rows []KeptAnswer
	err := tx.DB().Raw(`SELECT b.*, a.outcome, a.reason, a.note, a.answered_at, a.answered_by, w.number AS worker_number, w.name AS worker_name FROM answered_breaks b
		JOIN break_answers a ON a.employer_id = b.employer_id AND a.id = b.answer_id
		JOIN workers w ON w.employer_id = b.employer_id AND w.id = b.worker_id
		WHERE `+where+` ORDER BY b.seq LIMIT ?`, append(args, p.Limit+1)...).Scan(&rows).Error
	return rows, err
}

// QuestionsAbout narrows a list of questions; what is zero narrows nothing.
type QuestionsAbout struct {
	Week         dated.Date // of the questions of a week
	Date         dated.Date
	Period       payroll.Period
	Crew, Worker uuid.UUID // of a crew: those whose time of the day came in on a sheet of the crew
	Open         *bool     // whether nobody has answered
}

// RunQuestions are the questions about breaks of a run as it was drafted, with the answers that stand now.
func RunQuestions(tx *models.Tx, run uuid.UUID, about QuestionsAbout) ([]KeptProblem, error) {
	var r Run
	if err := tx.DB().Where("id = ?", run).Take(&r).Error; err != nil {
		return nil, err
	}
	problems, err := Problems(tx, run)
	if err != nil {
		return nil, err
	}
	about.Week = r.WeekStart.Date
	return about.among(tx, problems)
}

// WeekBreaks are the questions about breaks in a week as its records are now, with the answers that stand.
func WeekBreaks(tx *models.Tx, books *rulebook.Library, about QuestionsAbout) ([]KeptProblem, error) {
	var only map[uuid.UUID]bool
	if about.Worker != uuid.Nil {
		only = map[uuid.UUID]bool{about.Worker: true}
	}
	asked, err := WeekQuestions(tx, books, about.Week, only)
	if err != nil || len(asked) == 0 {
		return nil, err
	}
	answers, err := BreakAnswers(tx, AnswersAbout{Worker: about.Worker, First: about.Week, Last: about.Week.AddDays(6)}, models.Page{Limit: questionsAtOnce * 10})
	if err != nil {
		return nil, err
	}
	standing := map[string]*KeptAnswer{}
	for i := range answers {
		if answers[i].SupersededBy == nil {
			standing[answers[i].Question] = &answers[i]
		}
	}
	people := map[uuid.UUID]bool{}
	for _, p := range asked {
		people[p.WorkerID] = true
	}
	var workers []models.Worker
	if err := tx.DB().Scopes(tx.Among("id", keysOf(people))).Find(&workers).Error; err != nil {
		return nil, err
	}
	named := models.KeptByID(workers)
	kept := make([]KeptProblem, len(asked))
	for i, p := range asked {
		w := named[p.WorkerID].Content
		kept[i] = KeptProblem{No: i + 1, WorkerNumber: w.Number, WorkerName: w.Name, Answer: standing[p.ID()], Problem: p}
	}
	return about.among(tx, kept)
}

// among keeps the questions that are asked for.
func (about QuestionsAbout) among(tx *models.Tx, problems []KeptProblem) ([]KeptProblem, error) {
	type workerDay struct {
		WorkerID uuid.UUID
		Workday  models.Date
	}
	crew := map[workerDay]bool{}
	if about.Crew != uuid.Nil {
		var rows []workerDay
		err := tx.DB().Raw(`SELECT DISTINCT coalesce(w.same_as, w.id) AS worker_id, t.workday FROM crew_sheets s
			JOIN time_entries t ON t.employer_id = s.employer_id AND t.sheet_id = s.id
			JOIN workers w ON w.employer_id = t.employer_id AND w.id = t.worker_id
			WHERE s.employer_id = ? AND s.crew_id = ? AND s.workday BETWEEN ? AND ?`, tx.Employer, about.Crew, models.Day(about.Week), models.Day(about.Week.AddDays(6))).Scan(&rows).Error
		if err != nil {
			return nil, err
		}
		for _, r := range rows {
			crew[r] = true
		}
	}
	return slices.DeleteFunc(problems, func(k KeptProblem) bool {
		return k.Question == nil || !about.Date.IsZero() && k.Date != about.Date || about.Period != "" && k.Question.Period != about.Period ||
			about.Worker != uuid.Nil && k.WorkerID != about.Worker || about.Open != nil && *about.Open == (k.Answer != nil) ||
			about.Crew != uuid.Nil && !crew[workerDay{k.WorkerID, models.Day(k.Date)}]
	}), nil
}
