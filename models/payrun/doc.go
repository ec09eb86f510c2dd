// Package payrun makes pay out of records: it gathers a week's records, has each worker's week reckoned, finds what stands in the way, and
// takes the run from draft over approval by a second person to payment. It knows no law: that is package payroll's.
package payrun
