package vigil

import (
	"context"
	"math"
	"testing"
	"time"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/floor"
	"gullet/config"
)

// What was rejected before the first look came with a history: it raises nothing, and
// that there is nothing new closes nothing either in the first hour.
func TestRejectedBeforeTheFirstLookIsHistory(t *testing.T) {
	now := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name     string
		began    time.Duration // before now; 0 for not known
		rejected time.Duration // likewise, when one was rejected
		level    float64       // NaN is not known
		none     bool
	}{
		{"with the history", 10 * time.Minute, 20 * time.Minute, math.NaN(), false},
		{"since the first look", 10 * time.Minute, 5 * time.Minute, 1, false},
		{"hours after it", 5 * time.Hour, 20 * time.Minute, 1, false},
		{"hours after it, and none", 5 * time.Hour, 2 * time.Hour, 0, true},
		{"not known when that was", 0, 20 * time.Minute, 1, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := &Looker{Config: &config.Config{}, RejectedSince: func(_ context.Context, since time.Time) (int64, error) {
				if now.Add(-c.rejected).Before(since) {
					return 0, nil
				}
				return 1, nil
			}}
			if c.began > 0 {
				l.Began = now.Add(-c.began)
			}
			q := &quick{Looker: l, ctx: t.Context(), floor: &floor.Floor{}, now: now}
			if err := q.rejected(); err != nil {
				t.Fatal(err)
			}
			if c.none != (len(q.look.Facts) == 0) {
				t.Fatalf("found %+v", q.look.Facts)
			}
			if c.none {
				return
			}
			if f := q.look.Facts[0]; f.Kind != alert.Rejected || f.Level != c.level && !(math.IsNaN(f.Level) && math.IsNaN(c.level)) {
				t.Errorf("level %g, want %g", f.Level, c.level)
			}
		})
	}
}
