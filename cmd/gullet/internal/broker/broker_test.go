package broker

import (
	"log/slog"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"go.uber.org/goleak"
)

func start(t *testing.T, dir, listen string) *Broker {
	t.Helper()
	b, err := Start(Options{Listen: listen, Dir: dir, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func connect(t *testing.T, b *Broker, id string, handler mqtt.MessageHandler) mqtt.Client {
	t.Helper()
	o := mqtt.NewClientOptions().AddBroker(b.URL()).SetClientID(id).SetCleanSession(false).
		SetAutoReconnect(false).SetDefaultPublishHandler(handler)
	c := mqtt.NewClient(o)
	wait(t, c.Connect())
	return c
}

func wait(t *testing.T, token mqtt.Token) {
	t.Helper()
	if !token.WaitTimeout(5*time.Second) || token.Error() != nil {
		t.Fatalf("no answer from the broker: %v", token.Error())
	}
}

func TestQueuedReadingsSurviveARestart(t *testing.T) {
	dir := t.TempDir()
	b := start(t, dir, "127.0.0.1:0")
	listener := connect(t, b, "daemon", func(mqtt.Client, mqtt.Message) {})
	wait(t, listener.Subscribe("saws/+/+", 1, nil))
	listener.Disconnect(50)
	saw := connect(t, b, "saw", nil)
	wait(t, saw.Publish("saws/s1/cut", 1, false, "while the daemon was away"))
	saw.Disconnect(50)
	b.Stop()

	b = start(t, dir, "127.0.0.1:0")
	defer b.Stop()
	got := make(chan string, 1)
	listener = connect(t, b, "daemon", func(_ mqtt.Client, m mqtt.Message) { got <- string(m.Payload()) })
	defer listener.Disconnect(50)
	select {
	case s := <-got:
		if s != "while the daemon was away" {
			t.Errorf("got %q", s)
		}
	case <-time.After(5 * time.Second):
		t.Error("the queued reading did not come")
	}
}

func TestOversizeMessagesArePassedOn(t *testing.T) {
	b := start(t, t.TempDir(), "127.0.0.1:0")
	defer b.Stop()
	got := make(chan int, 1)
	c := connect(t, b, "c", func(_ mqtt.Client, m mqtt.Message) { got <- len(m.Payload()) })
	defer c.Disconnect(50)
	wait(t, c.Subscribe("saws/+/+", 1, nil))
	wait(t, c.Publish("saws/s1/cut", 1, false, make([]byte, 10<<20)))
	select {
	case n := <-got:
		if n != 10<<20 {
			t.Errorf("got %d bytes", n)
		}
	case <-time.After(10 * time.Second):
		t.Error("the 10 MB message did not come")
	}
}

func TestAddressInUseIsAnError(t *testing.T) {
	b := start(t, t.TempDir(), "127.0.0.1:0")
	defer b.Stop()
	taken := strings.TrimPrefix(b.URL(), "mqtt://")
	other, err := Start(Options{Listen: taken, Dir: t.TempDir(), Log: slog.New(slog.DiscardHandler)})
	if err == nil {
		other.Stop()
		t.Fatal("started on an address in use")
	}
	if !strings.Contains(err.Error(), "address already in use") {
		t.Errorf("error does not say why: %v", err)
	}
}

func TestStopLeavesNothingRunning(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	start(t, t.TempDir(), "127.0.0.1:0").Stop()
}
