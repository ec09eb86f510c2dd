//go:build unix

// Package testdb gives tests real databases that are theirs alone: a PostgreSQL server in a temporary folder, and
// stores on both databases.
package testdb

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// Superuser is the database role that owns the server; with it a test makes databases and other roles.
const Superuser = "postgres"

const (
	startTimeout = 60 * time.Second
	stopTimeout  = 15 * time.Second
	adminTimeout = 60 * time.Second
)

// Server is a running PostgreSQL that belongs to this process. It listens on a Unix socket only, lets every role in
// without a password, and keeps nothing: its folder goes when it stops. A process that is killed takes its server along.
type Server struct {
	folder string // holds the data, the socket and the log
	quit   chan struct{}
	done   chan struct{} // closed when the server has ended
}

// StartPostgres starts a server; start one for a whole test package, from TestMain, and give each test its own
// database. Where PostgreSQL is not installed the error says what to install.
func StartPostgres() (*Server, error) {
	programs, err := findPrograms()
	if err != nil {
		return nil, err
	}
	account, err := serverAccount()
	if err != nil {
		return nil, err
	}
	removeAbandoned()
	folder, lock, err := makeFolder(account)
	if err != nil {
		return nil, err
	}
	s := &Server{folder: folder, quit: make(chan struct{}), done: make(chan struct{})}
	started := make(chan error, 1)
	go func() {
		defer close(s.done)
		defer lock.Close()
		defer os.RemoveAll(folder)
		s.run(programs, account, started)
	}()
	if err := <-started; err != nil {
		<-s.done
		return nil, err
	}
	return s, nil
}

// Stop ends the server and removes its folder; what is still connected is cut off.
func (s *Server) Stop() {
	select {
	case s.quit <- struct{}{}:
		<-s.done
	case <-s.done:
	}
}

// DSN is the address of a database on this server as that user, in the form postgres://.
func (s *Server) DSN(database, user string) string {
	query := url.Values{"host": {s.folder}, "port": {"5432"}, "sslmode": {"disable"}}
	address := url.URL{Scheme: "postgres", User: url.User(user), Path: "/" + database, RawQuery: query.Encode()}
	return address.String()
}

// CreateDatabase makes a database as a copy of template, or an empty one if template is "". Nobody may be connected to
// the template meanwhile.
func (s *Server) CreateDatabase(name, template string) error {
	if template == "" {
		template = "template1"
	}
	return s.administer("CREATE DATABASE " + quoted(name) + " TEMPLATE " + quoted(template))
}

// DropDatabase removes a database, cutting off whoever is connected to it; it is no error if there is none.
func (s *Server) DropDatabase(name string) error {
	return s.administer("DROP DATABASE IF EXISTS " + quoted(name) + " WITH (FORCE)")
}

func (s *Server) administer(statement string) error {
	ctx, cancel := context.WithTimeout(context.Background(), adminTimeout)
	defer cancel()
	conn, err := pgx.Connect(ctx, s.DSN(Superuser, Superuser))
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, statement)
	return err
}

func quoted(name string) string { return pgx.Identifier{name}.Sanitize() }

// run makes the data, starts the server, and stays until it has ended. To the kernel a child's parent is the thread
// that started it, so that the thread must live as long as the server.
func (s *Server) run(programs programs, account *syscall.Credential, started chan<- error) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	if err := s.initialize(programs.initdb, account); err != nil {
		started <- err
		return
	}
	server, exited, err := s.launch(programs.postgres, account)
	if err != nil {
		started <- err
		return
	}
	if err := s.awaitReady(exited); err != nil {
		end(server, exited)
		started <- fmt.Errorf("PostgreSQL did not start: %w\n%s", err, s.log())
		return
	}
	started <- nil
	select {
	case <-s.quit:
		end(server, exited)
	case <-exited:
	}
}

func (s *Server) initialize(initdb string, account *syscall.Credential) error {
	cmd := s.command(initdb, account, syscall.SIGKILL, "--pgdata="+s.data(), "--username="+Superuser,
		"--auth=trust", "--encoding=UTF8", "--locale=C", "--no-sync")
	output, err := cmd.CombinedOutput()
	if err != nil {
		return fmt.Errorf("%s failed: %w\n%s", initdb, err, output)
	}
	return nil
}

