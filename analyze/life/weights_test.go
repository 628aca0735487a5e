package life

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Wanted values: direct maximum likelihood in R 4.2.2, testdata/reference/weights/SOURCE.
func TestWeightsAgreeWithReference(t *testing.T) {
	var want struct {
		Shape, Scale, LogLik float64
		LogShapeSE           float64 `json:"log_shape_se"`
		LogScaleSE           float64 `json:"log_scale_se"`
		Weights              []struct {
			Class     string
			LogWeight float64 `json:"log_weight"`
			SE        float64
		}
	}
	readJSON(t, referencePath("weights", "expected.json"), &want)
	classes := []string{"mild", "alloy", "stainless"}
	var blades []Mixed
	for _, r := range readTable(t, "weights") {
		b := Mixed{Ended: r["ended"] == "1"}
		for i, class := range classes {
			b.Areas = append(b.Areas, number(t, r, "area:"+class))
			if r["last_class"] == class {
				b.Last = i
			}
		}
		blades = append(blades, b)
	}
	w, err := FitWeights(blades, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "shape", w.Shape, want.Shape, 1e-6)
	near(t, "scale", w.Scale, want.Scale, 1e-6)
	near(t, "log likelihood", w.LogLik, want.LogLik, 1e-10)
	near(t, "standard error of log shape", math.Sqrt(w.Covariance[0][0]), want.LogShapeSE, 1e-4)
	near(t, "standard error of log scale", math.Sqrt(w.Covariance[1][1]), want.LogScaleSE, 1e-4)
	for i, c := range want.Weights {
		near(t, "log weight of "+c.Class, w.Classes[1+i].LogWeight, c.LogWeight, 1e-6)
		near(t, "standard error of "+c.Class, w.Classes[1+i].SE, c.SE, 1e-4)
	}
	if w.Classes[0] != (ClassWeight{Blades: w.Classes[0].Blades, Ended: w.Classes[0].Ended}) || w.Blades != len(blades) {
		t.Errorf("reference %+v of %d blades, want weight 1 without doubt", w.Classes[0], w.Blades)
	}
}

// drawMixed simulates blades by cumulative exposure: each cuts in turn pieces
// of materials of its own mix until its exposure is up or it is pulled.
func drawMixed(random *rand.Rand, n int, shape, scale float64, logWeight []float64, late bool) []Mixed {
	var blades []Mixed
	for len(blades) < n {
		life := scale * math.Pow(random.ExpFloat64(), 1/shape)
		pulled := 1.5 * scale * random.Float64()
		b := Mixed{Areas: make([]float64, len(logWeight))}
		favourite, total := random.IntN(len(logWeight)), 0.0
		for exposure := 0.0; !b.Ended && total < pulled; {
			b.Last = favourite
			if random.IntN(3) == 0 {
				b.Last = random.IntN(len(logWeight))
			}
			piece, weight := scale/40, math.Exp(logWeight[b.Last])
			if exposure+piece*weight >= life {
				piece, b.Ended = (life-exposure)/weight, true
			}
			exposure += piece * weight
			b.Areas[b.Last] += piece
			total += piece
		}
		if late && random.IntN(2) == 0 {
			b.Start = scale / 4 * random.Float64()
		}
		if total > b.Start {
			blades = append(blades, b)
		}
	}
	return blades
}

