package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"time"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/publish"
	"gullet/cmd/gullet/internal/sim"
)

func (p *program) simulateCommand() *cobra.Command {
	var (
		days   int
		seed   uint64
		start  string
		faults bool
	)
	c := &cobra.Command{
		Use:   "simulate",
		Short: "Write the messages of an invented shop as JSON lines",
		Long: "Writes one JSON object a line, {\"topic\":…,\"payload\":…,\"retain\":…}, from a model whose truth is\n" +
			"known. The same seed, start and days give the same bytes.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			from, err := parseStart(start)
			if err != nil {
				return usageError{err}
			}
			if days < 1 || days > 3660 {
				return usageError{fmt.Errorf("--days is %d, allowed is 1 to 3660", days)}
			}
			shop := sim.New(sim.Options{Seed: seed, Start: from, Days: days, Zone: time.UTC, Faults: faults})
			return writeLines(c.Context(), p.out, shop)
		},
	}
	c.Flags().IntVar(&days, "days", 60, "`DAYS` of work")
	c.Flags().Uint64Var(&seed, "seed", 1, "`SEED` of the random numbers")
	c.Flags().StringVar(&start, "start", "2026-01-05", "first `DAY`, YYYY-MM-DD")
	c.Flags().BoolVar(&faults, "faults", true, "with duplicates, late readings, a wrong clock, a guide fault and the like")
	return c
}

func parseStart(s string) (time.Time, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return t, fmt.Errorf("--start is %q, allowed is a day as YYYY-MM-DD", s)
	}
	return t, nil
}

func writeLines(ctx context.Context, out io.Writer, shop *sim.Shop) error {
	w := bufio.NewWriter(out)
	for {
		line, ok := shop.Next()
		if !ok || ctx.Err() != nil {
			return errors.Join(w.Flush(), ctx.Err())
		}
		if err := sim.Write(w, line); err != nil {
			return fmt.Errorf("write messages: %w", err)
		}
	}
}

// replayWindow is how many messages a replay has on their way at once.
const replayWindow = 500

func (p *program) replayCommand() *cobra.Command {
	var factor float64
	c := &cobra.Command{
		Use:   "replay FILE",
		Short: "Publish JSON lines, as simulate writes them, to a broker",
		Long: "Publishes each line's payload on its topic, in order. With --factor F it keeps the pace of the\n" +
			"payloads' own times (\"at\"), F times as fast; without, as fast as the broker takes them. FILE - is\n" +
			"standard input.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if !(factor >= 0) || math.IsInf(factor, 0) {
				return usageError{fmt.Errorf("--factor is %v, allowed is 0 (no pacing) or more", factor)}
			}
			in, closeIn, err := p.openInput(args[0])
			if err != nil {
				return err
			}
			defer closeIn()
			return p.replay(c, in, args[0], factor)
		},
	}
	c.Flags().Float64Var(&factor, "factor", 0, "pace `F`: 1 as it happened, 60 an hour a minute, 0 at once")
	overridable(c, flagBroker)
	c.Flags().Lookup(flagBroker).Usage = "broker `URL`; none is the embedded one of a running daemon (mqtt.embedded_listen)"
	return c
}

func (p *program) openInput(name string) (io.Reader, func(), error) {
	if name == "-" {
		return p.in, func() {}, nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, nil, fmt.Errorf("open messages: %w", err)
	}
	return f, func() { _ = f.Close() }, nil
}

func (p *program) replay(c *cobra.Command, in io.Reader, name string, factor float64) error {
	cfg, err := p.config(c)
	if err != nil {
		return err
	}
	broker, shown := cfg.MQTT.Broker, cfg.MQTT.BrokerShown()
	if broker == "" {
		broker = "mqtt://" + cfg.MQTT.EmbeddedListen
		shown = broker
	}
	if name == "-" {
		name = "standard input"
	}
	access, err := brokerAccess(cfg)
	if err != nil {
		return err
	}
	ctx := c.Context()
	pub, err := publish.Connect(ctx, publish.Options{
		Broker: broker, ClientID: fmt.Sprintf("gullet-replay-%d", os.Getpid()),
		User: cfg.MQTT.User, Password: access.password, TLS: access.tls, Window: replayWindow,
	})
	if err != nil {
		return fmt.Errorf("replay to %s: %w", shown, err)
	}
	sent := 0
	pace := pacer{factor: factor}
	for line, err := range sim.ReadLines(in) {
		if err != nil {
			return errors.Join(fmt.Errorf("%s: %w (%d messages before it were published)", name, err, sent), pub.Close(ctx))
		}
		if err := pace.wait(ctx, happened(line.Payload)); err != nil {
			return errors.Join(err, pub.Close(ctx))
		}
		if err := pub.Send(ctx, line.Topic, line.Payload, line.Retain); err != nil {
			return err
		}
		sent++
	}
	if err := pub.Close(ctx); err != nil {
		return err
	}
	_, err = fmt.Fprintf(p.out, "%d messages published to %s\n", sent, shown)
	return err
}

// happened is a payload's own time, zero when it has none that can be read: a
// message of bad input is sent all the same.
func happened(payload []byte) time.Time {
	var p struct {
		At time.Time `json:"at"`
	}
	if err := json.Unmarshal(payload, &p); err != nil {
		return time.Time{}
	}
	return p.At
}

// pacer holds messages back so that they leave in the rhythm of their own
// times, factor times as fast. Times that do not move on are not waited for.
type pacer struct {
	factor float64
	first  time.Time // of the first message
	began  time.Time
}

func (p *pacer) wait(ctx context.Context, at time.Time) error {
	if p.factor == 0 || at.IsZero() {
		return ctx.Err()
	}
	if p.first.IsZero() {
		p.first, p.began = at, time.Now()
	}
	due := time.Duration(float64(at.Sub(p.first)) / p.factor)
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(due - time.Since(p.began)):
		return nil
	}
}
