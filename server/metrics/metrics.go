// Package metrics counts what a serving program does and tells how it stands, in the
// text format that Prometheus reads. Nothing in it is about a person: counts of requests
// by route, times of jobs, sizes of files. It owns the library that writes the format.
package metrics

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Facts is how a program stands at one moment. A zero time means never.
type Facts struct {
	StoreReadable bool
	StoreBytes    int64
	DiskFree      int64 // bytes that this user may still write beside the store
	DiskSize      int64
	Jobs          []Job
	Mailbox       bool      // one is set up
	MailboxGood   time.Time // last good poll
	Outbox        bool      // one is set up
	Messages      map[string]int
	BackupGood    time.Time // newest verified back-up
	Backups       int       // verified ones in the folder
}

// Job is how one job stands.
type Job struct {
	Name    string
	Good    time.Time // end of the newest run that ended well
	Next    time.Time
	Trouble bool // the last run failed, did not end, or is missing
}

// Metrics are the counts of one serving program.
type Metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
}

// New makes empty counts. facts is asked at each reading, within its time limit.
func New(release, revision string, facts func(context.Context) Facts) *Metrics {
	m := &Metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "dunlin_http_requests_total", Help: "Requests answered, by route and status."},
			[]string{"method", "route", "status"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "dunlin_http_request_duration_seconds", Help: "Time from request to answer, by route.",
			Buckets: []float64{.005, .01, .025, .05, .1, .3, 1, 3, 10}}, []string{"route"}),
	}
	build := prometheus.NewGauge(prometheus.GaugeOpts{Name: "dunlin_build_info", Help: "Always 1; the labels say what runs.",
		ConstLabels: prometheus.Labels{"release": release, "revision": revision}})
	build.Set(1)
	m.registry.MustRegister(m.requests, m.seconds, build, standing{facts},
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// methods are those that have a label of their own: a client may send any word.
var methods = map[string]bool{http.MethodGet: true, http.MethodHead: true, http.MethodPost: true}

// Request counts one answer. route is the pattern of the address, never the address.
func (m *Metrics) Request(method, route string, status int, took time.Duration) {
	if !methods[method] {
		method = "other"
	}
	if route == "" || status == http.StatusNotFound || status == http.StatusMethodNotAllowed {
		route = "none"
	}
	m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Inc()
	m.seconds.WithLabelValues(route).Observe(took.Seconds())
}

// Handler answers with all counts as text.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{MaxRequestsInFlight: 2, Timeout: readLimit})
}

// readLimit is how long a reading may take.
const readLimit = 8 * time.Second