// Simulated, seed 40: 600 blades of four classes. Estimates within 2 standard
// errors of the truth.
func TestWeightsFindTheTruth(t *testing.T) {
	truth := []float64{0.5, 0, 1.2, -0.4}
	w, err := FitWeights(drawMixed(rand.New(rand.NewPCG(40, 0)), 600, 2.4, 9000, truth, false), 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range w.Classes {
		if off := math.Abs(c.LogWeight - truth[i]); c.Why != nil || off > 2*c.SE {
			t.Errorf("class %d: %+v, want %v", i, c, truth[i])
		}
	}
	if off := math.Log(w.Shape/2.4) / math.Sqrt(w.Covariance[0][0]); math.Abs(off) > 2 {
		t.Errorf("shape %v is %.1f standard errors off", w.Shape, off)
	}
	if off := math.Log(w.Scale/9000) / math.Sqrt(w.Covariance[1][1]); math.Abs(off) > 2 {
		t.Errorf("scale %v is %.1f standard errors off", w.Scale, off)
	}
}

// Simulated, seed 41, 300 shops of 60 blades: 95 % limits hold the truth in 92
// to 98 % (standard error of the share over classes: 0.7 points).
func TestWeightLimitsCover(t *testing.T) {
	random, truth := rand.New(rand.NewPCG(41, 0)), []float64{0, 0.5, 1.2, -0.4}
	held, all := 0.0, 0.0
	for range 300 {
		w, err := FitWeights(drawMixed(random, 60, 2.4, 9000, truth, true), 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range w.Classes[1:] {
			if all++; c.Why == nil && math.Abs(c.LogWeight-truth[1+i]) < z95*c.SE {
				held++
			}
		}
	}
	t.Logf("95 %% limits held %.1f %%", 100*held/all)
	if share := held / all; share < 0.92 || share > 0.98 {
		t.Errorf("95 %% limits held the truth in %.1f %%", 100*share)
	}
}

// someMixed draws a shop of two to four classes, most of which can be fitted.
func someMixed(t *rapid.T) []Mixed {
	n := rapid.IntRange(2, 4).Draw(t, "classes")
	logWeight := make([]float64, n)
	for i := range logWeight {
		logWeight[i] = rapid.Float64Range(-1, 1.5).Draw(t, "log weight")
	}
	random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	return drawMixed(random, rapid.IntRange(5, 60).Draw(t, "blades"), rapid.Float64Range(0.7, 5).Draw(t, "shape"), 9000,
		logWeight, rapid.Bool().Draw(t, "late"))
}

func weightsOrSkip(t *rapid.T, blades []Mixed, reference int, priors []Prior) Weights {
	w, err := FitWeights(blades, reference, priors)
	if err != nil {
		t.Skip(err)
	}
	return w
}

// same holds two fits together within a share of their doubt.
func same(t *rapid.T, got, want Weights, classes []int, unit float64) {
	const share = 1e-5
	se := func(i int) float64 { return math.Sqrt(want.Covariance[i][i]) }
	if math.Abs(math.Log(got.Shape/want.Shape)) > share*se(0) || math.Abs(math.Log(got.Scale/want.Scale/unit)) > share*se(1) {
		t.Fatalf("shape %v, scale %v; want %v, %v times %v", got.Shape, got.Scale, want.Shape, want.Scale, unit)
	}
	for i, class := range classes {
		g, w := got.Classes[class], want.Classes[i]
		if (g.Why == nil) != (w.Why == nil) || math.Abs(g.LogWeight-w.LogWeight) > share*w.SE || math.Abs(g.SE-w.SE) > share*w.SE {
			t.Fatalf("class %d is %+v, want %+v", class, g, w)
		}
	}
}

func TestWeightsInOtherUnitsAndOrders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blades := someMixed(t)
		n := len(blades[0].Areas)
		var priors []Prior
		if rapid.Bool().Draw(t, "priors") {
			for range n {
				priors = append(priors, Prior{rapid.Float64Range(-1, 1).Draw(t, "mean"), rapid.Float64Range(0.1, 2).Draw(t, "SD")})
			}
		}
		want := weightsOrSkip(t, blades, 0, priors)
		unit := math.Pow(10, float64(rapid.IntRange(-6, 9).Draw(t, "unit")))
		classes := rapid.Permutation(identity(n)).Draw(t, "order") // class i goes to classes[i]
		moved := make([]Mixed, len(blades))
		for i, b := range blades {
			moved[i] = Mixed{Areas: make([]float64, n), Start: b.Start * unit, Ended: b.Ended, Last: classes[b.Last]}
			for class, a := range b.Areas {
				moved[i].Areas[classes[class]] = a * unit
			}
		}
		movedPriors := make([]Prior, len(priors))
		for i, p := range priors {
			movedPriors[classes[i]] = p
		}
		if priors == nil {
			movedPriors = nil
		}
		got, err := FitWeights(moved, classes[0], movedPriors)
		if err != nil {
			t.Fatal(err)
		}
		same(t, got, want, classes, unit)
		if loss := float64(want.Ended) * math.Log(unit); math.Abs(got.LogLik+loss-want.LogLik) > 1e-6*(1+math.Abs(want.LogLik)) {
			t.Fatalf("log likelihood %v, want %v less %v", got.LogLik, want.LogLik, loss)
		}
	})
}

