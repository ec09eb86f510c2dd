package progress_test

import (
	"slices"
	"testing"

	"palmero/models"
	"palmero/models/progress"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// What came in of a week's days adds up to what the season has of that week, and each crew's sheets are told on their days.
func TestLately(t *testing.T) {
	each(t, func(t *testing.T, f *farm) {
		last := f.opened.AddDays(6)
		var lately []progress.Workday
		f.view(t, func(tx *models.Tx) (err error) {
			lately, err = progress.Lately(tx, last, 7)
			return err
		})
		sums := map[string]payroll.Pieces{}
		for i, d := range lately {
			if d.Day != last.AddDays(-i) {
				t.Errorf("day %d is %s", i, d.Day)
			}
			for _, c := range d.Counted {
				sums[c.Operation] += c.Pieces
			}
		}
		for _, op := range f.read(t, f.opened.Year()).Operations {
			i := slices.IndexFunc(op.Weeks, func(w progress.Week) bool { return w.Start == f.opened })
			if i >= 0 && op.Weeks[i].Worked != sums[op.Code] || i < 0 && sums[op.Code] != 0 {
				t.Errorf("%s: the days add up to %s", op.Code, sums[op.Code])
			}
		}
		if len(sums) == 0 || !slices.Equal(lately[0].Crews, []string{"Norte"}) || len(lately[6].Crews) != 0 {
			t.Errorf("%+v", lately)
		}
	})
}

// Of days long before there is nothing, and each is told.
func TestNothingLately(t *testing.T) {
	each(t, func(t *testing.T, f *farm) {
		f.view(t, func(tx *models.Tx) error {
			lately, err := progress.Lately(tx, dated.MustDate("2001-05-03"), 2)
			if len(lately) != 2 || len(lately[0].Crews)+len(lately[1].Crews)+len(lately[0].Counted)+len(lately[1].Counted) != 0 {
				t.Errorf("%+v", lately)
			}
			return err
		})
	})
}
