// Package meter counts what the server does, for a Prometheus that asks at an address of its own. It must not know how
// pages are made or how things are stored, and no number bears anything of a person or of a thing's id.
package meter

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"strconv"
	"strings"
	"time"
	"unicode"

	"frywright/domain/sheet"
	"frywright/domain/state"
	"frywright/web"
	"frywright/web/path"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Meter holds the numbers.
type Meter struct {
	registry   *prometheus.Registry
	requests   *prometheus.HistogramVec
	inFlight   prometheus.Gauge
	signIns    *prometheus.CounterVec
	statements *prometheus.HistogramVec
	slow       *prometheus.CounterVec
}

// Buckets in seconds: pages are to take less than 0.05, statements far less.
var (
	requestBuckets   = []float64{.001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30}
	statementBuckets = []float64{.00005, .0001, .00025, .0005, .001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 5}
)

// New makes a meter at zero.
func New() *Meter {
	m := &Meter{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "frywright_request_seconds", Help: "How long requests took, by the pattern of their address.", Buckets: requestBuckets,
		}, []string{"route", "method", "status"}),
		inFlight: prometheus.NewGauge(prometheus.GaugeOpts{Name: "frywright_requests_in_flight", Help: "Requests that are being answered."}),
		signIns: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "frywright_sign_in_failures_total", Help: "Sign-ins that failed: refused, or put off because there were too many.",
		}, []string{"why"}),
		statements: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "frywright_statement_seconds", Help: "How long statements took in the database.", Buckets: statementBuckets,
		}, []string{"kind"}),
		slow: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "frywright_slow_statements_total", Help: "Statements that took longer than --slow-query."},
			[]string{"kind"}),
	}
	m.registry.MustRegister(m.requests, m.inFlight, m.signIns, m.statements, m.slow, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	for _, why := range []string{refused, putOff} {
		m.signIns.WithLabelValues(why)
	}
	for _, kind := range []string{reads, writes} {
		m.slow.WithLabelValues(kind)
	}
	return m
}

// Why a sign-in failed.
const (
	refused = "refused"
	putOff  = "put off"
)

// Kinds of statements.
const (
	reads  = "read"
	writes = "write"
)

// Answered counts a request.
func (m *Meter) Answered(a web.Answer) {
	m.requests.WithLabelValues(a.Route, a.Method, strconv.Itoa(a.Status/100)+"xx").Observe(a.Took.Seconds())
	if a.Method != http.MethodPost || !strings.HasPrefix(a.Route, path.SignIn()) {
		return
	}
	switch a.Status {
	case http.StatusUnprocessableEntity:
		m.signIns.WithLabelValues(refused).Inc()
	case http.StatusTooManyRequests:
		m.signIns.WithLabelValues(putOff).Inc()
	}
}

// InFlight counts the requests that are being answered.
func (m *Meter) InFlight(next http.Handler) http.Handler {
	return promhttp.InstrumentHandlerInFlight(m.inFlight, next)
}

// Ran counts a statement; slow says whether it took too long.
func (m *Meter) Ran(query string, took time.Duration, slow bool) {
	kind := kindOf(query)
	m.statements.WithLabelValues(kind).Observe(took.Seconds())
	if slow {
		m.slow.WithLabelValues(kind).Inc()
	}
}

func kindOf(query string) string {
	word := strings.TrimSpace(query)
	if end := strings.IndexFunc(word, unicode.IsSpace); end >= 0 {
		word = word[:end]
	}
	switch strings.ToUpper(word) {
	case "SELECT", "WITH", "PRAGMA":
		return reads
	}
	return writes
}

// Store is what is asked of the store when somebody looks.
type Store interface {
	Entries(ctx context.Context) (int64, error)
	Totals(ctx context.Context) (state.Totals, error)
}

// Watch adds what is in the store, and how large its file is. The context is the one in which the store is asked.
func (m *Meter) Watch(ctx context.Context, s Store, file string) {
	m.registry.MustRegister(&stock{ctx: ctx, store: s, file: file})
}

// Handler answers /metrics and nothing else.
func (m *Meter) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{ErrorHandling: promhttp.ContinueOnError}))
	return mux
}

// stock looks into the store when somebody asks for the numbers.
type stock struct {
	ctx   context.Context
	store Store
	file  string
}

var (
	entriesDesc = prometheus.NewDesc("frywright_journal_entries", "Entries in the journal, by the number of the last.", nil, nil)
	sizeDesc    = prometheus.NewDesc("frywright_database_bytes", "Size of the database's files.", []string{"file"}, nil)
	fryersDesc  = prometheus.NewDesc("frywright_fryers", "Fryers in use, by the worst of what is off; right: nothing is.", []string{"worst"}, nil)
	unreadDesc  = prometheus.NewDesc("frywright_fryers_unread", "Fryers in use that need a reading: never read, or not since something happened.", []string{"why"}, nil)
	openDesc    = prometheus.NewDesc("frywright_readings_open", "Fryers that are being read.", nil, nil)
)

// lookTime is how long the store may take to answer.
const lookTime = 5 * time.Second

// Describe implements prometheus.Collector.
func (k *stock) Describe(to chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{entriesDesc, sizeDesc, fryersDesc, unreadDesc, openDesc} {
		to <- d
	}
}

// Collect implements prometheus.Collector.
func (k *stock) Collect(to chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(k.ctx, lookTime)
	defer cancel()
	tell := func(d *prometheus.Desc, value float64, labels ...string) {
		to <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, value, labels...)
	}
	if n, err := k.store.Entries(ctx); err != nil {
		to <- prometheus.NewInvalidMetric(entriesDesc, err)
	} else {
		tell(entriesDesc, float64(n))
	}
	for label, name := range map[string]string{"main": k.file, "wal": k.file + "-wal"} {
		info, err := os.Stat(name)
		if err != nil {
			to <- prometheus.NewInvalidMetric(sizeDesc, fmt.Errorf("%s: %w", label, err))
			continue
		}
		tell(sizeDesc, float64(info.Size()), label)
	}
	k.fryers(ctx, to, tell)
}

func (k *stock) fryers(ctx context.Context, to chan<- prometheus.Metric, tell func(*prometheus.Desc, float64, ...string)) {
	totals, err := k.store.Totals(ctx)
	if err != nil {
		to <- prometheus.NewInvalidMetric(fryersDesc, err)
		return
	}
	for class, n := range totals.ByWorst {
		tell(fryersDesc, float64(n), worstName(sheet.Class(class)))
	}
	tell(unreadDesc, float64(totals.Never), "never read")
	tell(unreadDesc, float64(totals.Stale), "something happened")
	tell(openDesc, float64(totals.Open))
}

func worstName(c sheet.Class) string {
	if c == 0 {
		return "right"
	}
	return c.String()
}
