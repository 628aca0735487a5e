package app

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/publish"
	"gullet/config"
	"gullet/store"
)

// daemon is an App on free ports of this machine, on the database at path.
func daemon(t *testing.T, path, broker string) *App {
	t.Helper()
	loaded, err := config.Load(config.Options{File: filepath.Join(t.TempDir(), "none.toml"), Env: []string{
		"GULLET_MQTT_BROKER=" + broker,
		"GULLET_MQTT_EMBEDDED_LISTEN=127.0.0.1:0",
		"GULLET_LISTEN_ADDRESS=127.0.0.1:0",
	}})
	if err != nil {
		t.Fatal(err)
	}
	return &App{
		Config: &loaded.Config, Store: store.Options{Path: path}, Now: time.Now,
		Log: slog.New(slog.DiscardHandler),
	}
}

// run starts the daemon. stop ends it and waits; it ends a second time safely.
func run(t *testing.T, a *App) (Running, func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	started, ended := make(chan Running, 1), make(chan error, 1)
	a.Started = func(r Running) { started <- r }
	go func() { ended <- a.Run(ctx) }()
	select {
	case r := <-started:
		return r, func() {
			t.Helper()
			cancel()
			if err := <-ended; err != nil {
				t.Errorf("the daemon ended with %v", err)
			}
		}
	case err := <-ended:
		cancel()
		t.Fatalf("the daemon did not start: %v", err)
	}
	return Running{}, nil
}

// get asks the daemon; no connection stays open.
func get(t *testing.T, r Running, path string) (int, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+r.HTTP+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Close = true
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = res.Body.Close() }()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(body)
}

// eventually waits for what other goroutines bring about.
func eventually(t *testing.T, what string, true func() bool) {
	t.Helper()
	for range 1000 {
		if true() {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("never: %s", what)
}

func ready(t *testing.T, r Running) bool {
	status, _ := get(t, r, "/readyz")
	return status == http.StatusOK
}

func TestAReadingComesOutAsAnAnswer(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	r, stop := run(t, daemon(t, filepath.Join(t.TempDir(), "gullet.db"), ""))
	if status, body := get(t, r, "/healthz"); status != http.StatusOK || body != "alive\n" {
		t.Errorf("/healthz: %d %q", status, body)
	}
	eventually(t, "ready", func() bool { return ready(t, r) })
	saw, err := publish.Connect(t.Context(), publish.Options{Broker: r.Broker, ClientID: "s7", Window: 10})
	if err != nil {
		t.Fatal(err)
	}
	payload := fmt.Appendf(nil, `{"id":"1","at":%q,"seconds":100,"area":12.5,"blade":"B-7"}`, time.Now().Format(time.RFC3339Nano))
	for range 2 { // the second is a resend
		if err := saw.Send(t.Context(), "saws/s7/cut", payload, false); err != nil {
			t.Fatal(err)
		}
	}
	if err := saw.Send(t.Context(), "saws/s7/cut", []byte("{"), false); err != nil {
		t.Fatal(err)
	}
	if err := saw.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	eventually(t, "three messages taken", func() bool { return r.Taken() == 3 })
	eventually(t, "the saw is on the floor", func() bool { return r.Idle() && r.Floor() != nil && len(r.Floor().Saws) == 1 })
	s := r.Floor().Saws[0]
	if s.Saw != "s7" || s.Blade == nil || s.Blade.Serial != "B-7" || s.Blade.Area != 12.5 || s.Blade.Cuts != 1 {
		t.Errorf("on the floor: %+v, blade %+v", s, s.Blade)
	}
	_, page := get(t, r, "/metrics")
	for _, want := range []string{
		`gullet_saw_blade_area_in2{saw="s7"} 12.5`,
		`gullet_readings_total{kind="cut",outcome="stored"} 1`,
		`gullet_readings_total{kind="cut",outcome="duplicate"} 1`,
		`gullet_rejected_total{reason="not-json"} 1`,
		`gullet_broker_connected 1`,
	} {
		if !strings.Contains(page, want+"\n") {
			t.Errorf("/metrics does not say %s", want)
		}
	}
	stop()
	if r.Ready() {
		t.Error("ready after the end")
	}
}

func TestASecondDaemonOnTheSameDatabaseIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "gullet.db")
	_, stop := run(t, daemon(t, path, ""))
	defer stop()
	second := daemon(t, path, "")
	second.Started = func(Running) { t.Error("it started") }
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	err := second.Run(ctx)
	if err == nil || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "in use by another gullet daemon") {
		t.Errorf("error %v", err)
	}
}

func TestWithoutABrokerTheDaemonLivesAndSaysWhyItIsNotReady(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	// A port that was free a moment ago and on which nobody listens now.
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	nobody := l.Addr().String()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	r, stop := run(t, daemon(t, filepath.Join(t.TempDir(), "gullet.db"), "mqtt://"+nobody))
	if status, _ := get(t, r, "/healthz"); status != http.StatusOK {
		t.Errorf("/healthz: %d", status)
	}
	eventually(t, "the failure is counted", func() bool {
		_, page := get(t, r, "/metrics")
		return !strings.Contains(page, "gullet_ingest_failures_total 0\n")
	})
	status, body := get(t, r, "/readyz")
	if status != http.StatusServiceUnavailable || !strings.Contains(body, "the broker is not connected") {
		t.Errorf("/readyz: %d %q", status, body)
	}
	stop()
}

func TestAnAddressInUseIsOneError(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	a := daemon(t, filepath.Join(t.TempDir(), "gullet.db"), "")
	a.Config.Listen.Address = l.Addr().String()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	if err := a.Run(ctx); err == nil || !strings.Contains(err.Error(), "listen for HTTP") || !strings.Contains(err.Error(), l.Addr().String()) {
		t.Errorf("error %v", err)
	}
}

// TestDamageInTheMiddleIsSeen spoils a page that nothing reads at the start.
func TestDamageInTheMiddleIsSeen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "gullet.db")
	db, err := store.Open(t.Context(), store.Options{Path: path})
	if err != nil {
		t.Fatal(err)
	}
	batch := make([]analyze.Arrival, 8000)
	for i := range batch {
		at := time.Now().Add(time.Duration(i-len(batch)) * time.Minute)
		seconds, square := 60.0, 28.0
		batch[i].Reading = &analyze.Reading{Saw: "s1", Kind: analyze.KindCut, ID: fmt.Sprint(i), At: at, Received: at,
			Cut: &analyze.Cut{Seconds: &seconds, Square: &square, Count: 1, Purpose: analyze.PurposePart}}
	}
	if _, err := db.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	info, err := file.Stat()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := file.WriteAt(make([]byte, 4096), info.Size()/2/4096*4096); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}

	r, stop := run(t, daemon(t, path, ""))
	defer stop()
	waitFor(t, "the damage to be found", func() bool {
		code, body := get(t, r, "/readyz")
		return code == http.StatusServiceUnavailable && strings.Contains(body, "is damaged")
	})
}
