package main

import (
	"log/slog"
	"net/http"

	"github.com/gin-gonic/gin"

	"palmero/handlers/server"
	"palmero/handlers/tokens"
	"palmero/models"
)

// newAPI builds what the server serves.
func newAPI(store *models.Store, _ *tokens.Issuer, s settings, log *slog.Logger) (http.Handler, error) {
	return server.NewEngine(server.Options{
		Log:            log,
		Problem:        func(c *gin.Context, status int) { c.Status(status) },
		Ready:          store.Ping,
		TrustedProxies: s.trustedProxies,
		BodyLimit:      s.bodyLimit,
		Metrics:        s.metrics,
	})
}
