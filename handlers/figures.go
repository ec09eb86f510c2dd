package handlers

import (
	"net/http"

	"palmero/handlers/figuring"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/payroll"
	"palmero/safety"
	"palmero/safety/checklists"
)

func figureRoutes() []Route {
	routes := []Route{
		{Method: "GET", Path: "/api/v1/checklists", Roles: everyone, Status: http.StatusOK, handle: listChecklists},
		{Method: "GET", Path: "/api/v1/open-points", Roles: everyone, Status: http.StatusOK, handle: listOpenPoints},
	}
	for _, figure := range safety.Figures() {
		routes = append(routes, Route{
			Method: "POST", Path: "/api/v1/calculations/" + figure.Name, Roles: everyone, Status: http.StatusOK, handle: figureHandler(figure),
		})
	}
	return routes
}

// figureHandler makes a handler of a figure: the same answer as the command line's. Nothing is kept of it.
func figureHandler(figure safety.Figure) handler {
	return func(rq *request) (*reply, error) {
		in := figure.New()
		if err := rq.decode(in); err != nil {
			return nil, err
		}
		answer, faults := figuring.Answer(figure, in, text.For(rq.language()))
		if err := models.Faulty(faults); err != nil {
			return nil, err
		}
		return plain(answer), nil
	}
}

// listChecklists shows the checklists of every way, in both languages, for a device to keep.
func listChecklists(*request) (*reply, error) {
	lists := figuring.Lists()
	shown := []*checklists.Checklist{}
	for _, key := range checklists.Keys(lists) {
		shown = append(shown, lists[key])
	}
	return plain(map[string]any{"items": shown}), nil
}

// OpenPoint is a part of a provision that nobody could read in full.
type OpenPoint struct {
	Rulebook string `json:"rulebook"`
	Section  string `json:"section"`
	Title    string `json:"title"`
	Link     string `json:"link"`
	Parts    string `json:"parts"`
	Text     string `json:"text"`
}

// listOpenPoints shows what a person with the page open still has to read, of every safety rulebook.
func listOpenPoints(rq *request) (*reply, error) {
	points := []OpenPoint{}
	for _, key := range figuring.Books().Keys() {
		book, _ := figuring.Books().Book(key)
		for _, u := range book.Unread() {
			said := rq.say("note.live_text", payroll.Terms{"section": u.Source.Section, "parts": u.Parts})
			points = append(points, OpenPoint{key, u.Source.Section, u.Source.Title, u.Source.Link, u.Parts, said})
		}
	}
	return plain(map[string]any{"items": points}), nil
}
