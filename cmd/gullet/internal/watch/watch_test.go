package watch

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"gullet/cmd/gullet/internal/floor"
)

// loop is a running watch over a store that the test moves on. The watch works
// in a goroutine of its own, so everything goes through the lock.
type loop struct {
	*Watch
	mu          sync.Mutex
	cursor      int64
	checkpoints int
	builds      int
	slow        time.Duration // that a build takes
	failCursor  error
	failBuild   error
}

func (l *loop) Cursor(context.Context) (int64, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.cursor, l.failCursor
}

func (l *loop) Checkpoint(context.Context) error {
	l.do(func() { l.checkpoints++ })
	return nil
}

// do changes or looks at the loop under its lock.
func (l *loop) do(f func()) {
	l.mu.Lock()
	defer l.mu.Unlock()
	f()
}

// store is something new in the store.
func (l *loop) store() { l.do(func() { l.cursor++ }) }

func (l *loop) build(context.Context) (*floor.Floor, error) {
	var err error
	l.do(func() { l.builds++; err = l.failBuild })
	made := time.Now()
	time.Sleep(l.slow)
	return &floor.Floor{MadeAt: made}, err
}

func start(t *testing.T, l *loop) {
	t.Helper()
	l.Watch = &Watch{Source: l, Log: slog.New(slog.DiscardHandler), Build: l.build}
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
	l.do(func() {
		if l.builds != builds {
			t.Errorf("%s later: %d floors built, want %d", d, l.builds, builds)
		}
	})
}

func (l *loop) checkpointed() (n int) {
	l.do(func() { n = l.checkpoints })
	return n
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
		l.store()
		if l.UpToDate(t.Context()) {
			t.Error("said to show everything before it does")
		}
		l.after(t, interval, 2)
		if l.Newest() == first || !l.UpToDate(t.Context()) {
			t.Error("the new floor is not shown")
		}
		l.after(t, refresh, 3) // saws fall silent also when nothing comes
	})
}

func TestAnErrorKeepsTheOldFloorAndIsTriedAgain(t *testing.T) {
	for _, c := range []struct {
		name string
		set  func(*loop, error)
	}{
		{"of the cursor", func(l *loop, err error) { l.do(func() { l.failCursor = err }) }},
		{"of the build", func(l *loop, err error) { l.do(func() { l.failBuild = err }) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l := &loop{}
				start(t, l)
				old := l.Newest()
				c.set(l, errors.New("disk gone"))
				l.store()
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
			l.store()
		}
		l.after(t, 0, 8)
		if n := l.checkpointed(); n < 9 {
			t.Errorf("%d checkpoints in ten minutes", n)
		}
	})
}

func TestTheLogIsMovedIntoTheFileEveryMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &loop{}
		start(t, l)
		l.after(t, 10*time.Minute, 11)
		if n := l.checkpointed(); n != 10 {
			t.Errorf("%d checkpoints in ten minutes, want 10", n)
		}
	})
}
