package vigil

import (
	"context"
	"log/slog"
	"time"

	"gullet/analyze/alert"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/floor"
)

// Watch takes looks for as long as the daemon runs and has them decided on.
type Watch struct {
	Looks Looks
	Now   func() time.Time
	Floor func() *floor.Floor // the newest, nil before the first
	Ready func() bool         // readings come in
	Own   func() OwnState     // but for BrokerLost, which the watch tells itself
	// Standing are the conditions that stand, for the digest.
	Standing func() []alert.Condition
	// Decide holds looks against the rules; digest is nil where no shift begins.
	Decide func(ctx context.Context, looks []alert.Look, digest *alert.Digest, now time.Time) error
	Log    *slog.Logger

	lost    time.Time // since when no readings come in, zero while they do
	ready   time.Time // since when they do
	settled bool      // they once did for a while
	seen    *floor.Floor
	quickAt time.Time // of the last quick look
	slow    chan slowResult
	told    map[string]bool // shifts whose beginning was told
}

// Looks are a Looker's; a test has others.
type Looks interface {
	Quick(ctx context.Context, f *floor.Floor, deaf bool, now time.Time) (alert.Look, error)
	Slow(ctx context.Context, f *floor.Floor, now time.Time) (*Planned, error)
	Own(state OwnState, now time.Time) alert.Look
	Digest(ctx context.Context, p *Planned, turn *shift.Turn, standing []alert.Condition, now time.Time) (*alert.Digest, error)
}

type slowResult struct {
	look   alert.Look
	digest *alert.Digest
}

const (
	tick = time.Second
	// settle is how long readings must have come in before the shop is looked at: what the
	// broker had queued for a daemon that was away comes within seconds.
	settle = time.Minute
	// quickEvery is how often the shop is looked at when nothing new came: time passes in
	// stops and silences too.
	quickEvery = 10 * time.Second
	// slowEvery is how often plan and deviations are looked at, unless that takes more than
	// a twentieth of the time.
	slowEvery = 5 * time.Minute
	slowShare = 20
	// digestWithin is how long after a shift began its digest still helps.
	digestWithin = 30 * time.Minute
)

// Run looks until ctx ends. What fails is logged and tried again. A slow look never delays
// a quick one.
func (w *Watch) Run(ctx context.Context) {
	w.slow, w.told = make(chan slowResult, 1), map[string]bool{}
	asked := make(chan struct{}, 1)
	done := make(chan struct{})
	go func() { defer close(done); w.slowly(ctx, asked) }()
	t := time.NewTicker(tick)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			<-done
			return
		case <-t.C:
			w.once(ctx, asked)
		}
	}
}

// once takes the looks that are due.
func (w *Watch) once(ctx context.Context, asked chan<- struct{}) {
	now := w.Now()
	deaf := w.deaf(now)
	own := w.Own()
	own.BrokerLost = w.lost
	looks := []alert.Look{w.Looks.Own(own, now)}
	var digest *alert.Digest
	if f := w.Floor(); f != nil && w.settled {
		if f != w.seen || now.Sub(w.quickAt) >= quickEvery {
			look, err := w.Looks.Quick(ctx, f, deaf, now)
			switch {
			case err == nil:
				looks, w.seen, w.quickAt = append(looks, look), f, now
			case ctx.Err() == nil:
				w.Log.Error("shop not looked at, trying again", "error", err)
			}
		}
		if !deaf {
			select {
			case asked <- struct{}{}:
			default:
			}
		}
	}
	select {
	case r := <-w.slow:
		looks, digest = append(looks, r.look), r.digest
	default:
	}
	if err := w.Decide(ctx, looks, digest, now); err != nil && ctx.Err() == nil {
		w.Log.Error("conditions not decided on, trying again", "error", err)
	}
}

// deaf reports whether readings do not come in, or only since a moment ago.
func (w *Watch) deaf(now time.Time) bool {
	if !w.Ready() {
		if w.lost.IsZero() {
			w.lost = now
		}
		w.ready = time.Time{}
		return true
	}
	w.lost = time.Time{}
	if w.ready.IsZero() {
		w.ready = now
	}
	if now.Sub(w.ready) < settle {
		return true
	}
	w.settled = true
	return false
}

// slowly takes slow looks when they are due and asked for.
func (w *Watch) slowly(ctx context.Context, asked <-chan struct{}) {
	var last time.Time // of the daemon's clock
	var rest time.Time // of the machine's
	var turns map[string]shift.Turn
	var calendar *shift.Calendar
	for {
		select {
		case <-ctx.Done():
			return
		case <-asked:
		}
		now, f := w.Now(), w.Floor()
		begun := newTurns(calendar, f, turns, now)
		if !last.IsZero() && (now.Sub(last) < slowEvery || time.Now().Before(rest)) && !begun {
			continue
		}
		start := time.Now()
		p, err := w.Looks.Slow(ctx, f, now)
		took := time.Since(start)
		last, rest = now, start.Add(slowShare*took)
		if err != nil {
			if ctx.Err() == nil {
				w.Log.Error("plan and deviations not looked at, trying again", "error", err)
			}
			continue
		}
		calendar = p.Calendar
		turns = turnsAt(calendar, f, now)
		select {
		case w.slow <- slowResult{p.Look, w.digest(ctx, p, turns, now)}:
		case <-ctx.Done():
			return
		}
	}
}

// turnsAt are the shifts that run, by saw.
func turnsAt(c *shift.Calendar, f *floor.Floor, now time.Time) map[string]shift.Turn {
	turns := map[string]shift.Turn{}
	for i := range f.Saws {
		if turn, ok := c.At(f.Saws[i].Saw, now); ok && turn.Worked > 0 {
			turns[f.Saws[i].Saw] = turn
		}
	}
	return turns
}

// newTurns reports whether a shift of any saw has begun since turns were looked at.
func newTurns(c *shift.Calendar, f *floor.Floor, turns map[string]shift.Turn, now time.Time) bool {
	if c == nil {
		return false
	}
	for saw, turn := range turnsAt(c, f, now) {
		if !turn.Start.Equal(turns[saw].Start) {
			return true
		}
	}
	return false
}

// digest is what awaits a shift that has just begun, nil where none has. Of shifts that
// begin together, the first saw's is told.
func (w *Watch) digest(ctx context.Context, p *Planned, turns map[string]shift.Turn, now time.Time) *alert.Digest {
	for _, saw := range sortedNames(turns) {
		turn := turns[saw]
		key := turn.Name + turn.Start.UTC().Format(time.RFC3339)
		if w.told[key] || now.Sub(turn.Start) >= digestWithin {
			continue
		}
		d, err := w.Looks.Digest(ctx, p, &turn, w.Standing(), now)
		if err != nil {
			if ctx.Err() == nil {
				w.Log.Error("what awaits the shift not put together", "shift", turn.Name, "error", err)
			}
			return nil
		}
		w.told[key] = true
		return d
	}
	return nil
}
