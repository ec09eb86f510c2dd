package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
)

// reading is what one run of a command found for each of its settings, and everything that is wrong.
type reading struct {
	settings
	rows     []row
	problems []string
	ignored  []string // environment variables that look like settings and are none
	check    bool     // only print the effective settings
	help     bool
}

// row is the value of a setting and where it came from.
type row struct {
	setting
	value, origin string
}

// readSettings reads a command's settings: from flags, else the environment, else a file that either names, else the
// default. It goes on after a mistake, so that all are told at once.
func readSettings(command string, of usedBy, args, environ []string) *reading {
	r := &reading{}
	flags, err := parseFlags(command, of, args)
	if errors.Is(err, flag.ErrHelp) {
		r.help = true
		return r
	}
	if err != nil {
		r.problems = append(r.problems, strings.Split(err.Error(), "\n")...)
	}
	r.check = flags["--check"] != ""
	variables := variablesOf(environ)
	for _, s := range settingsTable {
		if s.usedBy&of != 0 {
			r.read(s, flags, variables)
		}
	}
	if of == byServe {
		r.problems = append(r.problems, r.agree()...)
	}
	r.ignored = unknown(variables)
	return r
}

// parseFlags returns the flags that were given, by name with the two dashes. Values are looked at later, so that one wrong value hides no other.
func parseFlags(command string, of usedBy, args []string) (map[string]string, error) {
	given := map[string]string{}
	flags := flag.NewFlagSet(command, flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	keep := func(name string) func(string) error {
		return func(value string) error {
			given["--"+name] = value
			return nil
		}
	}
	flags.BoolFunc("check", "", keep("check"))
	for _, s := range settingsTable {
		if s.usedBy&of == 0 {
			continue
		}
		switch {
		case s.argument == "":
			flags.BoolFunc(s.name, "", keep(s.name))
		case !s.secret:
			flags.Func(s.name, "", keep(s.name))
		}
		if s.file {
			flags.Func(s.name+"-file", "", keep(s.name+"-file"))
		}
	}
	return given, parseAll(flags, args)
}

// parseAll goes on after a wrong flag, and passes over the value that it seems to have.
func parseAll(flags *flag.FlagSet, args []string) (problems error) {
	for {
		err := flags.Parse(args)
		args = flags.Args()
		switch {
		case errors.Is(err, flag.ErrHelp):
			return err
		case err == nil && len(args) == 0:
			return problems
		case err == nil:
			problems = errors.Join(problems, fmt.Errorf("%q is not a flag", args[0]))
			args = args[1:]
		default:
			problems = errors.Join(problems, explain(err))
			if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
				args = args[1:]
			}
		}
	}
}

// explain puts an error of the flag package in our words.
func explain(err error) error {
	name, unknown := strings.CutPrefix(err.Error(), "flag provided but not defined: -")
	if !unknown {
		return err
	}
	for _, s := range settingsTable {
		if s.secret && s.name == name {
			return fmt.Errorf("--%s is not a flag, since others on the machine could read it; use --%s-file or %s", name, name, s.variable())
		}
		if distance(name, s.name) <= 2 {
			return fmt.Errorf("there is no flag --%s; did you mean --%s?", name, s.name)
		}
	}
	return fmt.Errorf("there is no flag --%s", name)
}

// read finds one setting's value and takes it over.
func (r *reading) read(s setting, flags, variables map[string]string) {
	found, err := lookUp(s, flags, variables)
	if err == nil && found.value == "" && s.fallback != "" {
		err = errors.New("it is empty")
	}
	if err == nil {
		err = s.set(&r.settings, found.value)
	}
	if err != nil {
		r.problems = append(r.problems, named(s, found.origin)+": "+err.Error())
	}
	r.rows = append(r.rows, found)
}

// named says which setting is wrong by the name that the reader used for it.
func named(s setting, origin string) string {
	switch {
	case strings.HasPrefix(origin, "--"), strings.HasPrefix(origin, "PALMERO_"):
		return origin
	case s.secret:
		return s.variable() + " or --" + s.name + "-file"
	}
	return "--" + s.name
}

// source is a place that gives a setting: a flag or a variable, which holds the value or names the file that does.
type source struct {
	origin, value string
	file          bool
}

