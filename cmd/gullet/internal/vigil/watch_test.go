package vigil

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze/alert"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/floor"
	"gullet/cmd/gullet/internal/planning"
)

// vigil is a running watch over fakes. The watch works in goroutines of its own, so
// everything goes through the lock.
type vigil struct {
	mu         sync.Mutex
	away, busy bool // not ready, not idle
	floor      *floor.Floor
	slow       time.Duration // that a slow look takes
	failSlow   error
	failDecide error
	quicks     []time.Time
	slows      []time.Time
	decided    []alert.Kind // of the first kind of each look
	digests    []string
	calendar   *shift.Calendar
}

// The first kinds of the looks that the fakes give.
const quickLook, slowLook, ownLook = alert.LimitReached, alert.ChangeWindow, alert.BrokerLost

// do changes or looks at the vigil under its lock.
func (v *vigil) do(f func()) {
	v.mu.Lock()
	defer v.mu.Unlock()
	f()
}

// clock is when something happened, for people to read.
func clock(times []time.Time) (list []string) {
	for _, t := range times {
		list = append(list, t.UTC().Format("15:04:05"))
	}
	return list
}

func lookOf(kind alert.Kind) alert.Look { return alert.Look{Kinds: []alert.Kind{kind}} }

func (v *vigil) watch() *Watch {
	return &Watch{
		Now: time.Now, Log: slog.New(slog.DiscardHandler),
		Ready: func() (ready bool) { v.do(func() { ready = !v.away }); return ready },
		Idle:  func() (idle bool) { v.do(func() { idle = !v.busy }); return idle },
		Floor: func() (f *floor.Floor) { v.do(func() { f = v.floor }); return f },
		Quick: func(_ context.Context, _ *floor.Floor, now time.Time) (alert.Look, error) {
			v.do(func() { v.quicks = append(v.quicks, now) })
			return lookOf(quickLook), nil
		},
		Slow: func(_ context.Context, _ *floor.Floor, now time.Time) (*Planned, error) {
			var err error
			var takes time.Duration
			v.do(func() { v.slows = append(v.slows, now); err, takes = v.failSlow, v.slow })
			time.Sleep(takes)
			return &Planned{Look: lookOf(slowLook), Calendar: v.calendar, Report: &planning.Report{Saws: []planning.Saw{{Saw: "s1"}, {Saw: "s2"}}}}, err
		},
		Own: func(time.Time) alert.Look { return lookOf(ownLook) },
		Digest: func(_ context.Context, _ *Planned, turn *shift.Turn, _ time.Time) (*alert.Digest, error) {
			return &alert.Digest{Shift: turn.Name}, nil
		},
		Decide: func(_ context.Context, looks []alert.Look, d *alert.Digest, now time.Time) (err error) {
			v.do(func() {
				if err = v.failDecide; err != nil {
					return
				}
				for _, l := range looks {
					v.decided = append(v.decided, l.Kinds[0])
				}
				if d != nil {
					v.digests = append(v.digests, now.UTC().Format("15:04:05 ")+d.Shift)
				}
			})
			return err
		},
	}
}

// run keeps a watch over a shop until the test ends; it begins at midnight.
func run(t *testing.T, v *vigil) {
	t.Helper()
	if v.calendar == nil {
		v.calendar = &shift.Calendar{Zone: time.UTC, Rules: []shift.Rule{{Name: "early", Start: 6 * 60, End: 14 * 60, Days: [7]bool{true, true, true, true, true, true, true}}}}
	}
	ctx, stop := context.WithCancel(t.Context())
	var all sync.WaitGroup
	all.Go(func() { v.watch().Run(ctx) })
	t.Cleanup(func() { stop(); all.Wait() })
}

// renew gives the shop a new floor each second until the test ends.
func (v *vigil) renew(t *testing.T) {
	stop := make(chan struct{})
	go func() {
		for clock := time.NewTicker(time.Second); ; {
			select {
			case <-stop:
				clock.Stop()
				return
			case <-clock.C:
				v.do(func() { v.floor = &floor.Floor{} })
			}
		}
	}()
	t.Cleanup(func() { close(stop) })
}

func (v *vigil) count(kind alert.Kind) (n int) {
	v.do(func() {
		for _, k := range v.decided {
			if k == kind {
				n++
			}
		}
	})
	return n
}

// wait lets time pass, and whatever is due then be done.
func wait(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

func TestAQuickLookIsMadeOfEachNewFloor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		v := &vigil{floor: &floor.Floor{}}
		run(t, v)
		wait(59 * time.Second)
		v.do(func() {
			if len(v.quicks)+len(v.slows) != 0 {
				t.Errorf("looked at %v and %v, want nothing before readings have come for a minute", v.quicks, v.slows)
			}
		})
		wait(10 * time.Second)
		if n := v.count(quickLook); n != 1 {
			t.Errorf("%d quick looks at one floor, want 1", n)
		}
		for range 3 {
			v.do(func() { v.floor = &floor.Floor{} })
			wait(2 * time.Second)
		}
		if n := v.count(quickLook); n != 4 {
			t.Errorf("%d quick looks after three more floors, want 4", n)
		}
	})
}

