//go:build unix

package testdb

import (
	"errors"
	"io"
	"net"
	"net/url"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"palmero/models"
)

// Distance stands between a program and the PostgreSQL server: what passes takes its time, and round trips are counted.
type Distance struct {
	Target models.Target // the database as it is reached through here
	way    time.Duration
	trips  atomic.Int64
}

// Trips is how many round trips were begun so far: how often a client spoke again after it had been answered.
func (d *Distance) Trips() int { return int(d.trips.Load()) }

// Distant puts a database, given by its address, as far away as a byte takes to get there one way.
func (d *Databases) Distant(t testing.TB, dsn string, way time.Duration) *Distance {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = listener.Close() })
	address, err := url.Parse(dsn)
	if err != nil {
		t.Fatal(err)
	}
	address.Host, address.RawQuery = listener.Addr().String(), "sslmode=disable"
	far := &Distance{way: way}
	if far.Target, err = models.ParseTarget(address.String()); err != nil {
		t.Fatal(err)
	}
	socket := filepath.Join(d.server.folder, ".s.PGSQL.5432")
	go func() {
		for {
			client, err := listener.Accept()
			if err != nil {
				return // the test has ended
			}
			server, err := net.Dial("unix", socket)
			if err != nil {
				_ = client.Close()
				continue
			}
			far.join(client, server)
		}
	}()
	return far
}

// join passes on what a client and the server say to one another.
func (d *Distance) join(client, server net.Conn) {
	var answered atomic.Bool
	answered.Store(true)
	go d.carry(client, server, func() {
		if answered.Swap(false) {
			d.trips.Add(1)
		}
	})
	go d.carry(server, client, func() { answered.Store(true) })
}

// carry passes on what one end says, each piece after its time and none before another.
func (d *Distance) carry(from io.ReadCloser, to io.WriteCloser, spoken func()) {
	type piece struct {
		due   time.Time
		bytes []byte
	}
	under := make(chan piece, 1024)
	go func() {
		for p := range under {
			time.Sleep(time.Until(p.due))
			if _, err := to.Write(p.bytes); err != nil {
				break
			}
		}
		_ = errors.Join(from.Close(), to.Close()) // whoever is still there notices
		for range under {                         // the reader may still be handing over
		}
	}()
	defer close(under)
	for {
		buffer := make([]byte, 32<<10)
		n, err := from.Read(buffer)
		if n > 0 {
			spoken()
			under <- piece{time.Now().Add(d.way), buffer[:n]}
		}
		if err != nil {
			return
		}
	}
}
