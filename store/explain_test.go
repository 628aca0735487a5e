package store_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"gullet/store"
)

// waiting is a person's word that a stop of a saw at a minute was for the crane.
func waiting(saw string, at int) store.Explanation {
	return store.Explanation{
		Saw: saw, At: minute(at), Cause: "waiting-crane", Who: "supervisor", Why: "it served the other bay", Recorded: minute(1000),
	}
}

func takeBack(record int64) store.Explanation {
	return store.Explanation{Void: record, Who: "supervisor", Why: "it was another saw", Recorded: minute(1001)}
}

// explain records explanations, which must be numbered from 1.
func explain(t *testing.T, s *store.Store, list ...store.Explanation) {
	t.Helper()
	for i, e := range list {
		if id := must(s.Explain(t.Context(), e)); id != int64(i+1) {
			t.Fatalf("explanation number %d, want %d", id, i+1)
		}
	}
}

// explained is what is in force of s1 from minute 6 to 60, one line each.
func explained(t *testing.T, s *store.Store) []string {
	t.Helper()
	lines := []string{}
	for _, e := range must(s.Explanations(t.Context(), "s1", minute(6), minute(60))) {
		lines = append(lines, fmt.Sprintf("%d %s %s %s", e.ID, e.Saw, clock(e.At), e.Cause))
	}
	return lines
}

