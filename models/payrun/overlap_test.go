package payrun

import (
	"errors"
	"iter"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// numbers are one through n, and an error in place of the one that fails.
func numbers(n, fails int) iter.Seq2[int, error] {
	return func(yield func(int, error) bool) {
		for i := 1; i <= n; i++ {
			var err error
			if i == fails {
				err = errors.New("not fetched")
			}
			if !yield(i, err) {
				return
			}
		}
	}
}

func TestOverlappedKeepsTheOrderAndStopsAtAnError(t *testing.T) {
	for name, c := range map[string]struct {
		parts, failsToFetch, failsToHandOn int
		want                               []int
		err                                string
	}{
		"nothing":                {},
		"one":                    {parts: 1, want: []int{10}},
		"several":                {parts: 4, want: []int{10, 20, 30, 40}},
		"the first not fetched":  {parts: 4, failsToFetch: 1, err: "not fetched"},
		"the third not fetched":  {parts: 4, failsToFetch: 3, want: []int{10}, err: "not fetched"},
		"the second not kept":    {parts: 4, failsToHandOn: 20, want: []int{10}, err: "not kept"},
		"the very last not kept": {parts: 2, failsToHandOn: 20, want: []int{10}, err: "not kept"},
	} {
		t.Run(name, func(t *testing.T) {
			var got []int
			at := 0 // by the work alone, which never runs twice at a time
			err := overlapped(numbers(c.parts, c.failsToFetch), func(i int) int { at++; return at * 10 }, func(n int) error {
				if n == c.failsToHandOn {
					return errors.New("not kept")
				}
				got = append(got, n)
				return nil
			})
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Error(diff)
			}
			if (err == nil) != (c.err == "") || err != nil && err.Error() != c.err {
				t.Errorf("error %v, want %q", err, c.err)
			}
		})
	}
}

func TestAPanicBesideTheCallerIsRaisedWithTheCaller(t *testing.T) {
	defer func() {
		if p := recover(); p != "out of range" {
			t.Errorf("recovered %v", p)
		}
	}()
	err := overlapped(numbers(3, 0), func(int) int { panic("out of range") }, func(int) error { return nil })
	t.Errorf("no panic, but %v", err)
}
