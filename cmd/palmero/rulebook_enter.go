package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/localbooks"
	"palmero/payroll/rulebook"
)

// entering are the flags with which a local book is entered.
var entering = []string{"enter", "employer", "account", "id", "supersedes", "reason", "language"}

// enters tells whether the command line enters a local book, which needs a database.
func enters(args []string) bool {
	for _, arg := range args {
		if name, _, _ := strings.Cut(strings.TrimLeft(arg, "-"), "="); name == "enter" && strings.HasPrefix(arg, "-") {
			return true
		}
	}
	return false
}

// enterLocalBook takes a local book into an employer's records.
func enterLocalBook(ctx context.Context, args []string, c console) int {
	return recordsCommand{name: "rulebook", help: rulebookHelp, of: byAccount, options: entering, run: keepLocalBook}.execute(ctx, args, c)
}

func keepLocalBook(ctx context.Context, o *recordsOrder) error {
	entry, err := o.localBook()
	if err != nil {
		return err
	}
	books, err := rulebook.Load()
	if err != nil {
		return err
	}
	account := &accountOrder{store: o.store, names: []string{o.flags["employer"], o.flags["account"]}}
	scope, who, err := account.find(ctx)
	if err != nil {
		return err
	}
	var only rulebook.LocalKind
	switch who.Content.Role {
	case models.RoleAdministrator:
	case models.RoleClerk:
		only = rulebook.Announcement
	default:
		return fmt.Errorf("the account %q is neither an administrator's nor a payroll clerk's", o.flags["account"])
	}
	var book *models.LocalBook
	err = o.store.In(ctx, models.Scope{Employer: scope.Employer, Actor: who.ID}, func(tx *models.Tx) (err error) {
		book, _, err = localbooks.Enter(tx, books, *entry, only)
		return err
	})
	if err != nil {
		return o.refused(err)
	}
	o.say("%s %s", book.ID, book.Content.Key)
	return nil
}

// localBook reads what is to be entered.
func (o *recordsOrder) localBook() (*localbooks.Entry, error) {
	var errs []error
	for _, name := range []string{"enter", "employer", "account"} {
		if o.flags[name] == "" {
			errs = append(errs, misused{fmt.Errorf("--%s is missing", name)})
		}
	}
	entry := &localbooks.Entry{ID: models.NewID(), Reason: strings.TrimSpace(o.flags["reason"])}
	if given := o.flags["id"]; given != "" {
		id, err := uuid.Parse(given)
		if entry.ID = id; err != nil {
			errs = append(errs, misused{fmt.Errorf("--id: %w", err)})
		}
	}
	if given := o.flags["supersedes"]; given != "" {
		id, err := uuid.Parse(given)
		if entry.Supersedes = &id; err != nil {
			errs = append(errs, misused{fmt.Errorf("--supersedes: %w", err)})
		}
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	content, err := readLocalBook(o.flags["enter"])
	if err != nil {
		return nil, err
	}
	entry.Text = string(content)
	if key := strings.TrimSuffix(filepath.Base(o.flags["enter"]), ".yaml"); rulebook.Identify(content).Key != key {
		return nil, fmt.Errorf("%s: the book does not say \"book: %s\"; a file is named for its book", o.flags["enter"], key)
	}
	return entry, nil
}

// refused tells what is wrong with a book, each fault on a line.
func (o *recordsOrder) refused(err error) error {
	var e *models.Error
	if !errors.As(err, &e) {
		return err
	}
	words := text.For(text.Match(o.flags["language"]))
	said := words.Say(e.Key, e.Terms)
	for _, f := range e.Faults {
		said += "\n  " + words.Say(f.Key, f.Terms)
	}
	return errors.New(said)
}
