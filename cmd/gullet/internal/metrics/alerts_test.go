package metrics

import (
	"errors"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/channel"
	"gullet/cmd/gullet/internal/floor"
)

// alerting is a registry with conditions and two channels, of which one fails.
func alerting(f *floor.Floor) *Metrics {
	m := watching(f)
	m.WatchAlerts(&Alerts{
		Channels: []string{"office", "yard"},
		Standing: func() []alert.Condition {
			return []alert.Condition{
				{Key: alert.Key{Kind: alert.BladeBreak, Saw: "s1", Of: "SERIAL-1"}, Severity: alert.Severe},
				{Key: alert.Key{Kind: alert.EarlyEnd, Saw: "s1", Of: "SERIAL-1"}, Severity: alert.Warning},
				{Key: alert.Key{Kind: alert.EarlyEnd, Saw: "s1", Of: "SERIAL-2"}, Severity: alert.Warning},
				{Key: alert.Key{Kind: alert.BrokerLost}, Severity: alert.Severe},
			}
		},
		Waiting:  func() (map[string]int, error) { return map[string]int{"office": 3}, nil },
		Failing:  func() map[string]time.Time { return map[string]time.Time{"office": made} },
		DiskFree: func() (float64, error) { return 0.25, nil },
	})
	return m
}

func TestConditionsAndChannelsAreShown(t *testing.T) {
	m := alerting(nil)
	m.Delivered("office", channel.Failed)
	m.Delivered("office", channel.Failed)
	m.Delivered("yard", channel.Sent)
	err := testutil.GatherAndCompare(m.Registry, strings.NewReader(`
# HELP gullet_channel_failing_since_timestamp_seconds Since when a channel has taken no message, 0 while it does.
# TYPE gullet_channel_failing_since_timestamp_seconds gauge
gullet_channel_failing_since_timestamp_seconds{channel="office"} 1.7724528e+09
gullet_channel_failing_since_timestamp_seconds{channel="yard"} 0
# HELP gullet_channel_messages_total Attempts to deliver a message, by what became of it.
# TYPE gullet_channel_messages_total counter
gullet_channel_messages_total{channel="office",outcome="dropped"} 0
gullet_channel_messages_total{channel="office",outcome="failed"} 2
gullet_channel_messages_total{channel="office",outcome="sent"} 0
gullet_channel_messages_total{channel="yard",outcome="dropped"} 0
gullet_channel_messages_total{channel="yard",outcome="failed"} 0
gullet_channel_messages_total{channel="yard",outcome="sent"} 1
# HELP gullet_channel_waiting_messages Messages that wait to be delivered.
# TYPE gullet_channel_waiting_messages gauge
gullet_channel_waiting_messages{channel="office"} 3
gullet_channel_waiting_messages{channel="yard"} 0
# HELP gullet_conditions Conditions that stand, by kind and saw (none where it is of no saw) and severity.
# TYPE gullet_conditions gauge
gullet_conditions{kind="blade-break",saw="s1",severity="severe"} 1
gullet_conditions{kind="broker-lost",saw="",severity="severe"} 1
gullet_conditions{kind="early-end",saw="s1",severity="warning"} 2
# HELP gullet_conditions_standing Conditions that stand, by severity.
# TYPE gullet_conditions_standing gauge
gullet_conditions_standing{severity="notice"} 0
gullet_conditions_standing{severity="severe"} 2
gullet_conditions_standing{severity="warning"} 2
# HELP gullet_store_disk_free_ratio Free part of the disk that the database is on.
# TYPE gullet_store_disk_free_ratio gauge
gullet_store_disk_free_ratio 0.25
`), "gullet_channel_failing_since_timestamp_seconds", "gullet_channel_messages_total", "gullet_channel_waiting_messages",
		"gullet_conditions", "gullet_conditions_standing", "gullet_store_disk_free_ratio")
	if err != nil {
		t.Error(err)
	}
	problems, err := testutil.GatherAndLint(m.Registry)
	if err != nil || len(problems) > 0 {
		t.Errorf("lint: %v %v", problems, err)
	}
}

func TestWhatCannotBeReadHasNoSeries(t *testing.T) {
	m := watching(nil)
	m.WatchAlerts(&Alerts{
		Channels: []string{"office"},
		Standing: func() []alert.Condition { return nil }, Failing: func() map[string]time.Time { return nil },
		Waiting: func() (map[string]int, error) { return nil, errors.New("the disk is gone") }, DiskFree: func() (float64, error) { return 0, errors.New("the disk is gone") },
	})
	if n, err := testutil.GatherAndCount(m.Registry, "gullet_channel_waiting_messages", "gullet_store_disk_free_ratio"); n != 0 || err != nil {
		t.Errorf("%d series, %v", n, err)
	}
}

// The rules that are shipped ask only for series that there are, with their labels.
func TestShippedRulesFindTheirSeries(t *testing.T) {
	text, err := os.ReadFile("../../../../config/prometheus.rules.yml")
	if err != nil {
		t.Fatal(err)
	}
	families, err := alerting(full()).Registry.Gather()
	if err != nil {
		t.Fatal(err)
	}
	known := map[string][]string{}
	for _, f := range families {
		for _, series := range f.GetMetric() {
			for _, l := range series.GetLabel() {
				known[f.GetName()] = append(known[f.GetName()], l.GetName()+`="`+l.GetValue()+`"`)
			}
		}
		if known[f.GetName()] == nil {
			known[f.GetName()] = []string{}
		}
	}
	asked := 0
	for _, m := range regexp.MustCompile(`(gullet_\w+)(\{[^}]*\})?`).FindAllStringSubmatch(string(text), -1) {
		asked++
		labels, ok := known[m[1]]
		if !ok {
			t.Errorf("there is no series %s", m[1])
		}
		if want := strings.Trim(m[2], "{}"); want != "" && !slices.Contains(labels, want) {
			t.Errorf("%s has no %s, it has\n%s", m[1], want, cmp.Diff(nil, labels))
		}
	}
	if asked < 14 {
		t.Errorf("%d series asked for", asked)
	}
}
