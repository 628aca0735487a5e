package backtest

import (
	"fmt"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/config"
	"gullet/store"
)

// A blade is held against the limit that the saw is known to have, as gullet trend would:
// what passes told on blades before it counts before its own first trip, and what they
// tell on the blade itself from then on. (By hand: a limit of 0.012 in over a cut of 6 in
// is 0.002; of several that are no one length the middle one counts.)
func TestTheLimitIsKnownFromBladeToBlade(t *testing.T) {
	six := store.HistoryRow{Kind: analyze.KindCut, Grade: "1018", Area: ptr(10.0), Height: ptr(6.0)}
	trip, looser := six, six
	trip.Kind, trip.Limit = analyze.KindTrip, ptr(0.012)
	looser.Limit = ptr(0.018)
	for name, c := range map[string]struct {
		configured *float64
		passes     [2][]store.HistoryRow
		want       [2]string // the limits before and after the passes of the second blade
	}{
		"nobody tells":             {nil, [2][]store.HistoryRow{{six, six}, {six, six}}, [2]string{"[]", "[]"}},
		"told on the blade before": {nil, [2][]store.HistoryRow{{six, trip}, {six, six}}, [2]string{"[0.002]", "[0.002]"}},
		"told on the blade itself": {nil, [2][]store.HistoryRow{{six, six}, {six, trip}}, [2]string{"[]", "[0.002]"}},
		"set otherwise meanwhile":  {nil, [2][]store.HistoryRow{{six, trip}, {looser, looser}}, [2]string{"[0.002]", "[0.003]"}},
		"configured":               {ptr(0.012), [2][]store.HistoryRow{{six, six}, {six, six}}, [2]string{nine, nine}},
	} {
		t.Run(name, func(t *testing.T) {
			tr := trackOf(c.configured)
			for i, list := range c.passes {
				for k, h := range list {
					h.At = tr.stays[i].row.Start.Add(time.Duration(k+1) * time.Minute)
					tr.to(h.At)
					if _, over := tr.limit(); i == 1 && k == 0 && fmt.Sprintf("%.3g", over) != c.want[0] {
						t.Errorf("when the second blade was hung: %.3g, want %s", over, c.want[0])
					}
					if err := tr.pass(h); err != nil {
						t.Fatal(err)
					}
				}
			}
			if _, over := tr.limit(); tr.at != 1 || fmt.Sprintf("%.3g", over) != c.want[1] {
				t.Errorf("on blade %d in the end: %.3g, want %s", tr.at+1, over, c.want[1])
			}
		})
	}
}

// nine is one length over the nine heights that stand for a mix, all of 6 in.
const nine = "[0.002 0.002 0.002 0.002 0.002 0.002 0.002 0.002 0.002]"

// trackOf is a saw that had two blades on, at the first.
func trackOf(limit *float64) *track {
	cfg := config.Config{Saws: []analyze.Saw{{Name: "s1", TripLimit: limit}}}
	weights := map[string]float64{"1018": 1}
	first, second := &store.FittingRow{}, &store.FittingRow{}
	first.Start, first.End, second.Start = opened, opened.Add(time.Hour), opened.Add(2*time.Hour)
	t := &track{
		Input: &Input{Config: &cfg}, saw: "s1", weights: weights, calendar: cfg.Calendar(),
		stays: []*stay{{row: first, kind: "T", weights: weights}, {row: second, kind: "T", weights: weights}},
	}
	t.hang()
	return t
}

// The deviation of a blade is followed whether the limit was told on blades before it
// only, or for the first time on the blade itself.
func TestABladeIsFollowedOnceTheLimitIsKnown(t *testing.T) {
	in := worn(t, 2, 60)
	last := &in.Fittings[59]
	half := last.Start.Add(last.LastPass.Sub(last.Start) / 2)
	for name, c := range map[string]struct {
		told     func(at time.Time) bool
		followed bool
	}{
		"never":                {func(time.Time) bool { return false }, false},
		"on blades before":     {func(at time.Time) bool { return at.Before(last.Start) }, true},
		"from its middle life": {func(at time.Time) bool { return at.After(half) }, true},
	} {
		own := *in
		own.Passes = func(saw string, from, until time.Time, each func(store.HistoryRow) error) error {
			return in.Passes(saw, from, until, func(h store.HistoryRow) error {
				if !c.told(h.At) {
					h.Limit = nil
				}
				return each(h)
			})
		}
		for _, b := range ruled(t, &own) {
			if b.serial == last.Serial && b.ruling.followed != c.followed {
				t.Errorf("%s: followed %v, want %v", name, b.ruling.followed, c.followed)
			}
		}
	}
}
