package store_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/store"
)

// flow is six saws cutting in turn, as a real shop's readings: with serials,
// ids and running numbers, a new blade every 300 cuts, a trip in 100.
type flow struct{ n int }

const flowSaws = 6

func (f *flow) next(k int) []analyze.Arrival {
	batch := make([]analyze.Arrival, 0, k)
	for len(batch) < k {
		saw, i := f.n%flowSaws, f.n/flowSaws
		f.n++
		at := t0.Add(time.Duration(i)*4*time.Minute + time.Duration(saw)*time.Second)
		serial := fmt.Sprintf("B%d-%d", saw, i/300)
		r := &analyze.Reading{
			Saw: fmt.Sprintf("s%d", saw), Kind: analyze.KindCut, ID: fmt.Sprintf("s%d-%09d", saw, i), Seq: ptr(int64(i)),
			At: at, Received: at.Add(time.Second),
		}
		switch {
		case i%300 == 0:
			r.Kind, r.Blade = analyze.KindBlade, &analyze.BladeChange{Action: analyze.ActionFit, Serial: serial, Type: "bimetal 3/4"}
		default:
			r.Cut = &analyze.Cut{
				Seconds: ptr(212.4), Section: "W12x26", Square: ptr(7.65), Height: ptr(12.2), Count: 1, Mitre: 45, Grade: "A992",
				BandSpeed: ptr(250.0), Feed: ptr(3.1), Deviation: ptr(0.012), Serial: serial, Job: "J-1041",
				Piece: fmt.Sprint("P", i), Purpose: analyze.PurposePart,
			}
			if i%100 == 50 {
				r.Kind, r.Cut.Limit = analyze.KindTrip, ptr(0.1)
				if i%200 == 50 {
					r.Cut.Done = ptr(0.4)
				}
			}
		}
		batch = append(batch, analyze.Arrival{Reading: r})
	}
	return batch
}

func (f *flow) fill(b *testing.B, s *store.Store, rows int) {
	for rows > 0 {
		k := min(rows, 1000)
		if _, err := s.Append(b.Context(), f.next(k)); err != nil {
			b.Fatal(err)
		}
		rows -= k
	}
}

// existing is how many readings the benchmarks find in the file already:
// GULLET_BENCH_ROWS=10000000 for the limit. GULLET_BENCH_DB keeps the
// file from one run to the next.
func existing(b *testing.B) (*store.Store, *flow) {
	rows, _ := strconv.Atoi(os.Getenv("GULLET_BENCH_ROWS"))
	path := os.Getenv("GULLET_BENCH_DB")
	if path == "" {
		path = filepath.Join(b.TempDir(), "gullet.db")
	}
	start := time.Now()
	s := openAt(b, path)
	b.Logf("opened in %s", time.Since(start))
	saws, err := s.Saws(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	f := &flow{}
	for _, saw := range saws {
		for _, n := range saw.Counts {
			f.n += int(n)
		}
	}
	if f.n < rows {
		f.fill(b, s, rows-f.n)
	}
	return s, f
}

func BenchmarkAppend(b *testing.B) {
	for _, size := range []int{1000, 20} {
		b.Run(fmt.Sprint("batch=", size), func(b *testing.B) {
			s, f := existing(b)
			batches := make([][]analyze.Arrival, b.N)
			for i := range batches {
				batches[i] = f.next(size)
			}
			b.ResetTimer()
			for _, batch := range batches {
				if _, err := s.Append(b.Context(), batch); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.N*size)/b.Elapsed().Seconds(), "readings/s")
		})
	}
}

// BenchmarkFloorQueries is what a floor asks of the store.
func BenchmarkFloorQueries(b *testing.B) {
	s, f := existing(b)
	if f.n == 0 {
		f.fill(b, s, 20_000)
	}
	b.ResetTimer()
	for range b.N {
		saws, err := s.Saws(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		for _, saw := range saws {
			if _, err := s.Deviations(b.Context(), saw.Fitting.ID, 1000); err != nil {
				b.Fatal(err)
			}
			if _, err := s.Pace(b.Context(), saw.Name, saw.LastAt.Add(-7*24*time.Hour)); err != nil {
				b.Fatal(err)
			}
		}
		if _, err := s.Fittings(b.Context(), time.Time{}); err != nil {
			b.Fatal(err)
		}
	}
}
