// Package intake takes in what crews record: a crew lead's sheet of a whole workday, or a single time entry or tally. Every line is a record
// with an identifier of its own, made by whoever recorded it first, so that whatever is sent twice is kept once. Work done is
// never refused for who did it: a hand who is not known yet is taken in as a provisional worker.
package intake
