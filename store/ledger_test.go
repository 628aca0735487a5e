package store_test

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gullet/analyze"
	"gullet/store"
)

func TestLedgerOfMessages(t *testing.T) {
	type readings = []*analyze.Reading
	for name, tc := range map[string]struct {
		in   readings
		want []string
	}{
		"a blade from its fit to its removal": {
			readings{fit("s1", 0, "A"), cut("s1", 5, "A"), cut("s1", 10, ""), remove("s1", 12, "A", "dull")},
			[]string{"s1 A 0-12 dull message cuts=2 area=24"},
		},
		"a cut at the moment of removal belongs to the blade that leaves": {
			readings{fit("s1", 0, "A"), cut("s1", 12, ""), remove("s1", 12, "A", "dull"), fit("s1", 12, "B"), cut("s1", 13, "")},
			[]string{"s1 A 0-12 dull message cuts=1 area=12", "s1 B 12-on message cuts=1 area=12"},
		},
		"fit while one is fitted": {
			readings{fit("s1", 0, "A"), cut("s1", 5, ""), fit("s1", 6, "B"), cut("s1", 7, "")},
			[]string{"s1 A 0-6 unknown message cuts=1 area=12", "s1 B 6-on message cuts=1 area=12"},
		},
		"fit of the same blade again": {
			readings{fit("s1", 0, "A"), cut("s1", 5, ""), fit("s1", 6, "A"), cut("s1", 7, "")},
			[]string{"s1 A 0-on message cuts=2 area=24"},
		},
		"a message outranks the serial on a cut": {
			readings{fit("s1", 0, "A"), cut("s1", 5, "Z"), cut("s1", 6, "A")},
			[]string{"s1 A 0-on message cuts=2 area=24"},
		},
		"cuts name the blade where nobody else does": {
			readings{cut("s1", 5, "A"), cut("s1", 6, ""), cut("s1", 7, "A"), cut("s1", 8, "B")},
			[]string{"s1 A <5-<8 unknown cut cuts=3 area=36", "s1 B <8-on cut cuts=1 area=12"},
		},
		"cuts with no known blade": {
			readings{cut("s1", 5, ""), cut("s1", 6, ""), fit("s1", 7, "A"), cut("s1", 8, "")},
			[]string{"s1 ? <5-7 unknown none cuts=2 area=24", "s1 A 7-on message cuts=1 area=12"},
		},
		"a break leaves the saw without a blade": {
			readings{fit("s1", 0, "A"), cut("s1", 5, ""), pass("break", "s1", 6, "A"), cut("s1", 9, "A"), cut("s1", 10, "A")},
			[]string{"s1 A 0-6 broke message cuts=2 area=18", "s1 ? <9-on none cuts=2 area=24"},
		},
		"the removal after a break tells where it broke": {
			readings{fit("s1", 0, "A"), pass("break", "s1", 6, ""), remove("s1", 8, "A", "broke-weld"), fit("s1", 9, "B")},
			[]string{"s1 A 0-6 broke-weld message cuts=1 area=6", "s1 B 9-on message cuts=0 area=0"},
		},
		"a blade that moves": {
			readings{fit("s1", 0, "A"), cut("s1", 5, ""), fit("s2", 10, "A"), cut("s2", 11, ""), cut("s1", 12, "A")},
			[]string{
				"s1 A 0-10 moved message cuts=1 area=12", "s1 ? <12-on none cuts=1 area=12",
				"s2 A 10-on message cuts=1 area=12",
			},
		},
		"a removal with no blade on changes nothing": {
			readings{remove("s1", 3, "A", "dull"), fit("s1", 5, "B")},
			[]string{"s1 B 5-on message cuts=0 area=0"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			put(t, s, tc.in...)
			if diff := cmp.Diff(tc.want, ledger(t, s)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			one := open(t)
			for i := len(tc.in) - 1; i >= 0; i-- { // the last first, one at a time
				put(t, one, tc.in[i])
			}
			if diff := cmp.Diff(tc.want, ledger(t, one)); diff != "" {
				t.Errorf("backwards (-want +got):\n%s", diff)
			}
		})
	}
}

// shopDay draws readings of two saws and three blades at few times, so that
// ties, gaps and moves are common.
func shopDay(t *rapid.T) []*analyze.Reading {
	serials := []string{"A", "B", "C"}
	var day []*analyze.Reading
	seqs := map[string]int64{}
	for i := range rapid.IntRange(1, 24).Draw(t, "readings") {
		saw := rapid.SampledFrom([]string{"s1", "s2"}).Draw(t, "saw")
		at := i + rapid.IntRange(-1, 1).Draw(t, "shift")
		serial := rapid.SampledFrom(serials).Draw(t, "serial")
		seen := rapid.SampledFrom([]string{"", "", serial}).Draw(t, "seen")
		var r *analyze.Reading
		switch rapid.IntRange(0, 9).Draw(t, "what") {
		case 0, 1:
			r = fit(saw, at, serial)
		case 2:
			r = remove(saw, at, serial, rapid.SampledFrom([]analyze.EndReason{"dull", "moved", "unknown", "broke-weld"}).Draw(t, "reason"))
		case 3:
			r = pass(analyze.KindBreak, saw, at, seen)
			r.Cut.Done = nil
		case 4:
			r = pass(analyze.KindTrip, saw, at, seen)
			if rapid.Bool().Draw(t, "untold") {
				r.Cut.Done = nil
			}
		default:
			r = cut(saw, at, seen)
			r.Cut.Seconds = ptr(float64(rapid.SampledFrom([]int{240, 480, 720}).Draw(t, "seconds")))
		}
		r.ID = fmt.Sprintf("%s-%d", r.ID, i)
		if rapid.IntRange(0, 9).Draw(t, "restart") == 0 {
			seqs[saw] = 0
		}
		if rapid.IntRange(0, 9).Draw(t, "lost") == 0 {
			seqs[saw] += 2
		}
		numbered(r, seqs[saw])
		seqs[saw]++
		day = append(day, r)
	}
	return day
}

// derived is everything the store derives from the readings of a shop. Numbers
// of fittings are left out: they are in order of discovery.
func derived(t testing.TB, s *store.Store, shop string) any {
	t.Helper()
	ctx := context.Background()
	fittings, err := s.Fittings(ctx, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	gaps, err := s.Gaps(ctx)
	if err != nil {
		t.Fatal(err)
	}
	saws, err := s.Saws(ctx)
	if err != nil {
		t.Fatal(err)
	}
	other := func(saw string) bool { return !strings.HasSuffix(saw, shop) }
	fittings = slices.DeleteFunc(fittings, func(f store.FittingRow) bool { return other(f.Saw) })
	for i := range fittings {
		fittings[i].ID = 0
	}
	gaps = slices.DeleteFunc(gaps, func(g store.SawGap) bool { return other(g.Saw) })
	saws = slices.DeleteFunc(saws, func(s store.SawRow) bool { return other(s.Name) })
	for i := range saws {
		saws[i].Fitting = nil
	}
	return []any{fittings, gaps, saws}
}

var nearly = cmp.Comparer(func(a, b float64) bool { return a == b || a-b < 1e-9 && b-a < 1e-9 })

// TestOrderDoesNotMatter is the property the ledger stands on: whatever the
// order, the batches and the repeats in which readings come, what is derived
// from them is the same.
func TestOrderDoesNotMatter(t *testing.T) {
	inOrder, shuffled := open(t), open(t)
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++ // each day has saws and blades of its own, since opening a file is slow
		shop := fmt.Sprint("#", n)
		day := shopDay(rt)
		for _, r := range day {
			r.Saw += shop
			if r.Cut != nil && r.Cut.Serial != "" {
				r.Cut.Serial += shop
			}
			if r.Blade != nil {
				r.Blade.Serial += shop
			}
		}
		put(t, inOrder, day...)
		again := rapid.Permutation(append(append([]*analyze.Reading{}, day...), day[:len(day)/3]...)).Draw(rt, "order")
		for len(again) > 0 {
			k := rapid.IntRange(1, len(again)).Draw(rt, "batch")
			put(t, shuffled, again[:k]...)
			again = again[k:]
		}
		if diff := cmp.Diff(derived(t, inOrder, shop), derived(t, shuffled, shop), nearly); diff != "" {
			rt.Fatalf("in order -, shuffled +:\n%s", diff)
		}
	})
}

