package main

import (
	"context"
	"crypto/rand"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"palmero/handlers"
	"palmero/handlers/figuring"
	"palmero/handlers/server"
	"palmero/handlers/text"
	"palmero/handlers/tokens"
	"palmero/migrations"
	"palmero/models"
	"palmero/models/season"
	"palmero/payroll/rulebook"
)

const demoHelp = `Usage: palmero demo [--data FOLDER] [--port N]

Serves the season so far of an invented date garden on this machine alone, to look at and to try things on: people of
every role, two weeks worked and paid, one that waits to be settled, and the first day of the next. Its calendar begins
on Monday 2 March 2026. It says how to sign in, and runs until it gets SIGINT (Ctrl-C) or SIGTERM.

  --data FOLDER  keep what is entered in this folder, and go on from it the next time;
                 without it the demo starts anew every time
  --port N       where to listen on 127.0.0.1 (default 8470); the next free port if it is taken, 0 for any free one

Everybody in it signs in with a secret that is printed for all to see: enter nothing real.
`

const (
	demoPort  = 8470
	demoPorts = 20 // how many are tried
	demoFile  = "demo.db"

	demoSealing = 10 * time.Second
)

// demo is what the command line asks for.
type demo struct {
	data string // "": a fresh folder, removed at the end
	port int
}

