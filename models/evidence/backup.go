package evidence

import (
	"archive/zip"
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/google/uuid"

	"palmero/migrations"
	"palmero/models"
)

// Format is the name of the archive's form; it changes whenever an older program could not read it.
const Format = "palmero archive 1"

// manifestName is the file of an archive that says what the others are.
const manifestName = "manifest.json"

// Manifest says what an archive holds. An archive is a ZIP file with the manifest and one file of JSON lines per table: those of an employer
// in a folder of its own, the texts of rulebooks at the top.
type Manifest struct {
	Format    string    `json:"format"`
	Program   string    `json:"program"` // the version that made it
	Schema    int64     `json:"schema"`  // the version of the tables
	MadeAt    time.Time `json:"made_at"`
	Employers []Holding `json:"employers"`
	Files     []File    `json:"files"` // all others, in the order in which they are read back
}

// Holding is an employer in an archive, with the head of its audit chain at the instant of its snapshot.
type Holding struct {
	ID         uuid.UUID `json:"id"`
	SignInName string    `json:"sign_in_name"`
	Seal       int64     `json:"seal"`           // number of the last seal; 0 where there is none
	Head       string    `json:"head,omitempty"` // its hash
	Sealed     int64     `json:"sealed"`         // entries under a seal
	Tail       int64     `json:"tail"`           // entries under none yet
	Break      *Break    `json:"break,omitempty"`
}

// File is a file of an archive.
type File struct {
	Name   string `json:"name"`
	Rows   int64  `json:"rows"`
	SHA256 string `json:"sha256"` // of its bytes, in hexadecimal digits
}

// backup is an archive in the making.
type backup struct {
	zip      *zip.Writer
	manifest *Manifest
}

// Backup writes everything in the store into an archive. Each employer's records are those of one instant, whatever is written meanwhile. A chain of
// seals that does not hold is noted in the manifest, and archived as it is.
func Backup(ctx context.Context, store *models.Store, program string, now time.Time, w io.Writer) (*Manifest, error) {
	b := &backup{zip: zip.NewWriter(w), manifest: &Manifest{Format: Format, Program: program, MadeAt: now.UTC().Truncate(time.Second)}}
	employers, err := store.Employers(ctx)
	if err != nil {
		return nil, err
	}
	if len(employers) == 0 {
		return nil, errors.New("the database holds no employer; there is nothing to keep")
	}
	if _, err := store.SealAll(ctx); err != nil {
		return nil, err
	}
	for i, e := range employers {
		err := store.View(ctx, models.Scope{Employer: e.ID}, func(tx *models.Tx) error {
			if err := b.employer(ctx, tx, e); err != nil || i < len(employers)-1 {
				return err
			}
			return b.shared(ctx, tx) // last: the texts that the records name are kept before the records are
		})
		if err != nil {
			return nil, fmt.Errorf("back up %s: %w", e.SignInName, err)
		}
	}
	return b.manifest, b.finish()
}

func (b *backup) employer(ctx context.Context, tx *models.Tx, e models.Employer) error {
	report, err := Verify(tx)
	if err != nil {
		return err
	}
	h := Holding{ID: e.ID, SignInName: e.SignInName, Sealed: report.Sealed, Tail: report.Tail, Break: report.Break}
	if report.Head != nil {
		h.Seal, h.Head = report.Head.Number, report.Head.Hash
	}
	b.manifest.Employers = append(b.manifest.Employers, h)
	return b.tables(ctx, tx, func(t *table) bool { return t.employer() != "" })
}

func (b *backup) shared(ctx context.Context, tx *models.Tx) (err error) {
	if b.manifest.Schema, err = migrations.Version(ctx, tx.Conn()); err != nil {
		return err
	}
	return b.tables(ctx, tx, func(t *table) bool { return t.employer() == "" })
}

func (b *backup) tables(ctx context.Context, tx *models.Tx, of func(*table) bool) error {
	tables, err := schemaOf(ctx, tx.Conn(), tx.Dialect())
	if err != nil {
		return err
	}
	for _, t := range tables {
		if of(t) {
			if err := b.table(ctx, tx, t); err != nil {
				return err
			}
		}
	}
	return nil
}

func (b *backup) table(ctx context.Context, tx *models.Tx, t *table) error {
	f := File{Name: t.file(tx.Employer)}
	entry, err := b.create(f.Name)
	if err != nil {
		return err
	}
	hash := sha256.New()
	out := bufio.NewWriterSize(io.MultiWriter(entry, hash), 64<<10)
	if f.Rows, err = dump(ctx, tx.Conn(), tx.Dialect(), t, tx.Employer, out); err != nil {
		return err
	}
	if err := out.Flush(); err != nil {
		return err
	}
	f.SHA256 = hex.EncodeToString(hash.Sum(nil))
	b.manifest.Files = append(b.manifest.Files, f)
	return nil
}

func (b *backup) create(name string) (io.Writer, error) {
	return b.zip.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: b.manifest.MadeAt})
}

// finish writes the manifest and the directory of the ZIP file.
func (b *backup) finish() error {
	entry, err := b.create(manifestName)
	if err != nil {
		return err
	}
	text, err := json.MarshalIndent(b.manifest, "", "  ")
	if err != nil {
		return err
	}
	if _, err := entry.Write(append(text, '\n')); err != nil {
		return err
	}
	return b.zip.Close()
}

// file is the name of the file that holds the table's rows of an employer.
func (t *table) file(employer uuid.UUID) string {
	if t.employer() == "" {
		return t.name + ".ndjson"
	}
	return "employers/" + employer.String() + "/" + t.name + ".ndjson"
}
