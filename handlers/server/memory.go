package server

import (
	"os"
	"runtime/debug"
)

// collectAt is how much may be left behind, in percent of what stays, before it is collected: what stays of a server is some twenty megabytes, and a page leaves several behind.
const collectAt = 400

// CollectLess has the memory that requests leave behind collected less often than a program of its size would by itself, which keeps pages from waiting for it. Where the environment says how
// often (GOGC), that holds.
func CollectLess() {
	if _, said := os.LookupEnv("GOGC"); !said {
		debug.SetGCPercent(collectAt)
	}
}
