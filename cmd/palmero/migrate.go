package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"palmero/migrations"
	"palmero/models"
)

const migrateHelp = `Usage: palmero migrate [SETTINGS]

Brings the database's schema up to date; files that it has already had are left alone. Run it before the first "palmero
serve", and after every update of the program.

On PostgreSQL the tables belong to one role and the server signs in as another, which row-level security holds:

  palmero migrate --owner-database postgres://palmero_owner@db/palmero --database postgres://palmero@db/palmero
`

func runMigrate(ctx context.Context, args []string, c console) int {
	r := readSettings("migrate", byMigrate, args, c.environ)
	if status, ok := r.settle("migrate", migrateHelp, byMigrate, c); !ok {
		return status
	}
	if err := migrate(ctx, r.settings, c); err != nil {
		fmt.Fprintf(c.err, "palmero migrate: %v\n", err)
		return failed
	}
	return done
}

func migrate(ctx context.Context, s settings, c console) error {
	target, role := s.migration()
	db, err := target.OpenSQL()
	if err != nil {
		return err
	}
	defer db.Close()
	applied, err := migrations.Up(ctx, db, target.Dialect)
	if err != nil {
		return err
	}
	for _, name := range applied {
		fmt.Fprintf(c.out, "applied %s\n", name)
	}
	fmt.Fprintln(c.out, "the schema is up to date")
	if target.Dialect != migrations.Postgres {
		return nil
	}
	return prepareRole(ctx, target, role, c.out)
}

// prepareRole makes or mends the role that serves, as the owner of the tables.
func prepareRole(ctx context.Context, owner models.Target, role string, out io.Writer) (err error) {
	if role == "" {
		fmt.Fprintln(out, "no role was prepared for \"palmero serve\"; it needs one that owns no tables: see --serving-role")
		return nil
	}
	db, err := owner.OpenSQL()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := migrations.Grant(ctx, db, role); err != nil {
		return err
	}
	fmt.Fprintf(out, "the role %s may serve\n", role)
	return nil
}

// migration is the database as its owner, and the role to prepare for serving.
func (s settings) migration() (owner models.Target, servingRole string) {
	if !s.ownerGiven {
		return s.database, s.servingRole
	}
	if s.servingRole == "" {
		return s.ownerDatabase, s.databaseUser
	}
	return s.ownerDatabase, s.servingRole
}
