package metrics

import (
	"strconv"

	"github.com/prometheus/client_golang/prometheus"

	"gullet/cmd/gullet/internal/floor"
)

// The metrics of the saws. A figure that is not known has no series.
var (
	sawLabel = []string{"saw"}
	// probability is the share of such blades that are done by then.
	windowLabels = []string{"saw", "probability"}

	areaDesc        = desc("gullet_saw_blade_area_in2", "Square inches the fitted blade has cut.", sawLabel)
	weightedDesc    = desc("gullet_saw_blade_weighted_area_in2", "Square inches of the reference grade that wear a blade as much.", sawLabel)
	remainingDesc   = desc("gullet_saw_blade_remaining_in2", "Square inches, of what the saw has been cutting, until the given share of such blades is done.", windowLabels)
	changeDesc      = desc("gullet_saw_blade_change_point_in2", "Square inches on the blade at which the given share of such blades is done.", windowLabels)
	bladeTripsDesc  = desc("gullet_saw_blade_trips", "Deviation trips of the fitted blade.", sawLabel)
	tripsDesc       = desc("gullet_saw_trips_total", "Deviation trips of the saw.", sawLabel)
	lastReadingDesc = desc("gullet_saw_last_reading_timestamp_seconds", "When the newest reading happened, by the saw's clock with its skew taken out.", sawLabel)
	skewDesc        = desc("gullet_saw_clock_skew_seconds", "Running median of receipt minus the saw's own time.", sawLabel)
	missingDesc     = desc("gullet_saw_missing_readings", "Readings missing from the saw's own numbering: never came, or kept as rejected.", sawLabel)
	onlineDesc      = desc("gullet_saw_online", "1 when the saw said that it is there, 0 when its last will said that it is gone.", sawLabel)
	floorDesc       = desc("gullet_floor_timestamp_seconds", "When the answers shown here were computed.", nil)
	walDesc         = desc("gullet_store_wal_bytes", "Size of the write-ahead log.", nil)
)

func desc(name, help string, labels []string) *prometheus.Desc {
	return prometheus.NewDesc(name, help, labels, nil)
}

// Watch adds the saws' metrics, read from the newest floor at each scrape, and
// the size of the write-ahead log.
func (m *Metrics) Watch(newest func() *floor.Floor, walSize func() (int64, error)) {
	m.Registry.MustRegister(&saws{newest: newest, walSize: walSize})
}

type saws struct {
	newest  func() *floor.Floor
	walSize func() (int64, error)
}

func (s *saws) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{
		areaDesc, weightedDesc, remainingDesc, changeDesc, bladeTripsDesc, tripsDesc,
		lastReadingDesc, skewDesc, missingDesc, onlineDesc, floorDesc, walDesc,
	} {
		ch <- d
	}
}

func (s *saws) Collect(ch chan<- prometheus.Metric) {
	if n, err := s.walSize(); err == nil {
		ch <- prometheus.MustNewConstMetric(walDesc, prometheus.GaugeValue, float64(n))
	}
	f := s.newest()
	if f == nil {
		return
	}
	ch <- prometheus.MustNewConstMetric(floorDesc, prometheus.GaugeValue, float64(f.MadeAt.UnixMicro())/1e6)
	for i := range f.Saws {
		collectSaw(ch, &f.Saws[i])
	}
}

func collectSaw(ch chan<- prometheus.Metric, saw *floor.Saw) {
	gauge := func(d *prometheus.Desc, v float64) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, saw.Saw)
	}
	ch <- prometheus.MustNewConstMetric(tripsDesc, prometheus.CounterValue, float64(saw.Trips), saw.Saw)
	gauge(missingDesc, float64(saw.Missing))
	if saw.Online != nil {
		online := 0.0
		if *saw.Online {
			online = 1
		}
		gauge(onlineDesc, online)
	}
	if h := saw.LastReading; h != nil {
		gauge(lastReadingDesc, float64(h.Happened.UnixMicro())/1e6)
	}
	if s := saw.ClockSkew; s != nil {
		gauge(skewDesc, s.Seconds)
	}
	if saw.Blade == nil {
		return
	}
	gauge(areaDesc, saw.Blade.Area)
	gauge(weightedDesc, saw.Blade.WeightedArea)
	gauge(bladeTripsDesc, float64(saw.Blade.Trips))
	collectWindow(ch, remainingDesc, saw.Saw, saw.Blade.Remaining)
	collectWindow(ch, changeDesc, saw.Saw, saw.Blade.ChangePoint)
}

func collectWindow(ch chan<- prometheus.Metric, d *prometheus.Desc, saw string, w *floor.Window) {
	if w == nil {
		return
	}
	for _, q := range []struct{ p, v float64 }{{0.1, w.Q10}, {0.5, w.Q50}, {0.9, w.Q90}} {
		ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, q.v, saw, strconv.FormatFloat(q.p, 'g', -1, 64))
	}
}
