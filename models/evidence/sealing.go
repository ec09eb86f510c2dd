package evidence

import (
	"context"
	"log/slog"
	"time"

	"palmero/models"
)

// KeepSealing seals every employer's audit entries now and then every so often, until ctx is done. Several servers may do so at once. What goes wrong is
// logged, and tried again the next time.
func KeepSealing(ctx context.Context, store *models.Store, every time.Duration, log *slog.Logger) {
	ticker := time.NewTicker(every)
	defer ticker.Stop()
	for {
		if sealed, err := store.SealAll(ctx); err != nil && ctx.Err() == nil {
			log.Error("audit entries could not be sealed", "error", err)
		} else if sealed > 0 {
			log.Debug("audit entries sealed", "entries", sealed)
		}
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
	}
}
