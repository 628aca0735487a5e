package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"syscall"
	"testing"
	"time"

	"gullet/cmd/gullet/internal/mosquittotest"
	"gullet/cmd/gullet/internal/publish"
)

// These tests hold the one promise that everything else stands on: whatever
// is killed in between, every reading is stored once. The readings are
// numbered, so that a lost one and a doubled one both show.
const (
	killSaws  = 5
	killTimes = 10
)

// killArea is the square area of the section the numbered cuts are made in,
// RD6: pi/4 × 6².
const killArea = 28.274333882308138

// daemon is a real gullet process.
type daemon struct {
	t    testing.TB
	args []string
	http string
	log  bytes.Buffer
	cmd  *exec.Cmd
}

func newDaemon(t testing.TB, config, db string, args ...string) *daemon {
	t.Helper()
	d := &daemon{t: t, http: freeAddress(t)}
	d.args = append([]string{"run", "--config", config, "--db", db, "--listen", d.http}, args...)
	t.Cleanup(func() {
		if d.cmd != nil {
			_ = d.cmd.Process.Kill()
			_ = d.cmd.Wait()
		}
		if t.Failed() {
			t.Logf("the daemon said:\n%s", d.log.Bytes()[max(0, d.log.Len()-4000):])
		}
	})
	return d
}

func (d *daemon) start() {
	d.t.Helper()
	d.cmd = exec.Command("gullet", d.args...)
	d.cmd.Stderr = &d.log
	if err := d.cmd.Start(); err != nil {
		d.t.Fatal(err)
	}
}

func (d *daemon) stop(signal os.Signal) {
	d.t.Helper()
	_ = d.cmd.Process.Signal(signal)
	err := d.cmd.Wait()
	if signal == syscall.SIGTERM && err != nil {
		d.t.Errorf("SIGTERM did not end the daemon in order: %v", err)
	}
	d.cmd = nil
}

func (d *daemon) waitReady() {
	d.t.Helper()
	for range 2000 {
		r, err := http.Get("http://" + d.http + "/readyz")
		if err == nil {
			_ = r.Body.Close()
			if r.StatusCode == http.StatusOK {
				return
			}
		}
		time.Sleep(10 * time.Millisecond)
	}
	d.t.Fatal("the daemon does not get ready")
}

func freeAddress(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().String()
}

// publishNumbered publishes n cuts, numbered from 1 for each saw.
func publishNumbered(t *testing.T, broker string, n int) error {
	ctx := t.Context()
	pub, err := publish.Connect(ctx, publish.Options{Broker: broker, ClientID: "numbered", Window: 200})
	if err != nil {
		return err
	}
	start := time.Now().Add(-time.Hour).UTC()
	for i := range n {
		saw, seq := i%killSaws+1, i/killSaws+1
		payload := fmt.Sprintf(`{"id":"%d-%d","seq":%d,"at":%q,"seconds":60,"section":"RD6","grade":"1018","band_speed":250}`,
			saw, seq, seq, start.Add(time.Duration(i)*time.Millisecond).Format(time.RFC3339Nano))
		if err := pub.Send(ctx, fmt.Sprintf("saws/s%d/cut", saw), []byte(payload), false); err != nil {
			return err
		}
	}
	return pub.Close(ctx)
}

// publishDuring publishes n cuts in the background while disturb runs, and
// then waits until the broker has them all.
func publishDuring(t *testing.T, broker string, n int, disturb func()) {
	t.Helper()
	var published sync.WaitGroup
	published.Go(func() {
		if err := publishNumbered(t, broker, n); err != nil {
			t.Errorf("publish: %v", err)
		}
	})
	disturb()
	published.Wait()
}

// killing kills and starts the daemon at random moments.
func (d *daemon) killing(seed uint64, shortest, longest time.Duration) {
	random := rand.New(rand.NewPCG(seed, 0))
	for range killTimes {
		time.Sleep(shortest + time.Duration(random.Int64N(int64(longest-shortest))))
		d.stop(syscall.SIGKILL)
		d.start()
	}
}

