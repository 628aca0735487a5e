// Package metrics keeps the one registry of Prometheus metrics: what the
// daemon does, counted as it happens, and what the saws' answers are, read
// from the newest floor when somebody scrapes.
//
// It never computes an answer. Labels come from closed sets and the names of
// saws; blade serials, jobs, times and error texts are never labels.
package metrics

import (
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"gullet/analyze"
)

// Metrics is the registry and what is counted into it. It is an
// ingest.Observer.
type Metrics struct {
	Registry *prometheus.Registry

	readings *prometheus.CounterVec
	rejected *prometheus.CounterVec
	batch    prometheus.Histogram
	commit   prometheus.Histogram
	lag      prometheus.Histogram
	up       atomic.Bool
	taken    atomic.Int64
	failing  atomic.Pointer[error] // since the last commit or connection, nil for none
	failures prometheus.Counter
	// delivered is nil until WatchAlerts.
	delivered *prometheus.CounterVec
}

// unreadKind labels a message whose kind could not be told.
const unreadKind = "unknown"

// New makes a registry with every known series at zero.
func New() *Metrics {
	m := &Metrics{
		Registry: prometheus.NewRegistry(),
		readings: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "gullet_readings_total",
			Help: "Messages by kind and what became of them.",
		}, []string{"kind", "outcome"}),
		rejected: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "gullet_rejected_total",
			Help: "Messages kept as rejected, by reason.",
		}, []string{"reason"}),
		batch: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name:    "gullet_commit_batch_readings",
			Help:    "Readings in one commit.",
			Buckets: []float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000},
		}),
		commit: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name:    "gullet_commit_seconds",
			Help:    "Time one commit took.",
			Buckets: prometheus.ExponentialBuckets(0.0005, 2, 14),
		}),
		lag: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name:    "gullet_ingest_lag_seconds",
			Help:    "Time from the receipt of a batch's first message to its commit.",
			Buckets: prometheus.ExponentialBuckets(0.0005, 2, 14),
		}),
		failures: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "gullet_ingest_failures_total",
			Help: "Failed connections, subscriptions and commits; each is tried again.",
		}),
	}
	m.Registry.MustRegister(m.readings, m.rejected, m.batch, m.commit, m.lag, m.failures,
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{
			Name: "gullet_broker_connected",
			Help: "1 while the broker is connected and every subscription is granted.",
		}, func() float64 {
			if m.BrokerConnected() {
				return 1
			}
			return 0
		}),
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	for _, k := range analyze.Kinds() {
		for _, o := range []analyze.Outcome{analyze.Stored, analyze.Duplicate, analyze.Rejected} {
			m.readings.WithLabelValues(string(k), string(o))
		}
	}
	m.readings.WithLabelValues(unreadKind, string(analyze.Rejected))
	for _, c := range analyze.RejectCodes() {
		m.rejected.WithLabelValues(string(c))
	}
	return m
}

// Connected notes whether the broker is there and the subscriptions stand.
func (m *Metrics) Connected(up bool) {
	m.up.Store(up)
	if up {
		m.failing.Store(nil)
	}
}

// BrokerConnected is what was last noted.
func (m *Metrics) BrokerConnected() bool { return m.up.Load() }

// Taken is how many messages were stored, known already or rejected.
func (m *Metrics) Taken() int64 { return m.taken.Load() }

// Failed counts a failure that will be tried again.
func (m *Metrics) Failed(err error) {
	m.failures.Inc()
	m.failing.Store(&err)
}

// Failing is the failure that nothing has succeeded since, nil for none.
func (m *Metrics) Failing() error {
	if err := m.failing.Load(); err != nil {
		return *err
	}
	return nil
}

// Committed counts one batch.
func (m *Metrics) Committed(batch []analyze.Arrival, outcomes []analyze.Outcome, took, lag time.Duration) {
	m.failing.Store(nil)
	m.taken.Add(int64(len(batch)))
	m.batch.Observe(float64(len(batch)))
	m.commit.Observe(took.Seconds())
	m.lag.Observe(lag.Seconds())
	type series struct {
		kind    string
		outcome analyze.Outcome
	}
	counts := map[series]int{}
	for i, a := range batch {
		counts[series{kindOf(a), outcomes[i]}]++
		if outcomes[i] == analyze.Rejected {
			m.rejected.WithLabelValues(string(rejectCode(a))).Inc()
		}
	}
	for s, n := range counts {
		m.readings.WithLabelValues(s.kind, string(s.outcome)).Add(float64(n))
	}
}

// kindOf is the kind of a message, by its topic when it could not be read.
func kindOf(a analyze.Arrival) string {
	if a.Reading != nil {
		return string(a.Reading.Kind)
	}
	topic := a.Rejection.Topic
	kind := topic[strings.LastIndexByte(topic, '/')+1:]
	if slices.Contains(analyze.Kinds(), analyze.Kind(kind)) {
		return kind
	}
	return unreadKind
}

// rejectCode is why an arrival ended as rejected. A reading that decoded well
// is only ever rejected by the store: as a retained event (a state may be
// retained), or as a reused identity.
func rejectCode(a analyze.Arrival) analyze.RejectCode {
	switch {
	case a.Rejection != nil:
		return a.Rejection.Code
	case a.Reading.Retained && (a.Reading.Cut != nil || a.Reading.Blade != nil):
		return analyze.RejectRetained
	default:
		return analyze.RejectReused
	}
}
