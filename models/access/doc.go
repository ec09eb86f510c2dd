// Package access decides who is asking: signing in, sessions and their refresh tokens, first sign-in by a code, and who may open
// an account or hand out a code.
//
// # Secrets
//
// An account's owner alone sets its secret. It is kept as an argon2id hash with its parameters, and a bound holds how many are
// computed at once. Staff need 12 characters; workers, who type on a phone in the garden and see nothing but their own records, need 8.
// Either is beyond guessing at the pace that signing in allows: after ten failed attempts on one name within a quarter of an hour,
// the name is blocked for as long.
//
// # Sessions
//
// A session lives on refresh tokens, each good for one step: refreshing hands out a successor. The answer that carries the
// successor may be lost on a bad line, so the predecessor stays good until the successor, or another one issued in its stead,
// is first used. From then on the predecessor and all unused siblings are dead, and whoever presents one holds a copy: the
// session ends, which is audited, and its owner signs in again. However often it is refreshed, a session ends after a season; what
// is left of the tokens of sessions that are over goes at the next sign-in.
package access
