package rulebook

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"maps"
	"slices"
	"strings"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

//go:embed *.yaml
var files embed.FS

// Library is a set of books by key.
type Library struct{ books map[string]*Book }

// Load reads the books that come with the program.
func Load() (*Library, error) { return Parse(Texts()) }

// Texts returns the texts of the books that come with the program, by file name.
func Texts() map[string][]byte { return dated.Texts(files) }

// Parse reads books from their texts by file name. The error joins every problem of every file, each with its line and what to do.
func Parse(texts map[string][]byte) (*Library, error) {
	l := &Library{books: map[string]*Book{}}
	var problems []error
	for _, file := range slices.Sorted(maps.Keys(texts)) {
		b, err := read(file, texts[file])
		problems = append(problems, err)
		l.books[b.key] = b
	}
	if err := errors.Join(problems...); err != nil {
		return nil, err
	}
	return l, nil
}

// Book returns the book of a key such as "us-ca".
func (l *Library) Book(key string) (*Book, bool) {
	b, ok := l.books[key]
	return b, ok
}

// For returns the book that is nearest to the jurisdiction of a garden's rulebook: its own, or for "us-az", which has none, "us".
func (l *Library) For(key string) (*Book, bool) {
	for key != "" {
		if b, ok := l.books[key]; ok {
			return b, true
		}
		key = key[:max(strings.LastIndexByte(key, '-'), 0)]
	}
	return nil, false
}

// Keys returns the keys of all books in alphabetical order.
func (l *Library) Keys() []string { return slices.Sorted(maps.Keys(l.books)) }

// Book is what is asked in one jurisdiction. It is read-only and safe to share.
type Book struct {
	key, title string
	binding    bool
	text       []byte
	digest     string
	unread     []Unread
	numbers    map[string]*dated.Series[quantity.Number]
	tables
}

// tables are what a book says other than in single numbers.
type tables struct {
	duty      *dated.Series[map[string]quantity.Number]
	lengths   *dated.Series[[]Length]
	heat      *dated.Series[[]Duty]
	firstAid  *dated.Series[[]string]
	puncture  *dated.Series[[]quantity.Number]
	reasons   *dated.Series[map[string]Rule]
	clearance *dated.Series[*Clearance]
}

// Unread is a part of a provision that nobody could read in full.
type Unread struct {
	Source dated.Source
	Parts  string // such as "(c)(2) –"
}

// Key names the book: "us-ca".
func (b *Book) Key() string { return b.key }

// Title names the jurisdiction for people: "California".
func (b *Book) Title() string { return b.title }

// Binding tells whether the book's values bind farms; where they do not they are a reference for good practice.
func (b *Book) Binding() bool { return b.binding }

// Text returns the text of the book's file.
func (b *Book) Text() []byte { return slices.Clone(b.text) }

// Digest returns the SHA-256 of the text in hexadecimal.
func (b *Book) Digest() string { return b.digest }

// Unread lists what a person with the page open still has to read.
func (b *Book) Unread() []Unread { return slices.Clone(b.unread) }

// UnreadIn returns the unread parts of the provision that a section belongs to.
func (b *Book) UnreadIn(section string) []Unread {
	var found []Unread
	for _, u := range b.unread {
		if rest, ok := strings.CutPrefix(section, u.Source.Section); ok && (rest == "" || !strings.ContainsAny(rest[:1], ".0123456789")) {
			found = append(found, u)
		}
	}
	return found
}

func read(file string, text []byte) (*Book, error) {
	sum := sha256.Sum256(text)
	b := &Book{text: slices.Clone(text), digest: hex.EncodeToString(sum[:]), key: strings.TrimSuffix(file, ".yaml")}
	doc := dated.Open(file, text)
	f := doc.Root().Fields([]string{"book", "title", "force", "sources", "unread", "numbers", "tables"})
	if key := f["book"].Text(); key != "" && key+".yaml" != file {
		f["book"].Report("is %q in a file of another name; rename one of the two", key)
	}
	b.title = f["title"].Text()
	b.binding = f["force"].Word("binding", "reference") == "binding"
	sources := dated.ReadSources(f["sources"])
	for _, item := range f["unread"].Items() {
		u := item.Fields([]string{"source", "parts"})
		b.unread = append(b.unread, Unread{sources.Named(u["source"]), u["parts"].Text()})
	}
	b.readNumbers(f["numbers"], sources)
	b.readTables(f["tables"], sources)
	sources.CheckUsed()
	return b, doc.Err()
}