func identity(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// Another reference divides all weights by that class's.
func TestWeightsByAnotherReference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blades := someMixed(t)
		a, b := weightsOrSkip(t, blades, 0, nil), weightsOrSkip(t, blades, 1, nil)
		shift := a.Classes[1].LogWeight
		if a.Classes[1].Why != nil || a.Ended < 5*len(a.Covariance) {
			t.Skip("so few ends may have several maxima")
		}
		if math.Abs(a.LogLik-b.LogLik) > 1e-6*(1+math.Abs(a.LogLik)) || math.Abs(math.Log(b.Scale/a.Scale)+shift) > 1e-4 {
			t.Fatalf("%+v by class 0, %+v by class 1", a, b)
		}
		for i := range a.Classes {
			if a.Classes[i].Why == nil && math.Abs(a.Classes[i].LogWeight-shift-b.Classes[i].LogWeight) > 1e-4 {
				t.Fatalf("class %d weighs %+v by class 0, %+v by class 1", i, a.Classes[i], b.Classes[i])
			}
		}
	})
}

// A class split into two at even shares is two classes of its weight: the
// sum of what they wear is the same.
func TestWeightsOfASplitClass(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 0))
	blades := drawMixed(random, 400, 2.4, 9000, []float64{0, 1}, true)
	want, err := FitWeights(blades, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	split := make([]Mixed, len(blades))
	odd := false
	for i, b := range blades {
		split[i] = Mixed{Areas: []float64{b.Areas[0], b.Areas[1] / 2, b.Areas[1] / 2}, Start: b.Start, Ended: b.Ended, Last: b.Last}
		if b.Last == 1 && b.Ended {
			if odd = !odd; odd {
				split[i].Last = 2
			}
		}
	}
	if odd {
		t.Fatal("ends do not split evenly: choose another seed")
	}
	got, err := FitWeights(split, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "shape", got.Shape, want.Shape, 1e-7)
	near(t, "scale", got.Scale, want.Scale, 1e-7)
	near(t, "one half", got.Classes[1].LogWeight, want.Classes[1].LogWeight, 1e-7)
	near(t, "other half", got.Classes[2].LogWeight, want.Classes[1].LogWeight, 1e-7)
	// Split unevenly, weight goes with the ends while the sum worn stays.
	for i := range split {
		split[i].Last = blades[i].Last
	}
	for i, b := range split {
		if b.Ended && b.Last == 1 && i%4 == 0 {
			split[i].Last = 2
		}
	}
	uneven, err := FitWeights(split, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	sum := (math.Exp(uneven.Classes[1].LogWeight) + math.Exp(uneven.Classes[2].LogWeight)) / 2
	near(t, "mean weight of the halves", sum, math.Exp(want.Classes[1].LogWeight), 1e-7)
	near(t, "shape", uneven.Shape, want.Shape, 1e-7)
}

// With weights held fast the fit is that of FitWeibull to the weighted areas.
func TestWeightsHeldFast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blades := someMixed(t)
		n := len(blades[0].Areas)
		priors := make([]Prior, n)
		for i := 1; i < n; i++ {
			priors[i] = Prior{rapid.Float64Range(-1, 1).Draw(t, "mean"), 1e-7}
		}
		var obs []Observation
		extra := 0.0
		for _, b := range blades {
			total, exposure := 0.0, 0.0
			for class, a := range b.Areas {
				total += a
				exposure += a * math.Exp(priors[class].Mean)
			}
			obs = append(obs, Observation{exposure * b.Start / total, exposure, b.Ended})
			if b.Ended {
				extra += priors[b.Last].Mean
			}
		}
		want := fitOrSkip(t, obs)
		got, err := FitWeights(blades, 0, priors)
		if err != nil {
			t.Skip(err)
		}
		if math.Abs(got.Shape/want.Shape-1) > 1e-5 || math.Abs(got.Scale/want.Scale-1) > 1e-5 {
			t.Fatalf("shape %v, scale %v; want %v, %v", got.Shape, got.Scale, want.Shape, want.Scale)
		}
		if math.Abs(got.LogLik-want.LogLik-extra) > 1e-4 {
			t.Fatalf("log likelihood %v, want %v and %v for the density of area", got.LogLik, want.LogLik, extra)
		}
		for i, c := range got.Classes {
			if math.Abs(c.LogWeight-priors[i].Mean) > 1e-5 || c.SE > 1.1e-7 {
				t.Fatalf("class %d is %+v, want the prior %+v", i, c, priors[i])
			}
		}
	})
}

