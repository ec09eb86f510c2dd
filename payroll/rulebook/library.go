package rulebook

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"palmero/payroll/dated"
)

//go:embed *.yaml
var files embed.FS

// Library is a set of books by key.
type Library struct {
	books map[string]*Book
}

// Load reads the books that come with the program.
func Load() (*Library, error) { return Parse(Texts()) }

// Texts returns the texts of the books that come with the program, by file name.
func Texts() map[string][]byte { return dated.Texts(files) }

// Parse reads books from their texts, given by file name: the book "us-ca" stands in "us-ca.yaml". The error joins every
// problem of every file, each with its file, line and what to do.
func Parse(texts map[string][]byte) (*Library, error) { return (&Library{}).With(texts) }

// With returns a library with further books, given by file name as in [Parse]. Local books are checked against their
// forebears; each way in which one protects less is a [*Loosening] among the joined errors.
func (l *Library) With(texts map[string][]byte) (*Library, error) {
	all := l.copied()
	var added []*Book
	var problems []error
	for _, file := range slices.Sorted(maps.Keys(texts)) {
		b, err := read(file, texts[file])
		problems, added = append(problems, err, all.add(b)), append(added, b)
	}
	for _, b := range added {
		problems = append(problems, all.traced(b))
	}
	if err := errors.Join(problems...); err != nil {
		return nil, err
	}
	all.seat()
	for _, b := range added {
		problems = append(problems, all.fits(b))
	}
	if err := errors.Join(problems...); err != nil {
		return nil, err
	}
	return all, nil
}

// copied returns a library of copies, whose parents may be set without harm to those who share the books.
func (l *Library) copied() *Library {
	c := &Library{books: make(map[string]*Book, len(l.books))}
	for key, b := range l.books {
		book := *b
		c.books[key] = &book
	}
	return c
}

func (l *Library) add(b *Book) error {
	if _, taken := l.books[b.key]; taken {
		return &Refusal{b.key, "name_taken", nil, "has the name of a book that is there already; give it another"}
	}
	l.books[b.key] = b
	return nil
}

// traced follows a book's parents to the last, and tells where that cannot be done.
func (l *Library) traced(b *Book) error {
	seen := []string{b.key}
	for at := b; at.parentKey != ""; {
		parent, ok := l.books[at.parentKey]
		if !ok {
			return &Refusal{at.key, "no_parent", map[string]any{"parent": at.parentKey},
				fmt.Sprintf("names the parent %q, which is no book; add %[1]s.yaml or remove the line", at.parentKey)}
		}
		if parent.local == Announcement {
			return &Refusal{at.key, "announced_parent", map[string]any{"parent": parent.key, "of": parent.parentKey},
				fmt.Sprintf("adds to the announcement %s; name the book %s, to which that adds", parent.key, parent.parentKey)}
		}
		if slices.Contains(seen, parent.key) {
			return &Refusal{b.key, "own_forebear", map[string]any{"books": seen},
				fmt.Sprintf("is its own forebear by %s; remove one of the parents", strings.Join(seen, ", "))}
		}
		seen = append(seen, parent.key)
		at = parent
	}
	return nil
}

// fits checks that a book and its forebears leave nothing out that pay needs, and that a local one protects no less than they do.
func (l *Library) fits(b *Book) error {
	switch {
	case !b.IsLocal() && b.parentKey != "" && l.books[b.parentKey].IsLocal():
		return &Refusal{b.key, "local_parent", nil, "has a local book for a parent; say in local what kind of local book it is"}
	case !b.IsLocal():
		return b.complete()
	case b.parentKey == "":
		return &Refusal{b.key, "parent_missing", nil, "is a local book without a parent; name the book that it adds to"}
	}
	var all []error
	for _, l := range b.loosenings() {
		all = append(all, l)
	}
	return errors.Join(append(all, b.complete())...)
}

// Book returns the book of a key such as "us-ca".
func (l *Library) Book(key string) (*Book, bool) {
	b, ok := l.books[key]
	return b, ok
}

// Governing returns the book by which pay is reckoned where a key is named: the book itself, or the last of the announcements
// that add to it.
func (l *Library) Governing(key string) (*Book, bool) {
	b, ok := l.books[key]
	if !ok {
		return nil, false
	}
	if b.local == Announcement {
		b = l.books[b.parentKey]
	}
	return l.topmost(b), true
}

// Keys returns the keys of all books in alphabetical order.
func (l *Library) Keys() []string { return slices.Sorted(maps.Keys(l.books)) }

// Book is the law of one jurisdiction. It is read-only and safe to share.
type Book struct {
	key, title  string
	parentKey   string
	parent      *Book
	text        []byte
	digest      string
	local       LocalKind
	authorities map[string]authority
	shown       []*dated.Series[dated.Figure] // every parameter, in the order of the file
	parameters
}

// authority is the provision on which a line or note rests.
type authority struct {
	book string
	dated.Basis
}

// Key names the book: "us-ca".
func (b *Book) Key() string { return b.key }

