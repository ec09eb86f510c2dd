// Package season enters the invented season of an invented date garden into an empty database, for the demo and for tests: an employer with its people,
// blocks, operations and rates, two weeks worked and paid, one worked and still to be settled, and the first day of the next. Everything goes in through
// the use cases that serve in earnest, on a clock that moves along the season, so that the records look as if they had come in day by day.
package season
