//go:build !failpoints

package models

// failpoint is where a test may kill the program: see failpoint_armed.go. In a program that is built for use it does nothing, whatever it is
// told from outside.
func failpoint(string) {}
