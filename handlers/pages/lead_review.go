package pages

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/gear"
	"palmero/models/heatday"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// crewNeeds is what waits for a lead of safety in the crews that they lead today: lists that were sent back, training that ends, gear that is due, cool-downs that nobody recorded.
func (v *visit) crewNeeds(tx *models.Tx, day *climbs.Day, today dated.Date) ([]Need, error) {
	needs := v.listNeeds(day)
	if len(day.Crews) == 0 {
		return needs, nil
	}
	members, err := models.List[models.CrewMember](tx, models.Page{Limit: mostMembers}, models.MembersOn(today), models.OneOf("crew_id", day.Crews))
	if err != nil {
		return nil, err
	}
	ours := make([]uuid.UUID, len(members))
	for i := range members {
		ours[i] = members[i].Content.WorkerID
	}
	for _, find := range []func(*models.Tx, []uuid.UUID, dated.Date) ([]Need, error){v.coolDownNeeds, v.gearNeeds, v.trainingNeeds} {
		found, err := find(tx, ours, today)
		if err != nil {
			return nil, err
		}
		needs = append(needs, found...)
	}
	return needs, nil
}

// listNeeds are the checklists that the safety officer sent back and that nobody has gone through again.
func (v *visit) listNeeds(day *climbs.Day) (needs []Need) {
	for _, c := range day.Checklists {
		if c.Review == nil || c.Review.Decision != models.SentBack {
			continue
		}
		terms := payroll.Terms{"way": v.catalogue().Word("climb_way", c.Content.Way), "reason": c.Review.Reason}
		path := "/day/climb?crew=" + c.Content.CrewID.String() + "&on=" + day.Workday.String()
		needs = append(needs, Need{Mark{"stop", v.say("page.crew_safety.sent_back", terms)}, path, v.say("page.crew_safety.fill_again", nil)})
	}
	return needs
}

// coolDownNeeds are the cool-down rests of today that fell due and that nobody recorded.
func (v *visit) coolDownNeeds(tx *models.Tx, ours []uuid.UUID, today dated.Date) ([]Need, error) {
	owed, err := heatday.FindOwed(tx, figuring.Books(), today, nil)
	if err != nil {
		return nil, err
	}
	var names []string
	for i := range owed {
		if owed[i].Unrecorded() && slices.Contains(ours, owed[i].WorkerID) {
			names = append(names, owed[i].Name)
		}
	}
	return v.namedNeed("page.crew_safety.cool_downs", names, "/heat", "page.crew_safety.see_heat"), nil
}

// gearNeeds is gear of the crew that was due back or to be replaced.
func (v *visit) gearNeeds(tx *models.Tx, ours []uuid.UUID, today dated.Date) ([]Need, error) {
	late, err := gear.Issues(tx, models.Page{Limit: gearShown}, models.DueBefore(today), models.OneOf("i.worker_id", append([]uuid.UUID{uuid.Nil}, ours...)))
	var names []string
	for _, i := range late {
		names = append(names, i.Worker+" ("+sized(i.Gear, i.Size)+")")
	}
	return v.namedNeed("page.crew_safety.gear_due", names, "/day/gear", "page.crew_safety.see_gear"), err
}

// trainingNeeds are the trainings of the crew that have ended, or end within the notice of the rulebooks.
func (v *visit) trainingNeeds(tx *models.Tx, ours []uuid.UUID, today dated.Date) ([]Need, error) {
	topics, err := climbs.FindTopics(tx, climbBooks(), today)
	if err != nil {
		return nil, err
	}
	ending, err := climbs.Expiring(tx, climbBooks(), today, topics.NoticeDays())
	var names []string
	for _, e := range ending {
		if slices.Contains(ours, e.WorkerID) {
			names = append(names, e.Worker+" ("+documents.TopicTitle(e.Topic, e.Topic.Key, v.catalogue())+", "+v.catalogue().Value(e.Through)+")")
		}
	}
	return v.namedNeed("page.crew_safety.training", names, "", ""), err
}

// namedAtMost is how many are named in one sentence.
const namedAtMost = 6

// namedNeed is one need of several people, nothing where there are none.
func (v *visit) namedNeed(key string, names []string, path, verb string) []Need {
	if len(names) == 0 {
		return nil
	}
	words := strings.Join(names[:min(len(names), namedAtMost)], ", ")
	if more := len(names) - namedAtMost; more > 0 {
		words = v.say("page.crew_safety.and_more", payroll.Terms{"names": words, "count": more})
	}
	need := Need{Mark: Mark{"look", v.say(key, payroll.Terms{"names": words})}, Path: path}
	if path != "" {
		need.Verb = v.say(verb, nil)
	}
	return []Need{need}
}
