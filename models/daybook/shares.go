package daybook

import (
	"cmp"
	"slices"

	"palmero/payroll"
)

// wholeShare is the share of one who has all.
const wholeShare = 1_000_000

// Shares turns parts such as 2 and 1 and 1 into shares that add up to the whole: what rounding leaves goes to those of whom it took most. Parts are more than 0.
func Shares(parts []payroll.Pieces) []payroll.Share {
	var sum int64
	for _, p := range parts {
		sum += int64(p)
	}
	shares, order := make([]payroll.Share, len(parts)), make([]int, len(parts))
	left := int64(wholeShare)
	for i, p := range parts {
		shares[i], order[i] = payroll.Share(int64(p)*wholeShare/sum), i
		left -= int64(shares[i])
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(int64(parts[b])*wholeShare%sum, int64(parts[a])*wholeShare%sum)
	})
	for _, i := range order[:left] {
		shares[i]++
	}
	return shares
}
