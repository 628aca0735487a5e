package watch

import (
	"context"
	"errors"
	"log/slog"
	"testing"
	"testing/synctest"
	"time"

	"gullet/cmd/gullet/internal/floor"
)

// source is a store whose cursor the test moves.
type source struct {
	cursor      int64
	fail        error
	checkpoints int
}

func (s *source) Cursor(context.Context) (int64, error) { return s.cursor, s.fail }
func (s *source) Checkpoint(context.Context) error      { s.checkpoints++; return nil }

// loop is a running watch whose floors tell when they were begun.
type loop struct {
	source
	*Watch
	builds int
	slow   time.Duration // that a build takes
	fail   error         // of a build
}

func start(t *testing.T, l *loop) {
	t.Helper()
	l.Watch = &Watch{Source: &l.source, Log: slog.New(slog.DiscardHandler), Build: func(context.Context) (*floor.Floor, error) {
		l.builds++
		made := time.Now()
		time.Sleep(l.slow)
		return &floor.Floor{MadeAt: made}, l.fail
	}}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		l.Run(ctx)
	}()
	t.Cleanup(func() { stop(); <-ended })
	synctest.Wait()
}

func (l *loop) after(t *testing.T, d time.Duration, builds int) {
	t.Helper()
	time.Sleep(d)
	synctest.Wait()
	if l.builds != builds {
		t.Errorf("%s later: %d floors built, want %d", d, l.builds, builds)
	}
}

func TestTheFirstFloorIsBuiltAtOnceAndTheNextWhenSomethingIsStored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &loop{}
		start(t, l)
		if l.Newest() == nil || !l.UpToDate(t.Context()) {
			t.Error("no floor at once, though nothing is stored yet")
		}
		first := l.Newest()
		l.after(t, 30*time.Second, 1)
		l.cursor++
		if l.UpToDate(t.Context()) {
			t.Error("said to show everything before it does")
		}
		l.after(t, interval, 2)
		if l.Newest() == first || !l.UpToDate(t.Context()) {
			t.Error("the new floor is not shown")
		}
		l.after(t, time.Hour, 2)
	})
}

func TestAnErrorKeepsTheOldFloorAndIsTriedAgain(t *testing.T) {
	for _, c := range []struct {
		name string
		set  func(*loop, error)
	}{
		{"of the cursor", func(l *loop, err error) { l.source.fail = err }},
		{"of the build", func(l *loop, err error) { l.fail = err }},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l := &loop{}
				start(t, l)
				old := l.Newest()
				c.set(l, errors.New("disk gone"))
				l.cursor++
				time.Sleep(10 * interval)
				synctest.Wait()
				if l.Newest() != old || l.UpToDate(t.Context()) {
					t.Error("a floor that could not be built is shown")
				}
				c.set(l, nil)
				time.Sleep(interval)
				synctest.Wait()
				if l.Newest() == old || !l.UpToDate(t.Context()) {
					t.Error("not tried again")
				}
			})
		})
	}
}

func TestSlowFloorsTakeATwentiethOfTheTimeAndNeverStop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &loop{slow: 4 * time.Second}
		start(t, l)
		// 4 s for a floor and 80 s without: longer than between two
		// checkpoints. Seven fit into ten minutes, and the eighth begins.
		for range 600 {
			time.Sleep(time.Second)
			l.cursor++
		}
		l.after(t, 0, 8)
		if l.checkpoints < 9 {
			t.Errorf("%d checkpoints in ten minutes", l.checkpoints)
		}
	})
}

func TestTheLogIsMovedIntoTheFileEveryMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &loop{}
		start(t, l)
		l.after(t, 10*time.Minute, 1)
		if l.checkpoints != 10 {
			t.Errorf("%d checkpoints in ten minutes, want 10", l.checkpoints)
		}
	})
}
