// Package foretell makes the change plan when a shift begins, keeps its forecasts to be
// held against what comes, and hands it to whoever publishes it.
//
// It works beside the taking of readings and never waits for it, nor the other way
// round. It commands nothing: a plan is advice.
package foretell

import (
	"context"
	"log/slog"
	"time"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/planning"
)

// Teller makes a plan when a shift of any saw begins, and once at start for the shift
// that runs: of one blade and shift the first forecast kept stays.
type Teller struct {
	Now func() time.Time
	// Ready reports whether readings come in. A plan without them would be of how the
	// shop was when they last did, and its forecasts would be kept for good.
	Ready func() bool
	Plan  func(ctx context.Context, now time.Time) (*planning.Report, *shift.Calendar, error)
	// Use is what is done with each plan, in this order; an error ends it.
	Use []func(ctx context.Context, r *planning.Report) error
	Log *slog.Logger

	ready time.Time // since when readings come in; zero while they do not
	due   time.Time // when the next plan is made; zero before the first
}

const (
	// look is how often the clock is looked at.
	look = time.Second
	// settle is how long readings must have come in: what the broker had queued for a
	// daemon that was away comes within seconds.
	settle = time.Minute
	// again is when a plan that failed is made again, and when a shop in which no shift
	// is near is looked at again.
	again = 5 * time.Minute
	// ahead is how far ahead the next shift is looked for.
	ahead = 30 // days
)

// Run makes plans until ctx ends. What fails is logged and tried again.
func (t *Teller) Run(ctx context.Context) {
	tick := time.NewTicker(look)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			t.look(ctx)
		}
	}
}

// look makes a plan where one is due.
func (t *Teller) look(ctx context.Context) {
	now := t.Now()
	if !t.Ready() {
		t.ready = time.Time{}
		return
	}
	if t.ready.IsZero() {
		t.ready = now
	}
	if now.Before(t.due) || now.Sub(t.ready) < settle {
		return
	}
	next, err := t.tell(ctx, now)
	if err != nil {
		next = now.Add(again)
		if ctx.Err() == nil {
			t.Log.Error("forecasts of the shift not made, trying again", "at", next, "error", err)
		}
	}
	t.due = next
}

// tell makes a plan and says when the next is due.
func (t *Teller) tell(ctx context.Context, now time.Time) (time.Time, error) {
	report, calendar, err := t.Plan(ctx, now)
	if err != nil {
		return time.Time{}, err
	}
	for _, use := range t.Use {
		if err := use(ctx, report); err != nil {
			return time.Time{}, err
		}
	}
	next := nextStart(report, calendar, now)
	t.Log.Info("forecasts of the shift made", "saws", len(report.Saws), "next", next)
	return next, nil
}

// nextStart is when the next shift of any saw of the plan begins.
func nextStart(r *planning.Report, c *shift.Calendar, now time.Time) time.Time {
	var next time.Time
	for i := range r.Saws {
		for _, turn := range c.Turns(r.Saws[i].Saw, now, now.AddDate(0, 0, ahead)) {
			if turn.Start.After(now) && turn.Worked > 0 {
				if next.IsZero() || turn.Start.Before(next) {
					next = turn.Start
				}
				break
			}
		}
	}
	if next.IsZero() {
		return now.Add(again)
	}
	return next
}
