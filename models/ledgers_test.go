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
