package main

import (
	"errors"
	"fmt"
	"io"

	"palmero/handlers/reckoning"
)

// streamStatus tells on errOut what was the matter with a stream of documents that a command answered, and returns the exit status.
func streamStatus(command, document string, outcome reckoning.Outcome, err error, errOut io.Writer) int {
	switch {
	case errors.Is(err, reckoning.ErrSeveral):
		return streamMisuse(command, errOut, "--indent is for one document, and there are several; leave it out")
	case err != nil:
		fmt.Fprintf(errOut, "palmero %s: %v\n", command, err)
		return failed
	case outcome.Documents == 0:
		fmt.Fprintf(errOut, "palmero %s: nothing came on standard input; give it at least one %s\n", command, document)
		return failed
	case outcome.Refused > 0:
		return failed
	}
	return done
}

// streamMisuse tells on errOut what is wrong with the command itself.
func streamMisuse(command string, errOut io.Writer, what string) int {
	fmt.Fprintf(errOut, "palmero %s: %s\nRun \"palmero help %s\" for its use.\n", command, what, command)
	return misuse
}
