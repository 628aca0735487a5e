package deviation

import "testing"

func BenchmarkFollow(b *testing.B) {
	m := newModel(1)
	p, _ := Learn(m.past(12), modelLimit)
	blade := m.blade()
	f, _ := NewFollower(p, NewStandard(m.past(12), p.Power))
	b.Run("add", func(b *testing.B) {
		n := 0
		for b.Loop() {
			if n == len(blade.Cuts) {
				f.Fit(0)
				n = 0
			}
			f.Add(&blade.Cuts[n])
			n++
		}
		b.ReportMetric(float64(len(f.stories)), "stories")
	})
	b.Run("until", func(b *testing.B) {
		for b.Loop() {
			f.Until(modelLimit).Window()
		}
	})
	past := m.past(12)
	b.Run("learn", func(b *testing.B) {
		for b.Loop() {
			Learn(past, modelLimit)
		}
	})
	b.Run("standard", func(b *testing.B) {
		for b.Loop() {
			NewStandard(past, 2)
		}
	})
}
