//go:build linux

package testdb

import (
	"bufio"
	"context"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

func TestServerLivesAndLeavesNothing(t *testing.T) {
	server, err := StartPostgres()
	if err != nil {
		t.Fatal(err)
	}
	defer server.Stop()
	pid := postmaster(t, server.folder)

	if err := server.CreateDatabase("grove", ""); err != nil {
		t.Fatal(err)
	}
	execute(t, server.DSN("grove", Superuser), "CREATE TABLE palm (row integer, name text); INSERT INTO palm VALUES (3, 'Medjool ñ')")
	if err := server.CreateDatabase("Copy of \"grove\"", "grove"); err != nil {
		t.Fatal(err)
	}
	if got := ask(t, server.DSN("Copy of \"grove\"", Superuser), "SELECT name FROM palm"); got != "Medjool ñ" {
		t.Errorf("the copy holds %q", got)
	}
	if err := server.DropDatabase("grove"); err != nil {
		t.Fatal(err)
	}
	if err := server.DropDatabase("grove"); err != nil {
		t.Errorf("dropping what is not there: %v", err)
	}
	if err := server.CreateDatabase("another", "grove"); err == nil {
		t.Error("a copy of a dropped database was made")
	}
	if got := ask(t, server.DSN(Superuser, Superuser), "SHOW listen_addresses"); got != "" {
		t.Errorf("the server listens on %q", got)
	}

	server.Stop()
	server.Stop()
	if alive(pid) {
		t.Error("the server runs on after Stop")
	}
	if _, err := os.Stat(server.folder); !os.IsNotExist(err) {
		t.Errorf("the folder is left behind: %v", err)
	}
}

func TestServerEndsWithAKilledProcess(t *testing.T) {
	owner := exec.Command(os.Args[0], "-test.run=^TestHelperHoldsAServer$")
	owner.Env = append(os.Environ(), "PALMERO_TESTDB_HELPER=1")
	out, err := owner.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := owner.Start(); err != nil {
		t.Fatal(err)
	}
	folder, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	folder = strings.TrimSpace(folder)
	pid := postmaster(t, folder)

	if err := owner.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = owner.Wait() // it was killed, as it should
	for deadline := time.Now().Add(stopTimeout); alive(pid); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("the server outlives its killed process")
		}
	}

	long := time.Now().Add(-time.Hour)
	if err := os.Chtimes(folder, long, long); err != nil {
		t.Fatal(err)
	}
	removeAbandoned()
	if _, err := os.Stat(folder); !os.IsNotExist(err) {
		t.Errorf("the abandoned folder is left: %v", err)
	}
}

// TestHelperHoldsAServer is no test of its own: it is the process that the test above kills.
func TestHelperHoldsAServer(t *testing.T) {
	if os.Getenv("PALMERO_TESTDB_HELPER") == "" {
		return
	}
	server, err := StartPostgres()
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println(server.folder)
	<-server.done
}

func TestRemoveAbandonedSparesWhatIsInUse(t *testing.T) {
	folder, lock, err := makeFolder(nil)
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(folder)
	defer lock.Close()
	long := time.Now().Add(-time.Hour)
	if err := os.Chtimes(folder, long, long); err != nil {
		t.Fatal(err)
	}
	removeAbandoned()
	if _, err := os.Stat(folder); err != nil {
		t.Errorf("a folder in use is gone: %v", err)
	}
}

func TestFindProgramsSaysWhatToInstall(t *testing.T) {
	if len(debianFolders()) == 0 {
		t.Setenv("PATH", "")
		_, err := findPrograms()
		if err == nil || !strings.Contains(err.Error(), `Debian package "postgresql"`) {
			t.Errorf("error = %v", err)
		}
		return
	}
	t.Setenv("PATH", "")
	found, err := findPrograms()
	if err != nil {
		t.Fatal(err)
	}
	if filepath.Dir(found.initdb) != debianFolders()[0] {
		t.Errorf("found %s, want the newest of %v", found.initdb, debianFolders())
	}
}

func TestNewestFirstGoesByNumber(t *testing.T) {
	folders := []string{"9", "16", "15"}
	newestFirst(folders, func(s string) int { n, _ := strconv.Atoi(s); return n })
	if got := strings.Join(folders, " "); got != "16 15 9" {
		t.Errorf("order: %s", got)
	}
}

func execute(t *testing.T, dsn, statement string) {
	t.Helper()
	conn := connect(t, dsn)
	defer conn.Close(context.Background())
	if _, err := conn.Exec(context.Background(), statement); err != nil {
		t.Fatal(err)
	}
}

func ask(t *testing.T, dsn, query string) (answer string) {
	t.Helper()
	conn := connect(t, dsn)
	defer conn.Close(context.Background())
	if err := conn.QueryRow(context.Background(), query).Scan(&answer); err != nil {
		t.Fatal(err)
	}
	return answer
}

func connect(t *testing.T, dsn string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(context.Background(), dsn)
	if err != nil {
		t.Fatal(err)
	}
	return conn
}

// postmaster reads the server's process id from its data folder.
func postmaster(t *testing.T, folder string) int {
	t.Helper()
	text, err := fs.ReadFile(os.DirFS(folder), "data/postmaster.pid")
	if err != nil {
		t.Fatal(err)
	}
	first, _, _ := strings.Cut(string(text), "\n")
	pid, err := strconv.Atoi(first)
	if err != nil {
		t.Fatal(err)
	}
	return pid
}

// alive says whether a process still runs; one that ended and whom nobody has buried yet (state Z) does not.
func alive(pid int) bool {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return false
	}
	_, state, _ := strings.Cut(string(stat), ") ")
	return !strings.HasPrefix(state, "Z")
}
