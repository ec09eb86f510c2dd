package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"palmero/handlers/rulebooks"
	"palmero/handlers/text"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

const rulebookHelp = `Usage: palmero rulebook [FLAGS] [BOOK [PARAMETER]]

Shows the legal values that pay is reckoned with, each with its dates, its source, the day it was read and how well it is
known.

  palmero rulebook                                      the books
  palmero rulebook us-ca minimum_wage                   a parameter's whole history, for every size of employer
  palmero rulebook us-ca --on 2022-01-02                what is in force on a day, under the book and those it adds to
  palmero rulebook us-ca --on 2021-12-31 --with 2022-01-01   what differs between two days
  palmero rulebook --coverage [BOOK]                    what is modelled, for which days, and which published examples show it
  palmero rulebook --not-modelled [BOOK]                what is knowingly left out
  palmero rulebook --check FILE                         whether a local book is good, and why not
  palmero rulebook --enter FILE --employer NAME --account NAME [SETTINGS]   takes a local book into an employer's records

A local book is a file such as oasis.yaml for an ordinance, a contract, or a wage that was announced and is not in the
program yet. It names the book that it adds to as its parent, and says in "local" what it is: ordinance, contract or
announcement. It may only move what its forebears say the protective way.

  --on DATE        a day such as 2022-01-02
  --with DATE      another day, to compare the first one to
  --check FILE     a local book to check; may be given several times, where one adds to another
  --enter FILE     a local book to enter, by which pay is then reckoned; prints its identifier and its key
  --employer NAME  whose it is
  --account NAME   in whose name: an administrator's account, or for an announcement a payroll clerk's
  --supersedes ID  the record whose place it takes, with --reason TEXT
  --id ID          the identifier of the record; the same book under it is entered once (default: a new one)
  --coverage       the coverage register
  --not-modelled   what is knowingly not modelled
  --language       en (the default) or es

Local labor and safety codes govern; the books say what was read and where, and are no legal advice.
`

// rulebookFlags are what the command line asks for.
type rulebookFlags struct {
	on, with              dated.Date
	check                 []string
	coverage, notModelled bool
	language              string
	book, parameter       string
}

func runRulebook(ctx context.Context, args []string, c console) int {
	if enters(args) {
		return enterLocalBook(ctx, args, c)
	}
	f, err := readRulebookFlags(args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		fmt.Fprint(c.out, rulebookHelp)
		return done
	case err != nil:
		return rulebookMisuse(c.err, err.Error())
	}
	books, err := rulebook.Load()
	if err != nil {
		fmt.Fprintf(c.err, "palmero rulebook: the rulebooks cannot be read: %v\n", err)
		return failed
	}
	if len(f.check) > 0 {
		return checkLocalBooks(books, f, c)
	}
	book, known := books.Book(f.book)
	if f.book != "" && !known {
		return rulebookMisuse(c.err, fmt.Sprintf("there is no book %q; there are %s", f.book, strings.Join(books.Keys(), ", ")))
	}
	return f.show(books, book, c)
}

