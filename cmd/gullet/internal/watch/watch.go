// Package watch keeps the newest answers ready: it looks whether the store has
// taken anything new or a minute has passed, builds the floor from it and holds that for whoever
// reads. Pages and metrics only read; they never start an analysis.
package watch

import (
	"context"
	"log/slog"
	"sync/atomic"
	"time"

	"gullet/cmd/gullet/internal/floor"
)

// Source is what the loop needs of the store.
type Source interface {
	// Cursor changes whenever something was stored.
	Cursor(ctx context.Context) (int64, error)
	// Checkpoint moves what is in the write-ahead log into the database file.
	Checkpoint(ctx context.Context) error
}

// Watch builds a floor whenever something new is stored.
type Watch struct {
	Source Source
	Build  func(ctx context.Context) (*floor.Floor, error)
	Log    *slog.Logger

	newest atomic.Pointer[floor.Floor]
	built  atomic.Int64 // the cursor that newest shows
}

const (
	// interval is the least time between two floors: people do not read
	// faster, and a flood of readings shall not be slowed by answers.
	interval = time.Second
	// share bounds the loop to a twentieth of the time when floors are slow.
	share = 20
	// refresh is the most time between two floors: also when nothing is stored
	// saws fall silent, and a floor must say so.
	refresh         = time.Minute
	checkpointEvery = time.Minute
)

// Newest is the last floor built, nil before the first.
func (w *Watch) Newest() *floor.Floor { return w.newest.Load() }

// Run builds the first floor at once and then follows the store until ctx
// ends. A failure is logged and tried again; the floor then stays as old as
// its MadeAt says.
func (w *Watch) Run(ctx context.Context) {
	checkpoint := time.NewTicker(checkpointEvery)
	defer checkpoint.Stop()
	// One timer across the checkpoints: made anew after each, a wait longer
	// than theirs would never end.
	next := time.NewTimer(0)
	defer next.Stop()
	var built time.Time
	for {
		select {
		case <-ctx.Done():
			return
		case <-checkpoint.C:
			if err := w.Source.Checkpoint(ctx); err != nil && ctx.Err() == nil {
				w.Log.Warn("checkpoint failed", "error", err)
			}
		case <-next.C:
			start := time.Now()
			switch done, err := w.follow(ctx, start.Sub(built) >= refresh); {
			case done:
				built = start
			case err != nil && ctx.Err() == nil:
				w.Log.Error("floor not built, trying again", "error", err)
			}
			next.Reset(max(interval, share*time.Since(start)))
		}
	}
}

// follow builds a floor, unless the newest shows everything stored and is not
// due to be refreshed. It reports whether it built one.
func (w *Watch) follow(ctx context.Context, due bool) (bool, error) {
	cursor, err := w.Source.Cursor(ctx)
	if err != nil {
		return false, err
	}
	if !due && w.newest.Load() != nil && cursor == w.built.Load() {
		return false, nil
	}
	f, err := w.Build(ctx)
	if err != nil {
		return false, err
	}
	w.newest.Store(f)
	w.built.Store(cursor)
	return true, nil
}

// UpToDate reports whether the newest floor shows everything stored.
func (w *Watch) UpToDate(ctx context.Context) bool {
	cursor, err := w.Source.Cursor(ctx)
	return err == nil && w.newest.Load() != nil && cursor == w.built.Load()
}