// Classes that the data cannot weigh do not break the others.
func TestClassesWithoutAWeight(t *testing.T) {
	random := rand.New(rand.NewPCG(14, 0))
	var blades []Mixed
	for i, b := range drawMixed(random, 80, 2.4, 9000, []float64{0, 0.8}, true) {
		// Class 2: in three blades that did not end. Classes 3 and 4: nobody.
		wide := Mixed{Areas: append(b.Areas, 0, 0, 0), Start: b.Start, Ended: b.Ended, Last: b.Last}
		if !b.Ended && i%9 == 0 {
			wide.Areas[2] = 4000
		}
		blades = append(blades, wide)
	}
	w, err := FitWeights(blades, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	for class, want := range map[int]error{2: errNeverLast, 3: errNobodyCut, 4: errNobodyCut} {
		c := w.Classes[class]
		if c.Why != want || !math.IsNaN(c.LogWeight) || !math.IsNaN(c.SE) {
			t.Errorf("class %d is %+v, want none: %v", class, c, want)
		}
	}
	if w.Classes[2].Blades == 0 || w.Classes[2].Ended != 0 || len(w.Covariance) != 3 {
		t.Errorf("class 2 is %+v, %d rows of covariance; want it cut, and 3 rows", w.Classes[2], len(w.Covariance))
	}
	// Under a prior the same classes stay near it.
	priors := []Prior{{}, {0, math.Inf(1)}, {0.3, 0.5}, {0.7, 0.4}, {0, math.Inf(1)}}
	held, err := FitWeights(blades, 0, priors)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "weight of the class nobody cut", held.Classes[3].LogWeight, 0.7, 1e-9)
	near(t, "its standard error", held.Classes[3].SE, 0.4, 1e-9)
	if off := held.Classes[1].LogWeight - w.Classes[1].LogWeight; math.Abs(off) > w.Classes[1].SE {
		t.Errorf("class 1 with a flat prior is %+v, without any %+v", held.Classes[1], w.Classes[1])
	}
	if c := held.Classes[2]; c.Why != nil || c.LogWeight > 0.3 || c.LogWeight < -3 || !(c.SE <= 0.55) {
		t.Errorf("class 2 is %+v, want it below its prior mean of 0.3 but with a weight", c)
	}
	if c := held.Classes[4]; c.Why != errNobodyCut {
		t.Errorf("class 4 is %+v, want none", c)
	}
}

