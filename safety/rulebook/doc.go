// Package rulebook holds what the safety engine goes by, jurisdiction by jurisdiction: dated limits, what each way up needs, and the provision
// behind every reason, in one YAML file per book. No value of any law stands in Go.
//
// A book that binds says so; one that does not holds reference values of good practice. Where a provision could not be read in full the book
// lists it as unread, so that every answer that rests on it can say so.
package rulebook
