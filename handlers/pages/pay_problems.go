package pages

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
)

func payProblemPages() []Page {
	return []Page{
		{Method: "GET", Path: "/pay/{id}/problems", Roles: office, handle: showProblems},
		{Method: "POST", Path: "/pay/{id}/problems", Roles: clerks, handle: settleProblem},
	}
}

const problemsAtOnce = 40

// problemsPage lists what stands in a run's way, what holds pay first. One problem at a time is open, with its fix in place.
type problemsPage struct {
	Run        payrun.Run
	Groups     []problemGroup
	From, More int // where this part of the list begins, and where the next one does; More 0: there is none
	Clerk      bool
	Settled    int // that were settled by records newer than the draft
	Open       *openProblem
}

// Total is how many problems are listed in all.
func (p *problemsPage) Total() (n int) {
	for _, g := range p.Groups {
		n += len(g.Problems)
	}
	return n
}

// problemGroup are the problems of a kind.
type problemGroup struct {
	Kind     payrun.ProblemKind
	Problems []listedProblem
}

// listedProblem is a problem in the list.
type listedProblem struct {
	payrun.KeptProblem
	Text    string
	Fix     fix
	At      string // where it is settled, "" for in its place
	Unfixed string // why there is nothing to settle it by, "" where there is
	Settled bool   // by a record that is newer than the draft
	Open    bool
}

// Done tells whether nobody has to do anything about it any more.
func (p *listedProblem) Done() bool { return p.Settled || p.Decision != nil }

// Key names the problem across redrafts.
func (p *listedProblem) Key() string { return p.ID() }

// fix is how a problem is settled.
type fix string

const (
	fixBreak  fix = "break"  // answer a question about a break
	fixDecide fix = "decide" // say what was found out
	fixCount  fix = "count"  // correct a count, or say that it is right
	fixTime   fix = "time"   // enter the end of a time entry
	fixRate   fix = "rate"   // record a piece rate
	fixHand   fix = "hand"   // say who an unnamed hand is
	fixValue  fix = "value"  // enter what was announced where a rulebook has no value
	fixGarden fix = "garden" // choose the garden's rulebook
	fixBook   fix = "book"   // look at the employer's own rulebooks
	fixNone   fix = "none"   // what is to be done is told in words
)

// fixOf is the fix of a problem.
func fixOf(p *payrun.KeptProblem) fix {
	switch {
	case p.Question != nil:
		return fixBreak
	case p.Code == "pay_problem.time_open":
		return fixTime
	case p.Code == "pay_problem.no_piece_rate":
		return fixRate
	case p.Code == "pay_problem.worker_provisional":
		return fixHand
	case p.Code == "pay_problem.tally_disputed", p.Code == "pay_problem.over_daily_limit":
		return fixCount
	case p.Code == "fault.no_value":
		return fixValue
	case p.Code == "pay_problem.unknown_rulebook":
		return fixGarden
	case p.Code == "pay_problem.local_book_left":
		return fixBook
	case payFixes[p.Code] != "":
		return payFixes[p.Code]
	case p.Kind == payrun.Decide, p.Code == "pay_problem.two_rulebooks" && p.Kind == payrun.Holds:
		return fixDecide
	}
	return fixNone
}

func showProblems(v *visit) (*answer, error) { return problemsPageWith(v, nil) }

func problemsPageWith(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := problemsPage{Clerk: v.caller.Role == models.RoleClerk, From: int(v.number("from"))}
	open := v.gin.Query("open")
	if f != nil {
		open = f.Value("problem")
		page.From = atoi(f.Value("from"))
	}
	err = v.view(func(tx *models.Tx) error { return v.readProblems(tx, &page, id, open) })
	if err != nil {
		return nil, err
	}
	if page.Open != nil {
		if f == nil {
			f = newForm(page.Open.First)
		}
		f.Set("problem", open)
		f.Set("from", strconv.Itoa(page.From))
		f.Keep(page.Open.Version)
	}
	return show("pay_problems", &page).with(f), nil
}

// atoi is a whole number that came in a hidden field, and 0 where it is none.
func atoi(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}

// readProblems reads a part of a run's problems, and what the open one needs.
func (v *visit) readProblems(tx *models.Tx, page *problemsPage, id uuid.UUID, open string) error {
	run, err := payrun.ReadRun(tx, id)
	if err != nil {
		return err
	}
	page.Run = run.Run
	kept, err := payrun.Problems(tx, id)
	if err != nil {
		return err
	}
	slices.SortStableFunc(kept, func(a, b payrun.KeptProblem) int { return cmp.Compare(rankOf(&a), rankOf(&b)) })
	settled, err := payrun.SettledSince(tx, &page.Run, kept)
	if err != nil {
		return err
	}
	if err := v.valuesEntered(tx, kept, settled); err != nil {
		return err
	}
	page.Settled = len(settled)
	if page.From < 0 || page.From >= len(kept) {
		page.From = 0
	}
	if i := slices.IndexFunc(kept, func(k payrun.KeptProblem) bool { return k.ID() == open }); i >= 0 && (i < page.From || i >= page.From+problemsAtOnce) {
		page.From = i / problemsAtOnce * problemsAtOnce
	}
	shown := kept[page.From:min(page.From+problemsAtOnce, len(kept))]
	if page.From+problemsAtOnce < len(kept) {
		page.More = page.From + problemsAtOnce
	}
	for i := range shown {
		p := listedProblem{KeptProblem: shown[i], Text: documents.ProblemText(&shown[i].Problem, v.catalogue()), Fix: fixOf(&shown[i]), Settled: settled[shown[i].ID()], Open: shown[i].ID() == open}
		p.Text = payProblemWords(v.catalogue(), &p.KeptProblem, p.Text)
		if p.At, err = v.bookFixAt(tx, id, &p); err != nil {
			return err
		}
		p.At = cmp.Or(p.At, payFixAt(&p))
		p.Unfixed = payUnfixedWhy(v.catalogue(), &p)
		if n := len(page.Groups); n == 0 || page.Groups[n-1].Kind != p.Kind {
			page.Groups = append(page.Groups, problemGroup{Kind: p.Kind})
		}
		g := &page.Groups[len(page.Groups)-1]
		g.Problems = append(g.Problems, p)
		if p.Open {
			if page.Open, err = v.openProblem(tx, &page.Run, &p, kept); err != nil {
				return err
			}
		}
	}
	return nil
}