func TestCorrections(t *testing.T) {
	who := func(c store.Correction) store.Correction {
		c.Who, c.Why, c.Recorded = "planner", "seen at the saw", minute(1000)
		return c
	}
	t.Run("name the blade of cuts without one", func(t *testing.T) {
		s := open(t)
		put(t, s, cut("s1", 5, ""), cut("s1", 6, ""), fit("s1", 7, "B"))
		if _, err := s.Correct(t.Context(), who(store.Correction{Saw: "s1", Action: store.CorrectName, At: minute(6), Serial: "A"})); err != nil {
			t.Fatal(err)
		}
		want := []string{"s1 A <5-7 unknown correction cuts=2 area=24", "s1 B 7-on message cuts=0 area=0"}
		if diff := cmp.Diff(want, ledger(t, s)); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("void a wrong fit and add the right one, then void that too", func(t *testing.T) {
		s := open(t)
		put(t, s, fit("s1", 0, "A"), cut("s1", 5, ""), fit("s1", 6, "WRONG"), cut("s1", 7, ""))
		if _, err := s.Correct(t.Context(), who(store.Correction{Action: store.CorrectVoid, VoidEvent: 2})); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff([]string{"s1 A 0-on message cuts=2 area=24"}, ledger(t, s)); diff != "" {
			t.Error(diff)
		}
		id, err := s.Correct(t.Context(), who(store.Correction{Saw: "s1", Action: store.CorrectFit, At: minute(6), Serial: "B"}))
		if err != nil {
			t.Fatal(err)
		}
		want := []string{"s1 A 0-6 unknown message cuts=1 area=12", "s1 B 6-on correction cuts=1 area=12"}
		if diff := cmp.Diff(want, ledger(t, s)); diff != "" {
			t.Error(diff)
		}
		if _, err := s.Correct(t.Context(), who(store.Correction{Action: store.CorrectVoid, VoidRecord: id})); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff([]string{"s1 A 0-on message cuts=2 area=24"}, ledger(t, s)); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("refused with a reason and without effect", func(t *testing.T) {
		s := open(t)
		put(t, s, fit("s1", 0, "A"), cut("s1", 5, ""))
		for name, c := range map[string]store.Correction{
			"no such saw":     who(store.Correction{Saw: "s9", Action: store.CorrectFit, At: minute(1), Serial: "A"}),
			"no serial":       who(store.Correction{Saw: "s1", Action: store.CorrectFit, At: minute(1)}),
			"before any cut":  who(store.Correction{Saw: "s1", Action: store.CorrectName, At: minute(-5), Serial: "A"}),
			"named already":   who(store.Correction{Saw: "s1", Action: store.CorrectName, At: minute(5), Serial: "A"}),
			"no such event":   who(store.Correction{Action: store.CorrectVoid, VoidEvent: 99}),
			"unknown action":  who(store.Correction{Saw: "s1", Action: "paint", At: minute(1)}),
			"strange serial":  who(store.Correction{Saw: "s1", Action: store.CorrectRemove, At: minute(6), Serial: "NOPE", Reason: analyze.ReasonDull}),
			"unknown reason":  who(store.Correction{Saw: "s1", Action: store.CorrectRemove, At: minute(6), Reason: "tired"}),
			"in the future":   who(store.Correction{Saw: "s1", Action: store.CorrectFit, At: minute(2000), Serial: "B"}),
			"nobody and null": {Saw: "s1", Action: store.CorrectFit, At: minute(1), Serial: "B", Recorded: minute(1000)},
		} {
			if _, err := s.Correct(t.Context(), c); err == nil {
				t.Errorf("%s: no error", name)
			}
		}
		if diff := cmp.Diff([]string{"s1 A 0-on message cuts=1 area=12"}, ledger(t, s)); diff != "" {
			t.Error(diff)
		}
	})
}

// TestCorrectionBesideTheDaemon: the daemon's memory of the ledger must not
// outlive another process's commit.
func TestCorrectionBesideTheDaemon(t *testing.T) {
	path := filepath.Join(t.TempDir(), "gullet.db")
	daemon := openAt(t, path)
	put(t, daemon, fit("s1", 0, "A"), cut("s1", 5, ""))
	command, err := store.OpenWriter(t.Context(), store.Options{Path: path})
	if err != nil {
		t.Fatal(err)
	}
	_, err = command.Correct(t.Context(), store.Correction{
		Saw: "s1", Action: store.CorrectFit, At: minute(6), Serial: "B", Who: "planner", Why: "not sent", Recorded: minute(9),
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Close(); err != nil {
		t.Fatal(err)
	}
	put(t, daemon, cut("s1", 8, ""))
	want := []string{"s1 A 0-6 unknown message cuts=1 area=12", "s1 B 6-on correction cuts=1 area=12"}
	if diff := cmp.Diff(want, ledger(t, daemon)); diff != "" {
		t.Error(diff)
	}
}

// TestFittingKeepsItsNumber: others refer to fittings by number.
func TestFittingKeepsItsNumber(t *testing.T) {
	s := open(t)
	put(t, s, cut("s1", 5, "A"), cut("s1", 6, "A"))
	before, _ := s.Fittings(t.Context(), time.Time{})
	put(t, s, fit("s1", 1, "A"))
	put(t, s, cut("s1", 3, ""))
	put(t, s, remove("s1", 9, "A", "dull"))
	after, _ := s.Fittings(t.Context(), time.Time{})
	if len(after) != 1 || after[0].ID != before[0].ID || after[0].Cuts != 3 {
		t.Errorf("before %+v, after %+v", before, after)
	}
}

// TestEstimateFollowsLateCuts: a break half way through by the saw's pace
// (12 in² in 240 s), then by the pace of late, slower cuts.
func TestEstimateFollowsLateCuts(t *testing.T) {
	s := open(t)
	broke := pass(analyze.KindBreak, "s1", 20, "")
	broke.Cut.Done, broke.Cut.Seconds = nil, ptr(120.0)
	area := func() float64 {
		list, err := s.Deviations(context.Background(), 1, 1)
		if err != nil || len(list) != 1 || list[0].Area == nil {
			t.Fatalf("%v, %v", list, err)
		}
		return *list[0].Area
	}
	put(t, s, fit("s1", 0, "A"), cut("s1", 5, ""), broke)
	if got := area(); got != 6 {
		t.Errorf("120 s at 3 in²/min: %g in², want 6", got)
	}
	for i := 6; i < 9; i++ {
		slow := cut("s1", i, "")
		slow.Cut.Seconds = ptr(480.0)
		put(t, s, slow)
	}
	if got := area(); got != 3 {
		t.Errorf("120 s at 1.5 in²/min: %g in², want 3", got)
	}
	if got := ledger(t, s)[0]; got != "s1 A 0-20 broke message cuts=5 area=51" {
		t.Error(got)
	}
}

// TestTypeFollowsTheSerial: a blade keeps its type where a message leaves it out.
func TestTypeFollowsTheSerial(t *testing.T) {
	s := open(t)
	typed := fit("s1", 0, "A")
	typed.Blade.Type = "bimetal 3/4"
	put(t, s, typed, remove("s1", 5, "A", "planned"), fit("s1", 9, "A"), fit("s2", 9, "B"))
	for _, f := range must(s.Fittings(t.Context(), time.Time{})) {
		if want := map[string]string{"A": "bimetal 3/4", "B": ""}[f.Serial]; f.Type != want {
			t.Errorf("%s has type %q, want %q", f.Serial, f.Type, want)
		}
	}
	if f := must(s.Saws(t.Context()))[0].Fitting; f.Type != "bimetal 3/4" {
		t.Errorf("on the saw: type %q", f.Type)
	}
}
