package handlers

import (
	"bytes"
	"net/http"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/climbs"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/rulebook"
)

var (
	topicFilter    = filter{"topic", func(value string) (condition, *payroll.Fault) { return models.Equal("topic", value), nil }}
	signOffFilters = []filter{byID("worker_id"), byID("meeting_id"), topicFilter, byDay("from", models.HeldFrom), byDay("to", models.HeldThrough), byFlag("standing", models.Standing)}
	meetingFilters = []filter{topicFilter, byDay("from", models.HeldFrom), byDay("to", models.HeldThrough)}
)

// trainingRoutes: topics with their sources, sign-offs singly and by the meeting, what ends soon, and a worker's own record.
func trainingRoutes() []Route {
	topics := kept[models.TrainingTopicContent]{
		path: "/api/v1/training-topics", read: staff, write: safetyOfficers, filters: []filter{byFlag("retired", models.RetiredTopics)},
		create: creating(models.Create[models.TrainingTopicContent]), update: updating(models.Update[models.TrainingTopicContent]), check: checkTopic,
	}
	signOffs := recorded[models.SignOffContent]{path: "/api/v1/training-sign-offs", filters: signOffFilters}
	return slices.Concat(topics.routes(), []Route{
		{Method: "GET", Path: "/api/v1/training-needs", Roles: everyone, Query: []string{"on"}, Status: http.StatusOK, handle: listNeeds},
		{Method: "GET", Path: signOffs.path, Roles: overseers, Query: pageQuery(signOffs.filters), Status: http.StatusOK, handle: signOffs.list},
		{Method: "POST", Path: signOffs.path, Roles: safetyOfficers, Status: http.StatusCreated, handle: taking(postSignOff)},
		{Method: "GET", Path: signOffs.path + "/{id}", Roles: overseers, Status: http.StatusOK, handle: signOffs.get},
		{Method: "GET", Path: signOffs.path + "/{id}/chain", Roles: overseers, Status: http.StatusOK, handle: signOffs.chain},
		{Method: "GET", Path: "/api/v1/training-meetings", Roles: overseers, Query: pageQuery(meetingFilters), Status: http.StatusOK, handle: listMeetings},
		{Method: "POST", Path: "/api/v1/training-meetings", Roles: safetyOfficers, Status: http.StatusCreated, handle: taking(postMeeting)},
		{Method: "GET", Path: "/api/v1/training-expiring", Roles: overseers, Query: []string{"on", "within"}, Status: http.StatusOK, handle: listExpiring},
		{Method: "GET", Path: "/api/v1/workers/{id}/training", Roles: overseers, Query: []string{"language", "on"}, Status: http.StatusOK, handle: workerTraining},
		{Method: "GET", Path: "/api/v1/my/training", Roles: hands, Query: []string{"language", "on"}, Status: http.StatusOK, handle: myTraining},
		{Method: "POST", Path: "/api/v1/my/training/{id}/acknowledgement", Roles: hands, Status: http.StatusCreated, Most: wordsLimit, handle: taking(acknowledgeTraining)},
	})
}

// checkTopic wants the ways up of a topic to be such as some rulebook knows, and its key to be none of theirs.
func checkTopic(_ *request, t models.TrainingTopicContent) ([]payroll.Fault, error) {
	return climbBooks().TopicFaults(t), nil
}

// trainingNeed is a topic with everything that asks for it.
type trainingNeed struct {
	Topic string     `json:"topic"`
	Title titles     `json:"title"`
	Asked []askedFor `json:"asked"`
	Own   *uuid.UUID `json:"own"` // the employer's own topic; null: none
}

// titles is a title in each language.
type titles struct {
	EN string `json:"en"`
	ES string `json:"es"`
}

