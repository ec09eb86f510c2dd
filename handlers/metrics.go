package handlers

import (
	"strings"

	"github.com/prometheus/client_golang/prometheus"

	"palmero/models"
)

// storeMetrics tells /metrics what the store has counted. Nothing in it names an employer, an account or a worker.
type storeMetrics struct{ store *models.Store }

var (
	commandsMetric = prometheus.NewDesc("palmero_commands_total", "Commands kept, by what they did and to what.", []string{"action", "subject"}, nil)
	secondsMetric  = prometheus.NewDesc("palmero_command_seconds_total", "Time that kept commands took, from the first statement to the commit.", []string{"action", "subject"}, nil)
	sealingMetric  = prometheus.NewDesc("palmero_seal_age_seconds", "Time since this server last sealed the audit entries; until it has, since it began.", nil, nil)
	poolMetric     = prometheus.NewDesc("palmero_database_connections", "Connections to the database.", []string{"state"}, nil)
	waitMetric     = prometheus.NewDesc("palmero_database_wait_seconds_total", "Time that requests waited for a connection to the database.", nil, nil)

	countMetrics = map[string]*prometheus.Desc{
		models.CountSheets:   prometheus.NewDesc("palmero_crew_sheets_total", "Crew sheets taken in.", []string{"outcome"}, nil),
		models.CountLines:    prometheus.NewDesc("palmero_crew_sheet_lines_total", "Lines of crew sheets.", []string{"outcome"}, nil),
		models.CountRefusals: prometheus.NewDesc("palmero_sign_ins_refused_total", "Sign-ins refused.", []string{"reason"}, nil),
		models.CountSlow:     prometheus.NewDesc("palmero_slow_statements_total", "Statements over the threshold.", []string{"statement"}, nil),
	}
)

// Describe tells of every metric.
func (m *storeMetrics) Describe(out chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{commandsMetric, secondsMetric, sealingMetric, poolMetric, waitMetric} {
		out <- d
	}
	for _, d := range countMetrics {
		out <- d
	}
}

// Collect tells of every metric as it stands.
func (m *storeMetrics) Collect(out chan<- prometheus.Metric) {
	counter := func(d *prometheus.Desc, n float64, labels ...string) {
		out <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, n, labels...)
	}
	for what, n := range m.store.Counts() {
		action, subject, _ := strings.Cut(what.Kind, " ")
		switch what.What {
		case models.CountCommands:
			counter(commandsMetric, float64(n), action, subject)
		case models.CountMicroseconds:
			counter(secondsMetric, float64(n)/1e6, action, subject)
		default:
			counter(countMetrics[what.What], float64(n), what.Kind)
		}
	}
	gauge := func(d *prometheus.Desc, n float64, labels ...string) {
		out <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, n, labels...)
	}
	gauge(sealingMetric, m.store.SealAge().Seconds())
	pool := m.store.Pool()
	gauge(poolMetric, float64(pool.InUse), "in_use")
	gauge(poolMetric, float64(pool.Idle), "idle")
	gauge(poolMetric, float64(pool.MaxOpenConnections), "most")
	counter(waitMetric, pool.WaitDuration.Seconds())
}
