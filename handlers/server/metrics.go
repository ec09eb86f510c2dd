package server

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// metrics counts requests by the route's pattern, never by path, account or worker: those would have no end, and tell too much.
type metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	duration *prometheus.HistogramVec
	inFlight prometheus.Gauge
}

func newMetrics(more ...prometheus.Collector) *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "palmero_http_requests_total", Help: "Requests answered.",
		}, []string{"method", "route", "status"}),
		duration: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "palmero_http_request_duration_seconds", Help: "Time from a request to the end of its answer.",
			Buckets: []float64{.002, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 15, 60},
		}, []string{"method", "route"}),
		inFlight: prometheus.NewGauge(prometheus.GaugeOpts{
			Name: "palmero_http_requests_in_flight", Help: "Requests being answered now.",
		}),
	}
	m.registry.MustRegister(m.requests, m.duration, m.inFlight,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	m.registry.MustRegister(more...)
	return m
}

func (m *metrics) handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{})
}

// middleware counts with a deferred call, so that a request cut off by a panic is counted too.
func (m *metrics) middleware(c *gin.Context) {
	begun := time.Now()
	m.inFlight.Inc()
	defer func() {
		m.inFlight.Dec()
		m.requests.WithLabelValues(method(c), route(c), strconv.Itoa(c.Writer.Status())).Inc()
		m.duration.WithLabelValues(method(c), route(c)).Observe(time.Since(begun).Seconds())
	}()
	c.Next()
}
