package payroll

// Fault is one thing wrong with a document: where it stands, and what is wrong, as a message key with its terms, so
// that it can be told in the reader's language.
type Fault struct {
	Pointer string // JSON pointer (RFC 6901) into the document, "" for the whole
	Key     string // message key, such as "fault.minutes_negative"
	Terms   Terms
}

// Terms are the named values that a message or a basis is made of. A value is a plain one: string, int, bool,
// [Cents], [Rate], [Pieces], [Minutes], [dated.Date], or a slice of such; whoever renders it writes it in the reader's manner.
type Terms map[string]any
