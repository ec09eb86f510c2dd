package pages

import (
	"bytes"
	"html/template"
	"slices"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/models"
	"palmero/models/climbs"
	"palmero/payroll/dated"
)

// trainingPages show whose training ends, and sign a whole crew off at once.
func trainingPages() []Page {
	return []Page{
		{Method: "GET", Path: "/training", Roles: guards, Nav: "page.nav.training", Under: "/safety", handle: showTraining},
		{Method: "GET", Path: "/training/meeting", Roles: officer, handle: showMeeting},
		{Method: "POST", Path: "/training/meeting", Roles: officer, handle: holdMeeting},
		{Method: "GET", Path: "/training/workers/{id}", Roles: guards, handle: showWorkerTraining},
	}
}

// endingTraining is a training that ends soon or has ended.
type endingTraining struct {
	climbs.Expiry
	Title string
	Ago   int // for how many days it has not held any more; 0: it holds
}

// trainingPage is the trainings that end within the notice of the rulebooks.
type trainingPage struct {
	Within  int
	Basis   string // the section on which the notice rests; "" where no rulebook governs
	Endings []endingTraining
}

func showTraining(v *visit) (*answer, error) {
	var page trainingPage
	err := v.view(func(tx *models.Tx) error {
		day, err := v.shownDay(tx)
		if err != nil {
			return err
		}
		topics, err := climbs.FindTopics(tx, climbBooks(), day.Today)
		if err != nil {
			return err
		}
		page.Within, page.Basis = topics.NoticeDays(), topics.NoticeBasis()
		ending, err := climbs.Expiring(tx, climbBooks(), day.Today, page.Within)
		for _, e := range ending {
			page.Endings = append(page.Endings, endingTraining{e, documents.TopicTitle(e.Topic, e.Topic.Key, v.catalogue()), max(0, -e.DaysLeft)})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("training", page), nil
}

// meetingPage is the form that signs off who was at a training.
type meetingPage struct {
	shownDay
	Crew    string // whose members are listed
	Crews   []Option
	Topics  []Option
	Members []Option
}

func showMeeting(v *visit) (*answer, error) {
	return meetingPageOf(v, newForm(map[string]string{"topic": v.gin.Query("topic"), "crew": v.gin.Query("crew")}))
}

func meetingPageOf(v *visit, f *Form) (*answer, error) {
	var page meetingPage
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		if page.Crews, err = v.crewOptions(tx, page.shownDay); err != nil {
			return err
		}
		if page.Crew = f.Value("crew"); page.Crew == "" && len(page.Crews) > 0 {
			page.Crew = page.Crews[0].Value
		}
		topics, err := climbs.FindTopics(tx, climbBooks(), page.Today)
		if err != nil {
			return err
		}
		for i := range topics.All {
			t := &topics.All[i]
			page.Topics = append(page.Topics, Option{t.Key, documents.TopicTitle(t, t.Key, v.catalogue()), f.Holds("topic", t.Key)})
		}
		page.Members, err = membersToSign(tx, page.Crew, page.Today, f)
		return err
	})
	if err != nil {
		return nil, err
	}
	if f.Value("held_on") == "" {
		f.Set("held_on", page.Today.String())
	}
	return show("meeting", page).with(f), nil
}

// membersToSign lists a crew's people of a day, those ticked who are in the form.
func membersToSign(tx *models.Tx, crew string, day dated.Date, f *Form) (options []Option, err error) {
	id, err := uuid.Parse(crew)
	if err != nil {
		return nil, nil
	}
	members, err := models.List[models.CrewMember](tx, models.Page{Limit: mostMembers}, models.MembersOn(day), models.Equal("crew_id", id))
	if err != nil {
		return nil, err
	}
	ids := []uuid.UUID{uuid.Nil}
	for _, m := range members {
		ids = append(ids, m.Content.WorkerID)
	}
	workers, err := models.List[models.Worker](tx, models.Page{Limit: len(ids)}, models.OneOf("id", ids))
	for _, w := range workers {
		options = append(options, Option{w.ID.String(), w.Content.Name, f.Holds("attendees", w.ID.String())})
	}
	return options, err
}

// holdMeeting keeps a training with a sign-off of everybody who is ticked.
func holdMeeting(v *visit) (*answer, error) {
	f, err := v.form("topic", "held_on", "trainer", "qualification", "language", "understanding", "detail", "attendees", "acknowledged")
	if err != nil {
		return nil, err
	}
	in := climbs.Meeting{ID: f.ID, Trained: models.Trained{
		Topic: f.Value("topic"), HeldOn: models.Day(f.Day("held_on")), Trainer: f.Value("trainer"), Qualification: f.Value("qualification"),
		Language: f.Value("language"), Understanding: f.Value("understanding"), Detail: f.Value("detail"),
	}}
	for _, ticked := range f.Values("attendees") {
		worker, err := uuid.Parse(ticked)
		if err != nil {
			f.fault("attendees", "input.not_understood", nil)
			continue
		}
		// The identifier of a sign-off follows from the form's, so that a form sent twice signs off once.
		a := climbs.Attendee{ID: uuid.NewSHA1(f.ID, worker[:]), WorkerID: worker, Acknowledged: f.Value("acknowledged") != ""}
		if !slices.ContainsFunc(in.Attendees, func(b climbs.Attendee) bool { return b.WorkerID == worker }) {
			in.Attendees = append(in.Attendees, a)
		}
	}
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			in.RecordedAt = tx.Now
			_, _, err := climbs.Hold(tx, climbBooks(), in)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, meetingPageOf)
	}
	return seeOther("/training", "meeting"), nil
}

// trainingRecord is somebody's record of training as it is printed.
type trainingRecord struct {
	Name string
	Body template.HTML
}

func showWorkerTraining(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	return v.trainingOf(id)
}

// trainingOf shows a worker's record within the page, to print and take along.
func (v *visit) trainingOf(worker uuid.UUID) (*answer, error) {
	var own *climbs.OwnTraining
	err := v.view(func(tx *models.Tx) error {
		day, err := v.shownDay(tx)
		if err == nil {
			own, err = climbs.TrainingOf(tx, climbBooks(), worker, day.Today)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := documents.TrainingBody(&b, documents.TrainingSheetOf(own, v.catalogue()), v.catalogue()); err != nil {
		return nil, err
	}
	return show("training_record", trainingRecord{own.Worker.Content.Name, template.HTML(b.String())}), nil
}