// Title names the jurisdiction for people: "California".
func (b *Book) Title() string { return b.title }

// Text returns the text of the book's file.
func (b *Book) Text() []byte { return slices.Clone(b.text) }

// Digest returns the SHA-256 of the text in hexadecimal.
func (b *Book) Digest() string { return b.digest }

// Chain returns the book and its forebears, itself first: every book whose law applies.
func (b *Book) Chain() []*Book {
	var chain []*Book
	for at := b; at != nil; at = at.parent {
		chain = append(chain, at)
	}
	return chain
}

// Authority returns the section on which lines or notes of a code rest, "" where no book of the chain names one. Under a coverage, a
// provision that the book gives for that coverage goes before the one for all.
func (b *Book) Authority(code, coverage string) string {
	_, basis := b.AuthorityBasis(code, coverage)
	return basis.Source.Section
}

// AuthorityBasis returns the key of the book that names the provision that Authority tells the section of, with its
// source, when it was read and how well it is known.
func (b *Book) AuthorityBasis(code, coverage string) (book string, basis dated.Basis) {
	for at := b; at != nil; at = at.parent {
		if a, ok := at.authorities[code]; ok {
			return a.book, a.Basis
		}
		if a, ok := at.byCoverage[coverage][code]; ok {
			return a.book, a.Basis
		}
	}
	return "", dated.Basis{}
}

// Cited finds a provision by its section among those that the book and its forebears name, those for a code first. It returns the key of the book that
// names it, and its source.
func (b *Book) Cited(code, section string) (book string, source dated.Source, ok bool) {
	for _, wanted := range []string{code, ""} {
		for _, at := range b.Chain() {
			if a, ok := at.cited(wanted, section); ok {
				return a.book, a.Source, true
			}
		}
	}
	return "", dated.Source{}, false
}

// cited finds a provision of a code, or with "" of any, in the book itself.
func (b *Book) cited(code, section string) (authority, bool) {
	among := []map[string]authority{b.authorities}
	for _, coverage := range slices.Sorted(maps.Keys(b.byCoverage)) {
		among = append(among, b.byCoverage[coverage])
	}
	for _, all := range among {
		for _, c := range slices.Sorted(maps.Keys(all)) {
			if a := all[c]; a.Source.Section == section && (code == "" || code == c) {
				return a, true
			}
		}
	}
	return authority{}, false
}

// Parameters returns everything that the book itself says, as its file writes it and in that order.
func (b *Book) Parameters() []*dated.Series[dated.Figure] { return slices.Clone(b.shown) }

// Parameter returns what the book itself says of a parameter such as "minimum_wage.large".
func (b *Book) Parameter(name string) (*dated.Series[dated.Figure], bool) {
	i := slices.IndexFunc(b.shown, func(s *dated.Series[dated.Figure]) bool { return s.Name == name })
	if i < 0 {
		return nil, false
	}
	return b.shown[i], true
}

// bookKeys are the keys of a book's file, of which all but the last two must be there.
var bookKeys = []string{"book", "title", "sources", "parameters", "authorities", "parent", "local"}

// Refusal is why a book as a whole cannot stand among the others.
type Refusal struct {
	Book   string
	Reason string         // a word that stays the same in every language
	Terms  map[string]any // what the reason is about
	what   string
}

func (r *Refusal) Error() string { return r.Book + ".yaml: " + r.what }

func read(file string, text []byte) (*Book, error) {
	sum := sha256.Sum256(text)
	b := &Book{text: slices.Clone(text), digest: hex.EncodeToString(sum[:])}
	b.key = strings.TrimSuffix(file, ".yaml")
	doc := dated.Open(file, text)
	f := doc.Root().Fields(bookKeys[:5], bookKeys[5:]...)
	if key := f["book"].Text(); key != "" && key+".yaml" != file {
		f["book"].Report("is %q in a file of another name; rename one of the two", key)
	}
	b.title = f["title"].Text()
	if f.Has("parent") {
		b.parentKey = f["parent"].Text()
	}
	if f.Has("local") {
		b.local = LocalKind(f["local"].Word(string(Ordinance), string(Contract), string(Announcement)))
	}
	sources := dated.ReadSources(f["sources"])
	b.readParameters(f["parameters"], sources)
	b.readAuthorities(f["authorities"], sources)
	sources.CheckUsed()
	return b, doc.Err()
}

func (b *Book) readAuthorities(n dated.Node, sources *dated.Sources) {
	b.authorities = map[string]authority{}
	b.byCoverage = map[string]map[string]authority{}
	for _, e := range n.Entries() {
		a := authority{b.key, sources.Basis(e.Fields(dated.BasisKeys))}
		code, coverage, split := strings.Cut(e.Key, ".")
		if !split {
			b.authorities[code] = a
			continue
		}
		if b.byCoverage[coverage] == nil {
			b.byCoverage[coverage] = map[string]authority{}
		}
		b.byCoverage[coverage][code] = a
	}
}
