package dated

// Sources are the sources that a file lists, by the names it gives them.
type Sources struct {
	byName map[string]Source
	nodes  []Entry
	used   map[string]bool
}

// ReadSources reads a mapping of names to sources, each with its title, section and link.
func ReadSources(n Node) *Sources {
	s := &Sources{byName: map[string]Source{}, used: map[string]bool{}}
	s.nodes = n.Entries()
	for _, e := range s.nodes {
		f := e.Fields([]string{"title", "section", "link"})
		s.byName[e.Key] = Source{Title: f["title"].Text(), Section: f["section"].Text(), Link: f["link"].Text()}
	}
	return s
}

// Named reads the name of a source that the file lists.
func (s *Sources) Named(n Node) Source {
	if n.node == nil {
		return Source{}
	}
	name := n.Text()
	source, ok := s.byName[name]
	if !ok && name != "" {
		n.Report("names the source %q, which the file does not list; add it under sources", name)
	}
	s.used[name] = true
	return source
}

// CheckUsed notes a problem for every source that nothing names.
func (s *Sources) CheckUsed() {
	for _, e := range s.nodes {
		if !s.used[e.Key] {
			e.Report("is a source that nothing rests on; remove it")
		}
	}
}

// Basis is where a statement of a book rests: its source, the day it was read and how well it is known.
type Basis struct {
	Source Source
	ReadOn Date
	Standing
}

// BasisKeys are the keys of a mapping that carry its basis.
var BasisKeys = []string{"source", "read", "standing"}

// Basis reads the basis out of the fields of a mapping that has the [BasisKeys].
func (s *Sources) Basis(f Fields) Basis {
	return Basis{
		Source:   s.Named(f["source"]),
		ReadOn:   f["read"].Date(),
		Standing: Standing(f["standing"].Word(string(Read), string(Secondary), string(Computed), string(Memory))),
	}
}

// ReadSeries reads a parameter: what it is about, which way protects more, and its values; each value by read.
// It notes a problem where the values leave a gap, overlap, run backwards, or do not say where they come from.
func ReadSeries[T any](n Node, book, name string, sources *Sources, read func(Node) T) *Series[T] {
	f := n.Fields([]string{"about", "way", "values"})
	s := &Series[T]{
		Book: book, Name: name,
		About: f["about"].Text(),
		Way:   Way(f["way"].Word(string(Higher), string(Lower), string(NotComparable))),
	}
	problems := n.problems()
	for i, item := range f["values"].Items() {
		v := readValue(item, sources, read)
		if i > 0 && n.problems() == problems { // ends that could not be read would only seem to leave a gap
			follows(item, s.Values[i-1].Through, v.From)
		}
		s.Values = append(s.Values, v)
	}
	return s
}

func readValue[T any](n Node, sources *Sources, read func(Node) T) Value[T] {
	f := n.Fields(append([]string{"from", "through", "value"}, BasisKeys...))
	basis := sources.Basis(f)
	v := Value[T]{From: f["from"].end(), Through: f["through"].end(), Source: basis.Source, ReadOn: basis.ReadOn, Standing: basis.Standing}
	if value, ok := f["value"]; ok {
		v.Value, v.Given = read(value), value.Figure()
	}
	if !v.Through.IsZero() && v.Through.Before(v.From) {
		f["through"].Report("lies before from; a value ends on the day it begins or later")
	}
	return v
}

// end reads one end of a range: a date, or the word open.
func (n Node) end() Date {
	if n.Is("open") {
		return Date{}
	}
	return n.Date()
}

// follows checks that a value that begins on from comes right after one that ended on through.
func follows(n Node, through, from Date) {
	switch next := through.AddDays(1); {
	case through.IsZero():
		n.Report("follows a value that is open; give that one its last day in through")
	case from.IsZero():
		n.Report("is open at its beginning but not the first; give its first day in from")
	case from.Before(next):
		n.Report("overlaps the value before, which runs through %s; begin on %s", through, next)
	case next.Before(from):
		n.Report("leaves a gap after %s; begin on %s, or say in a value what held between", through, next)
	}
}
