package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"palmero/models"
)

// recordsOrder is what is asked of a command on the records as a whole: names, flags of the command's own, and the store where it opens one.
type recordsOrder struct {
	settings
	console
	names []string
	flags map[string]string
	store *models.Store
}

// recordsCommand is a command on the records as a whole.
type recordsCommand struct {
	name, help string
	of         usedBy
	names      []string // what its arguments are
	needed     int      // how many of them it cannot do without
	options    []string // flags of its own
	closed     bool     // whether it opens no store
	run        func(ctx context.Context, o *recordsOrder) error
}

func (cmd recordsCommand) execute(ctx context.Context, args []string, c console) int {
	o := &recordsOrder{console: c}
	rest, err := cmd.parse(o, args)
	r := readSettings(cmd.name, cmd.of, rest, c.environ)
	if status, ok := r.settle(cmd.name, cmd.help, cmd.of, c); !ok {
		return status
	}
	o.settings = r.settings
	if err == nil {
		err = cmd.open(ctx, o)
	}
	switch {
	case err == nil:
		return done
	case errors.Is(err, errTold):
		return failed
	}
	fmt.Fprintf(c.err, "palmero %s: %s\n", cmd.name, inWords(err))
	if errors.As(err, new(misused)) {
		fmt.Fprintf(c.err, "\"palmero help %s\" tells how.\n", cmd.name)
		return misuse
	}
	return failed
}

// errTold makes a command fail that has said already what is wrong.
var errTold = errors.New("it was told already")

// parse takes the names and the command's own flags out of args; the rest are settings.
func (cmd recordsCommand) parse(o *recordsOrder, args []string) (rest []string, err error) {
	for len(args) > 0 && !strings.HasPrefix(args[0], "-") && len(o.names) < len(cmd.names) {
		o.names, args = append(o.names, args[0]), args[1:]
	}
	own := &accountOrder{flags: map[string]string{}}
	rest, err = own.takeFlags(accountCommand{options: cmd.options}, args)
	o.flags = own.flags
	if len(o.names) < cmd.needed {
		err = errors.Join(misused{fmt.Errorf("it needs %s", strings.Join(cmd.names[len(o.names):cmd.needed], " and "))}, err)
	}
	return rest, err
}

func (cmd recordsCommand) open(ctx context.Context, o *recordsOrder) (err error) {
	if cmd.closed {
		return cmd.run(ctx, o)
	}
	if o.store, err = models.Open(ctx, o.database, models.Options{}); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.store.Close()) }()
	return cmd.run(ctx, o)
}

// employers are those that the first name asks for, or all.
func (o *recordsOrder) employers(ctx context.Context) ([]models.Employer, error) {
	if len(o.names) == 0 {
		return o.store.Employers(ctx)
	}
	e, err := o.store.FindEmployer(ctx, o.names[0])
	if models.KindOf(err) == models.NotFound {
		return nil, fmt.Errorf("there is no employer %q; \"palmero account list\" lists them", o.names[0])
	}
	if err != nil {
		return nil, err
	}
	return []models.Employer{*e}, nil
}

// view reads an employer's records.
func (o *recordsOrder) view(ctx context.Context, e models.Employer, fn func(tx *models.Tx) error) error {
	return o.store.View(ctx, models.Scope{Employer: e.ID}, fn)
}

func (o *recordsOrder) say(format string, args ...any) { sayTo(o.out, format, args...) }

func sayTo(w io.Writer, format string, args ...any) { fmt.Fprintf(w, format+"\n", args...) }
