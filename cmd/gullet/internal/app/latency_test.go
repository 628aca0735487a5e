package app

import (
	"context"
	"log/slog"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/mosquittotest"
	"gullet/ingest"
	"gullet/store"
)

// stopwatch notes when each reading is committed.
type stopwatch struct {
	sync.Mutex
	published map[int64]time.Time // by seq
	took      []time.Duration
	connected chan struct{}
	once      sync.Once
}

func (w *stopwatch) Failed(error) {}
func (w *stopwatch) Connected(up bool) {
	if up {
		w.once.Do(func() { close(w.connected) })
	}
}
func (w *stopwatch) Committed(batch []analyze.Arrival, _ []analyze.Outcome, _, _ time.Duration) {
	now := time.Now()
	w.Lock()
	defer w.Unlock()
	for _, a := range batch {
		w.took = append(w.took, now.Sub(w.published[*a.Reading.Seq]))
	}
}

// BenchmarkLatency measures publish to commit at ten readings a second,
// against the limit of 20 ms for 99 in 100.
func BenchmarkLatency(b *testing.B) {
	broker := mosquittotest.Start(b)
	db, err := store.Open(b.Context(), store.Options{Path: filepath.Join(b.TempDir(), "gullet.db")})
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	w := &stopwatch{published: map[int64]time.Time{}, connected: make(chan struct{})}
	s := &ingest.Session{
		Broker: broker.URL, ClientID: "gullet", Topics: []string{"saws/+/+"}, KeepAlive: 30 * time.Second,
		Decoder: ingest.NewDecoder(ingest.Options{MaxPayload: 256 << 10, Oldest: 8640 * time.Hour, Ahead: 24 * time.Hour}),
		Sink:    db, Observer: w, Now: time.Now, Log: slog.New(slog.DiscardHandler),
	}
	ctx, stop := context.WithCancel(b.Context())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		s.Run(ctx)
	}()
	<-w.connected
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(broker.URL).SetClientID("saw"))
	must(b, c.Connect())
	seq := int64(0)
	for b.Loop() {
		seq++
		time.Sleep(100 * time.Millisecond)
		w.Lock()
		w.published[seq] = time.Now()
		w.Unlock()
		c.Publish("saws/s1/cut", 1, false, cutPayload("s1", int(seq), time.Now().UTC()))
	}
	time.Sleep(time.Second)
	stop()
	<-ended
	c.Disconnect(100)
	if int64(len(w.took)) != seq {
		b.Fatalf("%d of %d readings committed", len(w.took), seq)
	}
	slices.Sort(w.took)
	p99 := w.took[len(w.took)*99/100]
	b.ReportMetric(float64(w.took[len(w.took)/2].Microseconds())/1000, "p50-ms")
	b.ReportMetric(float64(p99.Microseconds())/1000, "p99-ms")
	b.ReportMetric(p99.Seconds()/0.020, "of-limit")
	b.ReportMetric(0, "ns/op")
}
