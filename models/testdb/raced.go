//go:build race

package testdb

// raced tells that the race detector is on. The tests then run on PostgreSQL alone: there writers run side by side, and the detector makes SQLite,
// which is Go code throughout, many times slower. Without it they run on both.
const raced = true
