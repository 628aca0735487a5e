package deviation

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// everyNth marks one cut in n.
func everyNth(n int) func(*Cut) (float64, bool) {
	return func(c *Cut) (float64, bool) { return pick(int(c.Area/12)%n == 0, 0, 1), true }
}

// The effect is that of weighted least squares with a line for each block, solved
// at once by gonum's matrices, where no value is wild.
func TestContrastIsLeastSquares(t *testing.T) {
	p := usualPool
	cuts := scattered(4, 1, 120, Noise{Cut: 0.1, Probe: 1}, shapeHeights)[0]
	mark := everyNth(4)
	for i := range cuts {
		x, _ := mark(&cuts[i])
		cuts[i].Deviation += 0.3 * x
	}
	got := p.contrast([]Fitting{{Cuts: cuts}}, 60, false, 1, leastEffect, mark)
	rows, y := mat.NewDense(len(cuts), 5, nil), mat.NewVecDense(len(cuts), nil)
	for i := range cuts {
		w := 1 / math.Sqrt(p.Variance(cuts[i].Height))
		x, _ := mark(&cuts[i])
		rows.Set(i, 0, w*x)
		rows.Set(i, 1+2*(i/60), w)
		rows.Set(i, 2+2*(i/60), w*p.clock(cuts[i].Area))
		y.SetVec(i, w*cuts[i].Deviation)
	}
	var beta mat.VecDense
	if err := beta.SolveVec(rows, y); err != nil {
		t.Fatal(err)
	}
	var square, inverse mat.Dense
	square.Mul(rows.T(), rows)
	if err := inverse.Inverse(&square); err != nil {
		t.Fatal(err)
	}
	close(t, "effect", got.Effect.Value, beta.AtVec(0), 1e-8)
	// The readings scatter less than the pool says, so that the pool's noise counts.
	close(t, "its upper limit", got.Effect.High, beta.AtVec(0)+z95*math.Sqrt(inverse.At(0, 0)), 1e-8)
	if got.With != 30 || got.Others != 90 {
		t.Errorf("%d cuts with the mark and %d without, want 30 and 90", got.With, got.Others)
	}
}

// Simulated, seeds 0 to 199, blades of 300 readings, a quarter with the mark: an
// effect of 0.4 is nearly always told, none hardly ever, a wild reading does not
// make one, and its limits hold 0.4 in 95 % (3 standard errors: 4.6 points).
func TestContrastTells(t *testing.T) {
	p := usualPool
	count := func(effect, wild float64) (told, holds int) {
		for seed := range uint64(200) {
			cuts := scattered(seed, 1, 300, p.Noise, shapeHeights)[0]
			mark := everyNth(4)
			for i := range cuts {
				x, _ := mark(&cuts[i])
				cuts[i].Deviation += effect * x
			}
			cuts[100].Deviation += wild
			c := p.contrast([]Fitting{{Cuts: cuts}}, blockCuts, false, 1, leastEffect, mark)
			if c.Chance >= 0.9 {
				told++
			}
			if c.Effect.Low <= effect && effect <= c.Effect.High {
				holds++
			}
		}
		return told, holds
	}
	large, holds := count(0.4, 0)
	none, _ := count(0, 0)
	wild, _ := count(0, 50)
	if large < 190 || none > 1 || wild > 1 {
		t.Errorf("told: %d of 200 effects of 0.4, %d of none, %d of a wild reading", large, none, wild)
	}
	if holds < 181 || holds > 199 {
		t.Errorf("the limits hold the effect in %d of 200", holds)
	}
}

// Outward counts away from square on either side, and a blade that leads to no
// side says nothing.
func TestContrastOutward(t *testing.T) {
	p := usualPool
	mark := everyNth(3)
	var fittings []Fitting
	for k, side := range []float64{1, -1} {
		cuts := scattered(uint64(k), 1, 300, p.Noise, shapeHeights)[0]
		for i := range cuts {
			x, _ := mark(&cuts[i])
			cuts[i].Deviation = side * (cuts[i].Deviation + 0.5*x)
		}
		fittings = append(fittings, Fitting{Cuts: cuts})
	}
	if c := p.contrast(fittings, blockCuts, true, 1, leastEffect, mark); math.Abs(c.Effect.Value-0.5) > 0.1 || c.Chance < 0.9 {
		t.Errorf("outward the effect is %+v, want 0.5", c)
	}
	if c := p.contrast(fittings, blockCuts, false, 1, leastEffect, mark); math.Abs(c.Effect.Value) > 0.1 {
		t.Errorf("to one side the effect is %+v, want none", c)
	}
	random := rand.New(rand.NewPCG(1, 1))
	var flat []Cut
	for i := range 200 {
		flat = append(flat, Cut{Area: 12 * float64(i), Height: 10, Deviation: 0.2 * random.NormFloat64()})
	}
	if c := p.contrast([]Fitting{{Cuts: flat}}, blockCuts, true, 1, leastEffect, mark); c != (Contrast{}) {
		t.Errorf("of a blade that leads to no side the effect is %+v", c)
	}
}