// askedFor says who asks for a topic, of whom, for how long a sign-off holds, and what its record must carry.
type askedFor struct {
	By         string               `json:"by"` // a rulebook's key, or "employer"
	Class      rulebook.Class       `json:"class"`
	Source     string               `json:"source"`
	Section    string               `json:"section"`
	Link       string               `json:"link"`
	Standing   dated.Standing       `json:"standing,omitempty"`
	Ways       []string             `json:"ways"` // none: every way
	Operations []string             `json:"operations"`
	When       []rulebook.Condition `json:"when"`
	Holds      *ending              `json:"holds"` // null: it does not end
	Record     recordAsked          `json:"record"`
}

// ending says how long a sign-off holds, and by what.
type ending struct {
	Months  int            `json:"months"`
	Class   rulebook.Class `json:"class"`
	Section string         `json:"section"`
}

// recordAsked says what the record of a training must carry, and how long it is kept.
type recordAsked struct {
	Carries    []string `json:"carries"`
	KeepMonths int      `json:"keep_months"` // 0: the latest, for as long as it stands
	Section    string   `json:"section"`
}

func titlesOf(t *climbs.Topic) titles {
	return titles{documents.TopicTitle(t, t.Key, text.For(text.English)), documents.TopicTitle(t, t.Key, text.For(text.Spanish))}
}

func showNeed(t *climbs.Topic) trainingNeed {
	need := trainingNeed{Topic: t.Key, Title: titlesOf(t), Asked: []askedFor{}}
	for _, b := range t.Books {
		s := b.Missing.Source
		a := askedFor{
			By: b.Book, Class: b.Missing.Class, Source: s.Title, Section: s.Section, Link: s.Link, Standing: b.Missing.Standing,
			Ways: b.Ways, Operations: []string{}, When: append([]rulebook.Condition{}, b.When...),
			Record: recordAsked{b.Record.Carries, b.Record.KeepMonths, b.Record.Source.Section},
		}
		if e := b.Expires; e != nil {
			a.Holds = &ending{e.Months, e.Class, e.Source.Section}
		}
		need.Asked = append(need.Asked, a)
	}
	if t.Own != nil {
		c := t.Own.Content
		need.Own = &t.Own.ID
		a := askedFor{
			By: "employer", Class: rulebook.House, Source: c.Source, Section: c.Section, Link: c.Link, Ways: append([]string{}, c.Ways...),
			Operations: append([]string{}, c.Operations...), When: []rulebook.Condition{}, Record: recordAsked{append([]string{}, c.Carries...), int(c.KeepMonths), c.Section},
		}
		if c.HoldsMonths > 0 {
			a.Holds = &ending{int(c.HoldsMonths), rulebook.House, c.Section}
		}
		need.Asked = append(need.Asked, a)
	}
	return need
}

// trainingNeeds are the topics of a day.
type trainingNeeds struct {
	On         dated.Date     `json:"on"`
	Items      []trainingNeed `json:"items"`
	NoticeDays int            `json:"notice_days"`      // how long ahead the end of a training is told by the rulebooks
	Without    []string       `json:"without_rulebook"` // rulebooks of gardens for which there is no safety rulebook: what they ask for is not known
}

// askedOn is the day that a request asks for; zero where it asks for none.
func (rq *request) askedOn() (on dated.Date, err error) {
	_, _, err = rq.page(readsDay("on", &on))
	return on, err
}

// dayOr is the day asked for, or today by the server's clock where none is.
func dayOr(tx *models.Tx, on dated.Date) dated.Date {
	if on.IsZero() {
		return dated.DateOf(tx.Now)
	}
	return on
}

func listNeeds(rq *request) (*reply, error) {
	day, err := rq.askedOn()
	if err != nil {
		return nil, err
	}
	var topics *climbs.Topics
	err = rq.view(func(tx *models.Tx) (err error) {
		day = dayOr(tx, day)
		topics, err = climbs.FindTopics(tx, climbBooks(), day)
		return err
	})
	if err != nil {
		return nil, err
	}
	shown := trainingNeeds{On: day, Items: []trainingNeed{}, NoticeDays: topics.NoticeDays(), Without: append([]string{}, topics.Without...)}
	for i := range topics.All {
		shown.Items = append(shown.Items, showNeed(&topics.All[i]))
	}
	return plain(shown), nil
}

