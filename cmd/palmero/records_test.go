package main

import (
	"bytes"
	"database/sql"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"palmero/models"
	"palmero/models/season"
	"palmero/models/testdb"
	"palmero/payroll/rulebook"
)

// seasonDatabase enters the season into a database of its own, and returns the flag that names it.
func seasonDatabase(t *testing.T) (flag, file string) {
	t.Helper()
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	file = filepath.Join(t.TempDir(), demoFile)
	if err := enterSeason(t.Context(), file, &season.Clock{}, books); err != nil {
		t.Fatal(err)
	}
	return "--database=sqlite://" + file, file
}

// says runs the program and returns what it says.
func says(t *testing.T, status int, args ...string) string {
	t.Helper()
	var out bytes.Buffer
	if got := run(t.Context(), args, nil, &out, &out, nil); got != status {
		t.Fatalf("palmero %s: status %d, want %d: %s", strings.Join(args, " "), got, status, &out)
	}
	return out.String()
}

func requireSays(t *testing.T, said string, want ...string) {
	t.Helper()
	for _, s := range want {
		if !strings.Contains(said, s) {
			t.Errorf("it does not say %q: %s", s, said)
		}
	}
}

var head = regexp.MustCompile(`seal \d+ of .*: ([0-9a-f]{64})`)

// unsealed and archived are how many entries the trail has before it is sealed, and in an archive.
var (
	unsealed = regexp.MustCompile(`not sealed yet: (\d+) entries since`)
	archived = regexp.MustCompile(`(\d+) audit entries under 1 seal`)
)

func TestVerifyBackupRestore(t *testing.T) {
	database, file := seasonDatabase(t)
	said := says(t, done, "verify", database)
	requireSays(t, said, "media-tarde: 0 entries under 0 seals")
	entries := unsealed.FindStringSubmatch(said)[1] // as many as the season has
	archive := filepath.Join(t.TempDir(), "farm.zip")
	requireSays(t, says(t, done, "backup", archive, database), archive+" holds ", " rows of 1 employer", "SHA-256 ", entries+" audit entries under 1 seal, 0 not sealed yet")
	requireSays(t, says(t, failed, "backup", archive, database), "is there already")
	if info, err := os.Stat(archive); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info, err)
	}
	said = says(t, done, "verify", "media-tarde", database)
	requireSays(t, said, entries+" entries under 1 seal, all as sealed")
	hash := head.FindStringSubmatch(said)[1]
	requireSays(t, says(t, done, "verify", "--head", hash, database), "the head "+hash+" stands as seal 1")
	requireSays(t, says(t, failed, "verify", "--head="+hash[1:], database), "No chain that holds passes through")
	requireSays(t, says(t, failed, "verify", "nobody", database), `no employer "nobody"`)

	moved := "--database=sqlite://" + filepath.Join(t.TempDir(), "moved.db")
	requireSays(t, says(t, done, "restore", archive, moved), "restored what stood at ", "head "+hash)
	requireSays(t, says(t, done, "verify", moved), hash)
	requireSays(t, says(t, failed, "restore", archive, moved), "holds records already")
	requireServes(t, "serve", moved)

	tamper(t, file, "DROP TRIGGER audit_entries_no_update", "UPDATE audit_entries SET reason = 'another' WHERE seq = 100")
	requireSays(t, says(t, failed, "verify", database), "media-tarde: BROKEN: the entry ", "under seal 1, does not say any more")
	requireSays(t, says(t, failed, "backup", archive+".2", database), "BROKEN", "will not take it")
	requireSays(t, says(t, failed, "restore", archive+".2", "--database=sqlite://"+filepath.Join(t.TempDir(), "no.db")), "do not stand as they were sealed")
}

