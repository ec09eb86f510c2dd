// Package payroll reckons a worker's week: records of work and the rules in force go in, an itemized statement
// comes out, with the reason and the authority of every line.
//
// It is pure: plain values in, results out, no clock, no database, no network. Amounts are integer cents, rates
// integers of 1/10,000 of the currency unit, time integer minutes; whatever lies between is an exact ratio of integers that is
// rounded once, where a line is made: money for pieces to the nearest cent, half up, all else up to the next cent.
//
// [Reckon] is the sequence of the steps; each step is a function of its own, in a file named after what it pays:
// straight_time.go, minimum_makeup.go, guarantee.go, rest_recovery.go, regular_rate.go, overtime.go,
// periods_not_provided.go, reporting_time.go, sick_leave.go, adjustments.go. What can be wrong with a week is in check.go, what
// the records leave open in notes.go. Which steps a jurisdiction takes, and with which values, is in its
// [palmero/payroll/rulebook.Book].
//
// Beside the week stand four that are reckoned from other records, each pure too: what breaks a day has and what the records show of
// them ([Entitlements]), a bonus over several weeks ([SpreadBonus]), a balance of sick leave ([SickAccount]), and the hours that an H-2A
// contract guarantees ([ContractHours]).
//
// The overtime limits and the minimum wage are looked up for each day; the switches of a book are those in force on the first
// day of the workweek.
package payroll
