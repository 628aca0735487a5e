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

func BenchmarkTransit(b *testing.B) {
	survival := weibull(2.5, 10000, 4000)
	boundaries := []float64{0}
	for i := range 60 {
		boundaries = append(boundaries, float64(200*(i+1)))
	}
	for b.Loop() {
		if _, err := Transit(survival, boundaries, 60, 240, 0.0186); err != nil {
			b.Fatal(err)
		}
	}
}

// Some twenty blades over the area, and as many with a planned change.
func BenchmarkRenewals(b *testing.B) {
	survival := weibull(2.5, 10000, 0)
	for _, c := range []struct {
		name   string
		change float64
	}{{"RunToEnd", never}, {"Changed", 7000}} {
		b.Run(c.name, func(b *testing.B) {
			looks := 0
			run := Run{func(x float64) float64 { looks++; return survival(x) }, c.change}
			for b.Loop() {
				if _, err := Renewals(100000, run, run, exact); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(looks)/float64(b.N), "looks/op")
		})
	}
}
