package evidence_test

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/evidence"
	"palmero/models/season"
	"palmero/payroll/rulebook"
	"palmero/safety"
)

func backup(t *testing.T, store *models.Store) ([]byte, *evidence.Manifest) {
	t.Helper()
	var b bytes.Buffer
	manifest, err := evidence.Backup(t.Context(), store, "a test", noon, &b)
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), manifest
}

func open(t *testing.T, archive []byte) (*evidence.Archive, error) {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	if err != nil {
		t.Fatal(err)
	}
	return evidence.OpenArchive(r)
}

// restored restores an archive into an empty database and opens it as serving does.
func restored(t *testing.T, dialect migrations.Dialect, archive []byte, now func() time.Time) *models.Store {
	t.Helper()
	a, err := open(t, archive)
	if err != nil {
		t.Fatal(err)
	}
	serving, owner := databases.Empty(t, dialect)
	if err := evidence.Restore(t.Context(), owner, a, noon); err != nil {
		t.Fatal(err)
	}
	grant(t, owner)
	store, err := models.Open(t.Context(), serving, models.Options{Now: now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() })
	return store
}

func grant(t *testing.T, owner models.Target) {
	t.Helper()
	if owner.Dialect != migrations.Postgres {
		return
	}
	db, err := owner.OpenSQL()
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := migrations.Grant(t.Context(), db, databases.ServingRole()); err != nil {
		t.Fatal(err)
	}
}

// contents are an archive's files by name, with the instant at which it was made left out.
func contents(t *testing.T, archive []byte) map[string]string {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{}
	for _, f := range r.File {
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(in)
		if err != nil {
			t.Fatal(err)
		}
		files[f.Name] = string(b)
	}
	return files
}

