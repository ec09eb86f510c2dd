// Package payroll reckons a worker's week: records of work and the rules in force go in, an itemized statement
// comes out, with the reason and the authority of every line.
//
// It is pure: plain values in, results out, no clock, no database, no network. Amounts are integer cents, rates
// integers of 1/10,000 of the currency unit, time integer minutes; whatever lies between is an exact ratio of integers that is
// rounded once, where a line is made.
package payroll
