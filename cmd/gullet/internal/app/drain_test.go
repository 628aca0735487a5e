package app

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/mosquittotest"
	"gullet/cmd/gullet/internal/publish"
	"gullet/ingest"
	"gullet/store"
)

// cutPayload is a typical cut, about 300 bytes.
func cutPayload(saw string, seq int, at time.Time) []byte {
	return fmt.Appendf(nil, `{"id":"%s-%07d","seq":%d,"at":%q,"seconds":212.4,"section":"W12x26","mitre":45,"count":1,`+
		`"grade":"A992","band_speed":270,"feed":3.1,"pressure":420,"deviation":0.0042,"blade":"B-0417","job":"5512","piece":"12A","purpose":"part"}`,
		saw, seq, seq, at.Format(time.RFC3339Nano))
}

// fill leaves n cuts queued on the broker for the named client.
func fill(b *testing.B, broker, client string, n int) {
	b.Helper()
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(broker).SetClientID(client).SetCleanSession(false))
	must(b, c.Connect())
	must(b, c.Subscribe("saws/+/+", 1, nil))
	c.Disconnect(100)
	pub, err := publish.Connect(b.Context(), publish.Options{Broker: broker, ClientID: "filler", Window: 500})
	if err != nil {
		b.Fatal(err)
	}
	start := time.Now().Add(-24 * time.Hour).UTC()
	for i := range n {
		saw := fmt.Sprintf("s%d", i%5+1)
		at := start.Add(time.Duration(i) * time.Millisecond)
		if err := pub.Send(b.Context(), "saws/"+saw+"/cut", cutPayload(saw, i/5+1, at), false); err != nil {
			b.Fatal(err)
		}
	}
	if err := pub.Close(b.Context()); err != nil {
		b.Fatal(err)
	}
}

func must(b *testing.B, t mqtt.Token) {
	b.Helper()
	if !t.WaitTimeout(20*time.Second) || t.Error() != nil {
		b.Fatalf("broker: %v", t.Error())
	}
}

// drainIdle is the limit: a subscriber that takes and acknowledges, and does
// nothing else. It returns readings per second.
func drainIdle(b *testing.B, broker, client string, n int) float64 {
	var got atomic.Int64
	done := make(chan struct{})
	o := mqtt.NewClientOptions().AddBroker(broker).SetClientID(client).SetCleanSession(false)
	o.SetDefaultPublishHandler(func(mqtt.Client, mqtt.Message) {
		if got.Add(1) == int64(n) {
			close(done)
		}
	})
	c := mqtt.NewClient(o)
	start := time.Now()
	must(b, c.Connect())
	<-done
	took := time.Since(start)
	must(b, c.Unsubscribe("saws/+/+"))
	c.Disconnect(100)
	return float64(n) / took.Seconds()
}

// counter is an observer that tells when n messages are committed.
type counter struct {
	left atomic.Int64
	done chan struct{}
}

func (c *counter) Connected(bool) {}
func (c *counter) Failed(error)   {}
func (c *counter) Committed(batch []analyze.Arrival, _ []analyze.Outcome, _, _ time.Duration) {
	if c.left.Add(-int64(len(batch))) == 0 {
		close(c.done)
	}
}

// drainGullet is the daemon's whole way of a reading, decode to commit with
// the ledger. It returns readings per second.
func drainGullet(b *testing.B, broker, client string, n int) float64 {
	db, err := store.Open(b.Context(), store.Options{Path: filepath.Join(b.TempDir(), "gullet.db")})
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	o := &counter{done: make(chan struct{})}
	o.left.Store(int64(n))
	s := &ingest.Session{
		Broker: broker, ClientID: client, Topics: []string{"saws/+/+"}, KeepAlive: 30 * time.Second,
		Decoder: ingest.NewDecoder(ingest.Options{MaxPayload: 256 << 10, Oldest: 8640 * time.Hour, Ahead: 24 * time.Hour}),
		Sink:    db, Observer: o, Now: time.Now, Log: slog.New(slog.DiscardHandler),
	}
	ctx, stop := context.WithCancel(b.Context())
	ended := make(chan struct{})
	start := time.Now()
	go func() {
		defer close(ended)
		s.Run(ctx)
	}()
	<-o.done
	took := time.Since(start)
	stop()
	<-ended
	return float64(n) / took.Seconds()
}

// BenchmarkDrain measures how fast a backlog is drained, beside the limit of
// a paho subscriber that does nothing, in turns on the same broker.
func BenchmarkDrain(b *testing.B) {
	for _, bench := range []struct{ window, readings int }{{1000, 100_000}, {20, 40_000}} {
		b.Run(fmt.Sprintf("window=%d", bench.window), func(b *testing.B) {
			broker := mosquittotest.Start(b, fmt.Sprintf("max_inflight_messages %d", bench.window))
			var limit, gullet []float64
			for b.Loop() {
				fill(b, broker.URL, "idle", bench.readings)
				limit = append(limit, drainIdle(b, broker.URL, "idle", bench.readings))
				fill(b, broker.URL, "gullet", bench.readings)
				gullet = append(gullet, drainGullet(b, broker.URL, "gullet", bench.readings))
				forget(b, broker.URL, "gullet")
			}
			b.ReportMetric(median(gullet), "readings/s")
			b.ReportMetric(median(limit), "limit/s")
			b.ReportMetric(median(gullet)/median(limit), "of-limit")
			b.ReportMetric(0, "ns/op")
		})
	}
}

// forget ends a client's session on the broker.
func forget(b *testing.B, broker, client string) {
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(broker).SetClientID(client).SetCleanSession(true))
	must(b, c.Connect())
	c.Disconnect(100)
}

func median(x []float64) float64 {
	x = slices.Clone(x)
	slices.Sort(x)
	return x[len(x)/2]
}