func tamper(t *testing.T, file string, statements ...string) {
	t.Helper()
	target, err := models.ParseTarget("sqlite://" + file)
	if err != nil {
		t.Fatal(err)
	}
	db, err := target.OpenSQL()
	if err != nil {
		t.Fatal(err)
	}
	defer func(db *sql.DB) { _ = db.Close() }(db)
	for _, s := range statements {
		if _, err := db.Exec(s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
}

// A farm that has grown moves to PostgreSQL: the tables belong to a role that is nothing special, and another one serves.
func TestRestoreIntoPostgreSQL(t *testing.T) {
	database, _ := seasonDatabase(t)
	archive := filepath.Join(t.TempDir(), "farm.zip")
	entries := archived.FindStringSubmatch(says(t, done, "backup", archive, database))[1]
	server, err := testdb.StartPostgres()
	if err != nil {
		t.Fatal(err)
	}
	defer server.Stop()
	conn, err := pgx.Connect(t.Context(), server.DSN(testdb.Superuser, testdb.Superuser))
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{"CREATE ROLE grove_owner LOGIN", "CREATE ROLE grove_office LOGIN", "CREATE DATABASE palmero OWNER grove_owner"} {
		if _, err := conn.Exec(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	if err := conn.Close(t.Context()); err != nil {
		t.Error(err)
	}
	serving, owner := "--database="+server.DSN("palmero", "grove_office"), "--owner-database="+server.DSN("palmero", "grove_owner")
	requireSays(t, says(t, failed, "restore", archive, serving), "permission denied")
	requireSays(t, says(t, done, "restore", archive, serving, owner), "restored what stood at", "the role grove_office may serve")
	requireSays(t, says(t, done, "verify", serving), entries+" entries under 1 seal, all as sealed")
	requireServes(t, "serve", serving)
	again := archive + ".again"
	says(t, done, "backup", again, serving)
	requireSays(t, says(t, done, "restore", again, "--database=sqlite://"+filepath.Join(t.TempDir(), "back.db")), "under 1 seal")
}

func TestRetentionReport(t *testing.T) {
	database, _ := seasonDatabase(t)
	said := says(t, done, "retention", "media-tarde", database)
	requireSays(t, said, "media-tarde", "PROVISION", "29 CFR 500.80", "Cal. Bus. & Prof. Code 17208", "time entries",
		"29 CFR 1904.33", "incidents", "No record may be deleted before 2030-12-31: the longest period is 5 years from the year's end (29 CFR 1904.33)")
	said = says(t, done, "retention", "media-tarde", "--language", "es", database)
	requireSays(t, said, "DISPOSICIÓN", "capacitación: herramientas de mano", "lecturas de calor", "Ningún registro se puede borrar antes del 2030-12-31: el plazo más largo es de 5 años desde el fin del año")
	for _, key := range regexp.MustCompile(`retention\.[a-z_.]+`).FindAllString(said, -1) {
		t.Errorf("%s has no text", key)
	}
	requireSays(t, says(t, misuse, "retention", "--language", "fr", database), `"fr" is not one of en, es`)
}

func TestRecordsCommandsRefuseTheirUse(t *testing.T) {
	for say, args := range map[string][]string{
		"it needs FILE":        {"backup"},
		`"x" is not a flag`:    {"restore", "a.zip", "x"},
		"--head needs a value": {"verify", "--head"},
		"no flag --all":        {"retention", "--all"},
	} {
		requireSays(t, says(t, misuse, args...), say)
	}
	requireSays(t, says(t, failed, "restore", filepath.Join(t.TempDir(), "none.zip"), "--database=sqlite://"+filepath.Join(t.TempDir(), "n.db")), "no such file")
	file := filepath.Join(t.TempDir(), "text.zip")
	if err := os.WriteFile(file, []byte("no archive"), 0o600); err != nil {
		t.Fatal(err)
	}
	requireSays(t, says(t, failed, "restore", file, "--database=sqlite://"+filepath.Join(t.TempDir(), "n.db")), "not a valid zip file")
}
