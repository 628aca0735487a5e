package ingest

import (
	"testing"
	"time"

	"gullet/analyze"
)

// typicalCut is a cut as a well-instrumented saw sends it, about 300 bytes.
const typicalCut = `{"id":"s3-000418","seq":418,"at":"2026-03-02T10:04:31.250-06:00","seconds":212.4,"section":"W12x26","count":1,"mitre":45,"grade":"A992","band_speed":245,"feed":1.45,"pressure":820,"deviation":0.004,"blade":"B0127","job":"J-4471","piece":"B12-3","purpose":"part"}`

// BenchmarkDecodeCut measures what one cut costs before it is stored. At the
// 60,000 readings/s that a commit takes at most, 3 µs is a fifth of one core.
func BenchmarkDecodeCut(b *testing.B) {
	d := NewDecoder(Options{})
	payload := []byte(typicalCut)
	received := time.Date(2026, 3, 2, 16, 5, 0, 0, time.UTC)
	b.ReportAllocs()
	b.SetBytes(int64(len(payload)))
	var a analyze.Arrival
	for b.Loop() {
		a = d.Decode("saws/s3/cut", payload, false, received)
	}
	if a.Reading == nil {
		b.Fatal(a.Rejection.Reason)
	}
}
