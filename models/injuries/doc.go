// Package injuries keeps what happened to people and nearly did: reports, what became of the cases, whether they go into the log and by when, the log, the yearly summary
// and the rates. What makes a case one to record is the safety engine's to say.
package injuries
