package store_test

import (
	"slices"
	"testing"

	"gullet/analyze"
	"gullet/store"
)

func TestNewestPassesAreOfTheBladeThatIsOn(t *testing.T) {
	s := open(t)
	limited := pass(analyze.KindTrip, "s1", 22, "")
	limited.Cut.Deviation, limited.Cut.Limit = ptr(-0.04), ptr(0.05)
	put(t, s, fit("s1", 0, "A"), cut("s1", 5, ""), fit("s1", 10, "B"), cut("s1", 15, ""), cut("s1", 20, ""), limited,
		fit("s2", 0, "C"), cut("s2", 30, ""), remove("s2", 40, "C", analyze.ReasonDull))
	for _, c := range []struct {
		name, saw string
		n         int
		want      []int // minutes
	}{
		{"all", "s1", 10, []int{22, 20, 15}},
		{"the last two", "s1", 2, []int{22, 20}},
		{"no blade is on", "s2", 10, nil},
		{"no such saw", "s9", 10, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			list, err := s.NewestPasses(t.Context(), c.saw, c.n)
			if err != nil {
				t.Fatal(err)
			}
			var got []int
			for _, p := range list {
				got = append(got, int(p.At.Sub(t0).Minutes()))
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("passes of minutes %v, want %v", got, c.want)
			}
		})
	}
	list, err := s.NewestPasses(t.Context(), "s1", 2)
	if err != nil {
		t.Fatal(err)
	}
	p := list[0]
	if p.Kind != analyze.KindTrip || *p.Deviation != -0.04 || *p.Limit != 0.05 || *p.Height != 4 || list[1].Deviation != nil || list[1].Limit != nil {
		t.Errorf("passes %+v, want a trip at -0.04 of 0.05 in, 4 in high, and one that told neither", list)
	}
}

func TestEnded(t *testing.T) {
	s := open(t)
	put(t, s,
		fit("s1", 0, "old"), remove("s1", 5, "old", analyze.ReasonDull),
		fit("s1", 10, "A"), remove("s1", 50, "A", analyze.ReasonCrooked), fit("s1", 60, "B"),
		fit("s2", 0, "C"), cut("s2", 5, ""), pass(analyze.KindBreak, "s2", 55, ""),
		fit("s3", 0, "D"), pass(analyze.KindBreak, "s3", 55, ""), cut("s3", 60, ""),
		fit("s4", 0, "E"), remove("s4", 50, "E", analyze.ReasonPlanned))
	list, err := s.Ended(t.Context(), minute(50))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range list {
		text := e.Saw + " " + e.Serial + " " + string(e.Reason)
		if e.Bare {
			text += " bare"
		}
		got = append(got, text)
	}
	if want := []string{"s1 A crooked", "s2 C broke bare", "s3 D broke"}; !slices.Equal(got, want) {
		t.Errorf("ended %q, want %q", got, want)
	}
	if c := list[slices.IndexFunc(list, func(e store.EndedRow) bool { return e.Serial == "C" })]; c.Cuts != 2 || c.Area != 18 {
		t.Errorf("C made %d passes of %v in², want 2 of 18", c.Cuts, c.Area)
	}
}
