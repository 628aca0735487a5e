package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/app"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/publish"
	"gullet/cmd/gullet/internal/sim"
	"gullet/config"
)

const (
	demoDays    = 60             // of history before the live part
	demoOpens   = 10 * time.Hour // of the day: the live part begins in the early shift
	demoWindow  = 900
	demoRefresh = 5 * time.Second
)

func (p *program) demoCommand() *cobra.Command {
	d := demo{program: p}
	c := &cobra.Command{
		Use:   "demo",
		Short: "An invented shop of five saws, live, from broker to answers",
		Long: "Starts the daemon with its own broker and a new database in a temporary directory, publishes 60\n" +
			"days of an invented shop's messages over MQTT as fast as they are taken, then goes on live at a\n" +
			"factor, and shows the floor every five seconds.\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if !(d.factor > 0 && d.factor <= 3600) {
				return usageError{fmt.Errorf("--factor is %v, allowed is more than 0 and at most 3600", d.factor)}
			}
			return d.run(c)
		},
	}
	c.Flags().Float64Var(&d.factor, "factor", 60, "how fast the live part runs: 60 is an hour a minute")
	c.Flags().IntVar(&d.seconds, "seconds", 0, "stop after so many `SECONDS` of the live part, 0 for never")
	c.Flags().Uint64Var(&d.seed, "seed", 1, "seed of the invented shop")
	overridable(c, flagListen)
	return c
}

// demo is a daemon and the simulated saws that talk to it, in one process and
// on one simulated clock.
type demo struct {
	*program
	factor  float64
	seconds int
	seed    uint64

	clock   *demoClock
	opening time.Time // when the live part begins, by the simulated clock
	style   figures.Style
	shop    *sim.Shop
	next    *sim.Line // read from the shop and not sent yet
	sent    int64
}

func (d *demo) run(c *cobra.Command) error {
	dir, err := os.MkdirTemp("", "gullet-demo-")
	if err != nil {
		return fmt.Errorf("make the demo's directory: %w", err)
	}
	defer func() { _ = os.RemoveAll(dir) }()
	cfg, err := d.demoConfig(c, dir)
	if err != nil {
		return err
	}
	if d.style, err = shopStyle(&cfg.Config); err != nil {
		return err
	}
	d.opening = lastWorkday(d.now(), d.style.Zone).Add(demoOpens)
	d.clock = &demoClock{start: d.opening, factor: d.factor}
	d.shop = sim.New(sim.Options{
		Seed: d.seed, Start: d.opening.AddDate(0, 0, -demoDays), Zone: d.style.Zone, Faults: true,
	})

	ctx, cancel := context.WithCancel(c.Context())
	defer cancel()
	started := make(chan app.Running, 1)
	daemon := &app.App{
		Config: &cfg.Config, Store: storeOptions(cfg), Now: d.clock.now,
		Log:     d.logger(slog.LevelWarn),
		Caution: caution,
		Prepare: func(broker string) error { return d.publishRetained(ctx, broker) },
		Started: func(r app.Running) { started <- r },
	}
	parts, ctx := errgroup.WithContext(ctx)
	parts.Go(func() error { return daemon.Run(ctx) })
	parts.Go(func() error {
		defer cancel()
		select {
		case <-ctx.Done():
			return nil
		case r := <-started:
			if err := d.play(ctx, r); !errors.Is(err, context.Canceled) {
				return err
			}
			return nil
		}
	})
	return parts.Wait()
}

// demoConfig is the shipped example, in the demo's own directory and on
// addresses that are free.
func (d *demo) demoConfig(c *cobra.Command, dir string) (*config.Loaded, error) {
	file := filepath.Join(dir, "gullet.toml")
	if err := os.WriteFile(file, []byte(config.Example), 0o600); err != nil {
		return nil, fmt.Errorf("write the demo's configuration: %w", err)
	}
	d.configFile = file
	cfg, err := d.config(c)
	if err != nil {
		return nil, err
	}
	cfg.MQTT.Broker = "" // the demo's saws are invented; they talk to no shop's broker
	cfg.MQTT.EmbeddedListen = "127.0.0.1:0"
	cfg.MQTT.EmbeddedDir = filepath.Join(dir, "broker")
	cfg.Store.Path = filepath.Join(dir, "gullet.db")
	cfg.Channels = nil // those of the example lead nowhere
	if l, err := net.Listen("tcp", cfg.Listen.Address); err != nil {
		cfg.Listen.Address = "127.0.0.1:0"
	} else {
		_ = l.Close()
	}
	return cfg, nil
}

// lastWorkday is the beginning of the newest Monday to Friday up to now.
func lastWorkday(now time.Time, zone *time.Location) time.Time {
	y, m, day := now.In(zone).Date()
	t := time.Date(y, m, day, 0, 0, 0, 0, zone)
	for t.Weekday() == time.Saturday || t.Weekday() == time.Sunday {
		t = t.AddDate(0, 0, -1)
	}
	return t
}

