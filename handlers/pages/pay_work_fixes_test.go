package pages_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll/dated"
)

// called puts two workers on the roll of a Saturday on which their crew did not work.
func (s *site) called(t *testing.T, first, second int64) {
	t.Helper()
	employer, err := s.store.FindEmployer(t.Context(), "media-tarde")
	if err != nil {
		t.Fatal(err)
	}
	err = s.store.In(t.Context(), models.Scope{Employer: employer.ID, Actor: s.account("hazel")}, func(tx *models.Tx) error {
		sheet := intake.Sheet{ID: models.NewID(), Workday: models.Day(dated.MustDate("2026-02-28")), RecordedAt: tx.Now}
		crews, err := models.List[models.Crew](tx, models.Page{Limit: 1}, models.Equal("name", "Canal"))
		if err != nil {
			return err
		}
		gardens, err := models.List[models.Garden](tx, models.Page{Limit: 1})
		if err != nil {
			return err
		}
		sheet.CrewID, sheet.GardenID = crews[0].ID, gardens[0].ID
		for _, number := range []int64{first, second} {
			workers, err := models.List[models.Worker](tx, models.Page{Limit: 1}, models.Equal("number", number))
			if err != nil {
				return err
			}
			sheet.Roll = append(sheet.Roll, workers[0].ID)
		}
		_, err = intake.Submit(tx, sheet, intake.Whole)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Somebody who was called on a roll and has no time is settled in place: by the time, with its meal period, or by the reason why there is none.
func TestOnTheRollWithoutTime(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		s.called(t, 9, 11)
		hazel := s.as("hazel", "en")
		run := hazel.drafted()
		problems := run + "/problems"
		const gudelia, leobardo = "9 Gudelia Ríos</b>, Sat Feb 28", "11 Leobardo Sáenz</b>, Sat Feb 28"
		p, form := hazel.problem(run, gudelia)
		p.says("was called on the crew&#39;s roll that day", "Did this person work?", "no block of its own", "none")
		hazel.post(problems, form).wants(http.StatusUnprocessableEntity).says(`href="#was"`)
		hazel.post(problems, with(form, "was", "was", "place", p.chosen("place"), "kind", "hourly")).wants(http.StatusUnprocessableEntity).says(`href="#start"`)
		hazel.post(problems, with(form, "start", "seven", "end", "11:30")).wants(http.StatusUnprocessableEntity).says(`href="#start"`, `value="seven"`)
		hazel.post(problems, with(form, "start", "06:30", "meal_from", "09:00")).wants(http.StatusUnprocessableEntity).says(`href="#meal_to"`)
		hazel.post(problems, with(form, "meal_to", "12:00")).wants(http.StatusUnprocessableEntity).says("has to end before the time ends")
		hazel.post(problems, with(form, "meal_to", "09:30", "place", "nowhere")).wants(http.StatusUnprocessableEntity)
		s.clock.Set(s.clock.Now().Add(time.Minute))
		for range 2 {
			hazel.post(problems, with(form, "place", p.chosen("place"))).leads(problems + "?done=work_settled")
		}

		_, form = hazel.problem(run, leobardo)
		hazel.post(problems, with(form, "was", "none", "decision", " ")).wants(http.StatusUnprocessableEntity).says(`href="#decision"`)
		hazel.post(problems, with(form, "decision", "He was ill, says Gudelia")).leads(problems + "?done=work_settled")
		hazel.get(problems).says("Settled since the draft: 1.", "He was ill, says Gudelia")

		hazel.posted(run+"/redraft", map[string][]string{"version": {hazel.get(run).hidden("version")}}).leads(run + "?done=redrafted")
		if p := hazel.get(problems).says(leobardo, "He was ill, says Gudelia"); strings.Count(p.body, "crew&#39;s roll that day") != 1 {
			t.Errorf("what was entered is still asked for: %s", p.main())
		}
		hazel.get(run+"/changes").says("9 Gudelia Ríos", "Time on Feb 28, 2026 was added.", "By the hour")
		s.as("abril", "es").get(problems).says("estuvo en la lista de la cuadrilla ese día").hides("Anotar el tiempo, o decir")
	})
}

// A question about a break says where it asks what is paid meanwhile.
func TestUnansweredIsPaidAsProposed(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", "en")
		run := hazel.drafted()
		p, _ := hazel.problem(run, "No meal period")
		p.says("Until somebody answers, the premium of $20.09 is paid as proposed.")
	})
}

var option = regexp.MustCompile(`<option value="([^"]*)"`)

// chosen is the first choice of a field to select from.
func (p *page) chosen(name string) string {
	p.Helper()
	_, after, found := strings.Cut(p.body, `<select id="`+name+`"`)
	m := option.FindStringSubmatch(after)
	if !found || m == nil {
		p.Fatalf("%s has no choices for %s", p.what, name)
	}
	return m[1]
}
