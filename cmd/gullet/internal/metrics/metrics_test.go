package metrics

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/floor"
	"gullet/ingest"
)

var _ ingest.Observer = (*Metrics)(nil)

var made = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// full is a floor with a saw of which everything is known, one of which
// nothing is, and one with a blade of unknown future.
func full() *floor.Floor {
	window := func(x float64) *floor.Window { return &floor.Window{Q10: x, Q50: 2 * x, Q90: 3 * x} }
	return &floor.Floor{MadeAt: made, Saws: []floor.Saw{
		{
			Saw: "s1", Trips: 7, Missing: 3, State: "cutting",
			LastReading: &floor.LastHeard{At: made.Add(-time.Hour), Received: made, Happened: made.Add(-time.Minute)},
			Online:      new(false),
			ClockSkew:   &floor.ClockSkew{Seconds: -12.5, N: 9},
			LastStop:    &floor.Stop{At: made, Cause: "chips"},
			Blade: &floor.Blade{
				Serial: "SERIAL-1", Type: "TYPE-1", Area: 4000, WeightedArea: 5000, Trips: 2,
				Remaining: window(100), ChangePoint: window(4100),
			},
		},
		{Saw: "s2"},
		{Saw: "s3", Blade: &floor.Blade{Serial: "SERIAL-3", Area: 10}},
	}}
}

func watching(f *floor.Floor) *Metrics {
	m := New()
	m.Watch(func() *floor.Floor { return f }, func() (int64, error) { return 4096, nil })
	return m
}

func TestNamesAreGoodPrometheus(t *testing.T) {
	problems, err := testutil.GatherAndLint(watching(full()).Registry)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
}

func TestLabelsNameSawsAndWordsOfClosedSetsOnly(t *testing.T) {
	allowed := []string{"s1", "s2", "s3", "0.1", "0.5", "0.9", unreadKind}
	for _, k := range analyze.Kinds() {
		allowed = append(allowed, string(k))
	}
	for _, c := range analyze.RejectCodes() {
		allowed = append(allowed, string(c))
	}
	for _, o := range []analyze.Outcome{analyze.Stored, analyze.Duplicate, analyze.Rejected} {
		allowed = append(allowed, string(o))
	}
	families, err := watching(full()).Registry.Gather()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, f := range families {
		for _, series := range f.GetMetric() {
			for _, l := range series.GetLabel() {
				seen++
				if strings.HasPrefix(f.GetName(), "gullet_") && !slices.Contains(allowed, l.GetValue()) {
					t.Errorf("%s has the label %s=%q", f.GetName(), l.GetName(), l.GetValue())
				}
			}
		}
	}
	if seen < 50 {
		t.Errorf("only %d labels seen", seen)
	}
}

func TestSawMetricsShowWhatIsKnownAndNothingElse(t *testing.T) {
	const want = `
# HELP gullet_floor_timestamp_seconds When the answers shown here were computed.
# TYPE gullet_floor_timestamp_seconds gauge
gullet_floor_timestamp_seconds 1.7724528e+09
# HELP gullet_saw_blade_area_in2 Square inches the fitted blade has cut.
# TYPE gullet_saw_blade_area_in2 gauge
gullet_saw_blade_area_in2{saw="s1"} 4000
gullet_saw_blade_area_in2{saw="s3"} 10
# HELP gullet_saw_blade_change_point_in2 Square inches on the blade at which the given share of such blades is done.
# TYPE gullet_saw_blade_change_point_in2 gauge
gullet_saw_blade_change_point_in2{probability="0.1",saw="s1"} 4100
gullet_saw_blade_change_point_in2{probability="0.5",saw="s1"} 8200
gullet_saw_blade_change_point_in2{probability="0.9",saw="s1"} 12300
# HELP gullet_saw_blade_remaining_in2 Square inches, of what the saw has been cutting, until the given share of such blades is done.
# TYPE gullet_saw_blade_remaining_in2 gauge
gullet_saw_blade_remaining_in2{probability="0.1",saw="s1"} 100
gullet_saw_blade_remaining_in2{probability="0.5",saw="s1"} 200
gullet_saw_blade_remaining_in2{probability="0.9",saw="s1"} 300
# HELP gullet_saw_blade_trips Deviation trips of the fitted blade.
# TYPE gullet_saw_blade_trips gauge
gullet_saw_blade_trips{saw="s1"} 2
gullet_saw_blade_trips{saw="s3"} 0
# HELP gullet_saw_blade_weighted_area_in2 Square inches of the reference grade that wear a blade as much.
# TYPE gullet_saw_blade_weighted_area_in2 gauge
gullet_saw_blade_weighted_area_in2{saw="s1"} 5000
gullet_saw_blade_weighted_area_in2{saw="s3"} 0
# HELP gullet_saw_clock_skew_seconds Running median of receipt minus the saw's own time.
# TYPE gullet_saw_clock_skew_seconds gauge
gullet_saw_clock_skew_seconds{saw="s1"} -12.5
# HELP gullet_saw_last_reading_timestamp_seconds When the newest reading happened, by the saw's clock with its skew taken out.
# TYPE gullet_saw_last_reading_timestamp_seconds gauge
gullet_saw_last_reading_timestamp_seconds{saw="s1"} 1.77245274e+09
# HELP gullet_saw_missing_readings Readings missing from the saw's own numbering: never came, or kept as rejected.
# TYPE gullet_saw_missing_readings gauge
gullet_saw_missing_readings{saw="s1"} 3
gullet_saw_missing_readings{saw="s2"} 0
gullet_saw_missing_readings{saw="s3"} 0
# HELP gullet_saw_online 1 when the saw said that it is there, 0 when its last will said that it is gone.
# TYPE gullet_saw_online gauge
gullet_saw_online{saw="s1"} 0
# HELP gullet_saw_trips_total Deviation trips of the saw.
# TYPE gullet_saw_trips_total counter
gullet_saw_trips_total{saw="s1"} 7
gullet_saw_trips_total{saw="s2"} 0
gullet_saw_trips_total{saw="s3"} 0
# HELP gullet_store_wal_bytes Size of the write-ahead log.
# TYPE gullet_store_wal_bytes gauge
gullet_store_wal_bytes 4096
`
	err := testutil.CollectAndCompare(&saws{newest: full, walSize: func() (int64, error) { return 4096, nil }}, strings.NewReader(want))
	if err != nil {
		t.Error(err)
	}
}

