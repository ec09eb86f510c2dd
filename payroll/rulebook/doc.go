// Package rulebook holds the legal parameters of pay, jurisdiction by jurisdiction: dated values, each with its source,
// in one YAML file per book. No value of any law stands in Go.
//
// A book may name a parent, as a state names the federation. Where a parameter says which way protects the worker more,
// the more protective value of the chain governs; where the values cannot be compared, the nearest book decides.
//
// Local books (an ordinance, a contract, a wage that was announced) come from outside, by [Library.With]. They add to a book of the
// program and may only move what it says the protective way.
//
// A value that changes is ended, not edited: its last day goes into through, and a new one begins the day after. A value that is
// set each year ends with the last year announced, and a later day is an error rather than a guess. Every figure stands a second time, typed from the
// cited text, in the tests. What is modelled, and which published examples show it, is told by [Library.Register]; what is left
// out on purpose, by [Unmodelleds].
package rulebook
