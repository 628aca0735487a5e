package vigil

import (
	"context"
	"fmt"
	"time"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/floor"
)

// quickKinds are those of a quick look.
var quickKinds = []alert.Kind{
	alert.LimitReached, alert.RepeatedTrips, alert.BladeBreak, alert.EarlyEnd, alert.UnexplainedStop, alert.OutOfStock,
	alert.Silent, alert.ClockSkew, alert.Missing, alert.Rejected,
}

// Quick is what the newest floor and a few short queries tell of the whole shop. While
// Gullet hears no saw it must not be asked: all of them would look silent.
func (l *Looker) Quick(ctx context.Context, f *floor.Floor, now time.Time) (alert.Look, error) {
	q := &quick{Looker: l, ctx: ctx, floor: f, now: now, look: alert.Look{Kinds: quickKinds}}
	for _, find := range []func() error{q.passes, q.ended, q.stops, q.heard, q.gaps, q.rejected} {
		if err := find(); err != nil {
			return alert.Look{}, fmt.Errorf("quick look: %w", err)
		}
	}
	return q.look, nil
}

// quick is one quick look.
type quick struct {
	*Looker
	ctx   context.Context
	floor *floor.Floor
	now   time.Time
	look  alert.Look
}

func (q *quick) add(f alert.Fact) { q.look.Facts = append(q.look.Facts, f) }

// saw is that of a name; one that is not on the floor yet has told nothing.
func (q *quick) saw(name string) *floor.Saw {
	for i := range q.floor.Saws {
		if q.floor.Saws[i].Saw == name {
			return &q.floor.Saws[i]
		}
	}
	return &floor.Saw{Saw: name}
}

// when writes a time of a saw's clock as people read it.
func (q *quick) when(s *floor.Saw, at time.Time) string {
	return q.style().Moment(shopTime(s, at), q.now)
}
