package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"slices"
	"strings"

	"palmero/handlers/figuring"
	"palmero/handlers/reckoning"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/safety"
)

const figureHelp = `Usage: palmero figure NAME [--language en|es] [--indent]

Computes a safety figure, without a database. It reads documents as JSON from standard input: one, which may take several
lines, or one per line (NDJSON). For each it writes one answer per line, in the same order, or what is wrong with it:

  {"error":{"title":"…","errors":[{"pointer":"/temperature_f","detail":"…"}]}}

The others are answered all the same, and the exit status is then 1. It is 2 if the command itself is wrong.

Figures:
  clearance       whether a worker may go up this way today, with every reason against it
  fall-clearance  how much room a fall needs below it
  heat-index      how hot it feels, and what is owed to people at that air temperature
  incident-rate   how often people were hurt, for every hundred in a year
  ladder-setup    how a ladder is set up, and whether it may be used
  lift-load       whether a lift may go up with its load and the wind
  recordable      whether an injury goes into the log, and how soon it is reported

Units: a name ends in its unit, feet (_ft), inches (_in), pounds (_lb), °F (_f), miles an hour (_mph), degrees of slope (_deg). Each but
the last may be given in metric instead: _m, _mm, _kg, _c, _m_s. A fact that is left out is unknown, and never taken as a pass.

  --language   the language of reasons, notes and errors: en (the default) or es
  --indent     write the answer over several lines, to be read; for one document only

Example:

  echo '{"rulebook":"us-ca","on":"2026-07-14","temperature_f":104,"relative_humidity":12,"direct_sun":true}' | palmero figure heat-index --indent

The program only warns. A competent person on site decides; local codes and the maker's manual govern.
`

// runFigure reads documents of a figure from in and writes answers to out. It returns the exit status.
func runFigure(args []string, in io.Reader, out, errOut io.Writer) int {
	name := ""
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		name, args = args[0], args[1:]
	}
	flags := flag.NewFlagSet("figure", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	language := flags.String("language", text.English, "")
	indent := flags.Bool("indent", false, "")
	err := flags.Parse(args)
	if name == "" && flags.NArg() > 0 {
		name = flags.Arg(0)
		err = errors.Join(err, flags.Parse(flags.Args()[1:]))
	}
	figure, known := safety.FigureOf(name)
	switch {
	case errors.Is(err, flag.ErrHelp):
		fmt.Fprint(out, figureHelp)
		return done
	case err != nil:
		return streamMisuse("figure", errOut, err.Error())
	case name == "":
		return streamMisuse("figure", errOut, "the name of a figure is missing; use one of "+strings.Join(figureNames(), ", "))
	case !known:
		return streamMisuse("figure", errOut, fmt.Sprintf("there is no figure %q; use one of %s", name, strings.Join(figureNames(), ", ")))
	case flags.NArg() > 0:
		return streamMisuse("figure", errOut, fmt.Sprintf("%q is not expected; documents are read from standard input", flags.Arg(0)))
	case !slices.Contains(text.Languages(), *language):
		return streamMisuse("figure", errOut, fmt.Sprintf("--language %q is not one of %s", *language, strings.Join(text.Languages(), ", ")))
	}
	words := text.For(*language)
	stream := reckoning.Stream{
		Answer:  func(document []byte) (any, []payroll.Fault) { return figuring.Read(figure, document, words) },
		Words:   words,
		Refused: "figure.refused", TooLong: "figure.long_line", Indent: *indent,
	}
	outcome, err := stream.Run(in, out)
	return streamStatus("figure", "document", outcome, err, errOut)
}

func figureNames() []string {
	var names []string
	for _, f := range safety.Figures() {
		names = append(names, f.Name)
	}
	return names
}
