package life

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// nistLives is the censored example of the NIST/SEMATECH e-Handbook, 8.4.1.3.
var nistLives = lives(54, 187, 216, 240, 244, 335, 361, 373, 375, 386,
	-500, -500, -500, -500, -500, -500, -500, -500, -500, -500)

// byHand is the chance to cut x more by the definition: the average of
// R(cut+x)/R(cut) over a plain two-dimensional grid of (ln shape, ln scale),
// weighted by the likelihood as written and by R(cut)/R(counted).
func byHand(obs []Observation, w Weibull, cut, counted float64, x []float64) []float64 {
	const n = 250
	r := float64(w.Ended)
	left := make([]float64, len(x))
	var sum float64
	for i := range n {
		a := math.Log(w.Shape) - 4 + 6*(float64(i)+0.5)/n
		if a < math.Log(lowestShape) {
			continue
		}
		shape := math.Exp(a)
		// About the best scale for this shape, as wide as a gamma of r ends is.
		var m float64
		for _, o := range obs {
			m += math.Pow(o.Area, shape) - math.Pow(o.Start, shape)
		}
		for j := range n {
			g := -14 + 18*(float64(j)+0.5)/n // ln of m/scale^shape, over r
			scale := math.Exp((math.Log(m/r) - g) / shape)
			alive := func(area float64) float64 { return math.Pow(area/scale, shape) }
			// 1/shape: a step in g is that much of a step in ln scale.
			weight := math.Exp(logLik(obs, shape, scale)-w.LogLik-alive(cut)+alive(counted)) / shape
			sum += weight
			for l := range x {
				left[l] += weight * math.Exp(alive(cut)-alive(cut+x[l]))
			}
		}
	}
	for l := range left {
		left[l] /= sum
	}
	return left
}

func TestRemainingIsTheAverageOverTheLikelihood(t *testing.T) {
	late := []Observation{{2000, 5200, true}, {0, 6100, true}, {3000, 9000, false}, {0, 7400, true}, {500, 4400, true}, {0, 2500, false}}
	for _, c := range []struct {
		name         string
		obs          []Observation
		cut, counted float64
		tolerance    float64 // in the share left
	}{
		// At three ends the likelihood still has some weight at lowestShape,
		// where the grid stops up to a step early: two thousandths of share.
		{"three ends, new blade", lives(4100, 6400, 8800, -5200), 0, 0, 2.5e-3},
		{"three ends, worn blade outside the fit", lives(4100, 6400, 8800, -5200), 6000, 0, 2.5e-3},
		{"three ends, blade in the fit", lives(4100, 6400, 8800, -5200), 5200, 5200, 2.5e-3},
		{"three ends, blade further than in the fit", lives(4100, 6400, 8800, -5200), 9000, 5200, 2.5e-3},
		{"ten ends", nistLives, 500, 500, 1e-6},
		{"ten ends, far beyond the data", nistLives, 3000, 0, 2e-5},
		{"late entries", late, 2500, 0, 1e-4},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := fitOf(t, c.obs)
			got := w.Remaining(c.cut, c.counted)
			left := byHand(c.obs, w, c.cut, c.counted, []float64{got.Q10, got.Q50, got.Q90})
			for i, want := range []float64{0.9, 0.5, 0.1} {
				if math.Abs(left[i]-want) > c.tolerance {
					t.Errorf("at %+v the average leaves %.7f, want %.1f", got, left[i], want)
				}
			}
		})
	}
}

// With many ends there is little doubt left and the plug-in answers.
func TestRemainingTendsToThePlugIn(t *testing.T) {
	w := fitOf(t, drawnLives(rand.New(rand.NewPCG(6, 0)), 20_000, 2.5, 10000, 16000))
	for _, cut := range []float64{0, 3000, 9000, 15000} {
		got, want := w.Remaining(cut, 0), w.PlugIn(cut)
		near(t, "Q10", got.Q10, want.Q10, 2e-3)
		near(t, "Q50", got.Q50, want.Q50, 2e-3)
		near(t, "Q90", got.Q90, want.Q90, 2e-3)
	}
}

// cover simulates a shop: in each trial, blades of a Weibull(2.5, 10000) are
// followed until ends of them have ended, the others being pulled early at
// random; one more has cut some area and is still running, in the fit as
// such. It returns how often what that blade had left fell within the 10 to
// 90 % window, of Remaining and of the plug-in.
func cover(t *testing.T, random *rand.Rand, ends, trials int) (remaining, plugIn float64) {
	t.Helper()
	const shape, scale = 2.5, 10000.0
	for range trials {
		var obs []Observation
		for seen := 0; seen < ends; {
			o := drawnLives(random, 1, shape, scale, 20000)[0]
			obs = append(obs, o)
			if o.Ended {
				seen++
			}
		}
		cut := scale * random.Float64()
		obs = append(obs, Observation{Area: cut})
		left := scale*math.Pow(math.Pow(cut/scale, shape)+random.ExpFloat64(), 1/shape) - cut
		w := fitOf(t, obs)
		if r := w.Remaining(cut, cut); r.Q10 <= left && left <= r.Q90 {
			remaining += 100 / float64(trials)
		}
		if r := w.PlugIn(cut); r.Q10 <= left && left <= r.Q90 {
			plugIn += 100 / float64(trials)
		}
	}
	return remaining, plugIn
}

// Simulated, seed 8, 3,000 shops with 8 ends each: standard error 0.7 points.
func TestRemainingCovers(t *testing.T) {
	remaining, plugIn := cover(t, rand.New(rand.NewPCG(8, 0)), 8, 3000)
	t.Logf("10 to 90 %% windows held %.1f %%, of the plug-in %.1f %%", remaining, plugIn)
	if math.Abs(remaining-80) > 3 {
		t.Errorf("10 to 90 %% windows held %.1f %%, want about 80", remaining)
	}
	if plugIn > remaining-3 {
		t.Errorf("the plug-in held %.1f %% against %.1f: it should lack the doubt about the fit", plugIn, remaining)
	}
}

func TestRemainingProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 4, rapid.Bool().Draw(t, "delayed"))
		w := fitOrSkip(t, obs)
		cut := math.Pow(10, rapid.Float64Range(-6, 9).Draw(t, "magnitude of cut"))
		if rapid.Bool().Draw(t, "new") {
			cut = 0
		}
		counted := cut * rapid.Float64Range(0, 1.2).Draw(t, "counted")
		for _, r := range []Remaining{w.Remaining(cut, counted), w.PlugIn(cut)} {
			if !(0 <= r.Q10 && r.Q10 <= r.Q50 && r.Q50 <= r.Q90) {
				t.Fatalf("%+v left after %v of %+v", r, cut, w)
			}
		}
		if r := w.Remaining(cut, counted); math.IsInf(r.Q90, 0) {
			t.Fatalf("endless: %+v left after %v", r, cut)
		}
		unit := math.Pow(10, float64(rapid.IntRange(-9, 9).Draw(t, "unit")))
		for i := range obs {
			obs[i].Start *= unit
			obs[i].Area *= unit
		}
		got, want := fitOf(t, obs).Remaining(cut*unit, counted*unit), w.Remaining(cut, counted)
		for _, pair := range [][2]float64{{got.Q10, want.Q10}, {got.Q50, want.Q50}, {got.Q90, want.Q90}} {
			if math.Abs(pair[0]/unit-pair[1]) > 1e-5*pair[1] {
				t.Fatalf("in another unit %+v, want %+v times %v", got, want, unit)
			}
		}
	})
}

func TestRemainingFoldsDoubtIn(t *testing.T) {
	w := fitOf(t, lives(4100, 6400, 8800, -5200))
	got, plugIn := w.Remaining(0, 0), w.PlugIn(0)
	if !(got.Q10 < plugIn.Q10 && got.Q90 > plugIn.Q90) {
		t.Errorf("three ends leave %+v, not wider than the plug-in's %+v", got, plugIn)
	}
	// A blade the fit has not seen and that outlived them all is itself news.
	if news, known := w.Remaining(12000, 0), w.Remaining(12000, 12000); news.Q50 <= known.Q50 {
		t.Errorf("12,000 in² survived count for nothing: %+v left, %+v had the fit known", news, known)
	}
}

func TestRemainingAtTheEdges(t *testing.T) {
	w := fitOf(t, nistLives)
	if got, want := w.Remaining(-5, -7), w.Remaining(0, 0); got != want {
		t.Errorf("after less than nothing %+v, want as after nothing, %+v", got, want)
	}
	if got, want := w.Remaining(300, 400), w.Remaining(300, 300); got != want {
		t.Errorf("counted beyond cut %+v, want %+v", got, want)
	}
	if got, want := w.PlugIn(-5), w.PlugIn(0); got != want {
		t.Errorf("plug-in after less than nothing %+v, want %+v", got, want)
	}
	// A steep curve far out: powers of the area overflow, the answer must not.
	far := fitOf(t, lives(4100, 4101, 4102, 4104)).Remaining(1e60, 0)
	if !(0 < far.Q10 && far.Q10 < far.Q50 && far.Q50 < far.Q90 && far.Q90 < math.Inf(1)) {
		t.Errorf("far beyond a steep curve %+v left, want three rising numbers", far)
	}
	for name, r := range map[string]Remaining{
		"cut NaN":     w.Remaining(math.NaN(), 0),
		"counted NaN": w.Remaining(5, math.NaN()),
		"cut endless": w.Remaining(math.Inf(1), 0),
		"not fitted":  Weibull{Shape: 2, Scale: 9}.Remaining(1, 0),
	} {
		if !math.IsNaN(r.Q10) || !math.IsNaN(r.Q50) || !math.IsNaN(r.Q90) {
			t.Errorf("%s: %+v, want NaN", name, r)
		}
	}
	// 30 scales out, the closed form would lose its digits or overflow:
	// there the risk is all but constant, so x = -ln(1-p)·scale/k·(scale/cut)^(k-1).
	steep := Weibull{Shape: 300, Scale: 1}
	got := steep.PlugIn(8)
	near(t, "far out", got.Q50, math.Ln2/300*math.Pow(8, -299), 1e-9)
}

func BenchmarkKaplanMeier20000(b *testing.B) {
	obs := drawnLives(rand.New(rand.NewPCG(1, 0)), 20_000, 2.5, 10000, 16000)
	for b.Loop() {
		if _, err := KaplanMeier(obs); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFitWeibull(b *testing.B) {
	for _, c := range []struct {
		name    string
		blades  int
		delayed bool
	}{{"50", 50, false}, {"20000", 20_000, false}, {"20000-delayed", 20_000, true}} {
		b.Run(c.name, func(b *testing.B) {
			obs := drawnLives(rand.New(rand.NewPCG(1, 0)), c.blades, 2.5, 10000, 16000)
			for i := range obs {
				if c.delayed && i%2 == 0 {
					obs[i].Start = obs[i].Area / 3
				}
			}
			for b.Loop() {
				if _, err := FitWeibull(obs); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkRemaining(b *testing.B) {
	for _, c := range []struct {
		name string
		obs  []Observation
	}{{"3-ends", lives(4100, 6400, 8800, -5200)}, {"10-ends", nistLives}} {
		b.Run(c.name, func(b *testing.B) {
			w, err := FitWeibull(c.obs)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				w.Remaining(400, 400)
			}
		})
	}
}