// launch starts the server; the channel is closed when it has ended. A server that stands in another time zone than UTC
// shows up whoever lets the database's zone decide what day it is.
func (s *Server) launch(postgres string, account *syscall.Credential) (*os.Process, <-chan struct{}, error) {
	log, err := os.Create(filepath.Join(s.folder, "log"))
	if err != nil {
		return nil, nil, err
	}
	defer log.Close()
	cmd := s.command(postgres, account, syscall.SIGQUIT, "-D", s.data(), "-k", s.folder, "-p", "5432",
		"-c", "listen_addresses=", "-c", "max_connections=200", "-c", "timezone=America/Los_Angeles",
		"-c", "fsync=off", "-c", "synchronous_commit=off", "-c", "full_page_writes=off", "-c", "autovacuum=off")
	cmd.Stdout, cmd.Stderr = log, log
	if err := cmd.Start(); err != nil {
		return nil, nil, err
	}
	exited := make(chan struct{})
	go func() {
		defer close(exited)
		_ = cmd.Wait() // how it ended stands in its log
	}()
	return cmd.Process, exited, nil
}

// command prepares a program to run as that account, in the folder (ours may be closed to it), without any setting of
// ours for database clients, and to get the signal when we die.
func (s *Server) command(program string, account *syscall.Credential, atDeath syscall.Signal, args ...string) *exec.Cmd {
	cmd := exec.Command(program, args...)
	cmd.Dir = s.folder
	cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "LC_ALL=C", "HOME=" + s.folder}
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: account}
	signalAtParentDeath(cmd.SysProcAttr, atDeath)
	return cmd
}

func (s *Server) awaitReady(exited <-chan struct{}) error {
	ctx, cancel := context.WithTimeout(context.Background(), startTimeout)
	defer cancel()
	for {
		conn, err := pgx.Connect(ctx, s.DSN(Superuser, Superuser))
		if err == nil {
			return conn.Close(ctx)
		}
		select {
		case <-exited:
			return errors.New("it ended at once")
		case <-ctx.Done():
			return err
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// end stops the server at once, without the care for data that nobody will read again.
func end(server *os.Process, exited <-chan struct{}) {
	_ = server.Signal(syscall.SIGQUIT) // it may have ended by itself
	select {
	case <-exited:
	case <-time.After(stopTimeout):
		_ = server.Kill()
		<-exited
	}
}

func (s *Server) data() string { return filepath.Join(s.folder, "data") }

func (s *Server) log() []byte {
	text, err := os.ReadFile(filepath.Join(s.folder, "log"))
	if err != nil {
		return nil
	}
	return bytes.TrimSpace(text)
}

type programs struct{ initdb, postgres string }

// findPrograms looks in PATH, then where Debian keeps the server, the newest version first.
func findPrograms() (programs, error) {
	var folders []string
	if initdb, err := exec.LookPath("initdb"); err == nil {
		folders = append(folders, filepath.Dir(initdb))
	}
	folders = append(folders, debianFolders()...)
	for _, folder := range folders {
		found := programs{filepath.Join(folder, "initdb"), filepath.Join(folder, "postgres")}
		if executable(found.initdb) && executable(found.postgres) {
			return found, nil
		}
	}
	return programs{}, errors.New("the PostgreSQL server is not installed, and these tests need a real one: " +
		"run \"make test\" as root, which installs it, or install the Debian package \"postgresql\" yourself, " +
		"or put the folder of initdb and postgres on PATH")
}

func debianFolders() []string {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin") // only a malformed pattern fails
	version := func(folder string) int {
		n, err := strconv.Atoi(filepath.Base(filepath.Dir(folder)))
		if err != nil {
			return 0
		}
		return n
	}
	newestFirst(found, version)
	return found
}

func newestFirst(folders []string, version func(string) int) {
	slices.SortFunc(folders, func(a, b string) int { return cmp.Compare(version(b), version(a)) })
}

func executable(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular() && info.Mode()&0o111 != 0
}

// serverAccount is whom the server runs as: nil for us ourselves, another user if we are root, whom PostgreSQL refuses.
func serverAccount() (*syscall.Credential, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		found, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err := strconv.ParseUint(found.Uid, 10, 32)
		if err != nil {
			return nil, err
		}
		gid, err := strconv.ParseUint(found.Gid, 10, 32)
		if err != nil {
			return nil, err
		}
		return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, nil
	}
	return nil, errors.New("PostgreSQL refuses to run as root, and there is neither a user \"postgres\" nor \"nobody\" to run it as")
}
