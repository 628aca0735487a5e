package app

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"gullet/analyze/alert"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/channel"
	"gullet/cmd/gullet/internal/floor"
	"gullet/cmd/gullet/internal/judge"
	"gullet/cmd/gullet/internal/metrics"
	"gullet/cmd/gullet/internal/publish"
	"gullet/cmd/gullet/internal/vigil"
	"gullet/config"
	"gullet/store"
)

// Senders makes what delivers to each of the shop's channels. Broker is the URL that
// topics are published to. An error names the channel, and no secret.
func (a *App) Senders(broker string) (map[string]channel.Sender, error) {
	senders := map[string]channel.Sender{}
	for i := range a.Config.Channels {
		c := &a.Config.Channels[i]
		sender, err := a.Sender(c, broker)
		if err != nil {
			return nil, err
		}
		senders[c.Name] = sender
	}
	return senders, nil
}

// Sender makes what delivers to a channel.
func (a *App) Sender(c *config.Channel, broker string) (channel.Sender, error) {
	template, err := a.template(c)
	if err != nil {
		return nil, err
	}
	env := a.Env
	if env == nil {
		env = os.Getenv
	}
	secrets, err := c.Secrets(env)
	if err != nil {
		return nil, err
	}
	switch c.Kind {
	case config.Webhook:
		return &channel.Webhook{URL: secrets.URL, Secret: secrets.Key, Shape: c.Shape, Template: template, Timeout: c.Timeout, Now: a.Now}, nil
	case config.Mail:
		return &channel.Mail{
			Server: c.Server, TLS: c.TLS, From: c.From, To: c.To, User: c.User, Password: secrets.Password, Template: template, Timeout: c.Timeout, Log: a.Log,
		}, nil
	}
	return &channel.Topic{Topic: c.Topic, Template: template, Publish: func(ctx context.Context, topic string, payload []byte, retained bool) error {
		return a.publishOne(ctx, broker, c.Name, topic, payload, retained)
	}}, nil
}

// template is how messages to a channel are written, tried on samples of all of them.
func (a *App) template(c *config.Channel) (*channel.Template, error) {
	shop := &channel.Shop{Zone: a.Config.Calendar().Zone, Link: a.Config.Alerts.Link, Caution: a.Caution}
	own := ""
	if c.Template != "" {
		b, err := os.ReadFile(c.Template)
		if err != nil {
			return nil, fmt.Errorf("channel %s: read template: %w", c.Name, err)
		}
		own = string(b)
	}
	t, err := channel.NewTemplate(shop, filepath.Base(c.Template), own)
	if err != nil {
		return nil, fmt.Errorf("channel %s: template: %w", c.Name, err)
	}
	return t, nil
}

// publishOne publishes on a connection of its own, so that readings wait for nothing.
func (a *App) publishOne(ctx context.Context, broker, name, topic string, payload []byte, retained bool) (err error) {
	ctx, cancel := context.WithTimeout(ctx, publishTimeout)
	defer cancel()
	m := a.Config.MQTT
	p, err := publish.Connect(ctx, publish.Options{
		Broker: broker, ClientID: m.ClientID + "-" + name, User: m.User, Password: a.Password, TLS: a.TLS, Window: 1,
	})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.Close(ctx)) }()
	return p.Send(ctx, topic, payload, retained)
}

// outbox is the store's, one channel at a time.
type outbox struct{ *store.Store }

func (o outbox) Due(ctx context.Context, name string, now time.Time) (*channel.Waiting, error) {
	rows, err := o.Store.Due(ctx, now, 1)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(rows, func(r store.OutboxRow) bool { return r.Channel == name })
	if i < 0 {
		return nil, nil
	}
	return &channel.Waiting{Message: rows[i].Message, Tries: rows[i].Tries, NextTry: rows[i].NextTry, LastWhy: rows[i].LastError}, nil
}

// alerts are the parts that find, decide and deliver what the shop is told.
type alerts struct {
	judge     *judge.Judge
	deliverer *channel.Deliverer
	watch     *vigil.Watch
}

