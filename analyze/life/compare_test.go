package life

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// With a shape that is known the limits are those of the F distribution: for
// lives that end by chance, mean over mean times F(2r, 2s). A shape is known
// where many ends say so; here it is put in place.
func TestCompareWithASureShapeIsTheFTest(t *testing.T) {
	a, b := newSample(lives(3000, 4000, -5000)), newSample(lives(1000, 2500, 2500, -3000))
	pair := twoScales{groups: [2]sample{a, b}}
	_, _, _, logM := pair.profile(1)
	pair.belief = []belief{{shape: 1, weight: 2, logM: logM}}
	pair.logRatio = logM - math.Log(2.0/3)
	near(t, "ratio of the means", math.Exp(pair.logRatio), (12000.0/2)/(9000.0/3), 1e-12)
	f := distuv.F{D1: 4, D2: 6}
	near(t, "lower limit", math.Exp(pair.quantile(0.025)), 2/quantileOf(f, 0.975), 1e-6)
	near(t, "upper limit", math.Exp(pair.quantile(0.975)), 2/quantileOf(f, 0.025), 1e-6)
}

func quantileOf(f distuv.F, p float64) float64 {
	return math.Exp(rising(func(v float64) float64 { return f.CDF(math.Exp(v)) }, p, 0))
}

// The ratio at the maximum is that of the regression with one column, which is
// held to the reference library.
func TestCompareAgreesWithTheRegression(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 0))
	a, b := drawnLives(random, 400, 2.5, 10000, 20000), drawnLives(random, 300, 2.5, 10800, 20000)
	a[0].Start, b[1].Start = a[0].Area/2, b[1].Area/3
	c, err := Compare(a, b)
	if err != nil {
		t.Fatal(err)
	}
	var rows []Row
	for _, o := range a {
		rows = append(rows, Row{o, []float64{1}})
	}
	for _, o := range b {
		rows = append(rows, Row{o, []float64{0}})
	}
	fit, err := FitRegression(rows)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "ratio", c.Ratio.Value, math.Exp(fit.Beta[1]), 1e-6)
	se := math.Sqrt(fit.Covariance[1][1])
	near(t, "width of the limits", math.Log(c.Ratio.High/c.Ratio.Low), 2*z95*se, 0.05)
	near(t, "chance", c.P, 2*distuv.UnitNormal.Survival(math.Abs(fit.Beta[1])/se), 0.2)
}

func TestCompareRefuses(t *testing.T) {
	for _, c := range []struct {
		name string
		a, b []Observation
		want error
		says string
	}{
		{"no end in one", lives(5, 6), lives(-5, -6), ErrTooFewEnds, "comparison: group 2: 0 of 2 blades have ended: at least one end is needed"},
		{"an empty group", nil, lives(5, 6), ErrTooFewEnds, "comparison: group 1: 0 of 0 blades have ended: at least one end is needed"},
		{"all ends last", lives(5, 5, -5), lives(7), ErrNoFit, "comparison: every end is at the greatest area of its group: the shape has no upper limit: no Weibull curve fits"},
		{"an impossible blade", lives(5, 6), lives(math.NaN()), nil, "comparison: group 2: observation 1: area NaN: want a number"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Compare(c.a, c.b)
			if err == nil || err.Error() != c.says || c.want != nil && !errors.Is(err, c.want) {
				t.Errorf("error %v, want %q", err, c.says)
			}
		})
	}
}