// rankOf puts what holds pay first, then what somebody should decide; notes come last.
func rankOf(p *payrun.KeptProblem) int {
	return slices.Index([]payrun.ProblemKind{payrun.Holds, payrun.Decide, payrun.Note}, p.Kind)
}

// problemAt is the address of a run's problems, with one of them open.
func problemAt(run uuid.UUID, from, open string) string {
	query := url.Values{}
	if from != "" && from != "0" {
		query.Set("from", from)
	}
	if open != "" {
		query.Set("open", open)
	}
	if len(query) == 0 {
		return "/pay/" + run.String() + "/problems"
	}
	return "/pay/" + run.String() + "/problems?" + query.Encode()
}

// settleProblem records what settles the problem that is open.
func settleProblem(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("problem", "from", "fix", "answer", "note", "also", "decision", "tally", "pieces", "reason", "end", "rate", "effective_on", "where", "is", "number", "name", "address", "language", "started_on", "ended_on", "was", "place", "block", "operation", "kind", "start", "meal_from", "meal_to")
	if err != nil {
		return nil, err
	}
	done, err := v.settle(id, f)
	if err != nil {
		return v.again(f, err, problemsPageWith)
	}
	return seeOther(problemAt(id, f.Value("from"), ""), done), nil
}

// settle does what a fix asks, and says under which word it is told.
func (v *visit) settle(run uuid.UUID, f *Form) (done string, err error) {
	var p *payrun.KeptProblem
	var all []payrun.KeptProblem
	err = v.view(func(tx *models.Tx) (err error) {
		if err = payrun.Exists(tx, run); err != nil {
			return err
		}
		if all, err = payrun.Problems(tx, run); err != nil {
			return err
		}
		i := slices.IndexFunc(all, func(k payrun.KeptProblem) bool { return k.ID() == f.Value("problem") })
		if i < 0 {
			return &models.Error{Kind: models.Conflict, Key: "page.problem.problem_gone"}
		}
		p = &all[i]
		return nil
	})
	if err != nil {
		return "", err
	}
	switch fix := fixOf(p); {
	case fix == fixBreak:
		return "answered", v.answerBreak(f, p, all)
	case fix == fixTime:
		return "time_ended", v.endTime(f, p)
	case fix == fixRate:
		return "rate_given", v.giveRate(f, p)
	case fix == fixHand:
		return "hand_settled", v.settleHand(f, p)
	case fix == fixCount && f.Value("fix") == string(fixCount):
		return "count_corrected", v.correctCount(f)
	case fix == fixHours:
		return "work_settled", v.settleWork(f, run, p, v.enterHours)
	case fix == fixPieces:
		return "work_settled", v.settleWork(f, run, p, v.enterPieces)
	case fix == fixClock:
		return "clock_given", v.giveClock(f, p)
	case fix == fixDates && f.Value("fix") == string(fixDates):
		return "dates_given", v.giveDates(f, p)
	case fix == fixNone, fix == fixValue, fix == fixGarden, fix == fixBook, fix == fixWages, fix == fixRuns:
		return "", &models.Error{Kind: models.Conflict, Key: "problem.not_to_decide"}
	}
	return "decided", v.in(func(tx *models.Tx) error { return payrun.DecideProblem(tx, run, p.No, f.Value("decision")) })
}

// answerBreak answers the question, and with it the others of its day that ask the same.
func (v *visit) answerBreak(f *Form, p *payrun.KeptProblem, all []payrun.KeptProblem) error {
	q := payrun.BreakAnswering{ID: f.ID, Outcome: payrun.PremiumNotOwed, Reason: payrun.NotOwedReason(f.Value("answer")), Note: f.Value("note"),
		Replace: p.Answer != nil, Questions: []string{p.ID()}}
	if f.Value("answer") == string(payrun.PremiumOwed) {
		q.Outcome, q.Reason = payrun.PremiumOwed, ""
	}
	if f.Value("answer") == "" {
		f.fault("answer", "page.fault.choose", nil)
		return f.Faulty()
	}
	if f.Value("also") != "" {
		for _, other := range alike(p, all) {
			q.Questions = append(q.Questions, other.ID())
		}
	}
	return v.in(func(tx *models.Tx) error {
		_, _, err := payrun.AnswerBreaks(tx, v.Books, q)
		return err
	})
}

// alike are the questions of the same day about the same period that nobody has answered and that take the same reasons.
func alike(p *payrun.KeptProblem, all []payrun.KeptProblem) (others []payrun.KeptProblem) {
	for _, k := range all {
		if k.Question != nil && k.ID() != p.ID() && k.Answer == nil && k.Date == p.Date && k.Question.Period == p.Question.Period &&
			slices.Equal(payrun.ReasonsFor(k.Question), payrun.ReasonsFor(p.Question)) {
			others = append(others, k)
		}
	}
	return others
}

// sumOf is what questions' premiums come to.
func sumOf(questions []payrun.KeptProblem) (sum payroll.Cents) {
	for _, k := range questions {
		sum += k.Question.Premium
	}
	return sum
}
