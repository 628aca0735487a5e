package metrics

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/channel"
)

var (
	conditionsDesc = desc("gullet_conditions", "Conditions that stand, by kind and saw (none where it is of no saw) and severity.", []string{"kind", sawKey, "severity"})
	standingDesc   = desc("gullet_conditions_standing", "Conditions that stand, by severity.", []string{"severity"})
	waitingDesc    = desc("gullet_channel_waiting_messages", "Messages that wait to be delivered.", []string{channelKey})
	failingDesc    = desc("gullet_channel_failing_since_timestamp_seconds", "Since when a channel has taken no message, 0 while it does.", []string{channelKey})
	diskDesc       = desc("gullet_store_disk_free_ratio", "Free part of the disk that the database is on.", nil)
)

const (
	sawKey     = "saw"
	channelKey = "channel"
)

// Alerts is what a scrape reads of conditions and channels; each may be asked at any time.
type Alerts struct {
	Channels []string // that are configured
	Standing func() []alert.Condition
	Waiting  func() (map[string]int, error) // messages by channel
	Failing  func() map[string]time.Time    // since when, of the channels that do
	DiskFree func() (float64, error)        // 0 to 1
}

// WatchAlerts adds the metrics of conditions and channels, with a counter of what became
// of messages.
func (m *Metrics) WatchAlerts(a *Alerts) {
	m.delivered = prometheus.NewCounterVec(prometheus.CounterOpts{
		Name: "gullet_channel_messages_total",
		Help: "Attempts to deliver a message, by what became of it.",
	}, []string{channelKey, "outcome"})
	m.Registry.MustRegister(m.delivered, a)
	for _, name := range a.Channels {
		for _, outcome := range []string{channel.Sent, channel.Failed, channel.Dropped} {
			m.delivered.WithLabelValues(name, outcome)
		}
	}
}

// Delivered counts an attempt to deliver a message to a channel.
func (m *Metrics) Delivered(name, outcome string) {
	m.delivered.WithLabelValues(name, outcome).Inc()
}

// Describe is for the registry.
func (a *Alerts) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{conditionsDesc, standingDesc, waitingDesc, failingDesc, diskDesc} {
		ch <- d
	}
}

// Collect is for the registry.
func (a *Alerts) Collect(ch chan<- prometheus.Metric) {
	gauge := func(d *prometheus.Desc, v float64, labels ...string) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
	}
	type series struct{ kind, saw, severity string }
	counts, standing := map[series]int{}, map[string]int{}
	for _, c := range a.Standing() {
		counts[series{string(c.Kind), c.Saw, c.Severity.String()}]++
		standing[c.Severity.String()]++
	}
	for s, n := range counts {
		gauge(conditionsDesc, float64(n), s.kind, s.saw, s.severity)
	}
	for _, severity := range alert.Severities() {
		gauge(standingDesc, float64(standing[severity]), severity)
	}
	if waiting, err := a.Waiting(); err == nil {
		for _, name := range a.Channels {
			gauge(waitingDesc, float64(waiting[name]), name)
		}
	}
	failing := a.Failing()
	for _, name := range a.Channels {
		since := 0.0
		if t, ok := failing[name]; ok {
			since = float64(t.UnixMicro()) / 1e6
		}
		gauge(failingDesc, since, name)
	}
	if free, err := a.DiskFree(); err == nil {
		gauge(diskDesc, free)
	}
}
