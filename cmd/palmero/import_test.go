package main

import (
	"bytes"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"palmero/models"
)

// farmFile is a database with a small farm in it, whose clerk is called clerk.
func farmFile(t *testing.T) string {
	t.Helper()
	url := "sqlite://" + filepath.Join(t.TempDir(), "farm.db")
	for _, args := range [][]string{
		{"migrate", "--database", url},
		{"account", "employer", "tres-pozos", "--legal-name", "Huerta Tres Pozos LLC", "--address", "88 Canal Road", "--size", "40", "--database", url},
	} {
		var out bytes.Buffer
		if status := run(t.Context(), args, nil, &out, &out, nil); status != done {
			t.Fatalf("%v: %s", args, out.String())
		}
	}
	target, err := models.ParseTarget(url)
	if err != nil {
		t.Fatal(err)
	}
	store, err := models.Open(t.Context(), target, models.Options{})
	if err != nil {
		t.Fatal(err)
	}
	employer, err := store.FindEmployer(t.Context(), "tres-pozos")
	if err != nil {
		t.Fatal(err)
	}
	err = store.In(t.Context(), models.Scope{Employer: employer.ID}, func(tx *models.Tx) error {
		_, _, err1 := models.Create(tx, tx.NewID(), models.AccountContent{SignInName: "clerk", Name: "Clerk", Role: models.RoleClerk, Language: "en"})
		_, _, err2 := models.Create(tx, tx.NewID(), models.GardenContent{Name: "Tres Pozos", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"})
		_, _, err3 := models.Create(tx, tx.NewID(), models.OperationContent{Code: "pollination", Unit: "bunch", DailyLimit: 400_000})
		_, _, err4 := models.Create(tx, tx.NewID(), models.CrewContent{Name: "North"})
		return errors.Join(err1, err2, err3, err4)
	})
	if err := errors.Join(err, store.Close()); err != nil {
		t.Fatal(err)
	}
	return url
}

// A farm's books from nothing: workers, blocks and rates, then a week's sheet, first tried and then taken in, twice.
func TestImport(t *testing.T) {
	url := farmFile(t)
	takeIn := func(status int, in string, args ...string) string {
		t.Helper()
		var out bytes.Buffer
		args = append(args, "--employer", "tres-pozos", "--account", "clerk", "--database", url)
		if got := run(t.Context(), append([]string{"import"}, args...), strings.NewReader(in), &out, &out, nil); got != status {
			t.Fatalf("%v: %d\n%s", args, got, out.String())
		}
		return out.String()
	}
	wants := func(got string, lines ...string) {
		t.Helper()
		for _, line := range lines {
			if !strings.Contains(got, line) {
				t.Errorf("%q is missing in:\n%s", line, got)
			}
		}
	}
	wants(takeIn(done, "Name,Address,Started on\nAna Rojas,1 Palm Lane,2026-02-01\nBeto Luz,1 Palm Lane,2026-02-01\nCruz Peña,1 Palm Lane,2026-02-01\nDora Ibáñez,1 Palm Lane,2026-02-01\n",
		"-", "--kind=workers", "--reference", "books"), "Stored.", "4 rows: 4 new")
	wants(takeIn(done, "block;variety;palms;tallest cm\nA-1;Medjool;120;900\nB-07;Deglet Noor;90;1100\n", "-", "--kind", "blocks", "--reference", "books"), "2 rows: 2 new")
	wants(takeIn(done, "operation\trate\teffective on\npollination\t1,15\t2026-02-01\n", "-", "--kind", "piece-rates", "--reference", "books"), "1 rows: 1 new")

	sheet := filepath.Join("..", "..", "testdata", "imports", "north-crew.csv")
	wants(takeIn(done, "", sheet, "--dry-run"), "A dry run: nothing was stored.", "6 rows: 5 new, 0 stored before, 1 left out")
	wants(takeIn(done, "", sheet), "Stored.", "5 new")
	wants(takeIn(done, "", sheet), "0 new, 5 stored before")
	wants(takeIn(failed, "", sheet, "--reference", "another"), sheet+":2:F (Pieces): Work like this is recorded already: 160")
	wants(takeIn(done, "", sheet, "--reference", "another", "--on-match", "skip"), "0 new, 0 stored before, 6 left out")

	faulty := filepath.Join("..", "..", "testdata", "imports", "ten-faults.csv")
	wants(takeIn(failed, "", faulty, "--value", "operation:Polinización=pollination", "--on-match", "add", "--language", "es"), faulty+":8:C (Fecha):", "No se guardó nada.")
	wants(takeIn(failed, "", filepath.Join("..", "..", "go.mod")), "No line among the first ones names the columns")
	wants(takeIn(misuse, "", sheet, "--on-match", "perhaps", "--map", "date"), "--on-match: \"perhaps\" is none of add, replace and skip", "--map: ")
	wants(takeIn(misuse, ""), "name the file")
}
