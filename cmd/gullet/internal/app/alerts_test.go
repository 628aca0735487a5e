package app

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/publish"
	"gullet/config"
)

// TestABreakOnASawReachesTheShop goes the whole way: a saw's message over MQTT, the
// store, the floor, a look, the rules, the outbox, and a receiver of the shop; on a clock
// that runs a hundred times as fast.
func TestABreakOnASawReachesTheShop(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	var mu sync.Mutex
	var texts []string
	receiver := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		var m struct {
			Text string `json:"text"`
		}
		if err != nil || json.Unmarshal(body, &m) != nil {
			t.Errorf("body %q, %v", body, err)
		}
		mu.Lock()
		defer mu.Unlock()
		texts = append(texts, m.Text)
	}))
	defer receiver.Close()
	got := func(want string) bool {
		mu.Lock()
		defer mu.Unlock()
		return strings.Contains(strings.Join(texts, "\n"), want)
	}

	a := daemon(t, filepath.Join(t.TempDir(), "gullet.db"), "")
	start := time.Now()
	a.Now = func() time.Time { return start.Add(100 * time.Since(start)) }
	a.Caution = "CAUTION: lock out by your site's procedure."
	a.Config.Channels = []config.Channel{{
		Channel: alert.Channel{Name: "office", Kinds: []alert.Kind{alert.BladeBreak}, Flood: 4, Cap: 8, Per: 10 * time.Minute, Keep: time.Hour},
		Kind:    config.Webhook, URL: config.HiddenURL(receiver.URL), Shape: config.ShapeText, Timeout: 5 * time.Second,
	}}
	r, stop := run(t, a)
	defer stop()
	eventually(t, "ready", func() bool { return ready(t, r) })
	saw, err := publish.Connect(t.Context(), publish.Options{Broker: r.Broker, ClientID: "s7", Window: 1})
	if err != nil {
		t.Fatal(err)
	}
	say := func(kind, body string) {
		t.Helper()
		payload := fmt.Appendf(nil, `{"id":%q,"at":%q,%s}`, kind, a.Now().Format(time.RFC3339Nano), body)
		if err := saw.Send(t.Context(), "saws/s7/"+kind, payload, false); err != nil {
			t.Fatal(err)
		}
	}
	say("cut", `"seconds":60,"section":"RD6","blade":"B-7"`)
	say("break", `"seconds":20,"section":"RD6","where":"weld","blade":"B-7"`)
	eventually(t, "the break is told", func() bool { return got("B-7") && got(a.Caution) })
	eventually(t, "it is counted as sent", func() bool {
		_, page := get(t, r, "/metrics")
		return strings.Contains(page, `gullet_channel_messages_total{channel="office",outcome="sent"} 1`) &&
			strings.Contains(page, `gullet_conditions{kind="blade-break",saw="s7",severity="severe"} 1`)
	})
	say("blade", `"action":"fit","blade":"B-8"`)
	eventually(t, "it is told to be over", func() bool { return got("Over: s7 · blade B-7") })
	if err := saw.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	mu.Lock()
	defer mu.Unlock()
	if len(texts) != 2 {
		t.Errorf("told %d times: %q", len(texts), texts)
	}
}
