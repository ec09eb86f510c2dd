package payrun

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// How narrowly a piece rate is meant: the narrowest that fits wins, block before variety before everywhere.
const (
	everywhere = iota + 1
	forVariety
	forBlock
)

// pieceRate is the rate of an operation in a block on a day: the narrowest, among those the latest in force, among those the last that
// was recorded. The rates come in the order in which they were recorded.
func (g *ground) pieceRate(operation uuid.UUID, block *models.Block, day dated.Date) (payroll.Rate, bool) {
	var best *models.PieceRateContent
	bestReach := 0
	rates := g.pieceRates[operation]
	for i := range rates {
		c := &rates[i].Content
		reach := reachOf(c, block)
		if reach == 0 || c.EffectiveOn.After(day) {
			continue
		}
		if reach > bestReach || reach == bestReach && !c.EffectiveOn.Before(best.EffectiveOn.Date) {
			best, bestReach = c, reach
		}
	}
	if best == nil {
		return 0, false
	}
	return best.Rate, true
}

// reachOf is how narrowly a rate fits a block, or 0 where it does not.
func reachOf(c *models.PieceRateContent, block *models.Block) int {
	switch {
	case c.BlockID != nil:
		if *c.BlockID == block.ID {
			return forBlock
		}
		return 0
	case c.Variety != "":
		if c.Variety == block.Content.Variety {
			return forVariety
		}
		return 0
	}
	return everywhere
}

// hourlyRate is a worker's rate on a day: their own before everybody's, among those the latest in force. Nil where none is set: the minimum
// wage is then the rate.
func (g *ground) hourlyRate(worker uuid.UUID, day dated.Date) *payroll.Rate {
	for _, of := range []uuid.UUID{worker, uuid.Nil} {
		var best *models.HourlyRateContent
		rates := g.hourlyRates[of]
		for i := range rates {
			if c := &rates[i].Content; !c.EffectiveOn.After(day) && (best == nil || !c.EffectiveOn.Before(best.EffectiveOn.Date)) {
				best = c
			}
		}
		if best != nil {
			rate := best.Rate
			return &rate
		}
	}
	return nil
}
