package channel

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"gullet/analyze/alert"
)

// box is an outbox in memory.
type box struct {
	mu    sync.Mutex
	list  []*Waiting
	notes []string
	sent  []int64
	fail  bool // to note what went out
}

func (b *box) Due(_ context.Context, channel string, _ time.Time) (*Waiting, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, w := range b.list {
		if w.Channel == channel {
			c := *w
			return &c, nil
		}
	}
	return nil, nil
}

func (b *box) take(id int64) {
	b.list = slices.DeleteFunc(b.list, func(w *Waiting) bool { return w.ID == id })
}

func (b *box) Sent(_ context.Context, id int64, _ time.Time) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.fail {
		b.fail = false
		return errors.New("the disk is gone")
	}
	b.sent = append(b.sent, id)
	b.take(id)
	return nil
}

func (b *box) Failed(_ context.Context, id int64, _, next time.Time, why string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, w := range b.list {
		if w.ID == id {
			w.Tries, w.NextTry, w.LastWhy = w.Tries+1, next, why
		}
	}
	return nil
}

func (b *box) Drop(_ context.Context, id int64, _ time.Time, note string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.notes = append(b.notes, fmt.Sprint(id, ": ", note))
	b.take(id)
	return nil
}

func (b *box) add(channel string, ids ...int64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, id := range ids {
		b.list = append(b.list, &Waiting{Message: alert.Message{ID: id, Channel: channel, At: time.Now(), Expires: time.Now().Add(12 * time.Hour)}})
	}
	slices.SortFunc(b.list, func(a, b *Waiting) int { return cmp.Compare(a.ID, b.ID) })
}

// receiver takes messages, or says why not.
type receiver struct {
	mu    sync.Mutex
	why   error
	slow  time.Duration
	tries []time.Duration // since the start
	got   []int64
	start time.Time
}

func (r *receiver) Send(ctx context.Context, m *alert.Message) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.tries = append(r.tries, time.Since(r.start))
	select {
	case <-time.After(r.slow):
	case <-ctx.Done():
		return ctx.Err()
	}
	if r.why == nil {
		r.got = append(r.got, m.ID)
	}
	return r.why
}

func (r *receiver) set(why error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.why = why
}

// run delivers to the receivers beside the test.
func run(t *testing.T, b *box, receivers map[string]*receiver) (*Deliverer, *[]alert.Message) {
	t.Helper()
	var given []alert.Message
	d := &Deliverer{Outbox: b, Senders: map[string]Sender{}, Now: time.Now, Random: func() float64 { return 0.5 }, Log: slog.New(slog.DiscardHandler),
		GivenUp: func(m ...alert.Message) { given = append(given, m...) }}
	for name, r := range receivers {
		r.start = time.Now()
		d.Senders[name] = r
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); d.Run(ctx) }()
	t.Cleanup(func() { stop(); <-done })
	return d, &given
}

func TestADeadChannelHoldsUpNoOtherAndKeepsItsOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &box{}
		dead, live := &receiver{why: errors.New("down"), slow: 10 * time.Second}, &receiver{}
		b.add("dead", 1, 3, 5)
		b.add("live", 2, 4, 6)
		d, _ := run(t, b, map[string]*receiver{"dead": dead, "live": live})
		time.Sleep(time.Second)
		synctest.Wait()
		if !slices.Equal(live.got, []int64{2, 4, 6}) {
			t.Errorf("live got %v", live.got)
		}
		time.Sleep(time.Hour)
		if since, ok := d.Failing()["dead"]; !ok || time.Since(since) < 59*time.Minute || len(d.Failing()) != 1 {
			t.Errorf("failing: %v", d.Failing())
		}
		dead.set(nil)
		time.Sleep(20 * time.Minute)
		synctest.Wait()
		if !slices.Equal(dead.got, []int64{1, 3, 5}) || len(d.Failing()) != 0 {
			t.Errorf("dead got %v in the end, failing: %v", dead.got, d.Failing())
		}
	})
}

func TestWaitsGrow(t *testing.T) {
	for _, c := range []struct {
		name string
		why  error
		want []time.Duration
	}{
		{"down", errors.New("down"), []time.Duration{0, 5, 15, 35, 75, 155, 315, 635, 1275, 2175, 3075}},
		{"set up wrongly", &Failure{Why: "no", Slow: true}, []time.Duration{0, 900, 1800, 2700}},
		{"asks to wait", &Failure{Why: "busy", After: 20 * time.Minute}, []time.Duration{0, 1200, 2400}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b, r := &box{}, &receiver{why: c.why}
				b.add("a", 1)
				run(t, b, map[string]*receiver{"a": r})
				time.Sleep(time.Hour - 8*time.Minute)
				synctest.Wait()
				for i, got := range r.tries {
					if i >= len(c.want) || got < c.want[i]*time.Second || got > (c.want[i]+12)*time.Second {
						t.Fatalf("tries after %v, want %v s", r.tries, c.want)
					}
				}
			})
		})
	}
	for _, c := range []struct {
		random float64
		want   time.Duration
	}{{0, 4 * time.Second}, {0.5, 5 * time.Second}, {1, 6 * time.Second}} {
		d := Deliverer{Random: func() float64 { return c.random }}
		if got := d.wait(0, nil); got != c.want {
			t.Errorf("the first wait is %s, want %s", got, c.want)
		}
	}
}

func TestWhatIsTooOldIsDroppedWithANoteAndGivenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, r := &box{}, &receiver{why: errors.New("down")}
		b.add("a", 1)
		_, given := run(t, b, map[string]*receiver{"a": r})
		time.Sleep(13 * time.Hour)
		b.add("a", 2)
		r.set(nil)
		time.Sleep(time.Minute)
		synctest.Wait()
		if len(b.notes) != 1 || !strings.HasPrefix(b.notes[0], "1: too old to matter: made 12h0m0s ago, and tried ") || !strings.HasSuffix(b.notes[0], "last: down") {
			t.Errorf("notes %q", b.notes)
		}
		if len(*given) != 1 || (*given)[0].ID != 1 || !slices.Equal(r.got, []int64{2}) {
			t.Errorf("given up %v, got %v", *given, r.got)
		}
	})
}

func TestWhatIsRefusedIsDroppedAndTheNextFollows(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, r := &box{}, &receiver{why: &Failure{Why: "answered 400", Refused: true}}
		b.add("a", 1)
		_, given := run(t, b, map[string]*receiver{"a": r})
		time.Sleep(time.Second)
		r.set(nil)
		b.add("a", 2)
		time.Sleep(2 * time.Second)
		synctest.Wait()
		if !slices.Equal(b.notes, []string{"1: refused: answered 400"}) || !slices.Equal(r.got, []int64{2}) || len(*given) != 0 {
			t.Errorf("notes %q, got %v, given up %v", b.notes, r.got, *given)
		}
	})
}

func TestWhatWentOutButWasNotNotedGoesOutAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, r := &box{fail: true}, &receiver{}
		b.add("a", 1)
		run(t, b, map[string]*receiver{"a": r})
		time.Sleep(time.Minute)
		synctest.Wait()
		if !slices.Equal(r.got, []int64{1, 1}) || !slices.Equal(b.sent, []int64{1}) {
			t.Errorf("got %v, noted %v", r.got, b.sent)
		}
	})
}

func TestWakeLooksAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, r := &box{}, &receiver{}
		d, _ := run(t, b, map[string]*receiver{"a": r})
		synctest.Wait()
		b.add("a", 1)
		d.Wake()
		synctest.Wait()
		if !slices.Equal(r.got, []int64{1}) {
			t.Errorf("got %v", r.got)
		}
	})
}
