package life

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// lives makes observations from areas, negative ones standing for censored.
func lives(areas ...float64) []Observation {
	obs := make([]Observation, len(areas))
	for i, a := range areas {
		obs[i] = Observation{Area: math.Abs(a), Ended: a > 0}
	}
	return obs
}

// someLives draws lives with many ties and, if delayed, late entries.
func someLives(t *rapid.T, atLeast int, delayed bool) []Observation {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Observation {
		o := Observation{
			Area:  float64(rapid.IntRange(1, 60).Draw(t, "area")) * 150,
			Ended: rapid.Bool().Draw(t, "ended"),
		}
		if delayed {
			o.Start = float64(rapid.IntRange(0, int(o.Area)-1).Draw(t, "start"))
		}
		return o
	}), atLeast, 40).Draw(t, "lives")
}

// curveOf is KaplanMeier of lives that are in order.
func curveOf(t interface{ Fatal(...any) }, obs []Observation) Curve {
	c, err := KaplanMeier(obs)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// at reads the curve at an area.
func (c Curve) at(area float64) float64 {
	survival := 1.0
	for _, s := range c.Steps {
		if s.Area > area {
			break
		}
		survival = s.Survival
	}
	return survival
}

func TestKaplanMeierPublished(t *testing.T) {
	for _, c := range []struct {
		name string
		obs  []Observation
		want []float64
	}{
		// NIST/SEMATECH e-Handbook 8.4.1.3.
		{
			"NIST", lives(54, 187, 216, 240, 244, 335, 361, 373, 375, 386, -500, -500, -500, -500, -500, -500, -500, -500, -500, -500),
			[]float64{0.95, 0.90, 0.85, 0.80, 0.75, 0.70, 0.65, 0.60, 0.55, 0.50},
		},
		// Freireich et al. 1963, 6-MP arm: the classic series (from memory).
		{
			"6-MP", lives(6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32, -34, -35),
			[]float64{0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448},
		},
		// House example, computed by hand.
		{"seven blades", lives(4100, -5200, 6400, 7100, -7600, 8800, -9900), []float64{0.8571, 0.6857, 0.5143, 0.2571}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []float64
			for _, s := range curveOf(t, c.obs).Steps {
				got = append(got, s.Survival)
			}
			if diff := cmp.Diff(c.want, got, cmpopts.EquateApprox(0, 5.1e-4)); diff != "" {
				t.Errorf("survival (-want +got):\n%s", diff)
			}
		})
	}
}

func TestKaplanMeierAtTheEdges(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name string
		obs  []Observation
		want Curve
	}{
		{"nothing ended", lives(-5, -9), Curve{Blades: 2, Last: 9}},
		{"just fitted", lives(0), Curve{Blades: 1}},
		{
			"all ended", lives(8, 8),
			Curve{Blades: 2, Ended: 2, Last: 8, Steps: []Step{{8, 2, 2, 0, nan, nan, nan}}},
		},
		{
			"end before censoring at a tie", lives(8, -8),
			Curve{Blades: 2, Ended: 1, Last: 8, Steps: []Step{{8, 2, 1, 0.5, math.Sqrt(0.125), 0.00598, 0.91041}}},
		},
		{
			"came under observation where another ended", []Observation{{0, 8, true}, {8, 9, false}, {0, 10, false}},
			Curve{Blades: 3, Ended: 1, Last: 10, Steps: []Step{{8, 2, 1, 0.5, math.Sqrt(0.125), 0.00598, 0.91041}}},
		},
		{
			"watched over nothing", []Observation{{0, 8, true}, {0, 9, false}, {8.5, 8.5, false}, {3, 3, false}},
			Curve{Blades: 4, Ended: 1, Last: 9, Steps: []Step{{8, 2, 1, 0.5, math.Sqrt(0.125), 0.00598, 0.91041}}},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := curveOf(t, c.obs)
			if diff := cmp.Diff(c.want, got, cmpopts.EquateApprox(0, 1e-5), cmpopts.EquateNaNs(), cmpopts.EquateEmpty()); diff != "" {
				t.Errorf("curve (-want +got):\n%s", diff)
			}
		})
	}
}

func TestMedian(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		name string
		obs  []Observation
		want Estimate
	}{
		{"nothing ended", lives(-5, -9), Estimate{inf, inf, inf}},
		{"curve stays above a half", lives(5, -9, -9, -9), Estimate{inf, 5, inf}},
		{"middle of the flat stretch", lives(4, 8), Estimate{6, 4, inf}},
		{"flat to the last blade", lives(4, -9), Estimate{6.5, 4, inf}},
		{"first step below a half", lives(4, 7, 8), Estimate{7, 4, inf}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := curveOf(t, c.obs).Median(); got != c.want {
				t.Errorf("median %+v, want %+v", got, c.want)
			}
		})
	}
}