func TestExplanations(t *testing.T) {
	other := waiting("s1", 8)
	other.Cause = "first-off-inspection"
	for name, tc := range map[string]struct {
		said []store.Explanation
		want []string
	}{
		"nobody said anything":       {nil, []string{}},
		"one":                        {[]store.Explanation{waiting("s1", 8)}, []string{"1 s1 8 waiting-crane"}},
		"by moment, then by record":  {[]store.Explanation{waiting("s1", 8), waiting("s1", 7), other}, []string{"2 s1 7 waiting-crane", "1 s1 8 waiting-crane", "3 s1 8 first-off-inspection"}},
		"from a moment on":           {[]store.Explanation{waiting("s1", 5), waiting("s1", 6)}, []string{"2 s1 6 waiting-crane"}},
		"and before another":         {[]store.Explanation{waiting("s1", 59), waiting("s1", 60)}, []string{"1 s1 59 waiting-crane"}},
		"of another saw":             {[]store.Explanation{waiting("s2", 8)}, []string{}},
		"struck out":                 {[]store.Explanation{waiting("s1", 8), other, takeBack(1)}, []string{"2 s1 8 first-off-inspection"}},
		"struck out and said again":  {[]store.Explanation{waiting("s1", 8), takeBack(1), waiting("s1", 8)}, []string{"3 s1 8 waiting-crane"}},
		"a second one is struck out": {[]store.Explanation{waiting("s1", 8), other, takeBack(2)}, []string{"1 s1 8 waiting-crane"}},
		"of a cause no saw sends":    {[]store.Explanation{other}, []string{"1 s1 8 first-off-inspection"}},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			put(t, s, cut("s1", 5, ""), cut("s2", 5, ""))
			explain(t, s, tc.said...)
			if diff := cmp.Diff(tc.want, explained(t, s)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// TestExplanationReadsBack: who said what, when and why is told as it was recorded.
func TestExplanationReadsBack(t *testing.T) {
	s := open(t)
	put(t, s, cut("s1", 5, ""))
	want := waiting("s1", 8)
	want.At, want.Recorded = want.At.Add(123456*time.Microsecond), want.Recorded.Add(time.Microsecond)
	want.ID = must(s.Explain(t.Context(), want))
	if diff := cmp.Diff([]store.Explanation{want}, must(s.Explanations(t.Context(), "s1", want.At, want.At.Add(time.Microsecond)))); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestExplanationRefused(t *testing.T) {
	with := func(change func(*store.Explanation)) store.Explanation {
		e := waiting("s1", 7)
		change(&e)
		return e
	}
	s := open(t)
	put(t, s, cut("s1", 5, ""))
	explain(t, s, waiting("s1", 6), waiting("s1", 8), takeBack(2))
	for name, tc := range map[string]struct {
		e    store.Explanation
		want string
	}{
		"no saw":               {with(func(e *store.Explanation) { e.Saw = "" }), `explanation: no reading of that saw is stored`},
		"an unknown saw":       {waiting("s9", 7), `explanation on saw s9: no reading of that saw is stored`},
		"no time":              {with(func(e *store.Explanation) { e.At = time.Time{} }), `explanation on saw s1: the time is missing`},
		"the future":           {waiting("s1", 1001), `explanation on saw s1: 2026-03-02T22:41:00Z is in the future`},
		"no cause":             {with(func(e *store.Explanation) { e.Cause = " " }), `explanation on saw s1: the cause is missing`},
		"a cause like a story": {with(func(e *store.Explanation) { e.Cause = strings.Repeat("x", 1001) }), `explanation on saw s1: a text of 1001 bytes, at most 1000 are allowed`},
		"nobody":               {with(func(e *store.Explanation) { e.Who = " " }), `explanation on saw s1: who says so and why are needed`},
		"no reason":            {with(func(e *store.Explanation) { e.Why = "" }), `explanation on saw s1: who says so and why are needed`},
		"a reason too long":    {with(func(e *store.Explanation) { e.Why = strings.Repeat("x", 1001) }), `explanation on saw s1: a text of 1001 bytes, at most 1000 are allowed`},
		"struck out before":    {takeBack(2), `explanation void: there is no explanation 2 that still counts`},
		"a void":               {takeBack(3), `explanation void: there is no explanation 3 that still counts`},
		"one that is not":      {takeBack(77), `explanation void: there is no explanation 77 that still counts`},
		"a void by nobody":     {store.Explanation{Void: 1, Why: "x", Recorded: minute(1001)}, `explanation void: who says so and why are needed`},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := s.Explain(t.Context(), tc.e); err == nil || err.Error() != tc.want {
				t.Errorf("%v, want %s", err, tc.want)
			}
		})
	}
	if diff := cmp.Diff([]string{"1 s1 6 waiting-crane"}, explained(t, s)); diff != "" {
		t.Errorf("refused, but (-want +got):\n%s", diff)
	}
}

// TestExplanationLeavesTheReadings: nothing else that the store tells changes.
func TestExplanationLeavesTheReadings(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"), cut("s1", 5, ""), state("s1", 6, "stopped", "coolant"), cut("s1", 9, ""))
	before := told(t, s)
	delete(before, "export explanations")
	explain(t, s, waiting("s1", 7), takeBack(1), waiting("s1", 7))
	after := told(t, s)
	delete(after, "export explanations")
	if diff := cmp.Diff(before, after); diff != "" {
		t.Errorf("before -, after +:\n%s", diff)
	}
}

// TestExplanationIsNews: readers that follow the cursor see it, and see it struck out.
func TestExplanationIsNews(t *testing.T) {
	s := open(t)
	put(t, s, cut("s1", 5, ""))
	last := must(s.Cursor(t.Context()))
	for _, e := range []store.Explanation{waiting("s1", 5), takeBack(1)} {
		must(s.Explain(t.Context(), e))
		now := must(s.Cursor(t.Context()))
		if now == last {
			t.Errorf("the cursor stays at %d after %+v", now, e)
		}
		last = now
	}
}

// TestExportExplanations: every record stands in it, struck out or not.
func TestExportExplanations(t *testing.T) {
	s := open(t)
	put(t, s, cut("s1", 5, ""))
	explain(t, s, waiting("s1", 7), takeBack(1))
	wantExport(t, s, "explanations",
		"1,s1,2026-03-02T06:07:00.000000Z,waiting-crane,,supervisor,it served the other bay,2026-03-02T22:40:00.000000Z",
		"2,s1,2026-03-02T06:07:00.000000Z,,1,supervisor,it was another saw,2026-03-02T22:41:00.000000Z")
}
