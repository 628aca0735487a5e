package plan

import "testing"

func BenchmarkReplace(b *testing.B) {
	looks := 0
	survival := weibull(2.5, 10000, 0)
	for b.Loop() {
		if _, err := Replace(func(x float64) float64 { looks++; return survival(x) }, 30000, 60, 240); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(looks)/float64(b.N), "looks/op")
}