func TestImpossibleObservations(t *testing.T) {
	for _, c := range []struct {
		name string
		bad  Observation
		says string
	}{
		{"start NaN", Observation{Start: math.NaN(), Area: 5}, "observation 4: start NaN: want a number, at least 0"},
		{"start below 0", Observation{Start: -1, Area: 5}, "observation 4: start -1: want a number, at least 0"},
		{"start endless", Observation{Start: math.Inf(1), Area: math.Inf(1)}, "observation 4: start +Inf: want a number, at least 0"},
		{"area NaN", Observation{Area: math.NaN()}, "observation 4: area NaN: want a number"},
		{"area endless", Observation{Area: math.Inf(1)}, "observation 4: area +Inf: want a number"},
		{"area below start", Observation{Start: 5, Area: 4}, "observation 4: area 4 is less than start 5"},
		{"ended at nothing", Observation{Start: 3, Area: 3, Ended: true}, "observation 4: ended at 3 with no area cut since 3: leave it out"},
	} {
		t.Run(c.name, func(t *testing.T) {
			obs := append(lives(4, 7, 8), c.bad)
			if _, err := KaplanMeier(obs); err == nil || err.Error() != "survival curve: "+c.says {
				t.Errorf("curve: error %v, want %q", err, c.says)
			}
			if _, err := FitWeibull(obs); err == nil || err.Error() != "Weibull fit: "+c.says {
				t.Errorf("fit: error %v, want %q", err, c.says)
			}
		})
	}
	if _, err := KaplanMeier(nil); err == nil || err.Error() != "survival curve: no blades" {
		t.Errorf("no observations: error %v", err)
	}
}

func TestKaplanMeierProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 1, true)
		before := slices.Clone(obs)
		c := curveOf(t, obs)
		if diff := cmp.Diff(before, obs); diff != "" {
			t.Fatalf("the caller's observations changed:\n%s", diff)
		}
		last := 1.0
		for _, s := range c.Steps {
			if s.AtRisk < s.Ended || s.Survival < 0 || s.Survival > last {
				t.Fatalf("impossible step %+v after %v", s, last)
			}
			if s.Survival > 0 && !(0 <= s.Low && s.Low <= s.Survival && s.Survival <= s.High && s.High <= 1) {
				t.Fatalf("limits do not hold the curve: %+v", s)
			}
			last = s.Survival
		}
		shuffled := rapid.Permutation(obs).Draw(t, "shuffled")
		if diff := cmp.Diff(c, curveOf(t, shuffled), cmpopts.EquateNaNs()); diff != "" {
			t.Fatalf("order matters:\n%s", diff)
		}
	})
}

func TestCensoringNeverLowersTheCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 1, true)
		before := curveOf(t, obs)
		obs[rapid.IntRange(0, len(obs)-1).Draw(t, "which")].Ended = false
		after := curveOf(t, obs)
		for _, s := range before.Steps {
			if after.at(s.Area) < s.Survival-1e-12 {
				t.Fatalf("at %v the curve fell from %v to %v", s.Area, s.Survival, after.at(s.Area))
			}
		}
	})
}

// Without censoring the curve is the share of blades that got further.
func TestKaplanMeierOfWholeLivesIsTheShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 1, false)
		for i := range obs {
			obs[i].Ended = true
		}
		for _, s := range curveOf(t, obs).Steps {
			further := 0
			for _, o := range obs {
				if o.Area > s.Area {
					further++
				}
			}
			if want := float64(further) / float64(len(obs)); math.Abs(s.Survival-want) > 1e-12 {
				t.Fatalf("at %v: %v, but %v of the blades got further", s.Area, s.Survival, want)
			}
		}
	})
}

// Watching one blade in two pieces, end to end, is watching it once.
func TestSplittingALifeChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 1, false)
		var split []Observation
		for _, o := range obs {
			at := o.Area * rapid.Float64Range(0.1, 0.9).Draw(t, "at")
			split = append(split, Observation{Area: at}, Observation{Start: at, Area: o.Area, Ended: o.Ended})
		}
		if diff := cmp.Diff(curveOf(t, obs).Steps, curveOf(t, split).Steps, cmpopts.EquateNaNs()); diff != "" {
			t.Fatalf("curve (-whole +split):\n%s", diff)
		}
	})
}

// By hand: of ten blades that end at 1 to 10 the curve is 0.9 from 1 to 2 and 0.8 from
// 2 to 3; the area in the middle of a stretch that is exactly asked for, its beginning
// for one within a fall, and none where the curve ends above.
func TestQuantileOfTheCurve(t *testing.T) {
	var obs []Observation
	for i := range 10 {
		obs = append(obs, Observation{Area: float64(i + 1), Ended: true})
	}
	for p, want := range map[float64]float64{0.05: 1, 0.1: 1.5, 0.15: 2, 0.2: 2.5, 0.5: 5.5, 0.95: 10} {
		if got := curveOf(t, obs).Quantile(p).Value; got != want {
			t.Errorf("%v have ended by %v, want %v", p, got, want)
		}
	}
	obs[9].Ended, obs[8].Ended = false, false
	if got := curveOf(t, obs).Quantile(0.9).Value; !math.IsInf(got, 1) {
		t.Errorf("with two that run on nine tenths have ended by %v, want not reached", got)
	}
}
