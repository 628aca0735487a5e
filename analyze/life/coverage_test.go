package life

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// The full simulation is go test -run Covers -coverage.runs 5000; it takes
// about two minutes.
var coverageRuns = flag.Int("coverage.runs", 150, "simulated shops for each case of coverage")

// truth is how long a blade lasts, and what ends it.
type truth func(*rand.Rand) (life float64, cause int)

// plainWeibull is the house example, Weibull(2.5, 10000).
func plainWeibull(random *rand.Rand) (life float64, cause int) {
	return 10000 * math.Pow(random.ExpFloat64(), 1/2.5), 0
}

// stratum is one saw's geometry on one mild steel, of the project's domain
// reference, section 10: a blade strips, wears dull, cracks in fatigue, or
// parts at a bad weld (3 % of blades), whichever comes first.
func stratum(random *rand.Rand) (life float64, cause int) {
	weld := math.Inf(1)
	if random.Float64() < 0.03 {
		weld = 800 * random.ExpFloat64()
	}
	life = math.Inf(1)
	for c, end := range []float64{
		60000 * random.ExpFloat64(),
		15000 * math.Exp(0.18*random.NormFloat64()),
		28177 * math.Cbrt(random.ExpFloat64()),
		weld,
	} {
		if end < life {
			life, cause = end, c
		}
	}
	return life, cause
}

// stratumCauses is the number of causes in stratum.
const stratumCauses = 4

// pulls is the plan of a shop: each blade is pulled at an area drawn evenly
// between the two, whatever its state, unless it ended before.
type pulls struct{ from, to float64 }

// shop follows blades until as many as asked for have ended.
func shop(random *rand.Rand, draw truth, plan pulls, ends int) []Caused {
	var obs []Caused
	for ended := 0; ended < ends; {
		end, cause := draw(random)
		pull := plan.from + (plan.to-plan.from)*random.Float64()
		obs = append(obs, Caused{Observation{Area: min(end, pull), Ended: end <= pull}, cause})
		if end <= pull {
			ended++
		}
	}
	return obs
}

// leftOf draws what is left of a fresh blade that has got to cut.
func leftOf(random *rand.Rand, draw truth, cut float64) float64 {
	for {
		if end, _ := draw(random); end > cut {
			return end - cut
		}
	}
}

// windows says whether what was left fell within the 10 to 90 % and the 2.5 to
// 97.5 % window for a blade that has got to cut.
type windows func(cut, left float64) (in80, in95 bool)

// oneCurve is the windows of one Weibull fitted to all ends alike.
func oneCurve(t *testing.T, obs []Caused) windows {
	w := fitOf(t, wholeLives(obs))
	return func(cut, left float64) (in80, in95 bool) {
		r, q := w.Remaining(cut, 0), w.RemainingQuantiles(cut, 0, 0.025, 0.975)
		return r.Q10 <= left && left <= r.Q90, q[0] <= left && left <= q[1]
	}
}

// curveByCause is the windows of a curve for each cause.
func curveByCause(t *testing.T, obs []Caused) windows {
	w, err := FitWays(obs, stratumCauses)
	if err != nil {
		t.Fatal(err)
	}
	return func(cut, left float64) (in80, in95 bool) {
		r, q := w.Remaining(cut, 0), w.RemainingQuantiles(cut, 0, 0.025, 0.975)
		return r.Q10 <= left && left <= r.Q90, q[0] <= left && left <= q[1]
	}
}

// wholeLives forgets the causes.
func wholeLives(obs []Caused) (whole []Observation) {
	for _, o := range obs {
		whole = append(whole, o.Observation)
	}
	return whole
}

