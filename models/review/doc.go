// Package review gathers from all the records of safety what waits for the safety officer's decision now: the worst first, and of what is as bad the oldest, each with the one action that
// settles it. It takes a fixed number of statements, and reads what is open rather than what has been.
package review