func TestCompareProperties(t *testing.T) {
	draw := func(t *rapid.T) (a, b []Observation, c Comparison) {
		a, b = someLives(t, 3, true), someLives(t, 3, true)
		c, err := Compare(a, b)
		if err != nil {
			t.Skip(err)
		}
		if !(c.Ratio.Low < c.Ratio.High && 0 <= c.P && c.P <= 1 && c.MoreEach >= 0 && c.Aimed >= leastTold) {
			t.Fatalf("unsound comparison %+v", c)
		}
		if told := c.Ratio.Low > 1 || c.Ratio.High < 1; told != (c.P < 0.05) && math.Abs(c.P-0.05) > 1e-6 {
			t.Fatalf("limits and chance disagree: %+v", c)
		}
		return a, b, c
	}
	t.Run("the other way round", rapid.MakeCheck(func(t *rapid.T) {
		a, b, c := draw(t)
		d, err := Compare(b, a)
		if err != nil || math.Abs(c.Ratio.Low*d.Ratio.High-1) > 1e-6 || math.Abs(c.Ratio.Value*d.Ratio.Value-1) > 1e-9 || math.Abs(c.P-d.P) > 1e-6 {
			t.Fatalf("%+v, the other way round %+v (%v)", c, d, err)
		}
	}))
	t.Run("unit", rapid.MakeCheck(func(t *rapid.T) {
		a, b, c := draw(t)
		for _, group := range [][]Observation{a, b} {
			for i := range group {
				group[i].Start *= 6.4516
				group[i].Area *= 6.4516
			}
		}
		d, err := Compare(a, b)
		if err != nil || math.Abs(d.Ratio.Low/c.Ratio.Low-1) > 1e-6 || math.Abs(d.Ratio.High/c.Ratio.High-1) > 1e-6 {
			t.Fatalf("%+v, in cm² %+v (%v)", c, d, err)
		}
	}))
}

// Simulated, seed 8: 1,000 pairs of equal groups of 5 blades, some 4 of them
// ended. The limits hold 1 in 95 % (3 standard errors of a share: 2.1 points).
func TestCompareHoldsTheTruth(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 0))
	held, pairs := 0, 0
	for range 1000 {
		c, err := Compare(drawnLives(random, 5, 2.5, 10000, 30000), drawnLives(random, 5, 2.5, 10000, 30000))
		if err != nil {
			continue // a group without an end
		}
		pairs++
		if c.Ratio.Low < 1 && 1 < c.Ratio.High {
			held++
		}
	}
	if share := float64(held) / float64(pairs); math.Abs(share-0.95) > 0.021 {
		t.Errorf("the limits hold the truth in %.3f of %d pairs, want 0.95", share, pairs)
	}
}

// Groups of the size advised tell the difference aimed at in about 80 %.
func TestMoreEachIsEnough(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 0))
	const ratio = 1.3
	first, err := Compare(drawnLives(random, 200, 2.5, 10000*ratio, 30000), drawnLives(random, 200, 2.5, 10000, 30000))
	if err != nil {
		t.Fatal(err)
	}
	s := math.Log(first.Ratio.High/first.Ratio.Low) / (2 * z95)
	n := int(200 * math.Pow((z95+0.8416)*s/math.Log(ratio), 2))
	told := 0
	const shops = 300
	for range shops {
		c, err := Compare(drawnLives(random, n, 2.5, 10000*ratio, 30000), drawnLives(random, n, 2.5, 10000, 30000))
		if err != nil {
			t.Fatal(err)
		}
		if c.Ratio.Low > 1 {
			told++
		}
	}
	if share := float64(told) / shops; math.Abs(share-0.8) > 0.08 {
		t.Errorf("%d blades each tell it in %.2f of the shops, want 0.80", n, share)
	}
}

// Doubt of the clock adds in squares, and what it hides no number of blades shows.
func TestWiden(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 0))
	c, err := Compare(drawnLives(random, 300, 2.5, 13000, 30000), drawnLives(random, 300, 2.5, 10000, 30000))
	if err != nil {
		t.Fatal(err)
	}
	if same := c.Widen(0); same != c {
		t.Errorf("widened by nothing: %+v, want %+v", same, c)
	}
	w := c.Widen(0.04)
	for _, side := range [][2]float64{{c.Ratio.Low, w.Ratio.Low}, {c.Ratio.High, w.Ratio.High}} {
		before, after := math.Log(side[0]/c.Ratio.Value), math.Log(side[1]/c.Ratio.Value)
		near(t, "square of a distance", after*after, before*before+z95*z95*0.04, 1e-9)
	}
	if !(c.P < 0.001 && w.P > 0.05 && w.Ratio.Low < 1) {
		t.Errorf("chance %v with the clock known, %v with limits %+v without", c.P, w.P, w.Ratio)
	}
	if w.MoreEach != -1 {
		t.Errorf("%d more blades of each, want none to be enough", w.MoreEach)
	}
	// A little doubt takes more blades than none.
	if little := c.Widen(0.004); c.Ratio.Value < 1.2 || little.MoreEach < c.MoreEach {
		t.Errorf("%d more with a little doubt, %d with none", little.MoreEach, c.MoreEach)
	}
}
