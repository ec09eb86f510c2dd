// Package safety answers who may go up which palm today, by what way, and why not, and computes the figures behind that: heat index, fall
// clearance, ladders, lifts, incident rates, recordability.
//
// It is pure: no clock, no database, no web. What it compares stands in the YAML files of safety/rulebook. A fact that a document does not give is
// unknown; it is asked for, and never taken as none or as a pass. The program warns and computes; a competent person on site decides, and local
// codes and the maker's manual govern.
package safety