func (d *demo) connect(ctx context.Context, broker string) (*publish.Publisher, error) {
	return publish.Connect(ctx, publish.Options{Broker: broker, ClientID: "demo-saws", Window: demoWindow})
}

// publishRetained publishes what the saws left on the broker before Gullet
// came: it is seen at subscribe, as state and not as events.
func (d *demo) publishRetained(ctx context.Context, broker string) error {
	pub, err := d.connect(ctx, broker)
	if err != nil {
		return err
	}
	for line := d.peek(); line != nil && line.Retain; line = d.peek() {
		if err := d.send(ctx, pub); err != nil {
			return errors.Join(err, pub.Close(ctx))
		}
	}
	return pub.Close(ctx)
}

// peek is the line that comes next, nil at the end.
func (d *demo) peek() *sim.Line {
	if d.next == nil {
		if line, ok := d.shop.Next(); ok {
			d.next = &line
		}
	}
	return d.next
}

func (d *demo) send(ctx context.Context, pub *publish.Publisher) error {
	line := d.next
	d.next = nil
	d.sent++
	return pub.Send(ctx, line.Topic, line.Payload, line.Retain)
}

func (d *demo) play(ctx context.Context, r app.Running) error {
	d.say("Gullet demo: an invented shop of five band saws, simulated time. No real saw is touched.\n"+
		"  broker   %s\n  metrics  http://%s/metrics\n", r.Broker, r.HTTP)
	if err := waitUntil(ctx, r.Ready); err != nil {
		return err
	}
	pub, err := d.connect(ctx, r.Broker)
	if err != nil {
		return err
	}
	err = d.history(ctx, pub, r)
	if err == nil {
		err = d.live(ctx, pub, r)
	}
	closing, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
	defer cancel()
	return errors.Join(err, pub.Close(closing))
}

// history publishes everything up to the opening at once.
func (d *demo) history(ctx context.Context, pub *publish.Publisher, r app.Running) error {
	began := time.Now()
	for line := d.peek(); line != nil && line.At.Before(d.opening); line = d.peek() {
		if err := d.send(ctx, pub); err != nil {
			return err
		}
	}
	if err := waitUntil(ctx, func() bool { return r.Taken() >= d.sent }); err != nil {
		return err
	}
	took := time.Since(began)
	d.say("%d days of history: %s messages published, taken and stored in %.1f s (%s a second)\n\n", demoDays,
		figures.Thousands(float64(d.sent)), took.Seconds(), figures.Thousands(float64(d.sent)/took.Seconds()))
	// The floor of the whole history, not one of the middle.
	return waitUntil(ctx, func() bool { return r.Idle() })
}

// live publishes in the rhythm of the simulated clock and shows the floor now
// and then.
func (d *demo) live(ctx context.Context, pub *publish.Publisher, r app.Running) error {
	d.clock.run()
	refresh := time.NewTicker(demoRefresh)
	defer refresh.Stop()
	end := make(<-chan time.Time)
	if d.seconds > 0 {
		end = time.After(time.Duration(d.seconds) * time.Second)
	}
	if err := d.show(r); err != nil {
		return err
	}
	for {
		line := d.peek()
		due := time.Duration(float64(line.At.Sub(d.clock.now())) / d.factor)
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-end:
			return d.show(r)
		case <-refresh.C:
			if err := d.show(r); err != nil {
				return err
			}
		case <-time.After(due):
			if err := d.send(ctx, pub); err != nil {
				return err
			}
		}
	}
}

func (d *demo) show(r app.Running) error {
	f := r.Floor()
	if f == nil {
		return nil
	}
	if err := f.Write(d.out, d.style); err != nil {
		return err
	}
	d.say("\n%s", standingText(r.Standing()))
	d.say("\n%s\n(simulated time, %g times as fast; Ctrl-C ends the demo)\n\n", caution, d.factor)
	return nil
}

// standingText lists in short what the daemon would tell the shop's channels.
func standingText(list []alert.Condition) string {
	if len(list) == 0 {
		return "No condition stands of which the shop would be told.\n"
	}
	var b strings.Builder
	fmt.Fprintf(&b, "The shop would be told (gullet alerts tells how sure that is, and what to check first):\n")
	for i := range list {
		where := ""
		if list[i].Saw != "" {
			where = list[i].Saw + " · "
		}
		fmt.Fprintf(&b, "  %-7s  %s%s\n", list[i].Severity, where, list[i].Words.What)
	}
	return b.String()
}

func (d *demo) say(format string, args ...any) { _, _ = fmt.Fprintf(d.out, format, args...) }

func waitUntil(ctx context.Context, done func() bool) error {
	for !done() {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(20 * time.Millisecond):
		}
	}
	return nil
}
