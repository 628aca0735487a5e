package deviation

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// scattered are blades of the model's scatter about a level that drifts.
func scattered(seed uint64, blades, cuts int, n Noise, heights []float64) (list [][]Cut) {
	random := rand.New(rand.NewPCG(seed, 3))
	for range blades {
		var part []Cut
		for i := range cuts {
			c := Cut{Area: 12 * float64(i+1), Height: heights[random.IntN(len(heights))]}
			c.Deviation = 0.3 + 0.001*float64(i) + n.Cut*random.NormFloat64() + n.Probe*perInch(c.Height)*random.NormFloat64()
			part = append(part, c)
		}
		list = append(list, part)
	}
	return list
}

// Simulated, mean of 40 seeds: both parts of the noise are found to 3 standard
// errors of that mean; a part that is not there is told as a little, for none is
// told below 0.
func TestNoiseIsRecovered(t *testing.T) {
	for name, c := range map[string]struct {
		noise, want, within Noise
		heights             []float64
	}{
		"of both":               {Noise{Cut: 0.25, Probe: 1}, Noise{Cut: 0.25, Probe: 1}, Noise{0.006, 0.09}, shapeHeights},
		"of the cut only":       {Noise{Cut: 0.25}, Noise{Cut: 0.25, Probe: 0.2}, Noise{0.007, 0.12}, shapeHeights},
		"of the probe only":     {Noise{Probe: 2}, Noise{Cut: 0.03, Probe: 2}, Noise{0.02, 0.1}, shapeHeights},
		"of one height":         {Noise{Cut: 0.25, Probe: 1}, Noise{Cut: math.Hypot(0.25, 0.1)}, Noise{0.003, 0}, []float64{10}},
		"of heights not known":  {Noise{Cut: 0.25}, Noise{Cut: 0.25}, Noise{0.003, 0}, []float64{math.NaN(), 0}},
		"of two heights, alike": {Noise{Cut: 0.25, Probe: 1}, Noise{Cut: 0.25, Probe: 1}, Noise{0.006, 0.09}, []float64{4, 20}},
	} {
		var got Noise
		for seed := range uint64(40) {
			n, ok := MeasureNoise(scattered(seed, 5, 600, c.noise, c.heights))
			if !ok {
				t.Fatalf("%s: nothing measured", name)
			}
			got.Cut, got.Probe = got.Cut+n.Cut/40, got.Probe+n.Probe/40
		}
		if math.Abs(got.Cut-c.want.Cut) > c.within.Cut || math.Abs(got.Probe-c.want.Probe) > c.within.Probe {
			t.Errorf("%s: %+v, want %+v within %+v", name, got, c.want, c.within)
		}
	}
}

// A fiftieth of wild readings and a step on every blade move the noise by less
// than a tenth of its variance.
func TestNoiseIsRobust(t *testing.T) {
	list := scattered(6, 5, 600, Noise{Cut: 0.25, Probe: 1}, shapeHeights)
	plain, _ := MeasureNoise(list)
	for _, cuts := range list {
		for i := range cuts {
			cuts[i].Deviation += pick(i > 300, 0, 2) + pick(i%50 == 7, 0, 30)
		}
	}
	if got, _ := MeasureNoise(list); math.Abs(got.Variance(10)/plain.Variance(10)-1) > 0.1 {
		t.Errorf("%+v, without the wild ones %+v", got, plain)
	}
}

func TestNoiseRefuses(t *testing.T) {
	few := scattered(1, 1, minPairs, Noise{Cut: 1}, shapeHeights) // a pair less than values
	unknown := scattered(1, 1, 40, Noise{Cut: 1}, shapeHeights)
	for i := range unknown[0] {
		unknown[0][i].Deviation = []float64{math.NaN(), math.Inf(1)}[i%2]
	}
	for name, list := range map[string][][]Cut{
		"no blade": nil, "a pair too few": few, "no reading": unknown,
		"equal readings": {make([]Cut, 40)},
	} {
		if n, ok := MeasureNoise(list); ok {
			t.Errorf("%s: the noise is %+v", name, n)
		}
	}
	if _, ok := MeasureNoise(scattered(1, 1, minPairs+1, Noise{Cut: 1}, shapeHeights)); !ok {
		t.Errorf("%d pairs are too few", minPairs)
	}
}

// Variance by hand, and where the height is not known or not believed.
func TestNoiseVariance(t *testing.T) {
	n := Noise{Cut: 0.3, Probe: 2}
	for height, want := range map[float64]float64{5: 0.09 + 0.16, 10: 0.09 + 0.04, 0: 0.09, -4: 0.09, 1e-300: 0.09, math.Inf(1): 0.09} {
		close(t, "variance", n.Variance(height), want, 1e-12)
	}
	close(t, "variance of no height", n.Variance(math.NaN()), 0.09, 1e-12)
}

// In another unit, moved and mirrored the noise is the same one.
func TestNoiseProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64Range(0, 1<<40).Draw(t, "seed")
		list := scattered(seed, 3, 40, Noise{Cut: 0.25, Probe: 1}, shapeHeights)
		unit, move := rapid.Float64Range(1e-6, 1e6).Draw(t, "unit"), rapid.Float64Range(-10, 10).Draw(t, "move")
		a, _ := MeasureNoise(list)
		for _, cuts := range list {
			for i := range cuts {
				cuts[i].Deviation = -unit * (cuts[i].Deviation + move)
			}
		}
		b, _ := MeasureNoise(list)
		if math.Abs(b.Cut-unit*a.Cut) > 1e-6*unit || math.Abs(b.Probe-unit*a.Probe) > 1e-6*unit {
			t.Fatalf("%+v, in a unit of %v %+v", a, unit, b)
		}
		if a.Cut < 0 || a.Probe < 0 {
			t.Fatalf("%+v", a)
		}
	})
}
