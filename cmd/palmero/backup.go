package main

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"palmero/models/evidence"
)

const backupHelp = `Usage: palmero backup FILE [SETTINGS]

Writes everything in the database into an archive, while the server goes on: each employer's records as they stand at one
instant, with the seals over their audit entries, which are brought up to date first and proved on the way. "palmero restore" puts
it into another database of either kind, so that a farm can move from SQLite to PostgreSQL. The archive is a ZIP file of JSON
lines, one file per table, which other programs can read too.

It holds names, pay and the hashes of secrets: keep it as you keep the database. Sessions are not in it; after a restore
everybody signs in again. FILE must not be there yet, and is there only once it is complete.

On PostgreSQL keep physical backups as well (pg_basebackup with an archive of its log, or what your provider has): they lose
less and come back faster. A logical copy by pg_dump is good for reading; a server that it was loaded into cannot seal on.

Example:

  palmero backup palmero-$(date +%F).zip --database sqlite:///var/lib/palmero/palmero.db
`

func runBackup(ctx context.Context, args []string, c console) int {
	return recordsCommand{name: "backup", help: backupHelp, of: byRecords, names: []string{"FILE"}, needed: 1, run: backup}.execute(ctx, args, c)
}

func backup(ctx context.Context, o *recordsOrder) error {
	name := o.names[0]
	if _, err := os.Lstat(name); !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("%s is there already; name another file", name)
	}
	var manifest *evidence.Manifest
	sum := sha256.New()
	err := writeWhole(name, func(w io.Writer) (err error) {
		manifest, err = evidence.Backup(ctx, o.store, programVersion(), time.Now(), io.MultiWriter(w, sum))
		return err
	})
	if err != nil {
		return err
	}
	var rows int64
	for _, f := range manifest.Files {
		rows += f.Rows
	}
	o.say("%s holds %s of %s", name, counted(rows, "row", "rows"), counted(int64(len(manifest.Employers)), "employer", "employers"))
	o.say("SHA-256 %s", hex.EncodeToString(sum.Sum(nil)))
	broken := false
	for _, h := range manifest.Employers {
		o.holding(h)
		broken = broken || h.Break != nil
	}
	if broken {
		return errTold
	}
	return nil
}

func (o *recordsOrder) holding(h evidence.Holding) {
	if h.Break != nil {
		o.say("%s: BROKEN: %s; \"palmero restore\" will not take it", h.SignInName, breakInWords(h.Break))
		return
	}
	o.say("%s: %s under %s, %d not sealed yet; head %s", h.SignInName, counted(h.Sealed, "audit entry", "audit entries"),
		counted(h.Seal, "seal", "seals"), h.Tail, h.Head)
}

// writeWhole writes a file under another name, and gives it its own once it is safely on the disk.
func writeWhole(name string, fill func(io.Writer) error) (err error) {
	unfinished := name + ".unfinished"
	f, err := os.OpenFile(unfinished, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(unfinished))
		}
	}()
	out := bufio.NewWriterSize(f, 1<<20)
	err = fill(out)
	if err == nil {
		err = out.Flush()
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	return os.Rename(unfinished, name)
}
