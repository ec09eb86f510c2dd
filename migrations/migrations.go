// Package migrations holds the versioned schema, one folder of SQL files per database, and brings a database up to it.
// Files run forward only, each in a transaction, and a file that has landed is never edited.
package migrations

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"path"

	"github.com/pressly/goose/v3"
)

//go:embed postgres/*.sql sqlite/*.sql
var files embed.FS

// Dialect is the kind of database.
type Dialect string

// The databases that Palmero runs on; the value is also the name of the folder with its files.
const (
	Postgres Dialect = "postgres"
	SQLite   Dialect = "sqlite"
)

func provider(db *sql.DB, dialect Dialect) (*goose.Provider, error) {
	folder, err := fs.Sub(files, string(dialect))
	if err != nil {
		return nil, fmt.Errorf("migrations for %s: %w", dialect, err)
	}
	kind := goose.DialectPostgres
	if dialect == SQLite {
		kind = goose.DialectSQLite3
	}
	p, err := goose.NewProvider(kind, db, folder)
	if err != nil {
		return nil, fmt.Errorf("migrations for %s: %w", dialect, err)
	}
	return p, nil
}

// Up applies every file that the database lacks and returns their names in the order in which they ran.
func Up(ctx context.Context, db *sql.DB, dialect Dialect) ([]string, error) {
	p, err := provider(db, dialect)
	if err != nil {
		return nil, err
	}
	results, err := p.Up(ctx)
	if err != nil {
		return nil, fmt.Errorf("migrate: %w", err)
	}
	names := make([]string, len(results))
	for i, r := range results {
		names[i] = path.Base(r.Source.Path)
	}
	return names, nil
}

// UpTo applies the files that the database lacks, through the one of that version and no further.
func UpTo(ctx context.Context, db *sql.DB, dialect Dialect, version int64) error {
	p, err := provider(db, dialect)
	if err != nil {
		return err
	}
	if _, err := p.UpTo(ctx, version); err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	return nil
}

// Latest is the version of the newest file.
func Latest(db *sql.DB, dialect Dialect) (int64, error) {
	p, err := provider(db, dialect)
	if err != nil {
		return 0, err
	}
	var latest int64
	for _, s := range p.ListSources() {
		latest = max(latest, s.Version)
	}
	return latest, nil
}

// Rows is what a query is asked of: a database, or a transaction.
type Rows interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// Version is the version of the last file that a migrated database has had.
func Version(ctx context.Context, db Rows) (version int64, err error) {
	err = db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM "+goose.DefaultTablename).Scan(&version)
	return version, err
}

// Pending returns the names of the files that the database lacks. It writes nothing: the serving role may not.
func Pending(ctx context.Context, db *sql.DB, dialect Dialect) ([]string, error) {
	p, err := provider(db, dialect)
	if err != nil {
		return nil, err
	}
	// A database that was never migrated has no version table; every file is pending then.
	applied, err := Version(ctx, db)
	if err != nil {
		if pingErr := db.PingContext(ctx); pingErr != nil {
			return nil, fmt.Errorf("schema version: %w", pingErr)
		}
		applied = 0
	}
	var names []string
	for _, s := range p.ListSources() {
		if s.Version > applied {
			names = append(names, path.Base(s.Path))
		}
	}
	return names, nil
}

// Grant gives role what serving needs on PostgreSQL, and creates it as a role that may sign in where it is missing. The role must own
// nothing and bypass no policy: row-level security is what keeps employers apart.
func Grant(ctx context.Context, db *sql.DB, role string) error {
	var quoted string
	var exists bool
	row := db.QueryRowContext(ctx, "SELECT quote_ident($1), EXISTS (SELECT 1 FROM pg_roles WHERE rolname = $1)", role)
	if err := row.Scan(&quoted, &exists); err != nil {
		return fmt.Errorf("grant to %s: %w", role, err)
	}
	if !exists {
		if _, err := db.ExecContext(ctx, "CREATE ROLE "+quoted+" LOGIN"); err != nil {
			return fmt.Errorf("create role %s: %w", role, err)
		}
	}
	for _, statement := range []string{
		"GRANT USAGE ON SCHEMA public TO " + quoted,
		"GRANT SELECT, INSERT, UPDATE ON ALL TABLES IN SCHEMA public TO " + quoted,
		"GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO " + quoted,
		// A draft is made anew, and what no longer matters for signing in is cleared; nothing else is ever deleted.
		"GRANT DELETE ON statements, statement_lines, statement_adjustments, pay_run_problems, pay_run_books, draft_moves, sign_in_attempts, refresh_tokens TO " + quoted,
		"REVOKE INSERT, UPDATE ON " + goose.DefaultTablename + " FROM " + quoted,
		"REVOKE UPDATE ON employers, book_texts, audit_entries, audit_seals, crew_sheets, tally_answers, payment_events, " +
			"palm_ranges, palm_events, equipment_events, gear_stock_moves, gear_issue_events, photos, " +
			"heat_imports, incident_subjects, incident_events, " +
			"checklist_equipment, checklist_reviews, stops, stop_hearings, stop_acknowledgements, stop_lifts, training_meetings, " +
			"clearances, cleared_workers, clearance_exceptions, break_answers, bunch_check_points, sign_off_acknowledgements, draft_commands FROM " + quoted,
		"REVOKE UPDATE ON employments, sick_entries, labor_costs, time_ledger, count_ledger FROM " + quoted,
	} {
		if _, err := db.ExecContext(ctx, statement); err != nil {
			return fmt.Errorf("grant to %s: %w", role, err)
		}
	}
	return nil
}
