package store_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze"
	"gullet/store"
)

// same is a person's word that no blade was changed on a saw at a minute.
func same(saw string, at int) store.Correction {
	return store.Correction{
		Saw: saw, Action: store.CorrectSame, At: minute(at), Who: "planner", Why: "the guides were reset", Recorded: minute(1000),
	}
}

func strikeOut(record int64) store.Correction {
	return store.Correction{Action: store.CorrectVoid, VoidRecord: record, Who: "planner", Why: "it was changed", Recorded: minute(1001)}
}

// correct records corrections, which must be numbered from 1.
func correct(t *testing.T, s *store.Store, list ...store.Correction) {
	t.Helper()
	for i, c := range list {
		if id := must(s.Correct(t.Context(), c)); id != int64(i+1) {
			t.Fatalf("correction number %d, want %d", id, i+1)
		}
	}
}

func TestDismissed(t *testing.T) {
	fitted := store.Correction{
		Saw: "s1", Action: store.CorrectFit, At: minute(6), Serial: "B", Who: "planner", Why: "not sent", Recorded: minute(1000),
	}
	type times = map[string][]time.Time
	for name, tc := range map[string]struct {
		said []store.Correction
		want times
	}{
		"nobody said anything":              {nil, times{}},
		"one":                               {[]store.Correction{same("s1", 6)}, times{"s1": {minute(6)}}},
		"in order of time, by saw":          {[]store.Correction{same("s1", 8), same("s2", 6), same("s1", 6)}, times{"s1": {minute(6), minute(8)}, "s2": {minute(6)}}},
		"before the saw's first reading":    {[]store.Correction{same("s1", -60)}, times{"s1": {minute(-60)}}},
		"struck out":                        {[]store.Correction{same("s1", 6), same("s1", 8), strikeOut(1)}, times{"s1": {minute(8)}}},
		"struck out and said again":         {[]store.Correction{same("s1", 6), strikeOut(1), same("s1", 6)}, times{"s1": {minute(6)}}},
		"other corrections dismiss nothing": {[]store.Correction{fitted, strikeOut(1)}, times{}},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			put(t, s, cut("s1", 5, ""), cut("s2", 5, ""))
			correct(t, s, tc.said...)
			if diff := cmp.Diff(tc.want, must(s.Dismissed(t.Context()))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestDismissalRefused(t *testing.T) {
	with := func(change func(*store.Correction)) store.Correction {
		c := same("s1", 7)
		change(&c)
		return c
	}
	s := open(t)
	put(t, s, fit("s1", 0, "A"), cut("s1", 5, ""))
	correct(t, s, same("s1", 6), same("s1", 8), strikeOut(2))
	for name, tc := range map[string]struct {
		c    store.Correction
		want string
	}{
		"no saw":            {with(func(c *store.Correction) { c.Saw = "" }), `correction same: no reading of that saw is stored`},
		"an unknown saw":    {same("s9", 7), `correction same on saw s9: no reading of that saw is stored`},
		"no time":           {with(func(c *store.Correction) { c.At = time.Time{} }), `correction same: the time is missing`},
		"the future":        {same("s1", 1001), `correction same: 2026-03-02T22:41:00Z is in the future`},
		"nobody":            {with(func(c *store.Correction) { c.Who = " " }), `correction same: who corrects and why are needed`},
		"no reason":         {with(func(c *store.Correction) { c.Why = "" }), `correction same: who corrects and why are needed`},
		"a blade":           {with(func(c *store.Correction) { c.Serial = "A" }), `correction same: no blade was changed, so it names none`},
		"a type":            {with(func(c *store.Correction) { c.Type = "bimetal" }), `correction same: no blade was changed, so it names none`},
		"said already":      {same("s1", 6), `correction same on saw s1: correction 1 says so of 2026-03-02T06:06:00Z already`},
		"struck out before": {strikeOut(2), `correction void: there is no correction 2 that still counts`},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := s.Correct(t.Context(), tc.c); err == nil || err.Error() != tc.want {
				t.Errorf("%v, want %s", err, tc.want)
			}
		})
	}
	if diff := cmp.Diff(map[string][]time.Time{"s1": {minute(6)}}, must(s.Dismissed(t.Context()))); diff != "" {
		t.Errorf("refused, but (-want +got):\n%s", diff)
	}
}

// told is all that a store tells but the corrections themselves.
func told(t *testing.T, s *store.Store) map[string]any {
	t.Helper()
	all := map[string]any{
		"saws": must(s.Saws(t.Context())), "fittings": must(s.Fittings(t.Context(), time.Time{})), "gaps": must(s.Gaps(t.Context())),
	}
	for _, table := range store.Exports() {
		if table == "corrections" {
			continue
		}
		var out bytes.Buffer
		if err := s.Export(t.Context(), table, &out); err != nil {
			t.Fatal(err)
		}
		all["export "+table] = out.String()
	}
	return all
}

// TestDismissalLeavesTheLedger compares a store where a change was dismissed
// with one where nobody said so, also once late messages and a correction have
// made the ledger anew from before that time.
func TestDismissalLeavesTheLedger(t *testing.T) {
	day := []*analyze.Reading{
		fit("s1", 0, "A"), cut("s1", 5, ""), pass(analyze.KindTrip, "s1", 6, "Z"), remove("s1", 9, "A", "dull"),
		cut("s1", 11, ""), cut("s1", 12, "C"), cut("s2", 5, "B"), cut("s2", 7, ""),
	}
	late := []*analyze.Reading{fit("s1", 1, "A2"), cut("s1", 3, ""), fit("s2", 4, "A"), pass(analyze.KindBreak, "s2", 13, "")}
	fitted := store.Correction{
		Saw: "s1", Action: store.CorrectFit, At: minute(2), Serial: "B", Who: "planner", Why: "not sent", Recorded: minute(1002),
	}
	for name, said := range map[string][]store.Correction{
		"at a cut":                           {same("s1", 5)},
		"at a fit":                           {same("s1", 0)},
		"at a removal":                       {same("s1", 9)},
		"between blades":                     {same("s1", 10)},
		"of a blade that only its cuts name": {same("s2", 6)},
		"before and after everything":        {same("s1", -9), same("s1", 99)},
		"and struck out":                     {same("s1", 5), strikeOut(1)},
	} {
		t.Run(name, func(t *testing.T) {
			silent, spoken := open(t), open(t)
			put(t, silent, day...)
			put(t, spoken, day...)
			before := told(t, spoken)
			correct(t, spoken, said...)
			if diff := cmp.Diff(before, told(t, spoken)); diff != "" {
				t.Errorf("before -, after +:\n%s", diff)
			}
			for _, s := range []*store.Store{silent, spoken} {
				put(t, s, late...)
				must(s.Correct(t.Context(), fitted))
			}
			if diff := cmp.Diff(derived(t, silent, ""), derived(t, spoken, "")); diff != "" {
				t.Errorf("after late messages, nobody spoke -, dismissed +:\n%s", diff)
			}
		})
	}
}

// TestDismissalIsNews: readers that follow the cursor see it, and see it
// struck out.
func TestDismissalIsNews(t *testing.T) {
	s := open(t)
	put(t, s, cut("s1", 5, ""))
	last := must(s.Cursor(t.Context()))
	for _, c := range []store.Correction{same("s1", 5), strikeOut(1)} {
		must(s.Correct(t.Context(), c))
		if now := must(s.Cursor(t.Context())); now == last {
			t.Errorf("the cursor stays at %d after %s", now, c.Action)
		} else {
			last = now
		}
	}
}
