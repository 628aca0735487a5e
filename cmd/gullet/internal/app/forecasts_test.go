package app

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"go.uber.org/goleak"

	"gullet/analyze"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/publish"
	"gullet/ingest"
	"gullet/store"
)

// clock is one that a test moves.
type clock struct{ at atomic.Pointer[time.Time] }

func (c *clock) set(t time.Time) { c.at.Store(&t) }
func (c *clock) now() time.Time  { return *c.at.Load() }

// noon is in the early shift of a Friday.
var noon = time.Date(2026, 2, 13, 12, 0, 0, 0, time.UTC)

// shop is a database of two saws until noon: on each three blades went dull one after
// the other after four cuts, and a fourth is on.
func shop(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "gullet.db")
	db, err := store.Open(t.Context(), store.Options{Path: path})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	decoder := ingest.NewDecoder(ingest.Options{})
	var batch []analyze.Arrival
	say := func(topic string, at time.Time, rest string) {
		payload := fmt.Appendf(nil, `{"id":"%d","at":%q,%s}`, len(batch), at.Format(time.RFC3339), rest)
		a := decoder.Decode(topic, payload, false, at)
		a.Topic, a.Payload = topic, payload
		batch = append(batch, a)
	}
	for _, saw := range []string{"saws/s1", "plant-2/saws/s2"} {
		at := noon.Add(-24*time.Hour - 30*time.Minute)
		for blade := range 4 {
			say(saw+"/blade", at, fmt.Sprintf(`"action":"fit","blade":"%s-%d","type":"T"`, saw, blade))
			for range 4 {
				at = at.Add(90 * time.Minute)
				say(saw+"/cut", at, fmt.Sprintf(`"seconds":600,"area":%d,"grade":"1018"`, 200+30*blade))
			}
			if blade < 3 {
				say(saw+"/blade", at, fmt.Sprintf(`"action":"remove","blade":"%s-%d","reason":"dull"`, saw, blade))
			}
		}
	}
	if _, err := db.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	return path
}

// onFriday has the saws work on this Friday only, early and late: a plan of few blades
// is quick.
func onFriday(a *App) {
	for i, name := range []string{"early", "late"} {
		start := shift.Clock((6 + 8*i) * 60)
		a.Config.Shifts = append(a.Config.Shifts, shift.Rule{Name: name, Start: start, End: start + 8*60, Days: [7]bool{time.Friday: true}})
	}
	for week := 1; week < 9; week++ {
		a.Config.Shop.Holidays = append(a.Config.Shop.Holidays, shift.DateOf(noon.AddDate(0, 0, 7*week)))
	}
}

// kept lists the forecasts in the database beside the daemon.
func kept(t *testing.T, path string) (list []store.ForecastRow) {
	t.Helper()
	db, err := store.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	if err := db.Forecasts(t.Context(), time.Time{}, func(f store.ForecastRow) error { list = append(list, f); return nil }); err != nil {
		t.Fatal(err)
	}
	return list
}

// retained are the messages that the broker kept, by topic, as they come.
func retained(t *testing.T, broker string) (byTopic func(topic string) map[string]any, leave func()) {
	t.Helper()
	var mu sync.Mutex
	got := map[string]map[string]any{}
	client := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(broker).SetClientID("board"))
	if token := client.Connect(); !token.WaitTimeout(5*time.Second) || token.Error() != nil {
		t.Fatalf("connect: %v", token.Error())
	}
	token := client.Subscribe("gullet/+/+/forecast", 1, func(_ mqtt.Client, m mqtt.Message) {
		var message map[string]any
		if err := json.Unmarshal(m.Payload(), &message); err != nil {
			t.Errorf("%s: %v", m.Topic(), err)
		}
		message["qos"], message["retained"] = m.Qos(), m.Retained()
		mu.Lock()
		got[m.Topic()] = message
		mu.Unlock()
	})
	if !token.WaitTimeout(5*time.Second) || token.Error() != nil {
		t.Fatalf("subscribe: %v", token.Error())
	}
	return func(topic string) map[string]any {
		mu.Lock()
		defer mu.Unlock()
		return got[topic]
	}, func() { client.Disconnect(50) }
}

// The daemon makes the forecasts of the shift that runs, and those of the next when it
// begins, keeps them once and leaves them with the broker.
func TestForecastsAreKeptAndPublished(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	path := shop(t)
	a := daemon(t, path, "")
	a.Config.MQTT.PublishForecasts, a.Caution = true, "lock out"
	onFriday(a)
	var c clock
	c.set(noon)
	a.Now = c.now
	r, stop := run(t, a)
	defer stop()
	eventually(t, "ready", r.Ready)
	eventually(t, "the forecasts of the shift that runs", func() bool { c.set(c.now().Add(time.Second)); return len(kept(t, path)) == 2 })
	for _, f := range kept(t, path) {
		if f.ShiftStart.Hour() != 6 || f.MadeAt.Before(noon) {
			t.Errorf("%s: made at %v for the shift from %v", f.Saw, f.MadeAt, f.ShiftStart)
		}
	}
	var first map[string]any
	eventually(t, "the forecast of s2 of another plant is with the broker", func() bool {
		message, leave := retained(t, r.Broker)
		defer leave()
		time.Sleep(50 * time.Millisecond)
		first = message("gullet/plant-2%2Fsaws/s2/forecast")
		return first != nil && first["retained"] == true // and not on its way just now
	})
	if first["saw"] != "plant-2/saws/s2" || first["qos"] != byte(1) || first["window"] == nil || first["unit"] != "in2" || first["caution"] != "lock out" {
		t.Errorf("the board is told %v", first)
	}

	c.set(time.Date(2026, 2, 13, 14, 0, 5, 0, time.UTC))
	eventually(t, "the forecasts of the late shift", func() bool { return len(kept(t, path)) == 4 })
	if status, page := get(t, r, "/metrics"); status != 200 || r.Taken() != 0 {
		t.Errorf("the daemon took %d messages, want none of its own: %s", r.Taken(), page)
	}
}

// Readings are taken and acknowledged while a plan is made, however long it takes.
func TestASlowPlanHoldsNothingUp(t *testing.T) {
	var c clock
	c.set(noon)
	a := daemon(t, filepath.Join(t.TempDir(), "gullet.db"), "")
	a.Now = c.now
	making, going := make(chan struct{}, 1), make(chan struct{})
	a.planner = func(ctx context.Context, db *store.Store, now time.Time) (*planning.Report, *shift.Calendar, error) {
		err := db.View(ctx, func(*store.Store) error { // it reads all the while
			making <- struct{}{}
			<-going
			return nil
		})
		return &planning.Report{}, &shift.Calendar{}, err
	}
	r, stop := run(t, a)
	defer stop()
	defer close(going)
	eventually(t, "ready", r.Ready)
	eventually(t, "a plan is being made", func() bool {
		c.set(c.now().Add(time.Second))
		return len(making) == 1
	})
	saw, err := publish.Connect(t.Context(), publish.Options{Broker: r.Broker, ClientID: "s7", Window: 10})
	if err != nil {
		t.Fatal(err)
	}
	payload := fmt.Appendf(nil, `{"id":"1","at":%q,"seconds":100,"area":12.5,"blade":"B-7"}`, c.now().Format(time.RFC3339Nano))
	if err := saw.Send(t.Context(), "saws/s7/cut", payload, false); err != nil {
		t.Fatal(err)
	}
	if err := saw.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	eventually(t, "the reading is taken", func() bool { return r.Taken() == 1 })
}
