package measuring

import (
	"runtime"
	"sync/atomic"
	"time"
)

// watchMemory looks at the memory in use every few milliseconds until it is stopped; peak is the most that it saw.
func watchMemory() (peak func() uint64, stop func()) {
	var most atomic.Uint64
	runtime.GC()
	quit, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most.Store(max(most.Load(), m.HeapInuse))
			select {
			case <-quit:
				return
			case <-tick.C:
			}
		}
	}()
	return most.Load, func() { close(quit); <-ended }
}
