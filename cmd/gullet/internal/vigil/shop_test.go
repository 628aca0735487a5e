package vigil

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/golden"
	"gullet/cmd/gullet/internal/sim"
	"gullet/ingest"
	"gullet/store"
)

// opened is the day the simulated shop opens, a Monday; it works from 6 to 22 o'clock
// on weekdays.
var opened = time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)

// simDays and simNow are when it is looked at: on the 45th day s2's guide has stood off for
// five days.
const simDays = 45

var simNow = opened.AddDate(0, 0, simDays-1).Add(12*time.Hour + 10*time.Minute)

// simulated looks over the simulated shop, whose shelf was counted, as it is at simNow.
func simulated(t *testing.T) *Looker {
	t.Helper()
	l := looker(t)
	l.Config.Shifts = nil
	l.Config.Plan.SawHour, l.Config.Plan.Scrap = 120, 60
	decoder := ingest.NewDecoder(ingest.Options{})
	shop := sim.New(sim.Options{Seed: 1, Start: opened, Days: simDays, Faults: true})
	var batch []analyze.Arrival
	for line, ok := shop.Next(); ok && line.At.Before(simNow); line, ok = shop.Next() {
		a := decoder.Decode(line.Topic, line.Payload, line.Retain, line.At)
		a.Topic, a.Payload = line.Topic, line.Payload
		batch = append(batch, a)
	}
	if _, err := l.Store.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	count := store.StockRecord{Action: store.StockCounted, Type: "1-1/4 x 0.042 3/4 bimetal", N: 2, At: simNow.Add(-time.Hour), Who: "the tool crib", Why: "counted", Recorded: simNow}
	if _, err := l.Store.Stocktake(t.Context(), count); err != nil {
		t.Fatal(err)
	}
	var jobs []store.JobRow
	for i := range 4 {
		jobs = append(jobs, store.JobRow{Name: fmt.Sprint(5511 + i), Saw: "s5", Grade: "A36", Section: "RD2", Bars: 1, Pieces: 60})
	}
	if _, err := l.Store.ImportJobs(t.Context(), jobs, false, "the planner", simNow); err != nil {
		t.Fatal(err)
	}
	l.RejectedSince = func(context.Context, time.Time) (int64, error) { return 3, nil }
	return l
}

// TestWordsOfTheSimulatedShop holds what is told of the simulated shop against a file that
// people can read over.
func TestWordsOfTheSimulatedShop(t *testing.T) {
	l := simulated(t)
	f := l.floor(t, simNow)
	slow, err := l.Slow(t.Context(), f, simNow)
	if err != nil {
		t.Fatal(err)
	}
	quick, err := l.Quick(t.Context(), f, simNow)
	if err != nil {
		t.Fatal(err)
	}
	turn, ok := slow.Calendar.At("s1", simNow.Add(3*time.Hour))
	if !ok {
		t.Fatal("no late shift")
	}
	open := []alert.Condition{
		{Key: alert.Key{Kind: alert.Silent, Saw: "s4"}, Severity: alert.Warning, Since: simNow.Add(-time.Hour), Raised: simNow, Words: alert.Words{What: "no reading since 11:10"}},
		{Key: alert.Key{Kind: alert.ClockSkew, Saw: "s3"}, Severity: alert.Notice, Words: alert.Words{What: "it waits and is not raised"}},
	}
	d, err := l.Digest(t.Context(), slow, &turn, open, simNow)
	if err != nil {
		t.Fatal(err)
	}
	golden.Check(t, "simulated.txt", "QUICK LOOK\n"+text(&quick)+"\nSLOW LOOK\n"+text(&slow.Look)+"\n"+digestText(d))
	if f := factOf(t, &slow.Look, alert.SawFinding, "s2"); f == nil || f.Of != "saw-alignment" {
		t.Errorf("of s2, whose guide stands off: %+v", f)
	}
}

func digestText(d *alert.Digest) string {
	var b strings.Builder
	fmt.Fprintf(&b, "DIGEST of shift %s, %s to %s, caution %v\n", d.Shift, d.Start.Format("Mon 15:04"), d.End.Format("15:04"), d.Risky)
	for _, part := range []struct {
		name  string
		lines []string
	}{{"changes", d.Changes}, {"spares", d.Spares}, {"findings", d.Findings}, {"downtime", d.Downtime}, {"open", d.Open}, {"doubts", d.Doubts}} {
		fmt.Fprintf(&b, "%s:\n", part.name)
		for _, line := range part.lines {
			fmt.Fprintf(&b, "  %s\n", line)
		}
	}
	return b.String()
}

// A quick look at the simulated shop is to take a few milliseconds.
func BenchmarkQuick(b *testing.B) {
	db, err := store.Open(b.Context(), store.Options{Path: filepath.Join(b.TempDir(), "gullet.db")})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = db.Close() })
	l := &Looker{Store: db, Config: shopConfig(b), RejectedSince: func(context.Context, time.Time) (int64, error) { return 0, nil }}
	for s := range 20 {
		saw := fmt.Sprint("s", s+1)
		list := []*analyze.Reading{on(saw, alive(0, true)), on(saw, fit(0, fmt.Sprint("A", s)))}
		for i := 1; i < 450; i++ {
			list = append(list, on(saw, off(cut(i, 10), 0.01)))
		}
		l.tell(b, list...)
	}
	f := l.floor(b, at(451))
	for b.Loop() {
		if _, err := l.Quick(b.Context(), f, at(451)); err != nil {
			b.Fatal(err)
		}
	}
}