func runDemo(ctx context.Context, args []string, c console) int {
	var d demo
	flags := flag.NewFlagSet("demo", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.StringVar(&d.data, "data", "", "")
	flags.IntVar(&d.port, "port", demoPort, "")
	err := flags.Parse(args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		fmt.Fprint(c.out, demoHelp)
		return done
	case err == nil && flags.NArg() > 0:
		err = fmt.Errorf("%q is not a flag", flags.Arg(0))
	case err == nil && (d.port < 0 || d.port > 65535):
		err = fmt.Errorf("%d is not a port", d.port)
	}
	if err != nil {
		fmt.Fprintf(c.err, "palmero demo: %v\n\"palmero help demo\" explains it.\n", err)
		return misuse
	}
	if err := d.run(ctx, c); err != nil {
		fmt.Fprintf(c.err, "palmero demo: %v\n", err)
		return failed
	}
	return done
}

func (d *demo) run(ctx context.Context, c console) (err error) {
	folder := d.data
	if folder == "" {
		if folder, err = os.MkdirTemp("", "palmero-demo-"); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	} else if err = os.MkdirAll(folder, 0o700); err != nil {
		return err
	}
	books, err := rulebook.Load()
	if err != nil {
		return err
	}
	clock := &season.Clock{}
	store, err := openSeason(ctx, folder, clock, books)
	if err != nil {
		if ctx.Err() != nil {
			return nil // asked to stop while the season was entered
		}
		return err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	log := slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	api, err := demoAPI(store, clock, books, log)
	if err != nil {
		return err
	}
	defer keepSealing(ctx, store, demoSealing, log)()
	return d.serve(ctx, api, log, func(url string) { d.welcome(c.out, url, clock.Now()) })
}

// openSeason opens the database of a folder. Where there is none yet the season is entered into one under another name first, so that a demo which
// was stopped meanwhile leaves nothing by halves.
func openSeason(ctx context.Context, folder string, clock *season.Clock, books *rulebook.Library) (*models.Store, error) {
	file := filepath.Join(folder, demoFile)
	if _, err := os.Stat(file); errors.Is(err, os.ErrNotExist) {
		if err := enterSeason(ctx, file, clock, books); err != nil {
			return nil, err
		}
	} else if err != nil {
		return nil, err
	}
	store, err := openMigrated(ctx, file, clock)
	if err != nil {
		return nil, err
	}
	latest, err := season.Latest(ctx, store)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", file, err), store.Close())
	}
	clock.Start(latest)
	return store, nil
}

func enterSeason(ctx context.Context, file string, clock *season.Clock, books *rulebook.Library) error {
	unfinished := file + ".unfinished"
	for _, suffix := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(unfinished + suffix); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	store, err := openMigrated(ctx, unfinished, clock)
	if err != nil {
		return err
	}
	if err := errors.Join(season.Seed(ctx, store, clock, books, figuring.Saying(text.For(text.Spanish))), store.Close(), gather(ctx, unfinished)); err != nil {
		return err
	}
	return os.Rename(unfinished, file)
}

// gather brings everything that SQLite has put beside a database's file into it, so that the file can be moved alone.
func gather(ctx context.Context, file string) error {
	target, err := models.ParseTarget("sqlite://" + file)
	if err != nil {
		return err
	}
	db, err := target.OpenSQL()
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	return errors.Join(err, db.Close())
}

func openMigrated(ctx context.Context, file string, clock *season.Clock) (*models.Store, error) {
	target, err := models.ParseTarget("sqlite://" + file)
	if err != nil {
		return nil, err
	}
	db, err := target.OpenSQL()
	if err != nil {
		return nil, err
	}
	_, err = migrations.Up(ctx, db, migrations.SQLite)
	if err = errors.Join(err, db.Close()); err != nil {
		return nil, err
	}
	return models.Open(ctx, target, models.Options{Now: clock.Now})
}

// demoAPI serves the store by the season's clock. The signing secret lives as long as the demo runs.
func demoAPI(store *models.Store, clock *season.Clock, books *rulebook.Library, log *slog.Logger) (http.Handler, error) {
	secret := make([]byte, tokens.MinSecret)
	if _, err := rand.Read(secret); err != nil {
		return nil, err
	}
	issuer, err := tokens.NewIssuer(tokens.Keys{Current: tokens.Key{ID: "demo", Secret: secret}}, "palmero-demo", time.Hour, clock.Now)
	if err != nil {
		return nil, err
	}
	return handlers.New(handlers.Config{Store: store, Books: books, Issuer: issuer, Log: log, Metrics: true})
}

// serve listens on the port, or on the next one that is free.
func (d *demo) serve(ctx context.Context, api http.Handler, log *slog.Logger, listening func(url string)) error {
	server.CollectLess()
	var err error
	for port := d.port; port < d.port+demoPorts && port <= 65535; port++ {
		err = server.Run(ctx, server.Config{
			Address: net.JoinHostPort("127.0.0.1", strconv.Itoa(port)), Log: log, Listening: listening,
			ReadHeaderTimeout: 10 * time.Second, ReadTimeout: time.Minute, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute, ShutdownGrace: 5 * time.Second,
		}, api)
		if operation := (*net.OpError)(nil); !errors.As(err, &operation) || operation.Op != "listen" {
			return err
		}
	}
	return err
}

// welcome prints where the demo is, how to get in, and what to try.
func (d *demo) welcome(w io.Writer, url string, now time.Time) {
	people, err := season.SignIns()
	if err != nil {
		return // it was read once already, when the season was entered
	}
	fmt.Fprintf(w, "Palmero demo: the season so far of Huerta Media Tarde, an invented date garden.\n\nIt listens on %s, to open in a browser; %[1]s/api/v1/docs describes its API\n", url)
	if d.port != 0 && !strings.HasSuffix(url, ":"+strconv.Itoa(d.port)) {
		fmt.Fprintf(w, "(port %d is taken)\n", d.port)
	}
	fmt.Fprintf(w, "Its calendar reads %s in the garden, and runs on.\n\n", inGarden(now))
	fmt.Fprintf(w, "Sign in as one of these, with the employer %s and the secret \"%s\":\n\n", people[0].Employer, people[0].Secret)
	for _, p := range people {
		fmt.Fprintf(w, "  %-9s %-15s %s\n", p.Account, strings.ReplaceAll(string(p.Role), "_", " "), p.Name)
	}
	fmt.Fprint(w, "\nTry first, in another terminal (README.md goes on from here):\n\n", firstSteps(url, people))
	if d.data == "" {
		fmt.Fprint(w, "\nWhat you enter is gone when the demo ends. To keep it: palmero demo --data palmero-demo\n")
	} else {
		fmt.Fprintf(w, "\nWhat you enter is kept in %s; the next \"palmero demo --data %s\" goes on from it.\n", d.data, d.data)
	}
	fmt.Fprint(w, "Ctrl-C ends it. Local labor and safety codes govern; nothing here is advice.\n")
}

func inGarden(now time.Time) string {
	loc, err := time.LoadLocation("America/Los_Angeles")
	if err != nil {
		loc = time.UTC
	}
	return now.In(loc).Format("Monday 2 January 2006, 15:04")
}

// firstSteps are three commands: a worker signs in, and looks at the week and at the last statements.
func firstSteps(url string, people []season.SignIn) string {
	var worker season.SignIn
	for _, p := range people {
		if p.Role == models.RoleWorker {
			worker = p
		}
	}
	return fmt.Sprintf(`  token=$(curl -s %[1]s/api/v1/sign-in --json '{"employer": "%[2]s", "account": "%[3]s", "secret": "%[4]s"}' | jq -r .access_token)
  curl -s %[1]s/api/v1/my/week -H "Authorization: Bearer $token" | jq
  curl -s %[1]s/api/v1/my/statements -H "Authorization: Bearer $token" | jq
`, url, worker.Employer, worker.Account, worker.Secret)
}
