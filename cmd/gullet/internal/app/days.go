package app

import (
	"context"
	"time"

	"gullet/cmd/gullet/internal/standing"
	"gullet/store"
)

// sumEvery is how often it is looked whether past days are to be summed up. A look
// that finds none costs a few milliseconds.
const sumEvery = 5 * time.Minute

// keepDays sums up what each saw did on past days, so that a year of it is read in
// little time. It works beside the taking of readings and is never waited for.
func (a *App) keepDays(ctx context.Context, db *store.Store) {
	next := time.NewTimer(0)
	defer next.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-next.C:
			if err := standing.Maintain(ctx, db, a.Config, a.Now()); err != nil && ctx.Err() == nil {
				a.Log.Error("past days not summed up, trying again", "error", err)
			}
			next.Reset(sumEvery)
		}
	}
}