func postSignOff(rq *request, in climbs.SigningOff) (*reply, error) {
	var signed *models.SignOff
	var repeated bool
	err := rq.in(func(tx *models.Tx) error {
		reason, err := trimmedReason(tx, &in.Reason)
		if err != nil {
			return err
		}
		signed, repeated, err = climbs.SignOff(tx, climbBooks(), in)
		return withFaults(err, repeated, slices.Concat(checkID("/id", in.ID), reason))
	})
	if err != nil {
		return nil, err
	}
	return plain(signed).at("/api/v1/training-sign-offs", signed.ID, repeated), nil
}

func postMeeting(rq *request, in climbs.Meeting) (*reply, error) {
	var receipt *climbs.MeetingReceipt
	var repeated bool
	err := rq.in(func(tx *models.Tx) (err error) {
		faults := checkID("/id", in.ID)
		for i, a := range in.Attendees {
			faults = append(faults, checkID("/attendees/"+strconv.Itoa(i)+"/id", a.ID)...)
		}
		receipt, repeated, err = climbs.Hold(tx, climbBooks(), in)
		return withFaults(err, repeated, faults)
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: receipt, repeated: repeated}, nil
}

func listMeetings(rq *request) (*reply, error) {
	p, conditions, err := rq.page(meetingFilters...)
	if err != nil {
		return nil, err
	}
	var meetings []models.TrainingMeeting
	err = rq.view(func(tx *models.Tx) (err error) {
		meetings, err = models.List[models.TrainingMeeting](tx, p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(m *models.TrainingMeeting) int64 { return m.Seq }
	return plain(paged(meetings, p.Limit, seq, func(m *models.TrainingMeeting) *models.TrainingMeeting { return m })), nil
}

// expiry is a training that ends soon, or has ended.
type expiry struct {
	Worker   workerInBrief  `json:"worker"`
	Topic    string         `json:"topic"`
	Title    titles         `json:"title"`
	HeldOn   dated.Date     `json:"held_on"`
	Through  dated.Date     `json:"through"`
	DaysLeft int            `json:"days_left"` // negative: it has ended
	Class    rulebook.Class `json:"class,omitempty"`
	Section  string         `json:"section,omitempty"` // of what ends it; absent for the day on a card
}

func listExpiring(rq *request) (*reply, error) {
	var on dated.Date
	within := -1
	_, _, err := rq.page(readsDay("on", &on), readsNumber("within", &within))
	if err != nil {
		return nil, err
	}
	if within < 0 {
		return nil, faultyQuery([]payroll.Fault{{Pointer: "within", Key: "fault.empty"}})
	}
	shown := page[expiry]{Items: []expiry{}}
	err = rq.view(func(tx *models.Tx) error {
		all, err := climbs.Expiring(tx, climbBooks(), dayOr(tx, on), within)
		for _, e := range all {
			shown.Items = append(shown.Items, expiry{
				Worker: workerInBrief{e.WorkerID, e.WorkerNumber, e.Worker}, Topic: e.Topic.Key, Title: titlesOf(e.Topic), HeldOn: e.HeldOn, Through: e.Through,
				DaysLeft: e.DaysLeft, Class: e.Class, Section: e.Section,
			})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(shown), nil
}

// readsNumber is a parameter that holds a number of days, read into a variable.
func readsNumber(name string, into *int) filter {
	return filter{name, func(value string) (condition, *payroll.Fault) {
		n, err := strconv.Atoi(value)
		if err != nil || n < 0 || n > climbs.MostDays {
			return nil, &payroll.Fault{Key: "fault.not_between", Terms: payroll.Terms{"low": 0, "high": climbs.MostDays}}
		}
		*into = n
		return models.Everything, nil
	}}
}

// ownTraining is a worker's own record.
type ownTraining struct {
	Worker  workerInBrief   `json:"worker"`
	On      dated.Date      `json:"on"`
	Entries []trainingEntry `json:"entries"`
}

// trainingEntry is one training of a worker's record.
type trainingEntry struct {
	ID            uuid.UUID   `json:"id"`
	Topic         string      `json:"topic"`
	Title         string      `json:"title"`
	HeldOn        models.Date `json:"held_on"`
	Trainer       string      `json:"trainer"`
	Qualification string      `json:"qualification"`
	Language      string      `json:"language"`
	Understanding string      `json:"understanding"`
	Detail        string      `json:"detail,omitempty"`
	Acknowledged  bool        `json:"acknowledged"`
	Through       *dated.Date `json:"through"`    // null: it does not end
	Ended         bool        `json:"ended"`      // by the day of the record
	KeptUntil     *dated.Date `json:"kept_until"` // null: for as long as it is the latest
}

func showTraining(own *climbs.OwnTraining, words *text.Catalogue) ownTraining {
	w := own.Worker
	shown := ownTraining{Worker: workerInBrief{w.ID, w.Content.Number, w.Content.Name}, On: own.On, Entries: []trainingEntry{}}
	for i := range own.Entries {
		e := &own.Entries[i]
		c := e.Content
		shown.Entries = append(shown.Entries, trainingEntry{
			ID: e.ID, Topic: c.Topic, Title: documents.TopicTitle(e.Topic, c.Topic, words), HeldOn: c.HeldOn, Trainer: c.Trainer, Qualification: c.Qualification, Language: c.Language,
			Understanding: c.Understanding, Detail: c.Detail, Acknowledged: c.Acknowledged, Through: dateOrNull(e.Through),
			Ended: e.Ended(own.On), KeptUntil: dateOrNull(e.KeptUntil),
		})
	}
	return shown
}

func myTraining(rq *request) (*reply, error) { return rq.training(*rq.caller.Worker) }

func workerTraining(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	return rq.training(id)
}

// training answers with a worker's record, as JSON or as a page to take along.
func (rq *request) training(worker uuid.UUID) (*reply, error) {
	lang, err := rq.chosenLanguage()
	if err != nil {
		return nil, err
	}
	on, err := rq.askedOn()
	if err != nil {
		return nil, err
	}
	var own *climbs.OwnTraining
	err = rq.view(func(tx *models.Tx) (err error) {
		own, err = climbs.TrainingOf(tx, climbBooks(), worker, dayOr(tx, on))
		return err
	})
	if err != nil {
		return nil, err
	}
	r := plain(showTraining(own, text.For(lang)))
	if prefersHTML(rq.gin.GetHeader("Accept")) {
		if r, err = trainingPage(own, text.For(lang)); err != nil {
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

func trainingPage(own *climbs.OwnTraining, c *text.Catalogue) (*reply, error) {
	var b bytes.Buffer
	if err := documents.TrainingHTML(&b, documents.TrainingSheetOf(own, c), c); err != nil {
		return nil, err
	}
	r := document("text/html; charset=utf-8", b.Bytes())
	r.header = http.Header{"Content-Security-Policy": {documents.StatementPolicy()}}
	return r, nil
}

// trainingWord is a worker's own word on a training.
type trainingWord struct {
	ID uuid.UUID `json:"id"`
}

func acknowledgeTraining(rq *request, in trainingWord) (*reply, error) {
	signOff, err := rq.id()
	if err != nil {
		return nil, err
	}
	var ack *models.SignOffAcknowledgement
	var repeated bool
	err = rq.in(func(tx *models.Tx) (err error) {
		ack, repeated, err = climbs.AcknowledgeTraining(tx, *rq.caller.Worker, signOff, in.ID)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: ack, repeated: repeated}, nil
}
