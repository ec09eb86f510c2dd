// Package rulebook holds the legal parameters of pay, jurisdiction by jurisdiction: dated values, each with its source,
// in one YAML file per book. No value of any law stands in Go.
//
// A book may name a parent, as a state names the federation. Where a parameter says which way protects the worker more,
// the more protective value of the chain governs; where the values cannot be compared, the nearest book decides.
package rulebook
