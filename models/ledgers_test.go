package models_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/season"
	"palmero/models/testdb"
	"palmero/payroll/rulebook"
)

// The ledgers come to what the records that stand come to, over a season with lots and corrections: the sums are those that the migration made of what was there before there were ledgers.
func TestLedgersAgreeWithTheRecords(t *testing.T) {
	for _, dialect := range testdb.Dialects() {
		t.Run(string(dialect), func(t *testing.T) {
			clock := &season.Clock{}
			store := databases.Filled(t, dialect, "season", clock.Now, func(store *models.Store) error {
				books, err := rulebook.Load()
				if err != nil {
					return err
				}
				return season.Seed(t.Context(), store, clock, books, keys)
			})
			employer, err := store.FindEmployer(t.Context(), "media-tarde")
			if err != nil {
				t.Fatal(err)
			}
			for table, columns := range map[string]string{"time_ledger": "workday, worker_id, garden_id", "count_ledger": "workday, block_id, operation_id"} {
				value := map[string]string{"time_ledger": "minutes", "count_ledger": "pieces"}[table]
				sums := "SELECT " + columns + ", sum(" + value + ") AS total FROM (" + summing(t, dialect, table) + ") r WHERE employer_id = @employer GROUP BY " + columns
				entered := "SELECT " + columns + ", sum(" + value + ") AS total FROM " + table + " WHERE employer_id = @employer GROUP BY " + columns
				err := store.View(t.Context(), models.Scope{Employer: employer.ID}, func(tx *models.Tx) error {
					want, err := sortedRows(tx, sums)
					if err != nil {
						return err
					}
					got, err := sortedRows(tx, entered)
					if diff := cmp.Diff(want, got); diff != "" || len(got) < 20 {
						t.Errorf("%s of %d rows (-records +ledger)\n%s", table, len(got), diff)
					}
					return err
				})
				if err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}

// What was on record before there were ledgers is entered by the migration, though whoever migrates is a plain role that is held to the policies.
func TestLedgersAreFilledWithWhatWasThere(t *testing.T) {
	owner, administrator := databases.Owned(t)
	plain, all := opened(t, owner), opened(t, administrator)
	if err := migrations.UpTo(t.Context(), plain, migrations.Postgres, 30); err != nil {
		t.Fatal(err)
	}
	conn, err := all.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close() }()
	const employer, worker, other = "00000000-0000-0000-0000-0000000000e1", "00000000-0000-0000-0000-0000000000a1", "00000000-0000-0000-0000-0000000000b1"
	for _, statement := range []string{
		"SET session_replication_role = replica", // whom and what the rows refer to does not matter here
		"INSERT INTO employers (id, sign_in_name, created_at) VALUES ('" + employer + "', 'before', now())",
		`INSERT INTO blocks (employer_id, id, content_hash, created_at, updated_at, version, garden_id, code, variety, palms, tallest_cm)
			VALUES ('` + employer + "', '" + other + "', '', now(), now(), 1, '" + other + "', 'A-1', 'deglet_noor', 10, 900)",
		`INSERT INTO time_entries (employer_id, id, content_hash, worker_id, workday, kind, garden_id, started_at, ended_at, minutes, recorded_at, received_at, recorded_by, reason)
			SELECT '` + employer + "', gen_random_uuid(), '', '" + worker + "', '2026-03-02', kind, '" + other + "', began, ended, minutes, now(), now(), '" + worker + `', ''
			FROM (VALUES ('piece', timestamptz '2026-03-02 06:00Z', timestamptz '2026-03-02 08:00Z', NULL::bigint), ('meal', '2026-03-02 08:00Z', '2026-03-02 08:30Z', NULL),
				('hourly', NULL, NULL, 45), ('piece', '2026-03-02 09:00Z', NULL, NULL)) AS entered (kind, began, ended, minutes)`,
		`INSERT INTO tallies (employer_id, id, content_hash, worker_id, workday, block_id, operation_id, pieces, recorded_at, received_at, recorded_by, reason)
			SELECT '` + employer + "', gen_random_uuid(), '', '" + worker + "', '2026-03-02', '" + other + "', '" + other + "', 40000, now(), now(), '" + worker + "', '' FROM generate_series(1, 3)",
	} {
		if _, err := conn.ExecContext(t.Context(), statement); err != nil {
			t.Fatalf("%s: %v", statement, err)
		}
	}
	if _, err := migrations.Up(t.Context(), plain, migrations.Postgres); err != nil {
		t.Fatal(err)
	}
	got := texts(t, all, "SELECT (SELECT sum(minutes) FROM time_ledger) || ' minutes, ' || (SELECT sum(pieces) FROM count_ledger) || ' thousandths'")
	if diff := cmp.Diff([]string{"165 minutes, 120000 thousandths"}, got); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

// summing is the query by which the migration filled a ledger, held to one employer and with the columns named as the ledger's.
func summing(t *testing.T, dialect migrations.Dialect, table string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "migrations", string(dialect), "0031_ledgers.sql"))
	if err != nil {
		t.Fatal(err)
	}
	_, insert, found := strings.Cut(string(text), "INSERT INTO "+table)
	_, query, begun := strings.Cut(insert, ")\n")
	query, _, ended := strings.Cut(query, ";")
	if !found || !begun || !ended {
		t.Fatalf("the migration of %s does not fill %s", dialect, table)
	}
	return strings.NewReplacer("sum(minutes) FROM", "sum(minutes) AS minutes FROM", "sum(pieces) FROM", "sum(pieces) AS pieces FROM",
		"WHERE superseded_by", "WHERE employer_id = @employer AND superseded_by", "WHERE t.superseded_by", "WHERE t.employer_id = @employer AND t.superseded_by").Replace(query)
}

// sortedRows reads rows as text, sorted.
func sortedRows(tx *models.Tx, query string) (all []string, err error) {
	var rows []map[string]any
	if err := tx.DB().Raw(query, map[string]any{"employer": tx.Employer}).Scan(&rows).Error; err != nil {
		return nil, err
	}
	for _, r := range rows {
		all = append(all, fmt.Sprint(r))
	}
	slices.Sort(all)
	return all, nil
}