// A mark that all cuts bear, or none, or that goes with the line, is no effect.
func TestContrastOfNothing(t *testing.T) {
	p := usualPool
	fittings := []Fitting{{Cuts: scattered(1, 1, 100, p.Noise, shapeHeights)[0]}}
	for name, mark := range map[string]func(*Cut) (float64, bool){
		"all":     func(*Cut) (float64, bool) { return 1, true },
		"none":    func(*Cut) (float64, bool) { return 0, true },
		"unknown": func(*Cut) (float64, bool) { return 1, false },
	} {
		if c := p.contrast(fittings, blockCuts, false, 1, leastEffect, mark); c.Chance != 0 || c.Effect != (Estimate{}) {
			t.Errorf("%s: %+v", name, c)
		}
	}
	if c := p.contrast(nil, blockCuts, false, 1, leastEffect, everyNth(2)); c != (Contrast{}) {
		t.Errorf("of no blade: %+v", c)
	}
}

// The Bayes factor by its definition: N(x; 0, s² + g²)/N(x; 0, s²).
func TestBayesFactor(t *testing.T) {
	for _, x := range []float64{0, 0.1, 1, -3} {
		for _, s := range []float64{0.1, 1} {
			want := normalDensity(x, s+2) / normalDensity(x, s)
			if want > 1e200 {
				continue
			}
			close(t, "Bayes factor", bayesFactor(x, s, 2), want, 1e-12)
		}
	}
	if b := bayesFactor(1e9, 1e-9, 1); math.IsInf(b, 0) || math.IsNaN(b) {
		t.Errorf("of an effect beyond doubt it is %v", b)
	}
}

// Readings that alternate are told, those that do not or that go in pairs are not.
func TestAlternates(t *testing.T) {
	p := usualPool
	of := func(add func(i int) float64) Contrast {
		cuts := scattered(9, 1, 200, p.Noise, shapeHeights)[0]
		for i := range cuts {
			cuts[i].Deviation += add(i)
		}
		return p.alternates([]Fitting{{Cuts: cuts}})
	}
	if c := of(func(i int) float64 { return pick(i%2 == 0, 0.5, -0.5) }); c.Chance < 0.9 || c.Effect.Value > -0.5 {
		t.Errorf("of readings in turn: %+v", c)
	}
	for name, add := range map[string]func(i int) float64{
		"noise": func(int) float64 { return 0 },
		"pairs": func(i int) float64 { return pick(i/2%2 == 0, 0.5, -0.5) },
	} {
		if c := of(add); c.Chance >= 0.5 {
			t.Errorf("of %s: %+v", name, c)
		}
	}
	if c := of(func(i int) float64 { return pick(i%2 == 0, 5.0, -5) }); c.Effect.Low < -1 || c.Effect.Value > -0.9 {
		t.Errorf("of readings far off in turn: %+v, want a correlation and limits that are none below -1", c)
	}
	if c := p.alternates(nil); c != (Contrast{}) {
		t.Errorf("of nothing: %+v", c)
	}
}

func TestOuterHeights(t *testing.T) {
	var cuts []Cut
	for i := range 20 {
		cuts = append(cuts, Cut{Height: float64(20 - i)})
	}
	cuts = append(cuts, Cut{Height: math.NaN()}, Cut{Height: 0}, Cut{Height: 99, Deviation: math.NaN()})
	if low, high := outer([]Fitting{{Cuts: cuts}}); low != 3 || high != 19 {
		t.Errorf("heights from %v to %v, want 3 and 19", low, high)
	}
	if low, high := outer(nil); low != 0 || high != 0 {
		t.Errorf("of nothing from %v to %v", low, high)
	}
}
