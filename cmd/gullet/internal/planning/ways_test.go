package planning

import (
	"slices"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/deviation"
	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/lives"
)

// A blade whose deviation is at the limit by all its readings, and that has not
// tripped, is the one to change most urgently: it must not be left without advice.
func TestABladeAtItsLimitIsAdvised(t *testing.T) {
	in := simulated(t, 61)
	s := in.saw(&in.Data.Saws[0], atTheLimit())
	if now := s.trend.Outlook.Chance(0); !(now > 1e-4) {
		t.Fatalf("the chance that the limit is reached already is %v: this tries nothing", now)
	}
	in.combine(s)
	got := in.answer(s)
	if got.Advise == nil {
		t.Fatalf("no advice: %s", got.WhyNone)
	}
	if got.Advise.Shift != nil || got.Advise.Odds != 0 {
		t.Errorf("advised %+v, want a change now", got.Advise)
	}
}

// atTheLimit is the trend of a blade that rose from 0 to a limit of 2.4 in 200 cuts.
func atTheLimit() *deviation.Trend {
	f := deviation.Fitting{Blade: "B", Start: opened}
	for i := range 200 {
		from := 30 * float64(i)
		f.Cuts = append(f.Cuts, deviation.Cut{
			At: opened.Add(time.Duration(i) * time.Minute), From: from, Area: from + 30, Deviation: 2.4 * float64(i) / 199,
			Height: 4, Face: 30, Seconds: 300, Speed: 200, Grade: "A992",
		})
	}
	trend := deviation.Study(deviation.Saw{Fittings: []deviation.Fitting{f}, Limit: 2.4, Shift: 1000})
	return &trend
}

// Deviation counts once: where this blade's own is followed, the pulls of others for
// theirs are left out, also where no blade of the type ended in another way.
func TestWaysOfABlade(t *testing.T) {
	crooked, stripped, several := lives.Part{Cause: analyze.ReasonCrooked}, lives.Part{Cause: analyze.ReasonStripped}, lives.Part{}
	for _, c := range []struct {
		name    string
		parts   []lives.Part
		crooked bool
		want    []string
	}{
		{"followed", []lives.Part{stripped, crooked}, false, []string{string(analyze.ReasonStripped)}},
		{"not followed", []lives.Part{stripped, crooked}, true, []string{string(analyze.ReasonStripped), string(analyze.ReasonCrooked)}},
		{"followed, no other way", []lives.Part{crooked}, false, nil},
		{"one curve for all", []lives.Part{several}, false, []string{"all ways together"}},
		{"one curve for the rest", []lives.Part{stripped, several}, false, []string{string(analyze.ReasonStripped), "rare ways together"}},
	} {
		var got []string
		for _, w := range waysOf(c.parts, &plan.Work{}, c.crooked) {
			got = append(got, w.Cause)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
