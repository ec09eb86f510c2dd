// Package handlers is the API. Every route is a line in a table (see [Routes]): who may call it, what it takes, what it does. One
// wrapper does the rest for all of them: it authenticates, refuses roles and query parameters that the line does not name, decodes the
// body strictly, makes the one call, and renders the answer or the problem.
//
// To add a route, add a line to a table of routes and a function beside it:
//
//	{Method: "POST", Path: "/api/v1/crews", Roles: ..., Status: 201, handle: taking(createCrew)}
//	func createCrew(rq *request, in newCrew) (*reply, error)
package handlers
