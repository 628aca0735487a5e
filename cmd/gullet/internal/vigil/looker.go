package vigil

import (
	"context"
	"math"
	"sync/atomic"
	"time"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/floor"
	"gullet/config"
	"gullet/store"
)

// Looker looks over one shop. Quick and Slow may run beside each other, but neither
// beside itself.
type Looker struct {
	Store  *store.Store
	Config *config.Config
	// RejectedSince counts the messages that were rejected since a time.
	RejectedSince func(ctx context.Context, since time.Time) (int64, error)
	// Began is when the shop was first looked at: messages rejected before came with a
	// backlog or a history. The zero time leaves none out.
	Began time.Time

	ends  map[int64]ended    // by fitting, as judged last
	stops map[string]stopped // by saw, as looked at last
	// What the last slow look knew: the shifts in which the saws cut, where none are
	// configured, and the trip limits over the height of the cut that past trips told.
	shifts atomic.Pointer[shift.Calendar]
	limits atomic.Pointer[map[string]float64]
}

const (
	// late is how long after it happened a reading may come and still be of the present:
	// what comes later is history that somebody had kept.
	late = 5 * time.Minute
	// draining is how long after the last piece of history more of it is expected.
	draining = time.Minute
	// clockMost is how far off a clock may be. Beyond that it is history played back, each
	// minute as late as the one before, that looks like a slow clock.
	clockMost = 24 * time.Hour
)

func (l *Looker) style() figures.Style {
	return figures.Style{Zone: l.Config.Calendar().Zone, Metric: l.Config.Shop.Units == "mm"}
}

// calendar is the shop's shifts, those that the last plan saw where none are configured;
// false where neither is known yet.
func (l *Looker) calendar() (*shift.Calendar, bool) {
	if c := l.shifts.Load(); c != nil {
		return c, true
	}
	c := l.Config.Calendar()
	return c, !c.IsDefault()
}

// skew is what is to be added to a time of the saw's clock.
func skew(s *floor.Saw) time.Duration {
	if s.ClockSkew == nil || math.Abs(s.ClockSkew.Seconds) > clockMost.Seconds() {
		return 0
	}
	return time.Duration(s.ClockSkew.Seconds * float64(time.Second))
}

// shopTime is a time of the saw's clock by the shop's, which nothing is ahead of.
func shopTime(s *floor.Saw, at time.Time) time.Time {
	at = at.Add(skew(s))
	if h := s.LastReading; h != nil && at.After(h.Received) {
		return h.Received
	}
	return at
}

// newest is when the newest reading of a saw happened; zero where there is none.
func newest(s *floor.Saw) time.Time {
	if s.LastReading == nil {
		return time.Time{}
	}
	return shopTime(s, s.LastReading.At)
}

// live reports whether the newest reading of a saw came when it happened. A silence or a
// standstill after it is of the present; after a reading that came as history it is not.
func live(s *floor.Saw) bool {
	return s.LastReading != nil && s.LastReading.Received.Sub(newest(s)) <= late
}

// drains reports whether history of a saw is coming in: what it does now is not known
// before all of it is there.
func drains(s *floor.Saw, now time.Time) bool {
	return s.LastReading != nil && !live(s) && now.Sub(s.LastReading.Received) < draining
}

// present is the At of what still holds while nothing more is heard: the time of the look
// for a saw that was heard live, else when the newest of its history happened.
func present(s *floor.Saw) time.Time {
	if live(s) || s.LastReading == nil {
		return time.Time{}
	}
	return newest(s)
}

// path is that of the page of a saw.
func path(saw string) string { return "saw/" + saw }

var unknown = math.NaN()
