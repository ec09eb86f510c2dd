package text

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"

	"github.com/go-json-experiment/json/jsontext"

	"palmero/payroll"
)

// The languages that Palmero speaks.
const (
	English = "en"
	Spanish = "es"
)

// Languages lists them, the one that is spoken where nothing else is asked for first.
func Languages() []string { return []string{English, Spanish} }

//go:embed catalogue
var files embed.FS

// catalogues are read once; a message that cannot be read is a fault of the program, found by its first test.
var catalogues = sync.OnceValue(func() map[string]*Catalogue {
	all := map[string]*Catalogue{}
	for _, lang := range Languages() {
		c, err := load(files, lang)
		if err != nil {
			panic(err)
		}
		all[lang] = c
	}
	return all
})

// Catalogue is what is said in one language. It never changes, so any number of goroutines may share it.
type Catalogue struct {
	lang     string
	messages map[string]message
	files    map[string]string // key → file, to name it where two files claim one key
	pages    *Catalogue        // the same as pages speak it; nil in that one itself
}

// For returns the catalogue of a language, "en" or "es"; of any other it returns the English one.
func For(lang string) *Catalogue {
	if c, ok := catalogues()[lang]; ok {
		return c
	}
	return catalogues()[English]
}

// ForPages returns the catalogue of a language as pages speak it, which only people read: a date that a message writes as ISO, as programs that
// pass the message on may want it, is written in the reader's manner too.
func ForPages(lang string) *Catalogue { return For(lang).pages }

// Language returns the catalogue's language, as an HTML lang attribute has it.
func (c *Catalogue) Language() string { return c.lang }

// Has tells whether the catalogue has a message.
func (c *Catalogue) Has(key string) bool { _, ok := c.messages[key]; return ok }

// Keys returns the keys of all messages, in order.
func (c *Catalogue) Keys() []string { return slices.Sorted(maps.Keys(c.messages)) }

// Say returns the message of a key with its terms written in. A key without a message is returned itself, and a placeholder
// without a term stays as it is, so that neither goes unseen.
func (c *Catalogue) Say(key string, terms payroll.Terms) string {
	m, ok := c.messages[key]
	if !ok {
		return key
	}
	if len(m) == 1 && m[0].name == "" {
		return m[0].text
	}
	var b strings.Builder
	b.Grow(typicalLength)
	for _, p := range m {
		c.writePart(&b, p, terms)
	}
	return b.String()
}

// typicalLength is that of most messages, in bytes.
const typicalLength = 96

// message is a sequence of plain texts and placeholders.
type message []part

// part is a placeholder, or where its name is "", a plain text. The text of a placeholder is it as written.
type part struct{ text, name, manner string }

// load reads all files of one language.
func load(from fs.FS, lang string) (*Catalogue, error) {
	c := &Catalogue{lang: lang, messages: map[string]message{}, files: map[string]string{}}
	c.pages = &Catalogue{lang: lang, messages: c.messages, files: c.files}
	names, err := fs.Glob(from, path.Join("catalogue", lang, "*.json"))
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if err := c.read(from, name); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	return c, nil
}

// read adds the messages of one file: a flat JSON object of strings.
func (c *Catalogue) read(from fs.FS, name string) error {
	data, err := fs.ReadFile(from, name)
	if err != nil {
		return err
	}
	d := jsontext.NewDecoder(bytes.NewBuffer(data))
	if t, err := d.ReadToken(); err != nil || t.Kind() != jsontext.KindBeginObject {
		return errors.Join(errors.New("not a JSON object"), err)
	}
	for d.PeekKind() == jsontext.KindString {
		key, err := d.ReadToken()
		if err != nil {
			return err
		}
		k := key.String()
		value, err := d.ReadToken()
		if err != nil {
			return fmt.Errorf("%s: %w", k, err)
		}
		if value.Kind() != jsontext.KindString {
			return fmt.Errorf("%s: not a text", k)
		}
		if err := c.add(name, k, value.String()); err != nil {
			return err
		}
	}
	if _, err := d.ReadToken(); err != nil {
		return err
	}
	if _, err := d.ReadToken(); !errors.Is(err, io.EOF) {
		return errors.Join(errors.New("more than one JSON object"), err)
	}
	return nil
}

func (c *Catalogue) add(file, key, text string) error {
	if first, taken := c.files[key]; taken {
		return fmt.Errorf("%s: already in %s", key, first)
	}
	if strings.TrimSpace(text) == "" {
		return fmt.Errorf("%s: nothing is said", key)
	}
	m, err := parse(text)
	if err != nil {
		return fmt.Errorf("%s: %w", key, err)
	}
	c.messages[key], c.files[key] = m, file
	return nil
}

// parse takes a message apart. A brace always belongs to a placeholder; no message needs one otherwise.
func parse(text string) (message, error) {
	var m message
	for text != "" {
		before, rest, found := strings.Cut(text, "{")
		if strings.Contains(before, "}") {
			return nil, errors.New("a closing brace without an opening one")
		}
		if before != "" {
			m = append(m, part{text: before})
		}
		if !found {
			break
		}
		inside, after, closed := strings.Cut(rest, "}")
		name, manner, _ := strings.Cut(inside, ":")
		if !closed || name == "" || strings.ContainsAny(inside, "{ ") {
			return nil, fmt.Errorf("{%s is no placeholder", rest)
		}
		m = append(m, part{text: "{" + inside + "}", name: name, manner: manner})
		text = after
	}
	return m, nil
}
