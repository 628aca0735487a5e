package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/store"
)

// longHistory is a shop of six saws over many years: a cut every four minutes
// on each, a new blade every 500 cuts, half of them dull at the end.
type longHistory struct {
	start time.Time
	n     int
}

const (
	historySaws  = 6
	cutsPerBlade = 500
	historyCuts  = 10_000_000
	rateSample   = 300_000

	readyLimit = time.Second
	rssLimit   = 120.0 // MB
	floorLimit = 100 * time.Millisecond
)

func (h *longHistory) batch(size int) []analyze.Arrival {
	batch := make([]analyze.Arrival, 0, size+2*historySaws)
	for range size {
		saw, i := h.n%historySaws, h.n/historySaws
		h.n++
		name := fmt.Sprintf("s%d", saw+1)
		at := h.start.Add(time.Duration(i) * 4 * time.Minute)
		if i%cutsPerBlade == 0 {
			batch = append(batch, h.change(name, i, at.Add(-time.Minute))...)
		}
		seq := int64(i)
		wander := 0.001 + float64(i%cutsPerBlade)*1e-5 + 0.0005*float64(i%7)
		batch = append(batch, analyze.Arrival{Reading: &analyze.Reading{
			Saw: name, Kind: analyze.KindCut, ID: fmt.Sprintf("%s-%08d", name, i), Seq: &seq, At: at, Received: at,
			Cut: &analyze.Cut{
				Seconds: new(180.5), Section: "RD6", Square: new(28.27), Height: new(6.0), Count: 1, Grade: "1018",
				BandSpeed: new(250.0), Deviation: &wander, Job: "5512", Piece: "12A", Purpose: analyze.PurposePart,
			},
		}})
	}
	return batch
}

func (h *longHistory) change(saw string, i int, at time.Time) []analyze.Arrival {
	event := func(id string, c analyze.BladeChange) analyze.Arrival {
		return analyze.Arrival{Reading: &analyze.Reading{Saw: saw, Kind: analyze.KindBlade, ID: id, At: at, Received: at, Blade: &c}}
	}
	var batch []analyze.Arrival
	number := i / cutsPerBlade
	serial := func(n int) string { return fmt.Sprintf("%s-%05d", saw, n) }
	if number > 0 {
		reason := analyze.ReasonPlanned
		if number%2 == 0 {
			reason = analyze.ReasonDull
		}
		batch = append(batch, event("off-"+serial(number-1), analyze.BladeChange{Action: analyze.ActionRemove, Serial: serial(number - 1), Reason: reason}))
	}
	return append(batch, event("on-"+serial(number), analyze.BladeChange{Action: analyze.ActionFit, Serial: serial(number), Type: "bimetal " + saw}))
}

// BenchmarkTenMillionCuts fills a database with ten million cuts and measures
// at both ends: the rate of storing against that of the empty file (limit
// 0.7), how long the daemon takes to be ready (1 s), its resident memory with
// the embedded broker (120 MB), and gullet floor (100 ms).
func BenchmarkTenMillionCuts(b *testing.B) {
	rows := historyCuts
	if testing.Short() {
		rows /= 10
	}
	db := filepath.Join(b.TempDir(), "gullet.db")
	for b.Loop() {
		h := &longHistory{start: time.Now().Add(-time.Duration(rows/historySaws) * 4 * time.Minute).UTC().Truncate(time.Second)}
		empty := h.fill(b, db, rateSample)
		h.fill(b, db, rows-2*rateSample)
		full := h.fill(b, db, rateSample)
		b.ReportMetric(full, "readings/s")
		b.ReportMetric(full/empty, "of-empty")
	}
	floor := floorTime(b, db)
	b.ReportMetric(floor.Seconds()*1000, "floor-ms")
	b.ReportMetric(floor.Seconds()/floorLimit.Seconds(), "floor-of-limit")
	ready, rss := daemonFigures(b, db)
	b.ReportMetric(ready.Seconds(), "ready-s")
	b.ReportMetric(ready.Seconds()/readyLimit.Seconds(), "ready-of-limit")
	b.ReportMetric(rss, "rss-MB")
	b.ReportMetric(rss/rssLimit, "rss-of-limit")
	b.ReportMetric(0, "ns/op")
}

// fill stores n cuts more and returns how many a second.
func (h *longHistory) fill(b *testing.B, path string, n int) float64 {
	b.Helper()
	db, err := store.Open(b.Context(), store.Options{Path: path})
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	var storing time.Duration
	for left := n; left > 0; left -= 1000 {
		batch := h.batch(min(left, 1000))
		start := time.Now()
		if _, err := db.Append(b.Context(), batch); err != nil {
			b.Fatal(err)
		}
		storing += time.Since(start)
	}
	return float64(n) / storing.Seconds()
}

// floorTime is the median of a few floors.
func floorTime(b *testing.B, path string) time.Duration {
	b.Helper()
	took := make([]time.Duration, 5)
	for i := range took {
		var out bytes.Buffer
		p := &program{out: &out, errOut: &out, now: time.Now}
		start := time.Now()
		if code := p.run(b.Context(), []string{"floor", "--db", path}); code != exitOK {
			b.Fatal(out.String())
		}
		took[i] = time.Since(start)
	}
	slices.Sort(took)
	return took[len(took)/2]
}

// daemonFigures starts the real daemon with its own broker on the file.
func daemonFigures(b *testing.B, path string) (ready time.Duration, rssMB float64) {
	b.Helper()
	address := freeAddress(b)
	d := newDaemon(b, writeConfig(b, fmt.Sprintf("[mqtt]\nembedded_listen = %q\n", address)), path)
	start := time.Now()
	d.start()
	d.waitReady()
	ready = time.Since(start)
	time.Sleep(2 * time.Second)
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", d.cmd.Process.Pid))
	if err != nil {
		b.Skip("SKIPPED, not measured: resident memory needs /proc")
	}
	for line := range strings.Lines(string(status)) {
		if rest, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			kb, _ := strconv.ParseFloat(strings.Fields(rest)[0], 64)
			rssMB = kb / 1024
		}
	}
	return ready, rssMB
}
