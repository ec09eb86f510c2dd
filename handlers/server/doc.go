// Package server is the plumbing under the API: the listening server, and the gin engine with what every request
// passes through. It knows nothing of pay or of problem documents; whoever builds the API hands in how a problem is written.
package server