// rewrite makes an archive of other contents.
func rewrite(t *testing.T, files map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		f, err := w.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(f, files[name]); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The season moves from SQLite to PostgreSQL and back, and is the same to the byte of every file; each time the farm works on.
func TestASeasonMovesBetweenDatabases(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	clock := &season.Clock{}
	store := databases.Store(t, migrations.SQLite, clock.Now)
	if err := season.Seed(t.Context(), store, clock, books, keys); err != nil {
		t.Fatal(err)
	}
	first, manifest := backup(t, store)
	want := contents(t, first)
	if h := manifest.Employers[0]; len(manifest.Employers) != 1 || h.Break != nil || h.Seal == 0 || h.Tail != 0 || h.SignInName != "media-tarde" {
		t.Errorf("manifest %+v", h)
	}
	for _, dialect := range []migrations.Dialect{migrations.Postgres, migrations.SQLite} {
		began := time.Now()
		store = restored(t, dialect, first, clock.Now)
		t.Logf("restored into %s in %s", dialect, time.Since(began).Round(time.Millisecond))
		again, _ := backup(t, store)
		if diff := cmp.Diff(want, contents(t, again)); diff != "" {
			t.Errorf("%s: (-before, +after the move)\n%s", dialect, diff)
		}
		requireRetention(t, store, manifest.Employers[0].ID, books)
		workOn(t, store, manifest.Employers[0])
		first = again
	}
}

// workOn records and seals in a database that was restored.
func workOn(t *testing.T, store *models.Store, h evidence.Holding) {
	t.Helper()
	scope := models.Scope{Employer: h.ID}
	err := store.In(t.Context(), scope, func(tx *models.Tx) error {
		kept, _, err := models.Create(tx, tx.NewID(), models.CrewContent{Name: "after the move"})
		if err == nil && kept.Content.Number < 2 {
			t.Errorf("crew number %d", kept.Content.Number)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if n, err := store.SealAll(t.Context()); err != nil || n != 1 {
		t.Errorf("sealed %d, %v", n, err)
	}
	err = store.View(t.Context(), scope, func(tx *models.Tx) error {
		r, err := evidence.Verify(tx)
		if err == nil && (r.Break != nil || r.Head.Number != h.Seal+1 || r.Head.PreviousHash != h.Head || r.Tail != 0) {
			t.Errorf("after the move: %+v %+v", r, r.Break)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// Several employers, entries that were sealed in another order than they came in, and a tail that no seal covers.
func TestOrderOutlivesAMove(t *testing.T) {
	o := openOffice(t, migrations.Postgres)
	found(t, o.store, "four-wells")
	began, finish := make(chan struct{}), make(chan struct{})
	ended := make(chan error)
	go func() {
		ended <- o.store.In(context.Background(), o.scope, func(tx *models.Tx) error {
			if _, _, err := models.Create(tx, tx.NewID(), models.CrewContent{Name: "early"}); err != nil {
				return err
			}
			close(began)
			<-finish
			return act(tx, 1) // later in the sequence, and earlier in the chain
		})
	}()
	<-began
	o.act(t, 2)
	close(finish)
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
	o.seal(t, 5)
	o.act(t, 1)
	first, _ := backup(t, o.store)
	o.act(t, 1)
	tailed := contents(t, first)
	for _, dialect := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
		again, _ := backup(t, restored(t, dialect, first, func() time.Time { return noon }))
		if diff := cmp.Diff(tailed, contents(t, again)); diff != "" {
			t.Errorf("%s: (-before, +after the move)\n%s", dialect, diff)
		}
		first = again
	}
}

// An archive is made while others write: it is of one instant, and complete.
func TestBackupWhileServing(t *testing.T) {
	each(t, func(t *testing.T, o *office) {
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() {
			defer close(done)
			for n := 0; ctx.Err() == nil; n++ {
				time.Sleep(5 * time.Millisecond)
				if err := o.store.In(context.Background(), o.scope, func(tx *models.Tx) error { return act(tx, n) }); err != nil {
					t.Error(err)
				}
			}
		}()
		for range 2 {
			archive, manifest := backup(t, o.store)
			h := manifest.Employers[0]
			restored(t, migrations.SQLite, archive, func() time.Time { return noon })
			lines := strings.Count(contents(t, archive)["employers/"+h.ID.String()+"/audit_entries.ndjson"], "\n")
			if h.Break != nil || int64(lines) != h.Sealed+h.Tail {
				t.Errorf("%d entries, manifest %+v", lines, h)
			}
		}
		stop()
		<-done
	})
}

func TestRestoreRefuses(t *testing.T) {
	o := openOffice(t, migrations.SQLite)
	o.act(t, 3)
	o.seal(t, 4)
	archive, manifest := backup(t, o.store)
	folder := "employers/" + manifest.Employers[0].ID.String() + "/"
	entries := folder + "audit_entries.ndjson"
	change := func(name, old, new string) func(map[string]string) {
		return func(files map[string]string) {
			if !strings.Contains(files[name], old) {
				t.Fatalf("%s holds no %q: %s", name, old, files[name])
			}
			files[name] = strings.Replace(files[name], old, new, 1)
		}
	}
	for name, test := range map[string]struct {
		change func(files map[string]string)
		say    string
	}{
		"a changed entry":        {change(entries, "the 1. time", "the 2. time"), "damaged"},
		"a changed profile":      {change(folder+"employer_profiles.ndjson", `"size":40`, `"size":41`), "damaged"},
		"an unknown column":      {change(folder+"employer_profiles.ndjson", `"size"`, `"sizes"`), "no column size"},
		"no JSON":                {change(folder+"employer_profiles.ndjson", `{`, ``), "line 1"},
		"an unknown form":        {change("manifest.json", "archive 1", "archive 9"), "archive 9"},
		"tables of the future":   {change("manifest.json", `"schema": `, `"schema": 9`), "version"},
		"a head of another":      {change("manifest.json", `"head": "`, `"head": "0`), "audit chain"},
		"a file too few":         {func(files map[string]string) { delete(files, entries) }, "lacks"},
		"a file too many":        {func(files map[string]string) { files["more.txt"] = "" }, "does not name"},
		"no manifest":            {func(files map[string]string) { delete(files, "manifest.json") }, "no archive"},
		"a manifest of no JSON":  {func(files map[string]string) { files["manifest.json"] = "?" }, "manifest"},
		"a seal over too many":   {change(folder+"audit_seals.ndjson", `"entries":4`, `"entries":5`), "more entries"},
		"an employer left out":   {change("manifest.json", `"id": "`, `"id": "0`), ""},
		"a manifest without end": {change("manifest.json", "}\n", ""), ""},
	} {
		t.Run(name, func(t *testing.T) {
			files := contents(t, archive)
			test.change(files)
			_, owner := databases.Empty(t, migrations.SQLite)
			a, err := open(t, rewrite(t, files))
			if err == nil {
				err = evidence.Restore(t.Context(), owner, a, noon)
			}
			if err == nil || !strings.Contains(err.Error(), test.say) {
				t.Errorf("%v; want a refusal that says %q", err, test.say)
			}
			requireEmpty(t, owner)
		})
	}
}

// requireEmpty wants a database into which an archive can still be restored.
func requireEmpty(t *testing.T, owner models.Target) {
	t.Helper()
	db, err := owner.OpenSQL()
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var n int
	if err := db.QueryRow("SELECT count(*) FROM employers").Scan(&n); err == nil && n > 0 {
		t.Errorf("%d employers are left of a restore that was refused", n)
	}
}

// A chain that somebody broke and whose hashes fit the manifest again is still found.
func TestRestoreWalksTheSeals(t *testing.T) {
	for _, dialect := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
		t.Run(string(dialect), func(t *testing.T) {
			o := openOffice(t, dialect)
			o.act(t, 3)
			o.seal(t, 4)
			o.tamper(t, "UPDATE audit_entries SET reason = 'another' WHERE seq = 2")
			archive, manifest := backup(t, o.store)
			if b := manifest.Employers[0].Break; b == nil || b.Kind != evidence.AlteredEntry || b.Seal != 1 {
				t.Errorf("the manifest says %+v", b)
			}
			a, err := open(t, archive)
			if err != nil {
				t.Fatal(err)
			}
			_, owner := databases.Empty(t, dialect)
			err = evidence.Restore(t.Context(), owner, a, noon)
			if err == nil || !strings.Contains(err.Error(), "altered_entry at seal 1") {
				t.Errorf("error %v", err)
			}
			requireEmpty(t, owner)
		})
	}
}

func TestRestoreRefusesRecords(t *testing.T) {
	each(t, func(t *testing.T, o *office) {
		archive, _ := backup(t, o.store)
		a, err := open(t, archive)
		if err != nil {
			t.Fatal(err)
		}
		_, owner := databases.Empty(t, migrations.SQLite)
		if err := evidence.Restore(t.Context(), owner, a, noon); err != nil {
			t.Fatal(err)
		}
		if err := evidence.Restore(t.Context(), owner, a, noon); err == nil || !strings.Contains(err.Error(), "holds records already") {
			t.Errorf("restored over records: %v", err)
		}
	})
}

func TestBackupOfNothing(t *testing.T) {
	store := databases.Store(t, migrations.SQLite, time.Now)
	if _, err := evidence.Backup(t.Context(), store, "", noon, io.Discard); err == nil {
		t.Error("an archive of nothing was made")
	}
}

// keys says every message by its key.
func keys(key string, _ safety.Terms) string { return key }