func TestBeforeTheFirstFloorNoSawHasASeries(t *testing.T) {
	s := &saws{newest: func() *floor.Floor { return nil }, walSize: func() (int64, error) { return 0, errors.New("no such file") }}
	if n := testutil.CollectAndCount(s); n != 0 {
		t.Errorf("%d series", n)
	}
}

func TestMessagesAreCountedByKindOutcomeAndReason(t *testing.T) {
	cut := analyze.Arrival{Reading: &analyze.Reading{Kind: analyze.KindCut, Cut: &analyze.Cut{}}}
	retained := analyze.Arrival{Reading: &analyze.Reading{Kind: analyze.KindCut, Cut: &analyze.Cut{}, Retained: true}}
	alive := analyze.Arrival{Reading: &analyze.Reading{Kind: analyze.KindAlive, Alive: &analyze.Alive{}, Retained: true}}
	junk := analyze.Arrival{Rejection: &analyze.Rejection{Code: analyze.RejectJSON}}
	for _, c := range []struct {
		name                  string
		arrival               analyze.Arrival
		outcome               analyze.Outcome
		kind, label, rejected string
	}{
		{"stored", cut, analyze.Stored, "cut", "stored", ""},
		{"known already", cut, analyze.Duplicate, "cut", "duplicate", ""},
		{"unreadable", junk, analyze.Rejected, "unknown", "rejected", "not-json"},
		{"retained event", retained, analyze.Rejected, "cut", "rejected", "retained"},
		{"reused identity", cut, analyze.Rejected, "cut", "rejected", "reused-id"},
		{"reused identity of a state, which may be retained", alive, analyze.Rejected, "alive", "rejected", "reused-id"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := New()
			m.Committed([]analyze.Arrival{c.arrival, c.arrival}, []analyze.Outcome{c.outcome, c.outcome}, time.Second, 2*time.Second)
			got := nonzero(t, m)
			want := map[string]float64{
				"gullet_readings_total kind=" + c.kind + " outcome=" + c.label: 2,
				"gullet_commit_batch_readings":                                 2,
				"gullet_commit_seconds":                                        1,
				"gullet_ingest_lag_seconds":                                    2,
			}
			if c.rejected != "" {
				want["gullet_rejected_total reason="+c.rejected] = 2
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			if m.Taken() != 2 {
				t.Errorf("%d taken, want 2", m.Taken())
			}
		})
	}
}

// nonzero is every counter of ours that is not zero, and the sums of the
// histograms.
func nonzero(t *testing.T, m *Metrics) map[string]float64 {
	t.Helper()
	families, err := m.Registry.Gather()
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]float64{}
	for _, f := range families {
		for _, series := range f.GetMetric() {
			name := f.GetName()
			for _, l := range series.GetLabel() {
				name += " " + l.GetName() + "=" + l.GetValue()
			}
			v := series.GetCounter().GetValue() + series.GetHistogram().GetSampleSum()
			if v != 0 && strings.HasPrefix(name, "gullet_") {
				found[name] = v
			}
		}
	}
	return found
}

func TestEveryKnownSeriesIsThereAtZero(t *testing.T) {
	m := New()
	if n, want := testutil.CollectAndCount(m.readings), 3*len(analyze.Kinds())+1; n != want {
		t.Errorf("%d series of readings, want %d", n, want)
	}
	if n, want := testutil.CollectAndCount(m.rejected), len(analyze.RejectCodes()); n != want {
		t.Errorf("%d series of rejected, want %d", n, want)
	}
}

func TestConnectionAndFailuresAreShown(t *testing.T) {
	m := New()
	for _, up := range []bool{false, true, false} {
		m.Connected(up)
		want := "# HELP gullet_broker_connected 1 while the broker is connected and every subscription is granted.\n" +
			"# TYPE gullet_broker_connected gauge\ngullet_broker_connected " + map[bool]string{true: "1", false: "0"}[up] + "\n"
		if err := testutil.GatherAndCompare(m.Registry, strings.NewReader(want), "gullet_broker_connected"); err != nil {
			t.Error(err)
		}
		if m.BrokerConnected() != up {
			t.Errorf("connected %v, want %v", m.BrokerConnected(), up)
		}
	}
	m.Failed(errors.New("refused"))
	if n := testutil.ToFloat64(m.failures); n != 1 {
		t.Errorf("%v failures, want 1", n)
	}
}
