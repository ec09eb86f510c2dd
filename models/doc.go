// Package models keeps the records: who works where, what was counted and when, what was paid, and who did what. It
// holds the types, their queries, transactions, the walls between employers, and the audit trail, on PostgreSQL and on SQLite.
// It knows no HTTP and no law.
package models
