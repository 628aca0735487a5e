package store_test

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/store"
)

// t0 is when the tests' shop begins work.
var t0 = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

func minute(n int) time.Time { return t0.Add(time.Duration(n) * time.Minute) }

func ptr[T any](x T) *T { return &x }

func open(t testing.TB) *store.Store {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "gullet.db"))
}

func openAt(t testing.TB, path string) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), store.Options{Path: path})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// pass is a pass of 12 in² in 240 s at a minute; its id is the minute.
func pass(kind analyze.Kind, saw string, at int, serial string) *analyze.Reading {
	r := &analyze.Reading{
		Saw: saw, Kind: kind, ID: fmt.Sprintf("%s-%d", kind, at), At: minute(at), Received: minute(at).Add(time.Second),
		Cut: &analyze.Cut{
			Seconds: ptr(240.0), Section: "RD4", Square: ptr(12.0), Height: ptr(4.0), Count: 1, Grade: "A36",
			BandSpeed: ptr(250.0), Serial: serial, Purpose: analyze.PurposePart,
		},
	}
	if kind != analyze.KindCut {
		r.Cut.Done = ptr(0.5)
	}
	return r
}

func cut(saw string, at int, serial string) *analyze.Reading {
	return pass(analyze.KindCut, saw, at, serial)
}

func blade(saw string, at int, action analyze.BladeAction, serial string, reason analyze.EndReason) *analyze.Reading {
	return &analyze.Reading{
		Saw: saw, Kind: analyze.KindBlade, ID: fmt.Sprintf("%s-%d-%s", action, at, serial), At: minute(at), Received: minute(at).Add(time.Second),
		Blade: &analyze.BladeChange{Action: action, Serial: serial, Type: "", Reason: reason},
	}
}

func fit(saw string, at int, serial string) *analyze.Reading {
	return blade(saw, at, analyze.ActionFit, serial, "")
}

func remove(saw string, at int, serial string, reason analyze.EndReason) *analyze.Reading {
	return blade(saw, at, analyze.ActionRemove, serial, reason)
}

func state(saw string, at int, st analyze.State, cause analyze.Cause) *analyze.Reading {
	return &analyze.Reading{
		Saw: saw, Kind: analyze.KindState, ID: fmt.Sprintf("state-%d", at), At: minute(at), Received: minute(at).Add(time.Second),
		State: &analyze.StateChange{State: st, Cause: cause},
	}
}

func numbered(r *analyze.Reading, seq int64) *analyze.Reading {
	r.Seq = &seq
	return r
}

func arrivals(readings ...*analyze.Reading) []analyze.Arrival {
	batch := make([]analyze.Arrival, len(readings))
	for i, r := range readings {
		batch[i].Reading = r
	}
	return batch
}

func put(t testing.TB, s *store.Store, readings ...*analyze.Reading) []analyze.Outcome {
	t.Helper()
	out, err := s.Append(context.Background(), arrivals(readings...))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// ledger is the fittings as one line each, times in minutes.
func ledger(t testing.TB, s *store.Store) []string {
	t.Helper()
	list, err := s.Fittings(context.Background(), time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	lines := []string{}
	for _, f := range list {
		end := "on"
		if !f.Open() {
			end = fmt.Sprintf("%s %s", clock(f.End), f.Reason)
		}
		serial := f.Serial
		if serial == "" {
			serial = "?"
		}
		lines = append(lines, fmt.Sprintf("%s %s %s-%s %s cuts=%d area=%g", f.Saw, serial, clock(f.Start), end, f.Basis, f.Cuts, f.Area))
	}
	return lines
}

// clock is minutes since t0, with a sign for the tick before a minute.
func clock(t time.Time) string {
	d := t.Sub(t0)
	if rest := d % time.Minute; rest != 0 {
		return fmt.Sprintf("<%d", (d+time.Microsecond)/time.Minute)
	}
	return fmt.Sprint(int(d / time.Minute))
}
