package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/foretell"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/publish"
	"gullet/store"
)

const (
	planDays       = 7 // that the published plan looks ahead, as gullet plan does
	publishTimeout = 30 * time.Second
	publishWindow  = 10 // forecasts on their way unacknowledged
)

// planner makes a plan of what the database holds, and says by which shifts.
type planner func(ctx context.Context, db *store.Store, now time.Time) (*planning.Report, *shift.Calendar, error)

// teller makes, keeps and, where the shop wants it, publishes the forecasts of a shift.
func (a *App) teller(brokerURL string, db *store.Store, ready func() bool) *foretell.Teller {
	plan := a.planner
	if plan == nil {
		plan = a.plan
	}
	t := &foretell.Teller{
		Now: a.Now, Ready: ready, Log: a.Log,
		Plan: func(ctx context.Context, now time.Time) (*planning.Report, *shift.Calendar, error) {
			return plan(ctx, db, now)
		},
	}
	t.Use = append(t.Use, func(ctx context.Context, r *planning.Report) error { return r.Keep(ctx, db) })
	if a.Config.MQTT.PublishForecasts {
		t.Use = append(t.Use, func(ctx context.Context, r *planning.Report) error { return a.publish(ctx, brokerURL, r) })
	}
	return t
}

func (a *App) plan(ctx context.Context, db *store.Store, now time.Time) (*planning.Report, *shift.Calendar, error) {
	in, err := planning.Gather(ctx, db, a.Config, now, planDays)
	if err != nil {
		return nil, nil, err
	}
	report := planning.Build(in)
	return report, in.Calendar, nil // Build looks for the shifts where none are configured
}

// publish puts each saw's part of the plan on its topic, to be kept by the broker.
// It has a connection of its own, so that readings wait for nothing.
func (a *App) publish(ctx context.Context, brokerURL string, r *planning.Report) (err error) {
	ctx, cancel := context.WithTimeout(ctx, publishTimeout)
	defer cancel()
	m := a.Config.MQTT
	p, err := publish.Connect(ctx, publish.Options{
		Broker: brokerURL, ClientID: m.ClientID + "-forecasts", User: m.User, Password: a.Password, TLS: a.TLS, Window: publishWindow,
	})
	if err != nil {
		return fmt.Errorf("publish forecasts: %w", err)
	}
	defer func() { err = errors.Join(err, p.Close(ctx)) }()
	for i := range r.Saws {
		s := &r.Saws[i]
		payload, err := foretell.Payload(r, s, a.Caution)
		if err != nil {
			return err
		}
		if err := p.Send(ctx, foretell.Topic(s.Saw), payload, true); err != nil {
			return err
		}
	}
	return nil
}
