package judge_test

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/channel"
	"gullet/cmd/gullet/internal/judge"
	"gullet/store"
)

// The test binary stands in for a daemon that decides and delivers without end.
const (
	childDB  = "GULLET_TEST_KILLED_DB"
	childURL = "GULLET_TEST_KILLED_URL"
	childEnd = "GULLET_TEST_KILLED_END" // only deliver what waits, then end
)

func TestMain(m *testing.M) {
	if path := os.Getenv(childDB); path != "" {
		if err := decideAndDeliver(path, os.Getenv(childURL), os.Getenv(childEnd) != ""); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

var office = alert.Channel{Name: "office", Flood: 1e9, Cap: 1e9, Per: time.Minute, Keep: time.Hour}

// oneByOne is the outbox of the one channel.
type oneByOne struct{ *store.Store }

func (o oneByOne) Due(ctx context.Context, _ string, now time.Time) (*channel.Waiting, error) {
	rows, err := o.Store.Due(ctx, now, 1)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return &channel.Waiting{Message: rows[0].Message, Tries: rows[0].Tries, NextTry: rows[0].NextTry}, nil
}

// decideAndDeliver raises and clears one condition after the other.
func decideAndDeliver(path, url string, end bool) error {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	db, err := store.Open(ctx, store.Options{Path: path})
	if err != nil {
		return err
	}
	template, err := channel.NewTemplate(&channel.Shop{Zone: time.UTC}, "default", "")
	if err != nil {
		return err
	}
	log := slog.New(slog.DiscardHandler)
	d := &channel.Deliverer{Outbox: oneByOne{db}, Now: time.Now, Random: rand.Float64, Log: log, Senders: map[string]channel.Sender{
		office.Name: &channel.Webhook{URL: url, Shape: channel.ShapeGeneric, Template: template, Timeout: time.Second, Now: time.Now},
	}}
	go d.Run(ctx)
	j := &judge.Judge{Store: db, Rules: &alert.Rules{}, Channels: []alert.Channel{office}, Wake: d.Wake, Log: log}
	for i := 0; !end; i++ {
		time.Sleep(2 * time.Millisecond) // delivering keeps up
		saw := fmt.Sprintf("s%d-%d", os.Getpid(), i)
		look := alert.Look{Kinds: []alert.Kind{alert.UnexplainedStop}, Saws: []string{saw}, Facts: []alert.Fact{{Key: alert.Key{Kind: alert.UnexplainedStop, Saw: saw}, Level: 40}}}
		if err := j.Decide(ctx, []alert.Look{look}, nil, time.Now()); err != nil {
			return err
		}
		look.Facts = nil
		if err := j.Decide(ctx, []alert.Look{look}, nil, time.Now()); err != nil {
			return err
		}
	}
	// What stands since a kill between raise and clear is over.
	if err := j.Decide(ctx, []alert.Look{{Kinds: []alert.Kind{alert.UnexplainedStop}}}, nil, time.Now()); err != nil {
		return err
	}
	for range 2000 {
		states, err := db.Outbox(ctx, time.Now())
		if err != nil {
			return err
		}
		if len(states) == 0 || states[0].Waiting == 0 {
			return nil
		}
		d.Wake()
		time.Sleep(10 * time.Millisecond)
	}
	return fmt.Errorf("messages still wait")
}

// TestKilledBetweenDecidingAndDelivering kills the process 100 times at any moment: of
// every condition that was decided on, the channel is told that it began and that it is
// over, each in one message, which may come again with the same key.
func TestKilledBetweenDecidingAndDelivering(t *testing.T) {
	var mu sync.Mutex
	keys := map[string]map[string]int{} // by condition and phase
	receiver := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		var m alert.Message
		if err := json.NewDecoder(r.Body).Decode(&m); err != nil {
			t.Errorf("body: %v", err)
		}
		mu.Lock()
		defer mu.Unlock()
		for _, item := range m.Items {
			what := fmt.Sprint(item.Condition, item.Phase)
			if keys[what] == nil {
				keys[what] = map[string]int{}
			}
			keys[what][r.Header.Get("Idempotency-Key")]++
		}
	}))
	defer receiver.Close()
	path := filepath.Join(t.TempDir(), "gullet.db")
	child := func(end string) *exec.Cmd {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), childDB+"="+path, childURL+"="+receiver.URL, childEnd+"="+end)
		c.Stderr = os.Stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		return c
	}
	random := rand.New(rand.NewPCG(1, 2))
	for range 100 {
		c := child("")
		time.Sleep(time.Duration(20+random.IntN(60)) * time.Millisecond)
		_ = c.Process.Kill()
		_ = c.Wait()
	}
	if err := child("yes").Wait(); err != nil {
		t.Fatal(err)
	}
	db, err := store.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	list, err := db.Alerts(t.Context(), store.AlertFilter{})
	if err != nil {
		t.Fatal(err)
	}
	if len(list) < 20 {
		t.Fatalf("only %d conditions: the test tells little", len(list))
	}
	again := 0
	for i := range list {
		for _, phase := range []alert.Phase{alert.PhaseRaised, alert.PhaseCleared} {
			got := keys[fmt.Sprint(list[i].ID, phase)]
			if len(got) != 1 {
				t.Errorf("condition %d: %s in %d messages", list[i].ID, phase, len(got))
			}
			for _, n := range got {
				again += n - 1
			}
		}
	}
	t.Logf("%d conditions, %d messages came again", len(list), again)
}
