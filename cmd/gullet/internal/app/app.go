// Package app is the daemon: it starts the parts in order, keeps them running
// and stops them in reverse.
//
// It knows how the parts hang together and nothing of what they do.
package app

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"path/filepath"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/broker"
	"gullet/cmd/gullet/internal/floor"
	"gullet/cmd/gullet/internal/metrics"
	"gullet/cmd/gullet/internal/watch"
	"gullet/config"
	"gullet/ingest"
	"gullet/store"
)

// App is one daemon.
type App struct {
	Config   *config.Config
	Store    store.Options
	Password string      // of the broker
	TLS      *tls.Config // nil for plain TCP
	Now      func() time.Time
	Log      *slog.Logger
	Caution  string // goes with every forecast and message that is published
	// Env looks up the environment variables that hold secrets of channels; nil for the
	// process's own.
	Env func(string) string
	// Prepare is called with the broker's URL before the daemon subscribes; nil
	// for nothing.
	Prepare func(broker string) error
	// Started is called once everything listens; nil for nobody.
	Started func(Running)

	damage  atomic.Pointer[error] // found in the database, nil for none
	planner planner               // nil for the shop's plan; a test makes a slow one
}

// Running says where a started daemon can be reached.
type Running struct {
	Broker string              // URL
	HTTP   string              // address
	Ready  func() bool         // the broker is connected and the subscriptions stand
	Taken  func() int64        // messages stored, known already or rejected so far
	Idle   func() bool         // the newest floor shows everything stored
	Floor  func() *floor.Floor // nil before the first
	// Standing are the conditions that stand, the worst first.
	Standing func() []alert.Condition
}

const shutdownTimeout = 5 * time.Second

// Run starts the daemon and stays until ctx ends or a part fails for good. By
// the time it returns everything received is committed, and what is not was
// not acknowledged.
func (a *App) Run(ctx context.Context) (err error) {
	db, err := store.Open(ctx, a.Store)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()

	brokerURL := a.Config.MQTT.Broker
	if brokerURL == "" {
		b, err := a.startBroker()
		if err != nil {
			return err
		}
		defer b.Stop()
		brokerURL = b.URL()
	}

	if a.Prepare != nil {
		if err := a.Prepare(brokerURL); err != nil {
			return err
		}
	}

	m := metrics.New()
	w := &watch.Watch{
		Source: db, Log: a.Log,
		Build: func(ctx context.Context) (*floor.Floor, error) { return floor.Build(ctx, db, a.Config, a.Now()) },
	}
	m.Watch(w.Newest, db.WALSize)
	var told *alerts
	standing := func() []alert.Condition { return nil }
	if a.Config.Alerts.Enabled {
		if told, err = a.alerts(brokerURL, db, m, w.Newest, func() bool { return w.UpToDate(ctx) }); err != nil {
			return err
		}
		standing = told.judge.Standing
	}
	listener, err := net.Listen("tcp", a.Config.Listen.Address)
	if err != nil {
		return fmt.Errorf("listen for HTTP: %w", err)
	}
	web := &http.Server{Handler: a.handler(m, w, db), ReadHeaderTimeout: 5 * time.Second}

	parts, ctx := errgroup.WithContext(ctx)
	parts.Go(func() error { w.Run(ctx); return nil })
	parts.Go(func() error { a.inspect(ctx, db); return nil })
	parts.Go(func() error { a.teller(brokerURL, db, m.BrokerConnected).Run(ctx); return nil })
	parts.Go(func() error { a.keepDays(ctx, db); return nil })
	if told != nil {
		told.run(ctx, a, db, parts)
	}
	parts.Go(func() error { a.session(brokerURL, db, m).Run(ctx); return nil })
	parts.Go(func() error {
		if err := web.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			return fmt.Errorf("serve HTTP: %w", err)
		}
		return nil
	})
	parts.Go(func() error {
		<-ctx.Done()
		stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownTimeout)
		defer cancel()
		return web.Shutdown(stop)
	})
	a.Log.Info("daemon started", "database", a.Store.Path, "http", listener.Addr().String())
	if a.Started != nil {
		a.Started(Running{
			Broker: brokerURL, HTTP: listener.Addr().String(),
			Ready: m.BrokerConnected, Taken: m.Taken, Idle: func() bool { return w.UpToDate(ctx) }, Floor: w.Newest, Standing: standing,
		})
	}
	return parts.Wait()
}

// inspect looks through the whole database once, beside the work: a damaged
// page would else be noticed only when somebody needs it.
func (a *App) inspect(ctx context.Context, db *store.Store) {
	if err := db.Inspect(ctx); err != nil && ctx.Err() == nil {
		a.damage.Store(&err)
		a.Log.Error("database checked", "error", err)
	}
}

func (a *App) startBroker() (*broker.Broker, error) {
	dir := a.Config.MQTT.EmbeddedDir
	if dir == "" {
		dir = filepath.Join(filepath.Dir(a.Store.Path), "broker")
	}
	b, err := broker.Start(broker.Options{
		Listen: a.Config.MQTT.EmbeddedListen, Dir: dir, Log: a.Log,
	})
	if err != nil {
		return nil, err
	}
	a.Log.Info("embedded broker started", "url", b.URL(), "files", dir)
	return b, nil
}

func (a *App) session(brokerURL string, sink ingest.Sink, o ingest.Observer) *ingest.Session {
	c := a.Config.MQTT
	return &ingest.Session{
		Broker: brokerURL, ClientID: c.ClientID, Topics: c.Topics,
		User: c.User, Password: a.Password, TLS: a.TLS, KeepAlive: c.Keepalive,
		Decoder: ingest.NewDecoder(DecoderOptions(a.Config)),
		Sink:    sink, Observer: o, Now: a.Now, Log: a.Log,
	}
}

// DecoderOptions is what the decoder is told of the configuration.
func DecoderOptions(c *config.Config) ingest.Options {
	return ingest.Options{
		MaxPayload: c.MQTT.MaxPayload, Oldest: c.MQTT.Oldest, Ahead: c.MQTT.Ahead,
		FromAxis: func(name string) bool {
			saw, _ := c.SawOf(name)
			return saw.MitreFromAxis
		},
	}
}
