// Palmero is the back office of hand work in date palms: one program with a subcommand for each task.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	_ "time/tzdata" // the gardens' time zones, wherever the program runs
)

// Exit statuses.
const (
	done   = 0
	failed = 1
	misuse = 2 // the command line or a setting is wrong
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second signal ends the program at once
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Environ()))
}

// console is what a command reads and writes.
type console struct {
	in       io.Reader
	out, err io.Writer
	environ  []string // NAME=value
}

// command is a subcommand. Its run function answers --help itself and returns the exit status.
type command struct {
	name, summary string
	run           func(ctx context.Context, args []string, c console) int
}

// commands in the order of the help page.
func commands() []command {
	return []command{
		{"demo", "a server with an invented garden to look at", runDemo},
		{"serve", "run the server", runServe},
		{"migrate", "bring the database's schema up to date", runMigrate},
		{"account", "enter an employer, hand out sign-in codes, suspend accounts", runAccount},
		{"import", "take in crew sheets, workers, blocks and rates from spreadsheets", runImport},
		{"verify", "prove that the audit entries stand as they were sealed", runVerify},
		{"backup", "write everything into an archive, while serving", runBackup},
		{"restore", "put an archive into an empty database, of either kind", runRestore},
		{"retention", "how long the records have to be kept, by which provision", runRetention},
		{"reckon", "reckon worker-weeks from standard input, without a database", func(_ context.Context, args []string, c console) int {
			return runReckon(args, c.in, c.out, c.err)
		}},
		{"rulebook", "show the legal values that pay is reckoned with, and check a local book", runRulebook},
		{"figure", "compute safety figures and clearance from standard input, without a database", func(_ context.Context, args []string, c console) int {
			return runFigure(args, c.in, c.out, c.err)
		}},
		{"clearance", "who of a crew may go up on a day, and why not", runClearance},
		{"bench", "measure the program on a made-up employer of any size", runBench},
		{"version", "print the versions of the program and of its pay engine", runVersion},
	}
}

// run executes the subcommand that args name and returns the exit status.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer, environ []string) int {
	c := console{in, out, errOut, environ}
	if len(args) == 0 {
		printHelp(errOut)
		return misuse
	}
	name, rest := args[0], args[1:]
	if slices.Contains([]string{"help", "--help", "-help", "-h"}, name) {
		if len(rest) == 0 {
			printHelp(out)
			return done
		}
		name, rest = rest[0], []string{"--help"}
	}
	for _, cmd := range commands() {
		if cmd.name == name {
			return cmd.run(ctx, rest, c)
		}
	}
	fmt.Fprintf(errOut, "palmero: there is no command %q%s\nRun \"palmero help\" for the list.\n", name, suggestion(name))
	return misuse
}

func printHelp(w io.Writer) {
	fmt.Fprint(w, "Palmero is the back office of hand work in date palms: who did what, what they are owed for it,\n"+
		"and whether they were safe to go up. Local labor and safety codes govern.\n\nUsage: palmero COMMAND [FLAGS]\n\nCommands:\n")
	for _, cmd := range commands() {
		fmt.Fprintf(w, "  %-9s %s\n", cmd.name, cmd.summary)
	}
	fmt.Fprint(w, "\n\"palmero help COMMAND\" tells more about one.\n")
}

// suggestion names the commands that were perhaps meant, or nothing.
func suggestion(name string) string {
	var near []string
	for _, cmd := range commands() {
		if distance(name, cmd.name) <= 2 || len(name) > 1 && strings.HasPrefix(cmd.name, name) {
			near = append(near, cmd.name)
		}
	}
	if len(near) == 0 {
		return ""
	}
	return "; did you mean " + strings.Join(near, " or ") + "?"
}

// distance counts the letters to insert, remove or replace to turn a into b.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
