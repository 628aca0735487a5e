package deviation

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

func newWear(t testing.TB, p Prior, n Noise) *Wear {
	t.Helper()
	w, err := NewWear(p, n)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func add(t testing.TB, w *Wear, area, deviation float64) Reading {
	t.Helper()
	r, err := w.Add(area, deviation)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Without noise of level and drift the model is a straight line with a normal
// prior, whose answer is that of regression: (X'X/r² + P⁻¹)⁻¹ by gonum's matrices.
func TestWearIsRegressionWithoutNoiseOfItsOwn(t *testing.T) {
	prior, noise := Prior{Level: 0.3, LevelSD: 0.8, Drift: 0.1, DriftSD: 0.4}, Noise{Measure: 0.25}
	w := newWear(t, prior, noise)
	areas, values := []float64{100, 350, 900, 1500, 2600, 4000}, []float64{0.31, 0.42, 0.28, 0.66, 0.75, 0.81}
	information := mat.NewSymDense(2, []float64{1 / (0.8 * 0.8), 0, 0, 1 / (0.4 * 0.4)})
	score := mat.NewVecDense(2, []float64{0.3 / (0.8 * 0.8), 0.1 / (0.4 * 0.4)})
	for i, a := range areas {
		if r := add(t, w, a, values[i]); r.Wild {
			t.Fatalf("reading %d is wild: %+v", i+1, r)
		}
		x := mat.NewVecDense(2, []float64{1, a / 1000})
		information.SymRankOne(information, 1/(0.25*0.25), x)
		score.AddScaledVec(score, values[i]/(0.25*0.25), x)
	}
	var chol mat.Cholesky
	if !chol.Factorize(information) {
		t.Fatal("no information")
	}
	var line mat.VecDense
	if err := chol.SolveVecTo(&line, score); err != nil {
		t.Fatal(err)
	}
	var covariance mat.SymDense
	if err := chol.InverseTo(&covariance); err != nil {
		t.Fatal(err)
	}
	last := areas[len(areas)-1] / 1000
	level := line.AtVec(0) + line.AtVec(1)*last
	variance := covariance.At(0, 0) + 2*last*covariance.At(0, 1) + last*last*covariance.At(1, 1)
	close(t, "level", w.Level().Value, level, 1e-9)
	close(t, "its upper limit", w.Level().High, level+z95*math.Sqrt(variance), 1e-9)
	close(t, "drift", w.Drift().Value, line.AtVec(1), 1e-9)
	close(t, "its lower limit", w.Drift().Low, line.AtVec(1)-z95*math.Sqrt(covariance.At(1, 1)), 1e-9)
	if w.N() != len(areas) {
		t.Errorf("%d readings, want %d", w.N(), len(areas))
	}
}

// The likelihood is that of all readings together, a multivariate normal.
func TestWearLogLikIsTheJointOne(t *testing.T) {
	noise := Noise{Measure: 0.3, Level: 0.2, Drift: 0.1}
	prior := Prior{Level: 1, LevelSD: 0.5, Drift: 0.2, DriftSD: 0.3}
	w := newWear(t, prior, noise)
	areas, values := []float64{0.2, 0.9, 1.7, 3.2}, []float64{1.2, 0.9, 1.6, 1.9}
	// Cov(y_i, y_j) for a_i ≤ a_j: prior, the level's walk and the walk of the
	// drift, ∫(a_i-s)(a_j-s)ds.
	n := len(areas)
	covariance, off := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, a := range areas {
		add(t, w, a*1000, values[i])
		off.SetVec(i, values[i]-1-0.2*a)
		for j := i; j < n; j++ {
			b := areas[j]
			v := 0.25 + 0.09*a*b + 0.04*a + 0.01*(a*a*a/3+(b-a)*a*a/2)
			if i == j {
				v += 0.09
			}
			covariance.SetSym(i, j, v)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(covariance) {
		t.Fatal("no covariance")
	}
	var solved mat.VecDense
	if err := chol.SolveVecTo(&solved, off); err != nil {
		t.Fatal(err)
	}
	close(t, "log likelihood", w.LogLik(), -(float64(n)*math.Log(2*math.Pi)+chol.LogDet()+mat.Dot(off, &solved))/2, 1e-9)
}

// A wild reading moves the level little, a lasting change is followed.
func TestWildReadings(t *testing.T) {
	w := newWear(t, Prior{LevelSD: 1, DriftSD: 0.2}, Noise{Measure: 0.25, Level: 0.1, Drift: 0.02})
	for i := range 50 {
		add(t, w, float64(i)*30, 0.5)
	}
	before := w.Level().Value
	if r := add(t, w, 1500, 40); !r.Wild {
		t.Errorf("reading %+v, want wild", r)
	}
	if moved := w.Level().Value - before; moved > 0.15 {
		t.Errorf("a reading of 40 moves the level by %v", moved)
	}
	for i := range 40 {
		add(t, w, 1530+float64(i)*30, 2)
	}
	if l := w.Level(); math.Abs(l.Value-2) > 0.25 { // the step has also taught it a drift
		t.Errorf("after 40 readings of 2 the level is %+v", l)
	}
}

// Simulated, seed 3: 600 blades whose level drifts to a limit of 2.4, forecast
// when they have cut 2,000 in² with the noise known: the 10 to 90 % window holds
// 80 % (3 standard errors: 4.9 points), as near as it can be told.
func TestWindowsHoldThePassage(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 0))
	noise, prior, limit := Noise{Measure: 0.25, Level: 0.15, Drift: 0}, Prior{Level: 0.3, LevelSD: 0.1, Drift: 0.25, DriftSD: 0.1}, 2.4
	held, blades := 0, 0
	for range 600 {
		w := newWear(t, prior, noise)
		level, drift := prior.Level+prior.LevelSD*random.NormFloat64(), prior.Drift+prior.DriftSD*random.NormFloat64()
		area := 0.0
		var window Window
		for area < 60_000 && math.Abs(level) < limit {
			area += 20
			level += drift*0.02 + noise.Level*math.Sqrt(0.02)*random.NormFloat64()
			if area <= 2000 {
				add(t, w, area, level+noise.Measure*random.NormFloat64())
			}
			if area == 2000 {
				window = w.UntilLimit(limit)
			}
		}
		if area < 2000 {
			continue // there before anybody forecast
		}
		blades++
		if left := area - 2000; window.Q10 <= left && (left <= window.Q90 || area >= 60_000) {
			held++
		}
	}
	if share := float64(held) / float64(blades); math.Abs(share-0.8) > 0.049 {
		t.Errorf("windows held %.3f of %d blades, want 0.80", share, blades)
	}
}

func TestWearAtTheEdges(t *testing.T) {
	w := newWear(t, Prior{Level: 3, LevelSD: 0.001}, Noise{Measure: 0.2, Level: 0.1})
	if got := w.UntilLimit(2); got != (Window{}) {
		t.Errorf("a level beyond the limit has %+v left, want nothing", got)
	}
	still := newWear(t, Prior{}, Noise{Measure: 0.2})
	if got := still.UntilLimit(2); !math.IsInf(got.Q10, 1) {
		t.Errorf("a level that stays reaches the limit within %+v, want never", got)
	}
	if !math.IsNaN(still.Reaches(0, 100)) || !math.IsNaN(still.UntilLimit(-1).Q50) || !math.IsNaN(still.Reaches(1, math.NaN())) {
		t.Error("a limit of 0 or an area that is no number has an answer")
	}
	straight := newWear(t, Prior{Drift: 1}, Noise{Measure: 0.2})
	if got := straight.UntilLimit(2).Q50; math.Abs(got-2000) > 1 {
		t.Errorf("1 in 1,000 in² reaches 2 after %v, want 2,000", got)
	}
	for name, call := range map[string]func() error{
		"no noise of readings": func() error { _, err := NewWear(Prior{}, Noise{}); return err },
		"noise below 0":        func() error { _, err := NewWear(Prior{}, Noise{Measure: 1, Level: -1}); return err },
		"prior no number":      func() error { _, err := NewWear(Prior{Level: math.NaN()}, Noise{Measure: 1}); return err },
		"endless doubt":        func() error { _, err := NewWear(Prior{DriftSD: math.Inf(1)}, Noise{Measure: 1}); return err },
		"area back":            func() error { _, _ = still.Add(100, 0); _, err := still.Add(99, 0); return err },
		"no deviation":         func() error { _, err := still.Add(200, math.NaN()); return err },
	} {
		if call() == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

// The side does not matter, the chance rises with the area, and the quantiles
// are where it says.
func TestWearProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		noise := Noise{Measure: rapid.Float64Range(0.05, 1).Draw(t, "measure"), Level: rapid.Float64Range(0.02, 0.5).Draw(t, "level"), Drift: rapid.Float64Range(0, 0.2).Draw(t, "drift")}
		prior := Prior{Level: rapid.Float64Range(-1, 1).Draw(t, "start"), LevelSD: 0.3, Drift: rapid.Float64Range(-0.5, 0.5).Draw(t, "slope"), DriftSD: 0.2}
		mirrored := prior
		mirrored.Level, mirrored.Drift = -prior.Level, -prior.Drift
		w, _ := NewWear(prior, noise)
		m, _ := NewWear(mirrored, noise)
		for i, v := range rapid.SliceOfN(rapid.Float64Range(-3, 3), 0, 30).Draw(t, "readings") {
			_, _ = w.Add(float64(i)*40, v)
			_, _ = m.Add(float64(i)*40, -v)
		}
		if w.levelVar < -1e-12 || w.driftVar < -1e-12 || w.co*w.co > w.levelVar*w.driftVar*(1+1e-9)+1e-15 {
			t.Fatalf("no covariance: %v %v %v", w.levelVar, w.co, w.driftVar)
		}
		limit, last := rapid.Float64Range(1, 5).Draw(t, "limit"), -1.0
		for _, area := range []float64{0, 10, 500, 5000, 50_000} {
			c := w.Reaches(limit, area)
			if c < last-1e-12 || c > 1+1e-12 || math.Abs(c-m.Reaches(limit, area)) > 1e-9 {
				t.Fatalf("chance %v within %v after %v, mirrored %v", c, area, last, m.Reaches(limit, area))
			}
			last = c
		}
		if u := w.UntilLimit(limit); !(u.Q10 <= u.Q50 && u.Q50 <= u.Q90) {
			t.Fatalf("window %+v", u)
		}
	})
}

func BenchmarkWear(b *testing.B) {
	begin := func(b *testing.B) (*Wear, float64) {
		w := newWear(b, Prior{LevelSD: 1, DriftSD: 1}, Noise{Measure: 0.25, Level: 0.1, Drift: 0.02})
		area := 0.0
		for range 2000 {
			area += 20
			add(b, w, area, 0.5)
		}
		return w, area
	}
	b.Run("add a cut to 2000", func(b *testing.B) {
		w, area := begin(b)
		for b.Loop() {
			area += 20
			add(b, w, area, 0.5)
		}
	})
	b.Run("until the limit", func(b *testing.B) {
		w, _ := begin(b)
		for b.Loop() {
			w.UntilLimit(2.4)
		}
	})
}