func TestWeightsRefuse(t *testing.T) {
	blade := func(last int, areas ...float64) Mixed {
		return Mixed{Areas: areas, Ended: last >= 0, Last: max(last, 0)}
	}
	inf, nan := math.Inf(1), math.NaN()
	good := []Mixed{blade(0, 100, 50), blade(1, 80, 90), blade(0, 30, 200), blade(-1, 50, 50)}
	for _, c := range []struct {
		name      string
		blades    []Mixed
		reference int
		priors    []Prior
		is        error
		words     string
	}{
		{"nothing", nil, 0, nil, ErrTooFewEnds, "no blades"},
		{"no ends", good[3:], 0, nil, ErrTooFewEnds, "none of 1"},
		{"no such reference", good, 2, nil, nil, "reference class 2 of 2"},
		{"no such class", append(good[:3:3], Mixed{Areas: []float64{1, 2}, Ended: true, Last: 2}), 0, nil, nil, "blade 4: ended in class 2"},
		{"below class 0", append(good[:3:3], Mixed{Areas: []float64{1, 2}, Ended: true, Last: -1}), 0, nil, nil, "blade 4: ended in class -1"},
		{"ragged", append(good[:3:3], blade(0, 1)), 0, nil, nil, "blade 4: 1 areas for 2 classes"},
		{"NaN", append(good[:3:3], blade(0, 1, nan)), 0, nil, nil, "blade 4: area NaN in class 1"},
		{"negative", append(good[:3:3], blade(0, 1, -4)), 0, nil, nil, "blade 4: area -4"},
		{"endless", append(good[:3:3], blade(0, 1, inf)), 0, nil, nil, "blade 4: endless"},
		{"kind below 0", append(good[:3:3], Mixed{Areas: []float64{1, 2}, Kind: -1}), 0, nil, nil, "blade 4: kind -1: want 0 to 3"},
		{"more kinds than blades", append(good[:3:3], Mixed{Areas: []float64{1, 2}, Kind: 4}), 0, nil, nil, "blade 4: kind 4: want 0 to 3"},
		{"late beyond its area", append(good[:3:3], Mixed{Areas: []float64{1, 2}, Start: 4}), 0, nil, nil, "blade 4: start 4"},
		{"start NaN", append(good[:3:3], Mixed{Areas: []float64{1, 2}, Start: nan}), 0, nil, nil, "blade 4: start NaN"},
		{"ended over nothing", append(good[:3:3], Mixed{Areas: []float64{1, 2}, Start: 3, Ended: true}), 0, nil, nil, "blade 4: ended with no area"},
		{"priors short", good, 0, []Prior{{0, 1}}, nil, "1 priors for 2 classes"},
		{"prior without spread", good, 0, []Prior{{}, {0, 0}}, nil, "prior of class 1"},
		{"prior NaN", good, 0, []Prior{{}, {nan, 1}}, nil, "prior of class 1"},
		{"prior beyond reason", good, 0, []Prior{{}, {1e6, 1}}, nil, "prior of class 1"},
		{"reference nobody cut", []Mixed{blade(1, 0, 5, 2), blade(2, 0, 9, 4)}, 0, nil, ErrNoFit, "choose another"},
		{"reference nobody cut, no prior told", []Mixed{blade(1, 0, 5, 0), blade(1, 0, 9, 0)}, 0, []Prior{{}, {0, inf}, {0, 1}}, ErrNoFit, "choose another"},
		{"reference in unended blades alone", []Mixed{blade(1, 0, 50, 3), blade(2, 0, 90, 7), blade(1, 0, 70, 50), blade(-1, 4000, 10, 10)}, 0, nil, ErrNoFit, "choose another"},
		{"all at one area", []Mixed{blade(0, 5, 0), blade(0, 5, 0), blade(0, 5, 0)}, 0, nil, ErrNoFit, "too close together"},
	} {
		t.Run(c.name, func(t *testing.T) {
			w, err := FitWeights(c.blades, c.reference, c.priors)
			if err == nil || c.is != nil && !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.words) {
				t.Errorf("%+v, error %v; want %q", w, err, c.words)
			}
		})
	}
}

// A prior on the weights stands in for a reference nobody cut: scale is then
// told through it.
func TestReferenceNobodyCut(t *testing.T) {
	blades := drawMixed(rand.New(rand.NewPCG(15, 0)), 100, 2.4, 9000, []float64{0.5, 1}, false)
	for i := range blades {
		blades[i].Areas = append(blades[i].Areas, 0)
	}
	w, err := FitWeights(blades, 2, []Prior{{0.5, 0.2}, {1, 0.2}, {}})
	if err != nil {
		t.Fatal(err)
	}
	if off := math.Log(w.Scale/9000) / math.Sqrt(w.Covariance[1][1]); math.Abs(off) > 2 {
		t.Errorf("scale %v is %.1f standard errors off 9,000", w.Scale, off)
	}
	if w.Classes[2].LogWeight != 0 || w.Classes[2].SE != 0 || w.Classes[2].Blades != 0 {
		t.Errorf("reference %+v, want weight 1", w.Classes[2])
	}
}

func TestMixtureDerivatives(t *testing.T) {
	blades := drawMixed(rand.New(rand.NewPCG(2, 0)), 30, 2.4, 9000, []float64{0, 0.5, 1}, true)
	m, err := newMixture(blades, 0, []Prior{{}, {0.2, 0.6}, {0, math.Inf(1)}})
	if err != nil {
		t.Fatal(err)
	}
	checkDerivatives(t, m.at, []float64{0.6, -0.2, 0.3, -0.5})
	checkDerivatives(t, m.at, []float64{-0.3, 0.4, -0.7, 0.9})
	for i := range blades {
		blades[i].Kind = i % 3
	}
	if m, err = newMixture(blades, 0, nil); err != nil {
		t.Fatal(err)
	}
	checkDerivatives(t, m.at, []float64{0.6, -0.2, 0.3, -0.5, 0.2, -0.4})
}

