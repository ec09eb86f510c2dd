// Package evidence is for whoever has to rely on the records: it proves that what was recorded still stands as it was, seals it as time goes by,
// takes it out into an archive and back into another database, and says how long it has to be kept.
package evidence
