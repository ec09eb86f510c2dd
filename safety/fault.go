package safety

// Fault is one thing wrong with a document: where it stands, and what is wrong, as a message key with its terms.
type Fault struct {
	Pointer string // JSON pointer (RFC 6901) into the document
	Key     string // message key, such as "fault.beyond_range"
	Terms   Terms
}

// Terms are the named values that a message is made of: string, int, bool, [quantity.Number], [dated.Date], or a slice of such.
type Terms map[string]any
