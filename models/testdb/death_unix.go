//go:build unix && !linux

package testdb

import "syscall"

// signalAtParentDeath has no counterpart here: a server of a test process that is killed must be ended by hand.
func signalAtParentDeath(*syscall.SysProcAttr, syscall.Signal) {}
