// Package meter counts what the server does, for Prometheus. Nothing it tells
// names a person, a machine of the mill or what was written: routes stand with
// their parameters as parameters.
package meter

import (
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"stillsaw/server/store"
)

// Meter counts what goes on in one server. The nil Meter counts nothing.
type Meter struct {
	registry *prometheus.Registry
	requests *prometheus.HistogramVec
	secrets  *prometheus.CounterVec
}

// New makes a Meter that asks for the figures of the store, and how many pages
// listen, whenever it is read.
func New(figures func() (store.Figures, error), listening func() float64) *Meter {
	m := &Meter{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "stillsaw_request_seconds", Help: "Requests answered, by address and status, with how long each took.",
			Buckets: []float64{.005, .01, .025, .05, .1, .25, .5, 1, 2.5, 10},
		}, []string{"method", "route", "status"}),
		secrets: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "stillsaw_secrets_total", Help: "PINs and passwords that were entered, by what came of it: right, wrong or made to wait.",
		}, []string{"outcome"}),
	}
	pages := prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "stillsaw_pages_listening", Help: "Open pages that hear of changes."}, listening)
	m.registry.MustRegister(m.requests, m.secrets, pages, kept{figures}, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// Handler answers with all that was counted, in Prometheus' text format.
func (m *Meter) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{MaxRequestsInFlight: 2})
}

// Request counts one that was answered.
func (m *Meter) Request(method, route string, status int, took time.Duration) {
	if m != nil {
		m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Observe(took.Seconds())
	}
}

// Secret counts a PIN or password that was entered.
func (m *Meter) Secret(outcome string) {
	if m != nil {
		m.secrets.WithLabelValues(outcome).Inc()
	}
}

// kept reads the figures of the store at each reading, so that they cost nothing
// in between.
type kept struct{ figures func() (store.Figures, error) }

func described(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("stillsaw_"+name, help, labels, nil)
}

// Describe leaves open what will be told: the places of backups come and go.
func (k kept) Describe(chan<- *prometheus.Desc) {}

// Collect tells the figures.
func (k kept) Collect(to chan<- prometheus.Metric) {
	f, err := k.figures()
	if err != nil {
		to <- prometheus.NewInvalidMetric(described("entries", "Entries of the record."), err)
		return
	}
	gauge := func(name, help string, value float64, labels ...string) {
		var names []string
		if len(labels) > 0 {
			names = []string{"place"}
		}
		to <- prometheus.MustNewConstMetric(described(name, help, names...), prometheus.GaugeValue, value, labels...)
	}
	counter := func(name, help string, value uint64) {
		to <- prometheus.MustNewConstMetric(described(name, help), prometheus.CounterValue, float64(value))
	}
	gauge("entries", "Entries of the record.", float64(f.Entries))
	gauge("photos", "Photos kept.", float64(f.Photos))
	gauge("database_bytes", "Size of the database file.", float64(f.Database))
	gauge("database_log_bytes", "Size of the database's write-ahead log.", float64(f.Log))
	gauge("commands_waiting", "Acts that wait to be written.", float64(f.Waiting))
	counter("commits_total", "Commits made durable; those who wait together share one.", f.Commits)
	counter("commands_total", "Acts carried out or refused in those commits.", f.Commands)
	counter("commits_failed_total", "Commits that failed whole, such as on a full disk: nothing of them was saved or acknowledged.", f.Failed)
	for place, at := range f.LastBackups {
		seconds := 0.0
		if !at.IsZero() {
			seconds = float64(at.UnixMilli()) / 1000
		}
		gauge("backup_last_good_seconds", "When the last backup of a place was verified, in seconds since 1970; 0: none was.", seconds, place)
	}
}