func lookUp(s setting, flags, variables map[string]string) (row, error) {
	given := s.sources("--"+s.name, "-file", flags)
	if len(given) == 0 {
		given = s.sources(s.variable(), "_FILE", variables)
	}
	switch len(given) {
	case 0:
		return row{s, s.fallback, "default"}, nil
	case 1:
		return given[0].row(s)
	}
	return row{s, "", given[0].origin}, fmt.Errorf("%s is given too; give one of them", given[1].origin)
}

// sources returns which of the two are given: the one of that name, or its file twin.
func (s setting) sources(origin, twin string, given map[string]string) (found []source) {
	if value, ok := given[origin]; ok {
		found = append(found, source{origin, value, false})
	}
	if value, ok := given[origin+twin]; ok && s.file {
		found = append(found, source{origin + twin, value, true})
	}
	return found
}

func (from source) row(s setting) (row, error) {
	if !from.file {
		return row{s, from.value, from.origin}, nil
	}
	content, err := os.ReadFile(from.value)
	if err != nil {
		return row{s, "", from.origin}, err
	}
	return row{s, strings.TrimRight(string(content), "\r\n"), from.origin + " " + from.value}, nil
}

// variablesOf picks our variables; an empty one counts as not set.
func variablesOf(environ []string) map[string]string {
	variables := map[string]string{}
	for _, entry := range environ {
		if name, value, _ := strings.Cut(entry, "="); strings.HasPrefix(name, "PALMERO_") && value != "" {
			variables[name] = value
		}
	}
	return variables
}

// unknown finds variables with our prefix that no setting has: a slip of the pen, or something that an orchestrator sets.
func unknown(variables map[string]string) []string {
	rest := maps.Clone(variables)
	for _, s := range settingsTable {
		delete(rest, s.variable())
		if s.file {
			delete(rest, s.variable()+"_FILE")
		}
	}
	return slices.Sorted(maps.Keys(rest))
}

// settle deals with what ends a command before it begins: the help, problems, --check. Otherwise ok is true.
func (r *reading) settle(command, help string, of usedBy, c console) (status int, ok bool) {
	if r.help {
		fmt.Fprint(c.out, help)
		printSettings(c.out, of)
		return done, false
	}
	if r.check {
		r.print(c.out)
	}
	if len(r.problems) > 0 {
		fmt.Fprintf(c.err, "palmero %s: it cannot run like this:\n", command)
		for _, problem := range r.problems {
			fmt.Fprintf(c.err, "  %s\n", problem)
		}
		fmt.Fprintf(c.err, "\"palmero help %s\" explains every setting.\n", command)
		return misuse, false
	}
	return done, !r.check
}

// print writes the effective settings and where each came from.
func (r *reading) print(w io.Writer) {
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, found := range r.rows {
		fmt.Fprintf(table, "%s\t%s\t%s\n", found.name, found.shown(found.value), found.origin)
	}
	_ = table.Flush() // nobody is left to tell if the output is gone
	for _, name := range r.ignored {
		fmt.Fprintf(w, "%s is set, and no setting has that name.\n", name)
	}
}

func printSettings(w io.Writer, of usedBy) {
	fmt.Fprint(w, "\nSettings, by flag or environment variable; a flag goes before a variable:\n\n")
	for _, s := range settingsTable {
		if s.usedBy&of == 0 {
			continue
		}
		for _, name := range names(s) {
			fmt.Fprintf(w, "  %s\n", name)
		}
		about := s.help
		if s.fallback != "" {
			about += " (default " + s.fallback + ")"
		}
		printWrapped(w, "        ", about)
	}
	fmt.Fprint(w, "  --check\n        print the effective settings and where each comes from, secrets hidden, and do nothing else\n")
}

// printWrapped writes text in lines of a hundred letters at most.
func printWrapped(w io.Writer, indent, text string) {
	line := indent
	for word := range strings.FieldsSeq(text) {
		if len(line)+len(word) >= 100 && line != indent {
			fmt.Fprintln(w, strings.TrimRight(line, " "))
			line = indent
		}
		line += word + " "
	}
	fmt.Fprintln(w, strings.TrimRight(line, " "))
}

func names(s setting) (all []string) {
	switch {
	case s.secret:
		all = []string{s.variable() + "=" + s.argument}
	case s.argument == "":
		all = []string{fmt.Sprintf("--%s  %s", s.name, s.variable())}
	default:
		all = []string{fmt.Sprintf("--%s %s  %s", s.name, s.argument, s.variable())}
	}
	if s.file {
		all = append(all, fmt.Sprintf("--%s-file FILE  %s_FILE", s.name, s.variable()))
	}
	return all
}
