// Package judge keeps the book of conditions beside the store: it has each look held
// against the rules and puts what changed, and the messages that are due, in one
// transaction, so that a crash loses no message and makes none twice.
//
// It finds nothing by itself and delivers nothing.
package judge

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"gullet/analyze/alert"
	"gullet/store"
)

// Store is what the judge needs of it.
type Store interface {
	AlertState(ctx context.Context) (store.AlertState, error)
	AlertNotes(ctx context.Context, after int64) ([]alert.Note, error)
	RecentMessages(ctx context.Context, since time.Time) (map[string][]time.Time, error)
	Decide(ctx context.Context, d store.Decision) error
}

// Judge decides on looks, one after another.
type Judge struct {
	Store    Store
	Rules    *alert.Rules
	Channels []alert.Channel
	Wake     func() // called when messages wait to be delivered; nil for nobody
	Log      *slog.Logger

	mu       sync.Mutex
	book     *alert.Book // nil before the first look and after a failure
	notes    int64       // the newest note in the book
	standing atomic.Pointer[[]alert.Condition]
	given    sync.Mutex
	up       []alert.Message // given up by the delivery since the last look
}

// Decide holds looks against the rules and keeps what came of them; digest is nil where
// no shift begins. After an error nothing of it counts: the next look is held against
// what was kept last.
func (j *Judge) Decide(ctx context.Context, looks []alert.Look, digest *alert.Digest, now time.Time) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	err := j.decide(ctx, looks, digest, now)
	if errors.Is(err, store.ErrStale) { // somebody acknowledged or snoozed meanwhile
		j.book = nil
		err = j.decide(ctx, looks, digest, now)
	}
	if err != nil {
		j.book = nil
		return fmt.Errorf("decide what the shop is told: %w", err)
	}
	return nil
}

func (j *Judge) decide(ctx context.Context, looks []alert.Look, digest *alert.Digest, now time.Time) error {
	if err := j.open(ctx, now); err != nil {
		return err
	}
	var d store.Decision
	notes, err := j.Store.AlertNotes(ctx, j.notes)
	if err != nil {
		return err
	}
	for i := range notes {
		j.notes = max(j.notes, notes[i].ID)
		if c, ok := j.book.Note(&notes[i]); ok {
			d.Changes = append(d.Changes, c)
		}
	}
	given := j.takeGiven()
	for i := range given {
		j.book.Untell(&given[i])
	}
	for i := range looks {
		d.Changes = append(d.Changes, j.book.Step(j.Rules, &looks[i], now)...)
	}
	d.Messages = j.book.Post(j.Channels, now)
	if digest != nil {
		d.Messages = append(d.Messages, alert.PostDigest(j.Channels, digest, now)...)
	}
	d.Conditions, d.Closed = j.book.Unsaved(now)
	d.Notes = j.notes
	if err := j.keep(ctx, &d); err != nil {
		j.GivenUp(given...)
		return err
	}
	standing := j.book.Standing()
	j.standing.Store(&standing)
	return nil
}

// keep puts a decision in the store, unless nothing was decided.
func (j *Judge) keep(ctx context.Context, d *store.Decision) error {
	if len(d.Conditions)+len(d.Closed)+len(d.Changes)+len(d.Messages) == 0 {
		return nil
	}
	if err := j.Store.Decide(ctx, *d); err != nil {
		return err
	}
	for _, c := range d.Changes {
		j.Log.Info("condition", "number", c.ID, "what", c.What, "reason", c.Reason)
	}
	if len(d.Messages) > 0 && j.Wake != nil {
		j.Wake()
	}
	return nil
}

// open opens the book from what was kept last.
func (j *Judge) open(ctx context.Context, now time.Time) error {
	if j.book != nil {
		return nil
	}
	state, err := j.Store.AlertState(ctx)
	if err != nil {
		return err
	}
	longest := time.Duration(0)
	for i := range j.Channels {
		longest = max(longest, j.Channels[i].Per)
	}
	sent, err := j.Store.RecentMessages(ctx, now.Add(-longest))
	if err != nil {
		return err
	}
	j.book = alert.Open(state.Conditions, state.Last, sent)
	j.notes = 0
	for i := range state.Notes { // those the book has already are passed over by it
		j.notes = max(j.notes, state.Notes[i].ID)
		j.book.Note(&state.Notes[i])
	}
	j.notes = max(j.notes, state.Newest)
	return nil
}

// Standing are the conditions that stand by the last look, the worst first.
func (j *Judge) Standing() []alert.Condition {
	if list := j.standing.Load(); list != nil {
		return *list
	}
	return nil
}

// GivenUp takes messages that the delivery gave up: what stands of them is told anew.
func (j *Judge) GivenUp(list ...alert.Message) {
	j.given.Lock()
	defer j.given.Unlock()
	j.up = append(j.up, list...)
}

func (j *Judge) takeGiven() []alert.Message {
	j.given.Lock()
	defer j.given.Unlock()
	list := j.up
	j.up = nil
	return list
}