// alerts puts them together. Newest is the newest floor, and idle whether it shows
// everything stored.
func (a *App) alerts(broker string, db *store.Store, m *metrics.Metrics, newest func() *floor.Floor, idle func() bool) (*alerts, error) {
	senders, err := a.Senders(broker)
	if err != nil {
		return nil, err
	}
	var channels []alert.Channel
	var names []string
	for i := range a.Config.Channels {
		channels, names = append(channels, a.Config.Channels[i].Channel), append(names, a.Config.Channels[i].Name)
	}
	d := &channel.Deliverer{Outbox: outbox{db}, Senders: senders, Now: a.Now, Random: rand.Float64, Outcome: m.Delivered, Log: a.Log}
	j := &judge.Judge{Store: db, Rules: a.Config.AlertRules(), Channels: channels, Wake: d.Wake, Log: a.Log}
	d.GivenUp = j.GivenUp
	free := func() (float64, error) { return vigil.DiskFree(filepath.Dir(a.Store.Path)) }
	l := &vigil.Looker{Store: db, Config: a.Config, RejectedSince: db.RejectedSince}
	var lost lostSince
	w := &vigil.Watch{
		Now: a.Now, Ready: m.BrokerConnected, Idle: idle, Floor: newest, Slow: l.Slow,
		Quick: func(ctx context.Context, f *floor.Floor, now time.Time) (alert.Look, error) {
			if l.Began.IsZero() {
				l.Began = now
			}
			return l.Quick(ctx, f, now)
		},
		Own: func(now time.Time) alert.Look {
			return l.Own(vigil.OwnState{BrokerLost: lost.at(m.BrokerConnected(), now), Free: free, Database: a.trouble(m), Failing: d.Failing()}, now)
		},
		Digest: func(ctx context.Context, p *vigil.Planned, turn *shift.Turn, now time.Time) (*alert.Digest, error) {
			return l.Digest(ctx, p, turn, j.Standing(), now)
		},
		Decide: j.Decide, Log: a.Log,
	}
	m.WatchAlerts(&metrics.Alerts{
		Channels: names, Standing: j.Standing, Failing: d.Failing, Waiting: func() (map[string]int, error) { return waiting(db, a.Now()) },
		DiskFree: func() (float64, error) { percent, err := free(); return percent / 100, err },
	})
	return &alerts{j, d, w}, nil
}

// lostSince is since when the broker is not there, zero while it is. One goroutine asks.
type lostSince struct{ since time.Time }

func (l *lostSince) at(connected bool, now time.Time) time.Time {
	switch {
	case connected:
		l.since = time.Time{}
	case l.since.IsZero():
		l.since = now
	}
	return l.since
}

// trouble is why readings cannot be stored, or what is damaged; nil for nothing.
func (a *App) trouble(m *metrics.Metrics) error {
	if err := a.damage.Load(); err != nil {
		return *err
	}
	if !m.BrokerConnected() {
		return nil // that is the broker's trouble
	}
	return m.Failing()
}

// waiting is how many messages wait by channel.
func waiting(db *store.Store, now time.Time) (map[string]int, error) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	states, err := db.Outbox(ctx, now)
	n := map[string]int{}
	for i := range states {
		n[states[i].Channel] = states[i].Waiting
	}
	return n, err
}

// run runs the parts until ctx ends.
func (p *alerts) run(ctx context.Context, a *App, db *store.Store, parts *errgroup.Group) {
	parts.Go(func() error {
		if err := dropOthers(ctx, db, a.Config.Channels, a.Now()); err != nil && ctx.Err() == nil {
			a.Log.Error("messages to channels that are no more not dropped", "error", err)
		}
		var both sync.WaitGroup
		both.Go(func() { p.deliverer.Run(ctx) })
		both.Go(func() { p.watch.Run(ctx) })
		both.Wait()
		return nil
	})
}

// dropOthers gives up what waits for channels that the shop has no more.
func dropOthers(ctx context.Context, db *store.Store, channels []config.Channel, now time.Time) error {
	rows, err := db.Due(ctx, now.AddDate(100, 0, 0), 1_000_000)
	for i := range rows {
		if err != nil {
			break
		}
		if !slices.ContainsFunc(channels, func(c config.Channel) bool { return c.Name == rows[i].Channel }) {
			err = db.Drop(ctx, rows[i].ID, now, "the channel is configured no more")
		}
	}
	return err
}
