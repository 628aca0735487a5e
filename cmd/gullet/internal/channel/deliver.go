package channel

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"sync"
	"time"

	"gullet/analyze/alert"
)

// Sender takes one message to its receiver.
type Sender interface {
	// Send is nil when the receiver has taken the message. A *Failure says what to do
	// otherwise; after any other error it is tried again.
	Send(ctx context.Context, m *alert.Message) error
}

// Failure is a delivery in vain. Its text names no secret.
type Failure struct {
	Why     string
	Refused bool          // this message will never be taken
	Slow    bool          // the channel is set up wrongly: tried again, but seldom
	After   time.Duration // the receiver asks to wait so long, 0 where it does not
}

func (f *Failure) Error() string { return f.Why }

// Waiting is a message in the outbox.
type Waiting struct {
	alert.Message
	Tries   int // in vain so far
	NextTry time.Time
	LastWhy string // of the last try
}

// Outbox is where messages wait. Its methods may be called from several goroutines.
type Outbox interface {
	Due(ctx context.Context, channel string, now time.Time) (*Waiting, error) // the oldest that waits, nil for none
	Sent(ctx context.Context, id int64, at time.Time) error
	Failed(ctx context.Context, id int64, at, next time.Time, why string) error
	Drop(ctx context.Context, id int64, at time.Time, note string) error
}

// Deliverer delivers what waits, each channel by itself: a dead one holds up no other,
// and nobody waits for any.
type Deliverer struct {
	Outbox  Outbox
	Senders map[string]Sender
	Now     func() time.Time
	Random  func() float64                // in [0, 1), for the jitter
	Outcome func(channel, outcome string) // counts; nil for nobody
	GivenUp func(m ...alert.Message)      // is told of what became too old; nil for nobody
	Log     *slog.Logger

	mu      sync.Mutex
	failing map[string]time.Time
	wake    map[string]chan struct{}
}

// What becomes of a message at a try.
const (
	Sent    = "sent"
	Failed  = "failed"
	Dropped = "dropped"
)

const (
	look      = time.Second // between two looks at the outbox when nothing wakes
	firstWait = 5 * time.Second
	longest   = 15 * time.Minute
	jitter    = 0.2
	mostAsked = time.Hour // that a receiver may make us wait
)

// Run delivers until ctx ends.
func (d *Deliverer) Run(ctx context.Context) {
	d.mu.Lock()
	d.wake = map[string]chan struct{}{}
	for name := range d.Senders {
		d.wake[name] = make(chan struct{}, 1)
	}
	d.mu.Unlock()
	var all sync.WaitGroup
	for name, sender := range d.Senders {
		all.Go(func() { d.follow(ctx, name, sender) })
	}
	all.Wait()
}

// Wake has every channel look at the outbox now.
func (d *Deliverer) Wake() {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, c := range d.wake {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}

// Failing tells since when each channel has failed that has taken nothing since.
func (d *Deliverer) Failing() map[string]time.Time {
	d.mu.Lock()
	defer d.mu.Unlock()
	list := map[string]time.Time{}
	for name, since := range d.failing {
		list[name] = since
	}
	return list
}

// follow delivers the messages of one channel in their order.
func (d *Deliverer) follow(ctx context.Context, name string, sender Sender) {
	next := time.NewTimer(0)
	defer next.Stop()
	d.mu.Lock()
	wake := d.wake[name]
	d.mu.Unlock()
	for {
		select {
		case <-ctx.Done():
			return
		case <-wake:
		case <-next.C:
		}
		for ctx.Err() == nil {
			went, err := d.one(ctx, name, sender)
			if err != nil && ctx.Err() == nil {
				d.Log.Error("outbox not worked through, trying again", "channel", name, "error", err)
			}
			if !went || err != nil {
				break
			}
		}
		next.Reset(look)
	}
}

// one takes the oldest message that waits and reports whether the next may follow.
func (d *Deliverer) one(ctx context.Context, name string, sender Sender) (bool, error) {
	now := d.Now()
	w, err := d.Outbox.Due(ctx, name, now)
	if err != nil || w == nil {
		return false, err
	}
	if w.Tries > 0 {
		d.note(name, false, w.At) // also after a restart, where nobody remembers the first try
	}
	if !now.Before(w.Expires) {
		err := d.drop(ctx, w, now, fmt.Sprintf("too old to matter: made %s ago, and %s", now.Sub(w.At).Round(time.Minute), tried(w)))
		if err == nil && d.GivenUp != nil {
			d.GivenUp(w.Message)
		}
		return true, err
	}
	if now.Before(w.NextTry) {
		return false, nil
	}
	err = sender.Send(ctx, &w.Message)
	if ctx.Err() != nil {
		return false, nil // it is tried again after the next start
	}
	now = d.Now()
	d.note(name, err == nil, now)
	var f *Failure
	switch {
	case err == nil:
		d.count(name, Sent)
		return true, d.Outbox.Sent(ctx, w.ID, now)
	case errors.As(err, &f) && f.Refused:
		return true, d.drop(ctx, w, now, "refused: "+f.Why)
	}
	d.count(name, Failed)
	wait := d.wait(w.Tries, f)
	d.Log.Warn("message not delivered, trying again", "channel", name, "message", w.ID, "tries", w.Tries+1, "in", wait, "error", err)
	return false, d.Outbox.Failed(ctx, w.ID, now, now.Add(wait), err.Error())
}

func tried(w *Waiting) string {
	if w.Tries == 0 {
		return "never tried"
	}
	return fmt.Sprintf("tried %d times, last: %s", w.Tries, w.LastWhy)
}

func (d *Deliverer) drop(ctx context.Context, w *Waiting, now time.Time, note string) error {
	d.Log.Error("message dropped", "channel", w.Channel, "message", w.ID, "note", note)
	if err := d.Outbox.Drop(ctx, w.ID, now, note); err != nil {
		return err
	}
	d.count(w.Channel, Dropped)
	return nil
}

func (d *Deliverer) count(name, outcome string) {
	if d.Outcome != nil {
		d.Outcome(name, outcome)
	}
}

// note keeps since when a channel fails.
func (d *Deliverer) note(name string, ok bool, now time.Time) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.failing == nil {
		d.failing = map[string]time.Time{}
	}
	if ok {
		delete(d.failing, name)
	} else if _, known := d.failing[name]; !known {
		d.failing[name] = now
	}
}

// wait is how long until the next try: twice as long each time, from 5 s to 15 min, give
// or take a fifth, so that not all come back at once; and at least what was asked for.
func (d *Deliverer) wait(tries int, f *Failure) time.Duration {
	wait := longest
	if tries < 8 && (f == nil || !f.Slow) {
		wait = min(longest, firstWait<<tries)
	}
	wait = time.Duration(float64(wait) * (1 + jitter*(2*d.Random()-1)))
	if f != nil {
		wait = max(wait, min(f.After, mostAsked))
	}
	return time.Duration(math.Round(wait.Seconds()*1000)) * time.Millisecond
}
