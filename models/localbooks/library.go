package localbooks

import (
	"maps"
	"slices"
	"strings"
	"sync"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/rulebook"
)

// Library is the law of one employer: the books that come with the program with the employer's own, as they stand.
type Library struct {
	*rulebook.Library
	Left map[string]error // the employer's own that do not hold any more, by key, each with the reason

	contracts []contract
	former    map[string]string // the parents of the employer's own books, those withdrawn included
}

// contract says to whom a contract applies.
type contract struct {
	key, parent      string
	gardens, workers map[uuid.UUID]bool
}

// Of returns the library of the transaction's employer.
func Of(tx *models.Tx, shipped *rulebook.Library) (*Library, error) {
	b := tx.Batch()
	l := Find(b, shipped)
	return l, b.Err()
}

// Find asks for the library of the batch's employer, which is there once the batch was answered.
func Find(b *models.Batch, shipped *rulebook.Library) *Library {
	var l Library
	var heads []models.LocalBook
	b.Find(b.DB().Omit("body").Where("superseded_by IS NULL").Order("seq"), &heads)
	b.Then(func() error { return l.join(b.Tx, shipped, heads) })
	return &l
}

// join makes the library of the books that come with the program and the employer's own, whose texts are read where they were not joined yet.
func (l *Library) join(tx *models.Tx, shipped *rulebook.Library, heads []models.LocalBook) error {
	l.former = map[string]string{}
	var digests []string
	for _, b := range heads {
		c := b.Content
		if l.former[c.Key] = c.Parent; c.Withdrawn {
			continue
		}
		digests = append(digests, c.Key+" "+c.Digest)
		if len(c.GardenIDs) > 0 || len(c.WorkerIDs) > 0 {
			l.contracts = append(l.contracts, contract{c.Key, c.Parent, set(c.GardenIDs), set(c.WorkerIDs)})
		}
	}
	slices.Sort(digests)
	made, err := libraries.of(recipe{shipped, strings.Join(digests, "\n")}, func() (joined, error) {
		books, err := standing(tx)
		if err != nil {
			return joined{}, err
		}
		library, left := shipped.Standing(textsOf(books))
		return joined{library, left}, nil
	})
	l.Library, l.Left = made.books, made.left
	return err
}

// For returns the keys of the books under which a worker's week in a garden falls: the one that the garden names, or in its place a contract that adds to
// it and names the garden or the worker. A contract that adds to a forebear of the garden's book stands beside that book.
func (l *Library) For(garden uuid.UUID, book string, worker uuid.UUID) []string {
	var keys []string
	replaced := false
	for _, c := range l.contracts {
		if !c.gardens[garden] && !c.workers[worker] || c.key == book || !under(l.Library, book, c.parent) {
			continue
		}
		keys = append(keys, c.key)
		replaced = replaced || c.parent == book
	}
	if !replaced {
		keys = append(keys, book)
	}
	return keys
}

// Base returns the book that a contract adds to, and any other book itself: where a week would fall without the contract.
func (l *Library) Base(key string) string {
	for {
		key = l.Current(key)
		book, ok := l.Book(key)
		if !ok || book.Local() != rulebook.Contract {
			return key
		}
		key = book.ParentKey()
	}
}

// Current returns a key as it is, or where the book is no longer in use, that of the nearest forebear which is.
func (l *Library) Current(key string) string {
	for range l.former {
		if _, ok := l.Book(key); ok || l.former[key] == "" {
			return key
		}
		key = l.former[key]
	}
	return key
}

// Instead returns the book under which a week that fell under one book falls today, given the one under which the worker's records fall now: that one where the two differ by
// a contract alone.
func (l *Library) Instead(then, now string) string {
	if now != "" && l.Base(then) == l.Base(now) {
		return now
	}
	return l.Current(then)
}

// standing reads the employer's local books that are in use, by key.
func standing(tx *models.Tx) ([]models.LocalBook, error) {
	var books []models.LocalBook
	err := tx.DB().Scopes(models.StandingBooks(true)).Order("book_key").Find(&books).Error
	return books, err
}

func textsOf(books []models.LocalBook) map[string][]byte {
	texts := make(map[string][]byte, len(books))
	for _, b := range books {
		texts[b.Content.Key+".yaml"] = []byte(b.Content.Body)
	}
	return texts
}

func set(ids []uuid.UUID) map[uuid.UUID]bool {
	all := make(map[uuid.UUID]bool, len(ids))
	for _, id := range ids {
		all[id] = true
	}
	return all
}

// libraries are made once for each set of texts, and shared: they depend on the texts alone.
var libraries = cache{made: map[recipe]joined{}}

type cache struct {
	sync.Mutex
	made map[recipe]joined
}

// recipe is what a library is made of: the books that come with the program, and the digests of the others with their keys.
type recipe struct {
	shipped *rulebook.Library
	digests string
}

type joined struct {
	books *rulebook.Library
	left  map[string]error
}

// mostLibraries bounds what is remembered; beyond it all is forgotten and made anew.
const mostLibraries = 200

func (c *cache) of(r recipe, make func() (joined, error)) (joined, error) {
	if r.digests == "" {
		return joined{books: r.shipped}, nil
	}
	c.Lock()
	made, known := c.made[r]
	c.Unlock()
	if known {
		return made, nil
	}
	made, err := make()
	if err != nil {
		return made, err
	}
	c.Lock()
	defer c.Unlock()
	if len(c.made) >= mostLibraries {
		clear(c.made)
	}
	c.made[r] = made
	return made, nil
}

// Leftovers are the keys of the books that do not hold any more, in order.
func (l *Library) Leftovers() []string { return slices.Sorted(maps.Keys(l.Left)) }

// BookOf is the book by which the provisions of a statement can be looked up, nil where it is not in use any more.
func BookOf(tx *models.Tx, shipped *rulebook.Library, key string) (*rulebook.Book, error) {
	law, err := Of(tx, shipped)
	if err != nil {
		return nil, err
	}
	book, _ := law.Governing(law.Current(key))
	return book, nil
}
