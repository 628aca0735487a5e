package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/app"
	"gullet/cmd/gullet/internal/channel"
	"gullet/config"
	"gullet/store"
)

func (p *program) channelCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "channel",
		Short: "Where the shop is told, and whether that arrives",
		Args:  cobra.NoArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(p.channelStatusCommand(), p.channelTestCommand())
	return c
}

// statusSince is how far back messages are counted.
const statusSince = 24 * time.Hour

// channelState is how a channel fares, as programs are told it.
type channelState struct {
	Channel   string     `json:"channel"`
	Kind      string     `json:"kind"` // "" for one that is configured no more
	Waiting   int        `json:"waiting"`
	Oldest    *time.Time `json:"oldest_waiting"`
	Sent      int        `json:"sent_24h"`
	Dropped   int        `json:"dropped_24h"`
	LastSent  *time.Time `json:"last_sent"`
	Failed    int        `json:"failed_since"` // tries in vain since then
	LastError string     `json:"last_error"`
}

func (p *program) channelStatusCommand() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "status",
		Short: "What each channel took, what waits, and what went wrong last",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, db, err := p.reader(c)
			if err != nil {
				return err
			}
			states, err := channelStates(c.Context(), db, cfg.Channels, p.now())
			if err := errors.Join(err, db.Close()); err != nil {
				return err
			}
			if asJSON {
				return p.writeJSON(states)
			}
			return p.writeChannels(states, p.now().In(cfg.Calendar().Zone))
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON array")
	overridable(c, flagDB)
	return c
}

// channelStates are those of the configured channels and of others that messages wait for.
func channelStates(ctx context.Context, db *store.Store, channels []config.Channel, now time.Time) ([]channelState, error) {
	outbox, err := db.Outbox(ctx, now.Add(-statusSince))
	if err != nil {
		return nil, err
	}
	states := []channelState{}
	at := map[string]int{}
	for i := range channels {
		at[channels[i].Name] = len(states)
		states = append(states, channelState{Channel: channels[i].Name, Kind: channels[i].Kind})
	}
	for i := range outbox {
		o := &outbox[i]
		j, ok := at[o.Channel]
		if !ok {
			if o.Waiting == 0 {
				continue
			}
			j = len(states)
			states = append(states, channelState{Channel: o.Channel})
		}
		s := &states[j]
		s.Waiting, s.Sent, s.Dropped, s.Failed, s.LastError = o.Waiting, o.Sent, o.Dropped, o.Failed, o.LastError
		s.Oldest, s.LastSent = known(o.Oldest), known(o.LastSent)
	}
	return states, nil
}

// known is nil for no time.
func known(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

func (p *program) writeChannels(states []channelState, now time.Time) error {
	if len(states) == 0 {
		_, err := fmt.Fprintln(p.out, "no channel is configured ([[channel]]): conditions are kept and listed by gullet alerts, and nobody is told")
		return err
	}
	t := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	_, _ = fmt.Fprintln(t, "CHANNEL\tKIND\tSENT 24 h\tLAST SENT\tWAITING\tDROPPED 24 h\tFAILS")
	for i := range states {
		s := &states[i]
		last, waits, fails := "never", fmt.Sprint(s.Waiting), "no"
		if s.LastSent != nil {
			last = when(*s.LastSent, now)
		}
		if s.Oldest != nil {
			waits += ", the oldest since " + when(*s.Oldest, now)
		}
		if s.Failed > 0 {
			fails = fmt.Sprintf("%d tries in vain, last: %s", s.Failed, s.LastError)
		}
		kind := s.Kind
		if kind == "" {
			kind = "configured no more"
		}
		_, _ = fmt.Fprintf(t, "%s\t%s\t%d\t%s\t%s\t%d\t%s\n", s.Channel, kind, s.Sent, last, waits, s.Dropped, fails)
	}
	return t.Flush()
}

func (p *program) channelTestCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "test NAME",
		Short: "Send a message marked as a test",
		Long: "Sends a test message to a configured channel from here, past the daemon and its outbox, and says whether\n" +
			"it was taken. It counts nowhere.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			cfg, err := p.config(c)
			if err != nil {
				return err
			}
			var names []string
			for i := range cfg.Channels {
				names = append(names, cfg.Channels[i].Name)
				if cfg.Channels[i].Name == args[0] {
					return p.testChannel(c.Context(), cfg, &cfg.Channels[i])
				}
			}
			if len(names) == 0 {
				return misused(c, "no channel is configured ([[channel]])")
			}
			return misused(c, fmt.Sprintf("found %q, allowed is a configured channel: %s", args[0], strings.Join(names, ", ")))
		},
	}
	overridable(c, flagBroker)
	return c
}

func (p *program) testChannel(ctx context.Context, cfg *config.Loaded, to *config.Channel) error {
	daemon, err := p.daemon(cfg)
	if err != nil {
		return err
	}
	broker := cfg.MQTT.Broker
	if broker == "" {
		broker = "mqtt://" + cfg.MQTT.EmbeddedListen
	}
	sender, err := daemon.Sender(to, broker)
	if err != nil {
		return err
	}
	now := p.now()
	err = sender.Send(ctx, &alert.Message{
		Channel: to.Name, Key: "test/" + now.UTC().Format(time.RFC3339Nano), At: now, Expires: now, Test: true, Standing: map[string]int{},
	})
	var f *channel.Failure
	switch {
	case errors.As(err, &f) && f.Refused:
		return fmt.Errorf("channel %s refuses the message: %w", to.Name, err)
	case err != nil:
		return fmt.Errorf("channel %s does not take the message: %w", to.Name, err)
	}
	_, err = fmt.Fprintf(p.out, "channel %s took the test message\n", to.Name)
	return err
}

// daemon is the daemon of a configuration.
func (p *program) daemon(cfg *config.Loaded) (*app.App, error) {
	access, err := brokerAccess(cfg)
	if err != nil {
		return nil, err
	}
	return &app.App{
		Config: &cfg.Config, Store: storeOptions(cfg), Password: access.password, TLS: access.tls,
		Now: p.now, Caution: caution, Env: p.getenv, Log: p.logger(slog.LevelWarn),
	}, nil
}

// getenv looks up a variable of the environment.
func (p *program) getenv(name string) string {
	for _, v := range p.environ {
		if value, ok := strings.CutPrefix(v, name+"="); ok {
			return value
		}
	}
	return ""
}
