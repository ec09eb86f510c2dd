package server

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"
)

// readyTimeout bounds the check behind /readyz, so that a stuck database is told as such.
const readyTimeout = 3 * time.Second

// Options of NewEngine; Log, Problem and Ready must be there.
type Options struct {
	Log            *slog.Logger
	Problem        func(c *gin.Context, status int) // writes the problem document of a status: 404, 405, 413, 500 or 503
	Ready          func(ctx context.Context) error  // what /readyz asks: nil when requests can be served
	TrustedProxies []string                         // addresses or networks whose X-Forwarded-For is believed; none if empty
	BodyLimit      int64                            // bytes of a request's body
	More           map[string]int64                 // the same of routes that take more, by method and path, such as "POST /files/:id"
	Metrics        bool                             // whether /metrics is there
	Collectors     []prometheus.Collector           // what /metrics tells beside the requests
}

func init() {
	gin.SetMode(gin.ReleaseMode) // else gin prints each route to standard output
}

// NewEngine returns a gin engine that numbers, logs, counts and limits every request and survives a panic, and that has
// the routes /healthz, /readyz and, if asked for, /metrics. The API's routes are added to it.
func NewEngine(o Options) (*gin.Engine, error) {
	engine := gin.New()
	engine.HandleMethodNotAllowed = true
	engine.RedirectTrailingSlash = false
	engine.ContextWithFallback = true
	if err := engine.SetTrustedProxies(o.TrustedProxies); err != nil {
		return nil, err
	}
	engine.Use(RequestIDs(), AccessLog(o.Log))
	if o.Metrics {
		counted := newMetrics(o.Collectors...)
		engine.Use(counted.middleware)
		engine.GET("/metrics", gin.WrapH(counted.handler()))
	}
	engine.Use(Recovery(o.Log, o.Problem), SecurityHeaders(), BodyLimit(o.BodyLimit, o.More, o.Problem))
	engine.NoRoute(func(c *gin.Context) { o.Problem(c, http.StatusNotFound) })
	engine.NoMethod(func(c *gin.Context) { o.Problem(c, http.StatusMethodNotAllowed) })
	engine.GET("/healthz", alive)
	engine.GET("/readyz", ready(o))
	return engine, nil
}

// alive answers as long as the process does.
func alive(c *gin.Context) { c.String(http.StatusOK, "alive\n") }

func ready(o Options) gin.HandlerFunc {
	return func(c *gin.Context) {
		ctx, cancel := context.WithTimeout(c.Request.Context(), readyTimeout)
		defer cancel()
		if err := o.Ready(ctx); err != nil {
			o.Log.Warn("not ready", "error", err, "request_id", RequestID(c))
			o.Problem(c, http.StatusServiceUnavailable)
			return
		}
		c.String(http.StatusOK, "ready\n")
	}
}
