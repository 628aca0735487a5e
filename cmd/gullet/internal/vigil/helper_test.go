package vigil

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/alert"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/floor"
	"gullet/config"
	"gullet/store"
)

// t0 is a Monday morning on which the tests' shop begins work: s1 to s3 from 06:00 to
// 14:00 on weekdays.
var t0 = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

func at(minute int) time.Time { return t0.Add(time.Duration(minute) * time.Minute) }

func ptr[T any](x T) *T { return &x }

// shopConfig is the reference configuration with one shift.
func shopConfig(t testing.TB) *config.Config {
	t.Helper()
	path := filepath.Join(t.TempDir(), "gullet.toml")
	if err := os.WriteFile(path, []byte(config.Example), 0o600); err != nil {
		t.Fatal(err)
	}
	loaded, err := config.Load(config.Options{File: path, FileRequired: true})
	if err != nil {
		t.Fatal(err)
	}
	cfg := &loaded.Config
	cfg.Shop.Zone = "UTC"
	cfg.Shifts = []shift.Rule{{Name: "early", Start: 6 * 60, End: 14 * 60,
		Days: [7]bool{time.Monday: true, time.Tuesday: true, time.Wednesday: true, time.Thursday: true, time.Friday: true}}}
	return cfg
}

// looker looks over a shop with these readings.
func looker(t testing.TB, readings ...*analyze.Reading) *Looker {
	t.Helper()
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	l := &Looker{Store: db, Config: shopConfig(t), RejectedSince: func(context.Context, time.Time) (int64, error) { return 0, nil }}
	l.tell(t, readings...)
	return l
}

func (l *Looker) tell(t testing.TB, readings ...*analyze.Reading) {
	t.Helper()
	batch := make([]analyze.Arrival, len(readings))
	for i, r := range readings {
		batch[i] = analyze.Arrival{Reading: r}
	}
	if _, err := l.Store.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
}

func (l *Looker) floor(t testing.TB, now time.Time) *floor.Floor {
	t.Helper()
	f, err := floor.Build(t.Context(), l.Store, l.Config, now)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func (l *Looker) quick(t testing.TB, now time.Time) *alert.Look {
	t.Helper()
	look, err := l.Quick(t.Context(), l.floor(t, now), now)
	if err != nil {
		t.Fatal(err)
	}
	return &look
}

// factOf is the one fact of a kind and a saw, nil where there is none.
func factOf(t testing.TB, look *alert.Look, kind alert.Kind, saw string) (fact *alert.Fact) {
	t.Helper()
	for i := range look.Facts {
		if f := &look.Facts[i]; f.Kind == kind && f.Saw == saw {
			if fact != nil {
				t.Errorf("two facts of %s", f.Key)
			}
			fact = f
		}
	}
	return fact
}

func reading(kind analyze.Kind, minute int) *analyze.Reading {
	return &analyze.Reading{Saw: "s1", Kind: kind, ID: fmt.Sprint(kind, minute), At: at(minute), Received: at(minute).Add(time.Second)}
}

func on(saw string, r *analyze.Reading) *analyze.Reading { r.Saw = saw; return r }

// cut is a cut of so many in² of 1018, 4 in high, that takes a minute.
func cut(minute int, area float64) *analyze.Reading {
	r := reading(analyze.KindCut, minute)
	r.Cut = &analyze.Cut{Seconds: ptr(60.0), Square: &area, Height: ptr(4.0), Count: 1, Grade: "1018", BandSpeed: ptr(250.0), Purpose: analyze.PurposePart}
	return r
}

func off(r *analyze.Reading, in float64) *analyze.Reading { r.Cut.Deviation = &in; return r }

func limited(r *analyze.Reading, in float64) *analyze.Reading { r.Cut.Limit = &in; return r }

func trip(minute int) *analyze.Reading {
	r := cut(minute, 10)
	r.Kind, r.ID, r.Cut.Done = analyze.KindTrip, fmt.Sprint("trip", minute), ptr(0.5)
	return r
}

func broken(minute int, where analyze.Place) *analyze.Reading {
	r := cut(minute, 10)
	r.Kind, r.ID, r.Cut.Done, r.Cut.Where = analyze.KindBreak, fmt.Sprint("break", minute), ptr(0.5), where
	return r
}

func fit(minute int, serial string) *analyze.Reading {
	r := reading(analyze.KindBlade, minute)
	r.ID += serial
	r.Blade = &analyze.BladeChange{Action: analyze.ActionFit, Serial: serial, Type: "T"}
	return r
}

func remove(minute int, serial string, reason analyze.EndReason) *analyze.Reading {
	r := reading(analyze.KindBlade, minute)
	r.ID += "off" + serial
	r.Blade = &analyze.BladeChange{Action: analyze.ActionRemove, Serial: serial, Reason: reason}
	return r
}

func said(minute int, state analyze.State, cause analyze.Cause) *analyze.Reading {
	r := reading(analyze.KindState, minute)
	r.State = &analyze.StateChange{State: state, Cause: cause}
	return r
}

func alive(minute int, online bool) *analyze.Reading {
	r := reading(analyze.KindAlive, minute)
	r.Alive = &analyze.Alive{Online: online}
	return r
}

func numbered(r *analyze.Reading, seq int64) *analyze.Reading { r.Seq = &seq; return r }

// shifted moves readings in time, and says how long each took to come.
func shifted(by, took time.Duration, readings ...*analyze.Reading) []*analyze.Reading {
	for _, r := range readings {
		r.At = r.At.Add(by)
		r.Received = r.At.Add(took)
	}
	return readings
}

// worn is so many blades of type T that cut 1,000 to 1,200 in² on s2 and are taken off
// dull, from minute 0 in steps of ten.
func worn(n int) (list []*analyze.Reading) {
	for i := range n {
		serial := fmt.Sprint("old", i)
		list = append(list, on("s2", fit(10*i, serial)), on("s2", cut(10*i+5, 1000+float64(i%3)*100)), on("s2", remove(10*i+9, serial, analyze.ReasonDull)))
	}
	return list
}

// text is the words of a look, for people to read over.
func text(look *alert.Look) string {
	var b strings.Builder
	for i := range look.Facts {
		f := &look.Facts[i]
		fmt.Fprintf(&b, "%s  level %.4g %s", f.Key, f.Level, alert.SpecOf(f.Kind).Unit)
		if f.Mark != "" {
			fmt.Fprintf(&b, "  mark %q", f.Mark)
		}
		fmt.Fprintf(&b, "\n  %s\n  sure:   %s\n", f.Words.What, f.Words.Sure)
		for _, c := range f.Words.Check {
			fmt.Fprintf(&b, "  check:  %s\n", c)
		}
		if f.Words.Advice != "" {
			fmt.Fprintf(&b, "  advice: %s\n", f.Words.Advice)
		}
		risky := ""
		if f.Words.Risky {
			risky = ", with the caution"
		}
		fmt.Fprintf(&b, "  page:   %s%s\n", f.Words.Path, risky)
	}
	return b.String()
}

// explain is a person's word on what s1 stood for.
func explain(t testing.TB, l *Looker, at time.Time, cause string, now time.Time) {
	t.Helper()
	e := store.Explanation{Saw: "s1", At: at, Cause: cause, Who: "the shift lead", Why: "seen", Recorded: now}
	if _, err := l.Store.Explain(t.Context(), e); err != nil {
		t.Fatal(err)
	}
}