// What the windows of a fresh blade that has got to some area hold, in percent.
// Figures for the stratum were measured with 5,000 shops; what is demanded is
// that they stay so.
//
// Where lives are Weibull, 80 % windows hold 80 and 95 % windows 95 %, from 8
// ends on; at 12,000, which one in five reaches, up to 84 and 96 %.
//
// In the stratum a single curve has to serve strips, which come at any time, and
// wear, which comes to nearly all at 12,000 to 18,000. It is too broad for
// either: windows hold 89 to 96 in place of 80 % as long as the wear is ahead,
// and too few from 12,000 on, where the risk rises faster than the curve knows.
// More ends do not help, the curve is the wrong one. Where no blade is left on
// the saw beyond 12,000, the curve has not seen the wear at all, and its windows
// at 9,000 and 12,000 hold 53 and 24 %: forecasts are not for beyond the data.
//
// A curve for each cause, with the chances of outliving each multiplied, mends
// nearly all of that: 77 to 80 % as long as wear is ahead, 70 to 75 % at 12,000,
// and no worse in a shop that pulls early. It is a little short because a cause
// that nobody has seen yet is left out, and because wear is lognormal there.
// Forecasts are made so (FitWays).
func TestWindowsCover(t *testing.T) {
	cuts := percents{0, 3000, 6000, 9000, 12000}
	level80, level95 := percents{80, 80, 80, 80, 80}, percents{95, 95, 95, 95, 95}
	early, all := pulls{3000, 12000}, pulls{0, 20000}
	for i, c := range []struct {
		name           string
		draw           truth
		method         func(*testing.T, []Caused) windows
		plan           pulls
		ends           int
		want80, want95 percents // at cuts
	}{
		{"Weibull", plainWeibull, oneCurve, all, 8, level80, level95},
		{"Weibull", plainWeibull, oneCurve, all, 20, level80, level95},
		{"Weibull", plainWeibull, oneCurve, all, 60, level80, level95},
		{"Weibull, pulled early", plainWeibull, oneCurve, early, 8, level80, level95},
		{"Weibull, pulled early", plainWeibull, oneCurve, early, 20, level80, level95},
		{"stratum", stratum, oneCurve, all, 8, percents{89, 93, 93, 90, 74}, percents{95, 98, 98, 98, 94}},
		{"stratum", stratum, oneCurve, all, 20, percents{89, 94, 96, 92, 79}, percents{94, 98, 99, 98, 96}},
		{"stratum", stratum, oneCurve, all, 60, percents{90, 95, 96, 94, 80}, percents{94, 98, 99, 99, 95}},
		{"stratum, pulled early", stratum, oneCurve, early, 20, percents{91, 89, 80, 53, 24}, percents{97, 98, 97, 95, 80}},
		{"stratum by cause", stratum, curveByCause, all, 8, percents{80, 78, 78, 77, 71}, percents{94, 93, 93, 93, 92}},
		{"stratum by cause", stratum, curveByCause, all, 20, percents{79, 79, 79, 77, 74}, percents{93, 92, 92, 92, 91}},
		{"stratum by cause", stratum, curveByCause, all, 60, percents{78, 80, 78, 78, 74}, percents{92, 93, 92, 92, 90}},
		{"stratum by cause, pulled early", stratum, curveByCause, early, 20, percents{85, 84, 82, 76, 72}, percents{97, 96, 96, 95, 93}},
	} {
		t.Run(fmt.Sprintf("%s, %d ends", c.name, c.ends), func(t *testing.T) {
			random := rand.New(rand.NewPCG(61, uint64(i)))
			runs := float64(*coverageRuns)
			var held80, held95 percents
			for range *coverageRuns {
				within := c.method(t, shop(random, c.draw, c.plan, c.ends))
				for j, cut := range cuts {
					in80, in95 := within(cut, leftOf(random, c.draw, cut))
					if in80 {
						held80[j] += 100 / runs
					}
					if in95 {
						held95[j] += 100 / runs
					}
				}
			}
			t.Logf("at %v windows of 80 %% held %.1f, of 95 %% %.1f", cuts, held80, held95)
			for j, cut := range cuts {
				wantShare(t, fmt.Sprintf("80 %% at %v", cut), held80[j], c.want80[j], runs)
				wantShare(t, fmt.Sprintf("95 %% at %v", cut), held95[j], c.want95[j], runs)
			}
		})
	}
}

// percents is a figure for each of the areas at which coverage is measured.
type percents [5]float64

// wantShare fails where a share of runs, in percent, is more than 3 points from
// the one wanted by more than 3 standard errors.
func wantShare(t *testing.T, what string, got, want, runs float64) {
	t.Helper()
	if math.Abs(got-want) > 3+3*math.Sqrt(want*(100-want)/runs) {
		t.Errorf("windows of %s held %.1f %%, want %.1f", what, got, want)
	}
}

// The generator is the stratum of the domain reference, section 10: its survival
// as written there, and B5, B10, B50 and the mean it gives. Simulated, seed 62.
func TestStratumIsAsWritten(t *testing.T) {
	survival := func(a float64) float64 {
		dull := math.Erfc(math.Log(a/15000)/0.18/math.Sqrt2) / 2
		return math.Exp(-a/60000-math.Pow(a/28177, 3)) * dull * (0.97 + 0.03*math.Exp(-a/800))
	}
	const n = 40_000
	random := rand.New(rand.NewPCG(62, 0))
	areas := []float64{1518, 4291, 9000, 12000, 13502}
	var mean float64
	var beyond [5]float64
	var causes [stratumCauses]float64
	for range n {
		end, cause := stratum(random)
		mean += end / n
		causes[cause] += 1.0 / n
		for i, a := range areas {
			if end > a {
				beyond[i] += 1.0 / n
			}
		}
	}
	for i, want := range []float64{0.95, 0.90, 1 - 0.194, 1 - 0.344, 0.50} {
		near(t, fmt.Sprintf("survival at %v", areas[i]), survival(areas[i]), want, 1e-3)
		near(t, fmt.Sprintf("share beyond %v", areas[i]), beyond[i], want, 0.02)
	}
	near(t, "mean", mean, 12506, 0.01)
	for i, want := range [stratumCauses]float64{0.208, 0.638, 0.124, 0.030} {
		near(t, fmt.Sprintf("share of cause %d", i), causes[i], want, 0.1)
	}
}

