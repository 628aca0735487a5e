package vigil

import (
	"context"
	"log/slog"
	"time"

	"gullet/analyze/alert"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/floor"
)

// Watch looks over the shop again and again.
type Watch struct {
	Now func() time.Time
	// Ready reports whether readings come in, Idle whether the newest floor shows all that
	// is stored. Looks at the saws begin when readings have come in for a minute and the
	// backlog of a daemon that was away is through.
	Ready, Idle func() bool
	Floor       func() *floor.Floor // the newest, nil before the first
	Quick       func(ctx context.Context, f *floor.Floor, now time.Time) (alert.Look, error)
	Slow        func(ctx context.Context, f *floor.Floor, now time.Time) (*Planned, error)
	Own         func(now time.Time) alert.Look
	Digest      func(ctx context.Context, p *Planned, turn *shift.Turn, now time.Time) (*alert.Digest, error)
	// Decide takes what was found, the digest of a shift where one begins, else nil. Looks
	// that it fails on come again by themselves, a digest is handed over again.
	Decide func(ctx context.Context, looks []alert.Look, digest *alert.Digest, now time.Time) error
	Log    *slog.Logger

	ready   time.Time    // since when readings come in; zero while they do not
	settled bool         // looks at the saws have begun since then
	seen    *floor.Floor // of the last quick look
	owned   time.Time    // when Gullet itself was looked at last
	slowDue time.Time
	slowing bool // a slow look is under way
	digests []*alert.Digest
	begun   map[turnKey]bool // shifts whose digest was made
}

// turnKey tells shifts apart.
type turnKey struct {
	name  string
	start int64 // s, Unix
}

const (
	// tick is how often the clock is looked at, and the least time between two quick looks.
	tick = time.Second
	// settle is how long readings must have come in: what the broker had queued for a
	// daemon that was away comes within seconds.
	settle = time.Minute
	// patience is how long a backlog is waited for: in a shop that tells something all the
	// time the newest floor may never show all of it.
	patience = 10 * time.Minute
	// ownEvery is how often Gullet itself is looked at, and something decided at least.
	ownEvery = 5 * time.Second
	// slowEvery is the time between two slow looks, when no shift begins.
	slowEvery = 5 * time.Minute
	// digestWithin is how long after its beginning a shift may still get its digest.
	digestWithin = 30 * time.Minute
)

// planned is how a slow look went.
type planned struct {
	*Planned
	digests []*alert.Digest
	err     error
}

// Run looks until ctx ends. What fails is logged and done again.
func (w *Watch) Run(ctx context.Context) {
	w.begun = map[turnKey]bool{}
	clock := time.NewTicker(tick)
	defer clock.Stop()
	slow := make(chan planned, 1) // room for the one that is under way: it never waits
	for {
		select {
		case <-ctx.Done():
			if w.slowing {
				<-slow
			}
			return
		case p := <-slow:
			w.slowing = false
			w.take(ctx, p)
		case <-clock.C:
			w.look(ctx, slow)
		}
	}
}

// look does what is due.
func (w *Watch) look(ctx context.Context, slow chan<- planned) {
	now := w.Now()
	f := w.Floor()
	var looks []alert.Look
	if w.settle(now) && f != nil {
		if f != w.seen {
			looks = append(looks, w.quick(ctx, f, now)...)
		}
		if !w.slowing && !now.Before(w.slowDue) {
			w.slowing, w.slowDue = true, now.Add(slowEvery)
			go func() { slow <- w.plan(ctx, f, now) }()
		}
	}
	if now.Sub(w.owned) >= ownEvery {
		w.owned = now
		looks = append(looks, w.Own(now))
	}
	if len(looks) > 0 {
		w.decide(ctx, looks, now)
	}
}

// settle reports whether looks at the saws make sense.
func (w *Watch) settle(now time.Time) bool {
	if !w.Ready() {
		w.ready, w.settled = time.Time{}, false
		return false
	}
	if w.ready.IsZero() {
		w.ready = now
	}
	wait := now.Sub(w.ready)
	w.settled = w.settled || wait >= settle && (w.Idle() || wait >= patience)
	return w.settled
}

func (w *Watch) quick(ctx context.Context, f *floor.Floor, now time.Time) []alert.Look {
	look, err := w.Quick(ctx, f, now)
	if err != nil {
		w.failed(ctx, "quick look failed, trying again", err)
		return nil
	}
	w.seen = f
	return []alert.Look{look}
}

// plan is a slow look, with the digests of the shifts that have just begun. Only it
// touches begun while it is under way.
func (w *Watch) plan(ctx context.Context, f *floor.Floor, now time.Time) planned {
	p, err := w.Slow(ctx, f, now)
	if err != nil {
		return planned{err: err}
	}
	out := planned{Planned: p}
	for _, turn := range beginning(p, now) {
		key := turnKey{turn.Name, turn.Start.Unix()}
		if w.begun[key] {
			continue
		}
		d, err := w.Digest(ctx, p, &turn, now)
		if err != nil {
			out.err = err
			break
		}
		w.begun[key] = true
		out.digests = append(out.digests, d)
	}
	return out
}

// take hands over what a slow look found.
func (w *Watch) take(ctx context.Context, p planned) {
	now := w.Now()
	if p.err != nil {
		w.failed(ctx, "slow look failed, trying again", p.err)
	}
	w.slowDue = now.Add(slowEvery)
	w.digests = append(w.digests, p.digests...)
	if p.Planned == nil {
		return
	}
	if next := nextStart(p.Planned, now); !next.IsZero() && next.Before(w.slowDue) {
		w.slowDue = next
	}
	w.decide(ctx, []alert.Look{p.Look}, now)
}

// decide hands over looks and the digests that wait.
func (w *Watch) decide(ctx context.Context, looks []alert.Look, now time.Time) {
	for {
		var d *alert.Digest
		if len(w.digests) > 0 {
			d = w.digests[0]
		}
		if err := w.Decide(ctx, looks, d, now); err != nil {
			w.failed(ctx, "nothing decided on what was found, trying again", err)
			return
		}
		if d == nil {
			return
		}
		w.digests = w.digests[1:]
		if len(w.digests) == 0 {
			return
		}
		looks = nil
	}
}

func (w *Watch) failed(ctx context.Context, what string, err error) {
	if ctx.Err() == nil {
		w.Log.Error(what, "error", err)
	}
}

// beginning are the shifts of any saw of the plan that have just begun, each once.
func beginning(p *Planned, now time.Time) (list []shift.Turn) {
	known := map[turnKey]bool{}
	for i := range p.Report.Saws {
		turn, ok := p.Calendar.At(p.Report.Saws[i].Saw, now)
		key := turnKey{turn.Name, turn.Start.Unix()}
		if ok && turn.Worked > 0 && now.Sub(turn.Start) < digestWithin && !known[key] {
			known[key] = true
			list = append(list, turn)
		}
	}
	return list
}

// nextStart is when the next shift of any saw of the plan begins, zero where none does
// before the next slow look.
func nextStart(p *Planned, now time.Time) (next time.Time) {
	for i := range p.Report.Saws {
		for _, turn := range p.Calendar.Turns(p.Report.Saws[i].Saw, now, now.Add(slowEvery)) {
			if turn.Start.After(now) && turn.Worked > 0 && (next.IsZero() || turn.Start.Before(next)) {
				next = turn.Start
			}
		}
	}
	return next
}
