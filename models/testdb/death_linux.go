package testdb

import "syscall"

// signalAtParentDeath has the kernel send the child that signal when this process ends, however it ends.
func signalAtParentDeath(attributes *syscall.SysProcAttr, signal syscall.Signal) {
	attributes.Pdeathsig = signal
}
