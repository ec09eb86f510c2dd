package server

import (
	"log/slog"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
)

const (
	requestIDHeader = "X-Request-Id"
	requestIDKey    = "palmero/request_id"
	accountKey      = "palmero/account_id"
	maxRequestID    = 64
	unmatched       = "unmatched" // stands for the pattern of a path that no route has
)

// RequestIDs gives each request an id, under which the log knows it, and sends it back. A client's or proxy's own is kept if it is
// short and plain.
func RequestIDs() gin.HandlerFunc {
	return func(c *gin.Context) {
		id := c.GetHeader(requestIDHeader)
		if !plain(id) {
			id = uuid.Must(uuid.NewV7()).String()
		}
		c.Set(requestIDKey, id)
		c.Header(requestIDHeader, id)
		c.Next()
	}
}

func plain(id string) bool {
	if len(id) == 0 || len(id) > maxRequestID {
		return false
	}
	for i := range len(id) {
		switch b := id[i]; {
		case 'a' <= b && b <= 'z', 'A' <= b && b <= 'Z', '0' <= b && b <= '9', b == '-', b == '_', b == '.':
		default:
			return false
		}
	}
	return true
}

// RequestID is the id of this request, to put into a log entry or a problem document.
func RequestID(c *gin.Context) string { return c.GetString(requestIDKey) }

// SetAccount notes who is asking, for the access log.
func SetAccount(c *gin.Context, account uuid.UUID) { c.Set(accountKey, account.String()) }

// AccessLog writes one entry for each answer: what was asked by its route's pattern, who asked by their id, and how it
// went. Paths, queries and bodies may name people and stay out. The looks of a monitor are logged at debug level.
func AccessLog(log *slog.Logger) gin.HandlerFunc {
	return func(c *gin.Context) {
		begun := time.Now()
		defer func() { // a request that is cut off by a panic is logged too
			level := slog.LevelInfo
			if monitoring(c.FullPath()) {
				level = slog.LevelDebug
			}
			log.LogAttrs(c.Request.Context(), level, "request",
				slog.String("method", method(c)), slog.String("route", route(c)), slog.Int("status", c.Writer.Status()),
				slog.Duration("duration", time.Since(begun)), slog.Int("bytes", max(0, c.Writer.Size())),
				slog.String("request_id", RequestID(c)), slog.String("account_id", c.GetString(accountKey)))
		}()
		c.Next()
	}
}

func monitoring(route string) bool {
	return route == "/healthz" || route == "/readyz" || route == "/metrics"
}

// route is the pattern that the request matched: a path itself may hold anything.
func route(c *gin.Context) string {
	if c.FullPath() == "" {
		return unmatched
	}
	return c.FullPath()
}

// method is the request's method if it is a usual one: a client may send any word.
func method(c *gin.Context) string {
	switch m := c.Request.Method; m {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return m
	}
	return "other"
}