// Each case says when the first quick look is made.
func TestLooksWaitForReadings(t *testing.T) {
	for _, c := range []struct {
		name       string
		away, busy time.Duration // from the start on
		first      string
	}{
		{"at once there", 0, 0, "00:01:01"},
		{"away for ten minutes", 10 * time.Minute, 0, "00:11:00"},
		{"a backlog of five minutes", 0, 5 * time.Minute, "00:05:00"},
		{"always busy", 0, 24 * time.Hour, "00:10:01"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				v := &vigil{floor: &floor.Floor{}, away: c.away > 0, busy: c.busy > 0}
				time.AfterFunc(c.away-500*time.Millisecond, func() { v.do(func() { v.away = false }) })
				time.AfterFunc(c.busy-500*time.Millisecond, func() { v.do(func() { v.busy = false }) })
				run(t, v)
				wait(time.Hour)
				v.do(func() {
					if got := clock(v.quicks); len(got) == 0 || got[0] != c.first {
						t.Errorf("quick looks at %v, want the first at %s", got, c.first)
					}
				})
				if n := v.count(ownLook); n != 720 {
					t.Errorf("%d looks at Gullet itself in an hour, want one each five seconds", n)
				}
			})
		})
	}
}

// While the broker is away all saws would look silent.
func TestNoSawIsLookedAtWithoutABroker(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		v := &vigil{floor: &floor.Floor{}}
		v.renew(t)
		run(t, v)
		wait(2 * time.Minute)
		v.do(func() { v.away = true })
		wait(2 * time.Second)
		before := v.count(quickLook)
		wait(10 * time.Minute)
		if n := v.count(quickLook); n != before {
			t.Errorf("%d quick looks without a broker", n-before)
		}
		v.do(func() { v.away = false })
		wait(59 * time.Second)
		if n := v.count(quickLook); n != before {
			t.Errorf("%d quick looks within a minute after it is back", n-before)
		}
		wait(10 * time.Second)
		if n := v.count(quickLook); n == before {
			t.Error("no quick look after a minute with the broker back")
		}
	})
}

// Slow looks come five minutes after the one before has ended, and when a shift begins;
// quick ones do not wait for them.
func TestASlowLookDelaysNoQuickOne(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		v := &vigil{floor: &floor.Floor{}, slow: 90 * time.Second}
		v.renew(t)
		run(t, v)
		wait(10 * time.Minute)
		v.do(func() {
			if diff := cmp.Diff([]string{"00:01:01", "00:07:31"}, clock(v.slows)); diff != "" {
				t.Errorf("slow looks (-want +got):\n%s", diff)
			}
			for i := 1; i < len(v.quicks); i++ {
				if gap := v.quicks[i].Sub(v.quicks[i-1]); gap > 2*time.Second {
					t.Errorf("%s between two quick looks, at %s", gap, v.quicks[i])
				}
			}
		})
		if n := v.count(slowLook); n != 2 {
			t.Errorf("%d slow looks handed over, want 2", n)
		}
	})
}

func TestADigestIsMadeWhenAShiftBegins(t *testing.T) {
	every := [7]bool{true, true, true, true, true, true, true}
	rule := func(name string, from, to int, saws ...string) shift.Rule {
		return shift.Rule{Name: name, Start: shift.Clock(from), End: shift.Clock(to), Days: every, Saws: saws}
	}
	for _, c := range []struct {
		name  string
		rules []shift.Rule
		want  []string
	}{
		{"two shifts", []shift.Rule{rule("early", 62, 70), rule("late", 70, 100)}, []string{"01:02:00 early", "01:10:00 late"}},
		{"each saw has its own", []shift.Rule{rule("early", 62, 100, "s1"), rule("day", 62, 120, "s2")}, []string{"01:02:00 early", "01:02:00 day"}},
		{"begun when Gullet starts", []shift.Rule{rule("night", 24*60-20, 60)}, []string{"00:01:01 night"}},
		{"begun long ago", []shift.Rule{rule("night", 24*60-29, 60)}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				v := &vigil{floor: &floor.Floor{}, calendar: &shift.Calendar{Zone: time.UTC, Rules: c.rules}}
				run(t, v)
				wait(2 * time.Hour)
				v.do(func() {
					if diff := cmp.Diff(c.want, v.digests); diff != "" {
						t.Errorf("digests (-want +got):\n%s", diff)
					}
				})
			})
		})
	}
}

// A digest that could not be handed over is not lost, nor does it come twice.
func TestADigestIsHandedOverUntilItIsTaken(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		v := &vigil{floor: &floor.Floor{}, failDecide: errors.New("disk full")}
		run(t, v)
		wait(6*time.Hour + 3*time.Minute)
		v.do(func() { v.failDecide = nil })
		wait(time.Hour)
		v.do(func() {
			if diff := cmp.Diff([]string{"06:03:01 early"}, v.digests); diff != "" {
				t.Errorf("digests (-want +got):\n%s", diff)
			}
		})
	})
}

func TestAFailedSlowLookComesAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		v := &vigil{floor: &floor.Floor{}, failSlow: errors.New("locked")}
		run(t, v)
		wait(2 * time.Minute)
		v.do(func() { v.failSlow = nil })
		if n := v.count(slowLook); n != 0 {
			t.Errorf("%d slow looks handed over that failed", n)
		}
		wait(10 * time.Minute)
		if n := v.count(slowLook); n != 2 {
			t.Errorf("%d slow looks handed over, want 2", n)
		}
	})
}