// readRulebookFlags reads flags and names in any order.
func readRulebookFlags(args []string) (*rulebookFlags, error) {
	f := &rulebookFlags{}
	flags := flag.NewFlagSet("rulebook", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.TextVar(&f.on, "on", dated.Date{}, "")
	flags.TextVar(&f.with, "with", dated.Date{}, "")
	flags.BoolVar(&f.coverage, "coverage", false, "")
	flags.BoolVar(&f.notModelled, "not-modelled", false, "")
	flags.StringVar(&f.language, "language", text.English, "")
	flags.Func("check", "", func(file string) error { f.check = append(f.check, file); return nil })
	var names []string
	for rest := args; ; {
		if err := flags.Parse(rest); err != nil {
			return nil, err
		}
		if flags.NArg() == 0 {
			break
		}
		names = append(names, flags.Arg(0))
		rest = flags.Args()[1:]
	}
	if len(names) > 2 {
		return nil, fmt.Errorf("%q is not expected; give a book and a parameter at most", names[2])
	}
	names = append(names, "", "")
	f.book, f.parameter = names[0], names[1]
	return f, f.fits()
}

// fits refuses what cannot be asked for together.
func (f *rulebookFlags) fits() error {
	pages := 0
	for _, page := range []bool{f.coverage, f.notModelled, !f.on.IsZero(), len(f.check) > 0} {
		if page {
			pages++
		}
	}
	switch {
	case !slices.Contains(text.Languages(), f.language):
		return fmt.Errorf("--language %q is not one of %s", f.language, strings.Join(text.Languages(), ", "))
	case pages > 1:
		return errors.New("--on, --check, --coverage and --not-modelled show different things; ask for one of them")
	case !f.with.IsZero() && f.on.IsZero():
		return errors.New("--with needs the day to compare it to; give it in --on")
	case !f.on.IsZero() && f.book == "":
		return errors.New("--on needs a book; name one, such as us-ca")
	case len(f.check) > 0 && f.book != "":
		return fmt.Errorf("%q is not expected beside --check, which names files", f.book)
	case f.parameter != "" && !rulebooks.Known(f.parameter):
		return fmt.Errorf("no book has a parameter %q; there are %s", f.parameter, strings.Join(rulebook.RuleNames(), ", "))
	}
	return nil
}

func (f *rulebookFlags) show(books *rulebook.Library, book *rulebook.Book, c console) int {
	words := text.For(f.language)
	switch {
	case f.coverage:
		rulebooks.Register(c.out, someOrAll(books, book), words)
	case f.notModelled:
		rulebooks.Unmodelled(c.out, f.book, words)
	case book == nil:
		rulebooks.List(c.out, books, words)
	case !f.with.IsZero():
		rulebooks.Changes(c.out, book, f.on, f.with, f.parameter, words)
	case !f.on.IsZero():
		if !rulebooks.InForce(c.out, book, f.on, f.parameter, words) {
			return failed
		}
	case !rulebooks.History(c.out, book, f.parameter, words):
		fmt.Fprintf(c.err, "palmero rulebook: neither %s nor a book that it adds to says anything of %s\n", f.book, f.parameter)
		return failed
	}
	return done
}

// someOrAll is the one book asked for, or all.
func someOrAll(books *rulebook.Library, book *rulebook.Book) []*rulebook.Book {
	if book != nil {
		return []*rulebook.Book{book}
	}
	var all []*rulebook.Book
	for _, key := range books.Keys() {
		b, _ := books.Book(key)
		all = append(all, b)
	}
	return all
}

// largestLocalBook bounds the file that is read; the largest book that comes with the program is a tenth of it.
const largestLocalBook = 1 << 20

// checkLocalBooks reads local books from files and says of each whether it is good.
func checkLocalBooks(books *rulebook.Library, f *rulebookFlags, c console) int {
	texts := map[string][]byte{}
	for _, file := range f.check {
		content, err := readLocalBook(file)
		if err != nil {
			fmt.Fprintf(c.err, "palmero rulebook: %v\n", err)
			return failed
		}
		texts[filepath.Base(file)] = content
	}
	praise, reasons := rulebooks.Check(books, texts, text.For(f.language))
	for _, reason := range reasons {
		fmt.Fprintln(c.err, reason)
	}
	for _, book := range praise {
		fmt.Fprintln(c.out, book)
	}
	if len(reasons) > 0 {
		return failed
	}
	return done
}

func readLocalBook(file string) ([]byte, error) {
	if filepath.Ext(file) != ".yaml" {
		return nil, fmt.Errorf("%s: a book is named for its key and ends in .yaml, such as oasis.yaml", file)
	}
	r, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	content, err := io.ReadAll(io.LimitReader(r, largestLocalBook+1))
	if err == nil && len(content) > largestLocalBook {
		err = fmt.Errorf("%s: is larger than a book can be", file)
	}
	return content, err
}

func rulebookMisuse(errOut io.Writer, what string) int {
	fmt.Fprintf(errOut, "palmero rulebook: %s\nRun \"palmero help rulebook\" for its use.\n", what)
	return misuse
}
