package vigil

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"gullet/analyze/alert"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/floor"
)

// looks are looks of a test, and what was decided on.
type looks struct {
	mu       sync.Mutex
	quick    []bool // by look, whether it was deaf
	slow     int
	digests  []string
	lost     []time.Duration // that the broker was told to be lost, by look at Gullet itself
	decided  []alert.Kind
	told     []string
	slowness time.Duration
	fail     error
	calendar *shift.Calendar
}

func (l *looks) Quick(_ context.Context, _ *floor.Floor, deaf bool, _ time.Time) (alert.Look, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.quick = append(l.quick, deaf)
	return alert.Look{Kinds: []alert.Kind{alert.Silent}}, l.fail
}

func (l *looks) Slow(ctx context.Context, _ *floor.Floor, _ time.Time) (*Planned, error) {
	select {
	case <-time.After(l.slowness):
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.slow++
	return &Planned{Look: alert.Look{Kinds: []alert.Kind{alert.ChangeWindow}}, Calendar: l.calendar}, l.fail
}

func (l *looks) Own(state OwnState, now time.Time) alert.Look {
	l.mu.Lock()
	defer l.mu.Unlock()
	lost := time.Duration(0)
	if !state.BrokerLost.IsZero() {
		lost = now.Sub(state.BrokerLost)
	}
	l.lost = append(l.lost, lost)
	return alert.Look{Kinds: []alert.Kind{alert.BrokerLost}}
}

func (l *looks) Digest(_ context.Context, _ *Planned, turn *shift.Turn, _ []alert.Condition, _ time.Time) (*alert.Digest, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.digests = append(l.digests, turn.Name)
	return &alert.Digest{Shift: turn.Name}, nil
}

func (l *looks) decide(_ context.Context, list []alert.Look, d *alert.Digest, _ time.Time) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	for i := range list {
		l.decided = append(l.decided, list[i].Kinds...)
	}
	if d != nil {
		l.told = append(l.told, d.Shift)
	}
	return nil
}

// counts are how many quick and slow looks there were so far.
func (l *looks) counts() (quick, slow int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.quick), l.slow
}

// running is a watch in a bubble of time, which begins on a Saturday at midnight UTC.
func running(t *testing.T, l *looks) (ready func(bool)) {
	t.Helper()
	if l.calendar == nil {
		l.calendar = shift.Default(time.UTC)
	}
	var mu sync.Mutex
	up := true
	f := &floor.Floor{Saws: []floor.Saw{{Saw: "s1"}}}
	w := &Watch{
		Looks: l, Now: time.Now, Floor: func() *floor.Floor { return f }, Own: func() OwnState { return OwnState{} },
		Ready:    func() bool { mu.Lock(); defer mu.Unlock(); return up },
		Standing: func() []alert.Condition { return nil }, Decide: l.decide, Log: slog.New(slog.DiscardHandler),
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); w.Run(ctx) }()
	t.Cleanup(func() { stop(); <-done })
	return func(to bool) { mu.Lock(); defer mu.Unlock(); up = to }
}

func TestNothingIsLookedAtBeforeReadingsHaveComeInForAMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &looks{}
		running(t, l)
		time.Sleep(59 * time.Second)
		synctest.Wait()
		if quick, slow := l.counts(); quick != 0 || slow != 0 || len(l.lost) < 58 {
			t.Errorf("%d quick, %d slow, %d looks at itself", quick, slow, len(l.lost))
		}
		time.Sleep(4 * time.Second)
		synctest.Wait()
		if quick, slow := l.counts(); quick != 1 || slow != 1 {
			t.Errorf("%d quick, %d slow", quick, slow)
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		if quick, _ := l.counts(); quick != 7 { // time passes in stops and silences too
			t.Errorf("%d quick looks", quick)
		}
		if !slices.Contains(l.decided, alert.ChangeWindow) || !slices.Contains(l.decided, alert.Silent) {
			t.Errorf("decided on %v", l.decided)
		}
	})
}

func TestWithoutABrokerTheSawsAreNotHeardAndThatIsSaid(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &looks{}
		ready := running(t, l)
		time.Sleep(2 * time.Minute)
		synctest.Wait()
		ready(false)
		time.Sleep(5 * time.Minute)
		synctest.Wait()
		if last := l.lost[len(l.lost)-1]; last < 4*time.Minute+50*time.Second || last > 5*time.Minute {
			t.Errorf("lost for %s", last)
		}
		_, slow := l.counts()
		if !l.quick[len(l.quick)-1] || slow != 1 {
			t.Errorf("deaf is %v, %d slow looks", l.quick[len(l.quick)-1], slow)
		}
		ready(true)
		time.Sleep(30 * time.Second)
		synctest.Wait()
		if !l.quick[len(l.quick)-1] || l.lost[len(l.lost)-1] != 0 {
			t.Error("heard at once: what the broker had queued is still coming")
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		if l.quick[len(l.quick)-1] {
			t.Error("deaf for good")
		}
	})
}

func TestASlowLookDelaysNoQuickOneAndTakesATwentiethOfTheTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &looks{slowness: time.Minute}
		running(t, l)
		time.Sleep(62 * time.Second)
		synctest.Wait()
		before, _ := l.counts()
		time.Sleep(50 * time.Second)
		synctest.Wait()
		if quick, slow := l.counts(); quick-before < 4 || slow != 0 {
			t.Errorf("%d quick looks beside a slow one, %d slow are done", quick-before, slow)
		}
		time.Sleep(59 * time.Minute)
		synctest.Wait()
		if _, slow := l.counts(); slow != 3 {
			t.Errorf("%d slow looks in an hour, each of a minute", slow)
		}
	})
}

func TestADigestIsToldWhenAShiftBegins(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &looks{} // three shifts a day from 06:00
		running(t, l)
		time.Sleep(24*time.Hour + time.Minute)
		synctest.Wait()
		if len(l.told) != 3 || !slices.Equal(l.told, l.digests) {
			t.Errorf("told of %v, made of %v", l.told, l.digests)
		}
	})
}

func TestAFailureIsTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &looks{fail: errors.New("the disk is gone")}
		running(t, l)
		time.Sleep(3 * time.Minute)
		synctest.Wait()
		if slices.Contains(l.decided, alert.Silent) || slices.Contains(l.decided, alert.ChangeWindow) || !slices.Contains(l.decided, alert.BrokerLost) {
			t.Errorf("decided on %v", l.decided)
		}
		l.mu.Lock()
		l.fail = nil
		l.mu.Unlock()
		time.Sleep(6 * time.Minute)
		synctest.Wait()
		if !slices.Contains(l.decided, alert.Silent) || !slices.Contains(l.decided, alert.ChangeWindow) {
			t.Errorf("decided on %v", l.decided)
		}
	})
}