// checkNumbered waits until n cuts are stored, stops the daemon and looks at
// every one: none lost, none twice, and the ledger counted each once.
func (d *daemon) checkNumbered(db string, n int) {
	t := d.t
	t.Helper()
	for deadline := time.Now().Add(3 * time.Minute); d.stored(db) < n && time.Now().Before(deadline); {
		time.Sleep(100 * time.Millisecond)
	}
	d.waitReady() // a process just started would not know SIGTERM yet
	d.stop(syscall.SIGTERM)

	seen := map[string]int{}
	for _, row := range export(t, db, "cuts", "saw", "seq") {
		seen[row[0]+" "+row[1]]++
	}
	lost, twice := 0, 0
	for i := range n {
		switch seen[fmt.Sprintf("s%d %d", i%killSaws+1, i/killSaws+1)] {
		case 0:
			lost++
		case 1:
		default:
			twice++
		}
	}
	if lost > 0 || twice > 0 || len(seen) != n {
		t.Errorf("of %d readings %d lost, %d twice, %d different ones stored", n, lost, twice, len(seen))
	}
	var cuts, area float64
	for _, row := range export(t, db, "fittings", "cuts", "area_in2") {
		cuts += number(t, row[0])
		area += number(t, row[1])
	}
	if want := float64(n) * killArea; int(cuts) != n || area < want*(1-1e-9) || area > want*(1+1e-9) {
		t.Errorf("the ledger counts %v cuts and %v in², want %d and %v", cuts, area, n, want)
	}
	if gaps := export(t, db, "gaps", "saw"); len(gaps) > 0 {
		t.Errorf("gaps in the numbering: %v", gaps)
	}
}

func (d *daemon) stored(db string) int {
	total := 0.0
	for _, row := range export(d.t, db, "fittings", "cuts") {
		total += number(d.t, row[0])
	}
	return int(total)
}

// export runs gullet export and returns the named columns.
func export(t testing.TB, db, what string, columns ...string) [][]string {
	t.Helper()
	var out, errOut bytes.Buffer
	p := &program{out: &out, errOut: &errOut, now: time.Now}
	if code := p.run(context.WithoutCancel(t.Context()), []string{"export", what, "--db", db}); code != exitOK {
		t.Fatalf("export %s: %s", what, errOut.String())
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	picked := make([][]string, 0, len(rows))
	for _, row := range rows[1:] {
		cells := make([]string, len(columns))
		for i, name := range columns {
			c := slices.Index(rows[0], name)
			if c < 0 {
				t.Fatalf("export %s has no column %q, only %q", what, name, rows[0])
			}
			cells[i] = row[c]
		}
		picked = append(picked, cells)
	}
	return picked
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// writeConfig writes a configuration of the test's own.
func writeConfig(t testing.TB, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "gullet.toml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestKilledDaemonLosesNothing(t *testing.T) {
	broker := mosquittotest.Start(t, "max_inflight_messages 1000")
	db := filepath.Join(t.TempDir(), "gullet.db")
	d := newDaemon(t, writeConfig(t, ""), db, "--broker", broker.URL)
	d.start()
	d.waitReady()
	publishDuring(t, broker.URL, numbered, func() { d.killing(1, 100*time.Millisecond, 700*time.Millisecond) })
	d.checkNumbered(db, numbered)
}

func TestRestartedBrokerLosesNothing(t *testing.T) {
	broker := mosquittotest.Start(t, "max_inflight_messages 1000")
	db := filepath.Join(t.TempDir(), "gullet.db")
	d := newDaemon(t, writeConfig(t, ""), db, "--broker", broker.URL)
	d.start()
	d.waitReady()
	publishDuring(t, broker.URL, numbered, func() {
		for range 3 {
			time.Sleep(700 * time.Millisecond)
			broker.Stop()
			broker.Run()
		}
	})
	d.checkNumbered(db, numbered)
}

func TestKilledEmbeddedBrokerLosesNothing(t *testing.T) {
	address := freeAddress(t)
	db := filepath.Join(t.TempDir(), "gullet.db")
	d := newDaemon(t, writeConfig(t, fmt.Sprintf("[mqtt]\nembedded_listen = %q\n", address)), db)
	d.start()
	d.waitReady()
	publishDuring(t, "mqtt://"+address, numbered, func() { d.killing(2, 200*time.Millisecond, time.Second) })
	d.checkNumbered(db, numbered)
}