// Whatever the data, there is an answer without NaN or an error.
func TestWeightsOnOddData(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "classes")
		unit := math.Pow(10, float64(rapid.IntRange(-6, 9).Draw(t, "unit")))
		blades := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Mixed {
			b := Mixed{Areas: make([]float64, n), Ended: rapid.Bool().Draw(t, "ended"), Last: rapid.IntRange(0, n-1).Draw(t, "last")}
			total := 0.0
			for i := range b.Areas {
				b.Areas[i] = unit * float64(rapid.IntRange(0, 4).Draw(t, "area"))
				total += b.Areas[i]
			}
			b.Start = total * float64(rapid.IntRange(0, 3).Draw(t, "start")) / 4
			b.Ended = b.Ended && total > 0
			return b
		}), 1, 12).Draw(t, "blades")
		w, err := FitWeights(blades, 0, nil)
		if err != nil {
			return
		}
		if !(w.Shape > 0 && w.Scale > 0 && w.Covariance[0][0] > 0) || math.IsNaN(w.LogLik) || math.IsInf(w.Scale, 0) {
			t.Fatalf("unsound %+v", w)
		}
		for i, c := range w.Classes {
			if (c.Why == nil) == math.IsNaN(c.LogWeight) || c.Why == nil && i > 0 && !(c.SE > 0) {
				t.Fatalf("class %d is %+v", i, c)
			}
		}
	})
}

func BenchmarkFitWeights(b *testing.B) {
	blades := drawMixed(rand.New(rand.NewPCG(1, 0)), 5000, 2.4, 9000, []float64{0, 0.3, 0.6, 0.9, 1.2, -0.3, 0.4, 0.1}, false)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := FitWeights(blades, 0, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// Three kinds of blade of which one lasts twice as long, and cuts mostly the
// class that wears half as fast again: the weight is still found, where one
// scale for all would take it for a material that spares blades. Simulated,
// seed 12. The kind without an end says nothing.
func TestFitWeightsTellsKindsFromMaterials(t *testing.T) {
	random := rand.New(rand.NewPCG(12, 0))
	weight, quality := []float64{0, math.Log(1.5)}, []float64{0, math.Log(2)}
	var blades []Mixed
	for i := range 600 {
		kind := i % 2
		share := 0.3*random.Float64() + 0.6*float64(kind) // of class 1
		end := 9000 * math.Exp(quality[kind]) * math.Pow(random.ExpFloat64(), 1/2.4)
		area := end / (1 - share + share*math.Exp(weight[1]))
		b := Mixed{Areas: []float64{area * (1 - share), area * share}, Ended: true, Kind: kind + 1}
		if random.Float64() < share*math.Exp(weight[1])/(1-share+share*math.Exp(weight[1])) {
			b.Last = 1
		}
		blades = append(blades, b)
	}
	blades = append(blades, Mixed{Areas: []float64{1e6, 1}})
	w, err := FitWeights(blades, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	c := w.Classes[1]
	if off := (c.LogWeight - weight[1]) / c.SE; math.Abs(off) > 2 {
		t.Errorf("ln weight %v is %.1f standard errors off %v", c.LogWeight, off, weight[1])
	}
	last := len(w.Covariance) - 1
	if off := (w.Kinds[2] - quality[1]) / math.Sqrt(w.Covariance[last][last]); math.Abs(off) > 2 {
		t.Errorf("the better kind is at %v, %.1f standard errors off %v", w.Kinds[2], off, quality[1])
	}
	if !math.IsNaN(w.Kinds[0]) || w.Kinds[1] != 0 || len(w.Covariance) != 4 {
		t.Errorf("kinds %v and %d parameters, want none, 0 and 4", w.Kinds, len(w.Covariance))
	}
	for i := range blades {
		blades[i].Kind = 0
	}
	if one, err := FitWeights(blades[:600], 0, nil); err != nil || one.Classes[1].LogWeight > 0 {
		t.Errorf("with one scale the weight is %+v (%v): the case is too easy", one.Classes[1], err)
	}
}
