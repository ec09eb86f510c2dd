// Package bunches keeps bunch checks: what is asked of a bunch at an operation, and samples of bunches that were looked at against it. They are for coaching. Nothing here
// reads or writes pay, and nothing that reckons pay reads what is kept here.
package bunches
