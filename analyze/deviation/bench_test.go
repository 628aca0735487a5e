package deviation

import (
	"testing"
	"time"
)

// BenchmarkFollow holds what has a limit in time against it: a cut more on a blade
// that has made 2,000, and a saw followed anew over 100,000 cuts on 250 blades. The
// others are what a page or a list waits for.
func BenchmarkFollow(b *testing.B) {
	m := newModel(1)
	past := m.past(12)
	p, _ := Learn(past, modelLimit)
	pace := NewStandard(past, p.Power)
	saw := make([]Fitting, 250)
	for k := range saw {
		saw[k] = m.blade()
		for len(saw[k].Cuts) < 400 {
			saw[k] = m.blade()
		}
		saw[k].Cuts = saw[k].Cuts[:400]
	}
	// A blade of 2,000 cuts, and more where one is added.
	m.life, m.pulled = 40_000, true
	long := m.blade()
	for len(long.Cuts) < 2100 {
		long = m.blade()
	}
	on := follower(b, p, pace)
	on.Fit(0)
	addAll(b, on, long.Cuts[:2000])
	n, faces := 0, on.faces
	next := func() { // hardly on, so that it is the same blade after a million
		on.faces = faces
		c := long.Cuts[2000+n%100]
		c.Area = on.area + 1e-6
		n++
		addAll(b, on, []Cut{c})
	}
	for _, c := range []struct {
		name  string
		limit time.Duration // 0: none
		run   func()
	}{
		{"add", 200 * time.Microsecond, next},
		{"add-until", 0, func() { next(); on.Until(modelLimit).Window() }},
		{"rebuild", 300 * time.Millisecond, func() {
			f := follower(b, p, pace)
			for k := range saw {
				f.Fit(0)
				addAll(b, f, saw[k].Cuts)
			}
		}},
		{"study", 0, func() { Study(Saw{Fittings: saw, Limit: modelLimit, Shift: 1000}) }},
		{"learn", 0, func() { Learn(past, modelLimit) }},
		{"standard", 0, func() { NewStandard(past, p.Power) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.run()
			}
			if c.limit > 0 {
				b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(c.limit), "of-limit")
			}
		})
	}
}
