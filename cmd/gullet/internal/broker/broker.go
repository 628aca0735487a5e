// Package broker runs the MQTT broker that is built into Gullet, for a shop
// that has none and for the demo. What it has queued for the daemon survives a
// restart in files beside the database.
//
// It knows how to start, stop and find the broker; it knows nothing of what
// passes through it.
package broker

import (
	"cmp"
	"fmt"
	"log/slog"
	"net"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/nats-io/nats-server/v2/server"
)

// Options says where the broker listens and keeps its files.
type Options struct {
	Listen string // host:port; port 0 takes a free one
	Dir    string // kept between runs
	Log    *slog.Logger
}

// Broker is a running broker.
type Broker struct {
	server *server.Server
	addr   string
}

const (
	// window is how many readings may be on their way unacknowledged. Gullet
	// acknowledges after the commit, so a small window would be the limit of
	// its speed.
	window = 1000
	// ackWait is how long the broker waits for an acknowledgement before it
	// delivers again. After a kill that is how long the readings of a whole
	// window hang before anything moves on, so it is short; a reading whose
	// commit takes longer comes twice and counts once.
	ackWait = 3 * time.Second
	// syncInterval is how long a reading may be in the system's hands before it
	// is on the disk. Only a power failure can lose it, and only when the
	// daemon, which commits within milliseconds, has not stored it yet.
	// Writing each one through takes 4,000 instead of 44,000 readings a second
	// from the saws and hands on 900.
	syncInterval = 100 * time.Millisecond
	readyTimeout = 10 * time.Second
	// maxMessage is larger than what the daemon accepts, so that an oversize
	// message reaches it and is kept as rejected instead of ending the saw's
	// connection.
	maxMessage = 16 << 20
	// streamLimit bounds what is queued on disk while nobody reads.
	streamLimit = 4 << 30
	// streamMemory bounds JetStream's own memory; the MQTT sessions live in files.
	streamMemory = 32 << 20
)

// Start starts the broker and waits until it takes connections.
func Start(o Options) (*Broker, error) {
	host, portText, err := net.SplitHostPort(o.Listen)
	if err != nil {
		return nil, fmt.Errorf("embedded broker: listen address %q: %w", o.Listen, err)
	}
	port, err := strconv.Atoi(portText)
	if err != nil {
		return nil, fmt.Errorf("embedded broker: port %q is not a number", portText)
	}
	if port == 0 {
		port = server.RANDOM_PORT
	}
	opts := &server.Options{
		ServerName:         "gullet",
		DontListen:         true, // only MQTT is offered
		NoSigs:             true,
		MaxPayload:         maxMessage,
		MaxPending:         4 * maxMessage,
		JetStream:          true,
		StoreDir:           o.Dir,
		JetStreamMaxStore:  streamLimit,
		JetStreamMaxMemory: streamMemory,
		SyncInterval:       syncInterval,
		MQTT:               server.MQTTOpts{Host: host, Port: port, MaxAckPending: window, AckWait: ackWait},
	}
	srv, err := server.NewServer(opts)
	if err != nil {
		return nil, fmt.Errorf("embedded broker: %w", err)
	}
	log := &logger{log: o.Log}
	srv.SetLoggerV2(log, false, false, false)
	srv.Start()
	b := &Broker{server: srv}
	if log.fatal() != "" || !srv.ReadyForConnections(readyTimeout) {
		b.Stop()
		return nil, fmt.Errorf("embedded broker on %s, files in %s: %s", o.Listen, o.Dir, cmp.Or(log.fatal(), "not ready in time"))
	}
	b.addr = net.JoinHostPort(host, strconv.Itoa(opts.MQTT.Port))
	return b, nil
}

// URL is where clients reach the broker.
func (b *Broker) URL() string { return "mqtt://" + b.addr }

// Stop ends the broker and waits for its files to be closed.
func (b *Broker) Stop() {
	b.server.Shutdown()
	b.server.WaitForShutdown()
}

// logger passes on what the broker says, and keeps its first fatal word: the
// library expects a logger that ends the process there.
type logger struct {
	log   *slog.Logger
	first atomic.Pointer[string]
}

func (l *logger) fatal() string {
	if s := l.first.Load(); s != nil {
		return *s
	}
	return ""
}

func (l *logger) Fatalf(format string, v ...any) {
	s := fmt.Sprintf(format, v...)
	l.first.CompareAndSwap(nil, &s)
}
func (l *logger) Errorf(format string, v ...any) {
	l.log.Error("broker: " + fmt.Sprintf(format, v...))
}

// Warnf carries the library's advice on settings, which are chosen on purpose.
func (l *logger) Warnf(format string, v ...any) { l.log.Debug("broker: " + fmt.Sprintf(format, v...)) }

func (l *logger) Noticef(format string, v ...any) {
	l.log.Debug("broker: " + fmt.Sprintf(format, v...))
}
func (l *logger) Debugf(string, ...any) {}
func (l *logger) Tracef(string, ...any) {}
