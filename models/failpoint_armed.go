//go:build failpoints

package models

import (
	"os"
	"syscall"
)

// failpoint kills the program, as a power cut would, at the point that the environment variable FAILPOINT names. The points are COMMAND.lines (all is
// written but the audit entry or the seal), COMMAND.commit (before the transaction is committed) and COMMAND.answer (after it, before anybody
// is told), where COMMAND is the action of the audit entry, or "seal".
func failpoint(point string) {
	if os.Getenv("FAILPOINT") == point {
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
		select {} // until the signal is here
	}
}
