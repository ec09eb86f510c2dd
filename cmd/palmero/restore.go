package main

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"time"

	"palmero/migrations"
	"palmero/models/evidence"
)

const restoreHelp = `Usage: palmero restore FILE [SETTINGS]

Puts an archive that "palmero backup" made into a database that holds no records yet, of either kind, makes its tables, and brings
them up to date. It is all or nothing: every file is held to its hash, every table is read back and held to it again, and
every chain of seals is walked; where anything differs, nothing is kept.

On PostgreSQL it works as the owner of the tables, as "palmero migrate" does, and prepares the role that serves:

  createdb -O palmero_owner palmero
  palmero restore palmero-2026-03-02.zip --owner-database postgres://palmero_owner@db/palmero --database postgres://palmero@db/palmero

Everybody signs in again afterwards, with the secrets that they had.
`

func runRestore(ctx context.Context, args []string, c console) int {
	return recordsCommand{name: "restore", help: restoreHelp, of: byRestore, names: []string{"FILE"}, needed: 1, closed: true, run: restore}.execute(ctx, args, c)
}

func restore(ctx context.Context, o *recordsOrder) (err error) {
	file, err := zip.OpenReader(o.names[0])
	if err != nil {
		return fmt.Errorf("%s: %w", o.names[0], err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	archive, err := evidence.OpenArchive(&file.Reader)
	if err != nil {
		return err
	}
	target, role := o.migration()
	if err := evidence.Restore(ctx, target, archive, time.Now()); err != nil {
		return err
	}
	o.say("restored what stood at %s", archive.MadeAt.Format(time.DateTime+" UTC"))
	for _, h := range archive.Employers {
		o.holding(h)
	}
	if target.Dialect != migrations.Postgres {
		return nil
	}
	return prepareRole(ctx, target, role, o.out)
}
