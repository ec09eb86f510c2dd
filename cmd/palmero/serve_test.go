package main

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/jackc/pgx/v5"

	"palmero/models/testdb"
)

var signing = []string{"PALMERO_TOKEN_SECRET=" + goodSecret}

func TestServeOnSQLite(t *testing.T) {
	database := "--database=sqlite://" + filepath.Join(t.TempDir(), "palmero.db")
	requireRefusal(t, `run "palmero migrate" first`, "serve", database)
	requireDone(t, "migrate", database)
	requireDone(t, "migrate", database)
	requireServes(t, "serve", database)
}

func TestServeOnPostgreSQL(t *testing.T) {
	server, err := testdb.StartPostgres()
	if err != nil {
		t.Fatal(err)
	}
	defer server.Stop()
	if err := server.CreateDatabase("palmero", ""); err != nil {
		t.Fatal(err)
	}
	asOwner, asServer := server.DSN("palmero", testdb.Superuser), server.DSN("palmero", "grove_office")

	requireRefusal(t, "grove_office", "serve", "--database="+asServer)
	requireDone(t, "migrate", "--database="+asServer, "--owner-database="+asOwner)
	requireDone(t, "migrate", "--database="+asServer, "--owner-database="+asOwner)
	requireRefusal(t, "row-level security", "serve", "--database="+asOwner)
	requireServes(t, "serve", "--database="+asServer)

	conn, err := pgx.Connect(t.Context(), asServer)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	if _, err := conn.Exec(t.Context(), "CREATE TABLE mine (n integer)"); err == nil {
		t.Error("the serving role may make tables")
	}
}

// TestServeStopsOnSignal runs the program itself: TestMain has put it on PATH.
func TestServeStopsOnSignal(t *testing.T) {
	database := "--database=sqlite://" + filepath.Join(t.TempDir(), "palmero.db")
	requireDone(t, "migrate", database)
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		cmd := exec.Command("palmero", "serve", database, "--listen=127.0.0.1:0")
		cmd.Env = append(os.Environ(), signing...)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		if _, err := bufio.NewReader(out).ReadString('\n'); err != nil {
			t.Error(err)
		}
		if err := cmd.Process.Signal(signal); err != nil {
			t.Error(err)
		}
		if err := cmd.Wait(); err != nil {
			t.Errorf("%v: %v", signal, err)
		}
	}
}

func requireDone(t *testing.T, args ...string) {
	t.Helper()
	var errOut bytes.Buffer
	if status := run(t.Context(), args, nil, io.Discard, &errOut, nil); status != done {
		t.Fatalf("palmero %s: status %d: %s", strings.Join(args, " "), status, errOut.String())
	}
}

func requireRefusal(t *testing.T, say string, args ...string) {
	t.Helper()
	var errOut bytes.Buffer
	if status := run(t.Context(), append(args, "--listen=127.0.0.1:0"), nil, io.Discard, &errOut, signing); status != failed || !strings.Contains(errOut.String(), say) {
		t.Errorf("palmero %s: status %d: %s; want a refusal that says %q", strings.Join(args, " "), status, errOut.String(), say)
	}
}

// requireServes starts the server, asks whether it is ready, and stops it.
func requireServes(t *testing.T, args ...string) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	reader, writer := io.Pipe()
	var errOut bytes.Buffer
	status := make(chan int, 1)
	go func() {
		status <- run(ctx, append(args, "--listen=127.0.0.1:0", "--log-format=json"), nil, writer, &errOut, signing)
		writer.Close()
	}()
	line, err := bufio.NewReader(reader).ReadString('\n')
	if err != nil {
		t.Fatalf("status %d: %s", <-status, errOut.String())
	}
	url := strings.TrimSpace(line[strings.Index(line, "http"):])
	for path, want := range map[string]int{"/healthz": 200, "/readyz": 200, "/metrics": 200, "/nowhere": 404} {
		response, err := http.Get(url + path)
		if err != nil {
			t.Fatal(err)
		}
		response.Body.Close()
		if response.StatusCode != want {
			t.Errorf("%s: status %d, want %d", path, response.StatusCode, want)
		}
	}
	stop()
	if got := <-status; got != done {
		t.Errorf("stopped with status %d: %s", got, errOut.String())
	}
}