// meanOfEnded is the naive answer: the blades that ended, as if there were no
// others.
func meanOfEnded(obs []Observation) float64 {
	var sum, ends float64
	for _, o := range obs {
		if o.Ended {
			sum += o.Area
			ends++
		}
	}
	return sum / ends
}

// The mean of the ended blades alone is about half the truth where blades are
// changed in time. NIST: 277.1 against 540.737 (the project's domain reference,
// section 5.2). Simulated: seed 63, 2,000 ends.
//
// In the stratum the single curve errs to the other side, 14 % too long. It is
// held to no more than that: were the shop to pull between 3,000 and 12,000,
// before the wear, the mean would be 47,000, nearly four times the truth, as a
// mean is for the greater part beyond the data then.
func TestMeanOfTheEndedAloneIsFarShort(t *testing.T) {
	near(t, "NIST, ended alone", meanOfEnded(nistLives), 277.1, 1e-4)
	near(t, "NIST, mean life", fitOf(t, nistLives).MeanEstimate().Value, 540.737, 1e-6)
	for _, c := range []struct {
		name        string
		draw        truth
		plan        pulls
		mean        float64 // the truth
		off         float64 // that the fitted mean may be from it, as a share
		endedAtMost float64 // share of the truth
	}{
		{"Weibull", plainWeibull, pulls{3000, 12000}, 8873, 0.03, 0.75},
		{"stratum", stratum, pulls{0, 20000}, 12506, 0.2, 0.75},
	} {
		t.Run(c.name, func(t *testing.T) {
			obs := wholeLives(shop(rand.New(rand.NewPCG(63, 0)), c.draw, c.plan, 2000))
			ended, mean := meanOfEnded(obs), fitOf(t, obs).Mean()
			t.Logf("mean of the ended %.0f, fitted %.0f, truth %.0f", ended, mean, c.mean)
			if ended > c.endedAtMost*c.mean {
				t.Errorf("the ended alone have a mean of %.0f, want at most %v of %v", ended, c.endedAtMost, c.mean)
			}
			near(t, "fitted mean", mean, c.mean, c.off)
		})
	}
}

// The 95 % limits of B10 and B50 of the stratum, 4291 and 13502 in² by the domain
// reference, section 10. Those that were seen, of the Kaplan-Meier curve, hold them in
// 94 to 97 % of shops; one Weibull through all ways of ending is the wrong curve, and
// the more blades the surer it is of it. Measured with 1,000 shops, in percent.
func TestLimitsOfB10AndB50Hold(t *testing.T) {
	t.Parallel()
	never, some := pulls{1e9, 1e9}, pulls{11250, 17250}
	for _, c := range []struct {
		name         string
		ends         int
		plan         pulls
		one10, one50 float64
	}{
		{"30 ends, none pulled", 30, never, 55, 66},
		{"200 ends, none pulled", 200, never, 22, 3},
		{"30 ends, some pulled", 30, some, 74, 97},
		{"200 ends, some pulled", 200, some, 70, 93},
	} {
		t.Run(c.name, func(t *testing.T) {
			var seen10, seen50, one10, one50 float64
			share := 100 / float64(*coverageRuns)
			holds := func(e Estimate, truth float64) float64 {
				if e.Low <= truth && truth <= e.High {
					return share
				}
				return 0
			}
			for run := range *coverageRuns {
				obs := wholeLives(shop(rand.New(rand.NewPCG(uint64(run), 77)), stratum, c.plan, c.ends))
				seen, one := curveOf(t, obs), fitOf(t, obs)
				seen10 += holds(seen.Quantile(0.1), 4291)
				seen50 += holds(seen.Quantile(0.5), 13502)
				one10 += holds(one.QuantileEstimate(0.1), 4291)
				one50 += holds(one.QuantileEstimate(0.5), 13502)
			}
			runs := float64(*coverageRuns)
			wantShare(t, "B10 seen, "+c.name, seen10, 95, runs)
			wantShare(t, "B50 seen, "+c.name, seen50, 95, runs)
			wantShare(t, "B10 of one curve, "+c.name, one10, c.one10, runs)
			wantShare(t, "B50 of one curve, "+c.name, one50, c.one50, runs)
		})
	}
}
