package backtest

import (
	"testing"
	"time"
)

// BenchmarkBacktest replays 20,000 blades of three types and four classes of material on
// 20 saws over three years, of 400 cuts each that tell their deviation, and holds it
// against its limit. What the store takes to read them is not in it.
func BenchmarkBacktest(b *testing.B) {
	const limit = 60 * time.Second
	in := made{
		seed: 1, blades: 20_000, saws: 20, types: []string{"T1", "T2", "T3"}, grades: []string{"1018", "A36", "304", "4140"},
		scale: 9000, strips: 30000, pulls: 8000, pace: 5400,
	}.input(b)
	crooked(in, 1, 400, 9000)
	var r *Report
	for b.Loop() {
		r = build(b, in)
	}
	seconds := b.Elapsed().Seconds() / float64(b.N)
	b.ReportMetric(seconds, "s")
	b.ReportMetric(seconds/limit.Seconds(), "of-limit")
	b.ReportMetric(float64(r.Learned), "times-learned")
	b.ReportMetric(float64(r.Followed), "followed")
	b.ReportMetric(r.To.Sub(*r.From).Hours()/24/365, "years")
}
