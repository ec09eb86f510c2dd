// Package localbooks takes in an employer's own rulebooks, checked against those that come with the program, and makes of both the
// library by which that employer's pay is reckoned.
package localbooks
