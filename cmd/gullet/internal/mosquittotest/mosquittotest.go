// Package mosquittotest starts a real Mosquitto for a test.
package mosquittotest

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// Required names the variable that makes a missing Mosquitto a failure instead
// of a skip; .ci/run sets it, so that a check that did not run cannot pass.
const Required = "REQUIRE_MOSQUITTO"

// Broker is a Mosquitto of the test's own on loopback, with persistence.
type Broker struct {
	URL  string
	t    testing.TB
	conf string
	path string
	cmd  *exec.Cmd
}

// Start starts a broker with the given extra lines of configuration, or skips
// the test where Mosquitto is not installed.
func Start(t testing.TB, extra ...string) *Broker {
	t.Helper()
	path, err := find()
	if err != nil {
		if os.Getenv(Required) != "" {
			t.Fatalf("%s is set and Mosquitto is missing: %v", Required, err)
		}
		t.Skip("SKIPPED, not checked: Mosquitto is not installed (apt-get install mosquitto)")
	}
	dir := t.TempDir()
	port := freePort(t)
	lines := append([]string{
		fmt.Sprintf("listener %d 127.0.0.1", port),
		"allow_anonymous true",
		"persistence true",
		"persistence_location " + dir + "/",
		"user root",
		"max_queued_messages 0",
		"log_type error",
	}, extra...)
	b := &Broker{
		URL: fmt.Sprintf("mqtt://127.0.0.1:%d", port),
		t:   t, path: path, conf: filepath.Join(dir, "mosquitto.conf"),
	}
	if err := os.WriteFile(b.conf, []byte(strings.Join(lines, "\n")+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	b.Run()
	t.Cleanup(b.Stop)
	return b
}

func find() (string, error) {
	if path, err := exec.LookPath("mosquitto"); err == nil {
		return path, nil
	}
	return exec.LookPath("/usr/sbin/mosquitto") // Debian's place, not on every user's PATH
}

// Run starts the stopped broker again on its address and files.
func (b *Broker) Run() {
	b.t.Helper()
	b.cmd = exec.Command(b.path, "-c", b.conf)
	b.cmd.Stderr = os.Stderr
	if err := b.cmd.Start(); err != nil {
		b.t.Fatalf("start Mosquitto: %v", err)
	}
	for range 200 {
		c, err := net.Dial("tcp", strings.TrimPrefix(b.URL, "mqtt://"))
		if err == nil {
			_ = c.Close()
			return
		}
		time.Sleep(25 * time.Millisecond)
	}
	b.t.Fatal("Mosquitto does not listen")
}

// Stop ends the broker in order, so that it saves what it holds.
func (b *Broker) Stop() {
	if b.cmd == nil {
		return
	}
	_ = b.cmd.Process.Signal(syscall.SIGTERM)
	_ = b.cmd.Wait()
	b.cmd = nil
}

func freePort(t testing.TB) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().(*net.TCPAddr).Port
}
