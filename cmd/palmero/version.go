package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"

	"palmero/payroll"
)

const versionHelp = `Usage: palmero version

Prints the version of the program, of its pay engine and of the Go it is built with. The engine's version changes
whenever the same week under the same rules may give another cent; every statement carries it.
`

func runVersion(_ context.Context, args []string, c console) int {
	flags := flag.NewFlagSet("version", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	switch err := flags.Parse(args); {
	case errors.Is(err, flag.ErrHelp):
		fmt.Fprint(c.out, versionHelp)
		return done
	case err != nil || flags.NArg() > 0:
		fmt.Fprint(c.err, "palmero version: it takes no arguments\n")
		return misuse
	}
	fmt.Fprintf(c.out, "palmero %s\npay engine %s\n%s %s/%s\n",
		programVersion(), payroll.Engine, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return done
}

// programVersion is what the build says of itself: the module's version, and the revision if it was built from a checkout.
func programVersion() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "of unknown version"
	}
	version := info.Main.Version
	if version == "" {
		version = "(devel)"
	}
	for _, setting := range info.Settings {
		if setting.Key == "vcs.revision" {
			version += " " + setting.Value
		}
		if setting.Key == "vcs.modified" && setting.Value == "true" {
			version += " modified"
		}
	}
	return version
}
