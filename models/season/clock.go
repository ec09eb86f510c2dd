package season

import (
	"sync"
	"time"
)

// Clock tells the season's time. It stands where it was set, and once started runs on from there. It may be used by several goroutines at once.
type Clock struct {
	mu      sync.Mutex
	at      time.Time
	started time.Time // on the wall clock; zero while it stands
}

// Now returns the season's time.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.started.IsZero() {
		return c.at
	}
	return c.at.Add(time.Since(c.started))
}

// Set lets the clock stand at an instant.
func (c *Clock) Set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at, c.started = at, time.Time{}
}

// Start lets the clock run on from an instant.
func (c *Clock) Start(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at, c.started = at, time.Now()
}
