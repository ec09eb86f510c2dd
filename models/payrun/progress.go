package payrun

import (
	"context"
	"sync/atomic"

	"palmero/models"
)

// Progress is how far the reckoning of a week has come, for whoever waits for it.
type Progress struct{ Done, Of atomic.Int64 } // workers; Of is 0 until it is known

type watching struct{}

// Watched is a context under which the reckoning of a week tells how far it has come.
func Watched(ctx context.Context, p *Progress) context.Context {
	return context.WithValue(ctx, watching{}, p)
}

// progressOf is what watches a transaction; where nothing does, something that nobody looks at.
func progressOf(tx *models.Tx) *Progress {
	if p, ok := tx.DB().Statement.Context.Value(watching{}).(*Progress); ok {
		return p
	}
	return new(Progress)
}
