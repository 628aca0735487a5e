package deviation

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// Wanted values from R 4.2.2 with spc 0.6.7, testdata/reference/charts/SOURCE.
func TestChartsAgreeWithReference(t *testing.T) {
	var want struct {
		Target, Sigma float64
		EWMA          struct {
			Lambda, L        float64
			Value, Low, High []float64
		}
		CUSUM struct {
			K, H      float64
			High, Low []float64
			First     int
		}
		Individuals struct {
			Mean, Low, High float64
			MRBar           float64 `json:"mr_bar"`
		}
	}
	readReference(t, "charts", &want)
	values := readColumns(t, "charts")["deviation"]
	known := Baseline{Level: want.Target, Sigma: want.Sigma}
	ewma, err := NewEWMA(known, want.EWMA.Lambda, want.EWMA.L)
	if err != nil {
		t.Fatal(err)
	}
	cusum, err := NewCUSUM(known, want.CUSUM.K, want.CUSUM.H)
	if err != nil {
		t.Fatal(err)
	}
	first := 0
	for i, v := range values {
		e, c := ewma.Add(v), cusum.Add(v)
		close(t, "average", e.Value, want.EWMA.Value[i], 1e-12)
		close(t, "its lower limit", e.Low, want.EWMA.Low[i], 1e-12)
		close(t, "its upper limit", e.High, want.EWMA.High[i], 1e-12)
		if math.Abs(c.High-want.CUSUM.High[i]) > 1e-9 || math.Abs(c.Low-want.CUSUM.Low[i]) > 1e-9 {
			t.Errorf("sums after %d are %v and %v, want %v and %v", i+1, c.High, c.Low, want.CUSUM.High[i], want.CUSUM.Low[i])
		}
		if first == 0 && c.Side != 0 {
			first = i + 1
		}
	}
	if first != want.CUSUM.First {
		t.Errorf("the sums signal at %d, want %d", first, want.CUSUM.First)
	}
	// The reference takes its baseline from the first 30 values or from all.
	for _, n := range []int{30, len(values)} {
		base, err := Individuals(values[:n])
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(base.Level-want.Individuals.Mean) > 1e-9 {
			continue
		}
		close(t, "mean range", base.Sigma*meanRange, want.Individuals.MRBar, 1e-9)
		close(t, "lower limit", base.Low, want.Individuals.Low, 1e-9)
		close(t, "upper limit", base.High, want.Individuals.High, 1e-9)
		return
	}
	t.Error("no baseline has the reference's mean")
}

// NIST/SEMATECH e-Handbook 6.3.2.2 (data and values in the domain reference,
// section 5.2).
func TestIndividualsPublished(t *testing.T) {
	base, err := Individuals([]float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1})
	if err != nil {
		t.Fatal(err)
	}
	close(t, "mean", base.Level, 50.81, 1e-6)
	close(t, "mean range", base.Sigma*meanRange, 1.8778, 1e-4)
	close(t, "upper limit", base.High, 55.8041, 1e-5)
	close(t, "lower limit", base.Low, 45.8159, 1e-5)
}

// NIST/SEMATECH e-Handbook 6.3.2.4: target 50, s 2.0539, lambda 0.3, k 3; its
// limits are those after many values.
func TestEWMAPublished(t *testing.T) {
	chart, err := NewEWMA(Baseline{Level: 50, Sigma: 2.0539}, 0.3, 3)
	if err != nil {
		t.Fatal(err)
	}
	want := []float64{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99}
	var last EWMAPoint
	for i, v := range []float64{52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1} {
		last = chart.Add(v)
		if math.Abs(last.Value-want[i]) > 0.006 {
			t.Errorf("average after %d is %.3f, want %.2f", i+1, last.Value, want[i])
		}
		if last.Out() {
			t.Errorf("out after %d: %+v", i+1, last)
		}
	}
	close(t, "upper limit", last.High, 52.5884, 1e-5)
	close(t, "lower limit", last.Low, 47.4116, 1e-5)
}

// NIST/SEMATECH e-Handbook 6.3.2.3 (target 325, k 0.3175, h 4.1959: first signal
// at 14, sums 3.0075, 4.94 and 19.035 at 13, 14 and 20), and Montgomery,
// Introduction to Statistical Quality Control, its CUSUM example (from memory:
// signal at 29 with a sum of 5.28, the shift 7 values old).
func TestCUSUMPublished(t *testing.T) {
	for _, c := range []struct {
		name        string
		base        Baseline
		k, h        float64
		values      []float64
		first       int
		high        map[int]float64
		since, atHi int
	}{
		{
			"NIST", Baseline{Level: 325, Sigma: 1}, 0.3175, 4.1959,
			[]float64{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350},
			14, map[int]float64{13: 3.0075, 14: 4.94, 20: 19.035}, 2, 14,
		},
		{
			"Montgomery", Baseline{Level: 10, Sigma: 1}, 0.5, 5,
			[]float64{9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08, 9.37, 10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52},
			29, map[int]float64{29: 5.28}, 7, 29,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			chart, err := NewCUSUM(c.base, c.k, c.h)
			if err != nil {
				t.Fatal(err)
			}
			first := 0
			for i, v := range c.values {
				p := chart.Add(v)
				if want, ok := c.high[i+1]; ok && math.Abs(p.High-want) > 1e-9 {
					t.Errorf("sum after %d is %v, want %v", i+1, p.High, want)
				}
				if first == 0 && p.Side == 1 {
					first = i + 1
				}
				if i+1 == c.atHi && p.Since != c.since {
					t.Errorf("at %d the shift is %d values old, want %d", i+1, p.Since, c.since)
				}
			}
			if first != c.first {
				t.Errorf("first signal at %d, want %d", first, c.first)
			}
		})
	}
}

// How long charts run before they signal, simulated (seeds 1 to 8, 3 standard
// errors): zero-state run lengths of the CUSUM as spc computes them, of the EWMA
// at 10 % and 2.703 with exact limits 359.0 (testdata/reference/charts/SOURCE).
func TestRunLengths(t *testing.T) {
	const runs = 2500
	mean := func(seed uint64, shift float64, chart func() func(float64) bool) (length, doubt float64) {
		random := rand.New(rand.NewPCG(seed, 0))
		sum, squares := 0.0, 0.0
		for range runs {
			out, n := chart(), 1.0
			for !out(random.NormFloat64() + shift) {
				n++
			}
			sum += n
			squares += n * n
		}
		length = sum / runs
		return length, math.Sqrt((squares/runs - length*length) / runs)
	}
	unit := Baseline{Sigma: 1}
	cusum := func() func(float64) bool {
		c, err := NewCUSUM(unit, 0.5, 5)
		if err != nil {
			t.Fatal(err)
		}
		return func(x float64) bool { return c.Add(x).Side != 0 }
	}
	ewma := func() func(float64) bool {
		c, err := NewEWMA(unit, 0.1, 2.703)
		if err != nil {
			t.Fatal(err)
		}
		return func(x float64) bool { return c.Add(x).Out() }
	}
	for i, c := range []struct {
		name  string
		shift float64
		chart func() func(float64) bool
		want  float64
	}{
		{"CUSUM", 0, cusum, 465.443506032076},
		{"CUSUM", 0.5, cusum, 37.9961431893665},
		{"CUSUM", 1, cusum, 10.3759699215936},
		{"CUSUM", 2, cusum, 4.00887106103108},
		{"EWMA", 0, ewma, 359.0},
	} {
		if got, doubt := mean(uint64(i+1), c.shift, c.chart); math.Abs(got-c.want) > 3*doubt {
			t.Errorf("%s at a shift of %v runs %.2f ± %.2f values, want %.2f", c.name, c.shift, got, doubt, c.want)
		}
	}
}

func TestRobustBaseline(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 0))
	values := make([]float64, 400)
	for i := range values {
		values[i] = 3 + 0.5*random.NormFloat64()
		if i%20 == 7 {
			values[i] = 50 // the probe was knocked
		}
	}
	base, err := RobustBaseline(values)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(base.Level-3) > 0.1 || math.Abs(base.Sigma/0.5-1) > 0.25 {
		t.Errorf("baseline %+v, want about 3 ± 0.5 whatever the wild readings", base)
	}
	if plain, err := Individuals(values); err != nil || plain.Sigma < 3 {
		t.Errorf("by means %+v (%v): the case is too easy", plain, err)
	}
}

func TestChartsRefuse(t *testing.T) {
	good := Baseline{Sigma: 1}
	for name, call := range map[string]func() error{
		"one value":       func() error { _, err := Individuals([]float64{1}); return err },
		"no number":       func() error { _, err := Individuals([]float64{1, math.NaN()}); return err },
		"seven values":    func() error { _, err := RobustBaseline(make([]float64, 7)); return err },
		"all equal":       func() error { _, err := RobustBaseline(make([]float64, 9)); return err },
		"no sigma":        func() error { _, err := NewEWMA(Baseline{}, 0.1, 3); return err },
		"lambda 0":        func() error { _, err := NewEWMA(good, 0, 3); return err },
		"lambda above 1":  func() error { _, err := NewEWMA(good, 1.1, 3); return err },
		"no width":        func() error { _, err := NewEWMA(good, 0.1, 0); return err },
		"no sigma, sums":  func() error { _, err := NewCUSUM(Baseline{Sigma: math.NaN()}, 0.5, 5); return err },
		"k below 0":       func() error { _, err := NewCUSUM(good, -0.1, 5); return err },
		"no h":            func() error { _, err := NewCUSUM(good, 0.5, 0); return err },
		"endless reading": func() error { _, err := RobustBaseline([]float64{1, 2, 3, 4, 5, 6, 7, math.Inf(1)}); return err },
	} {
		if call() == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

// A level, a sign and a unit do not matter; a reading that is no number is
// passed over.
func TestChartProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-5, 5), 1, 60).Draw(t, "values")
		move, unit := rapid.Float64Range(-100, 100).Draw(t, "move"), rapid.Float64Range(0.1, 30).Draw(t, "unit")
		plain, _ := NewCUSUM(Baseline{Sigma: 1}, 0.5, 4)
		other, _ := NewCUSUM(Baseline{Level: move, Sigma: unit}, 0.5, 4)
		mirror, _ := NewCUSUM(Baseline{Sigma: 1}, 0.5, 4)
		average, _ := NewEWMA(Baseline{Sigma: 1}, 0.2, 3)
		moved, _ := NewEWMA(Baseline{Level: move, Sigma: unit}, 0.2, 3)
		for _, v := range values {
			a, b, c := plain.Add(v), other.Add(move+unit*v), mirror.Add(-v)
			if math.Abs(a.High-b.High) > 1e-9 || math.Abs(a.Low-b.Low) > 1e-9 {
				t.Fatalf("%+v, at another level and unit %+v", a, b)
			}
			if a.High != c.Low || a.Low != c.High || a.Side != -c.Side {
				t.Fatalf("%+v, mirrored %+v", a, c)
			}
			x, y := average.Add(v), moved.Add(move+unit*v)
			if math.Abs((y.Value-move)/unit-x.Value) > 1e-9 || math.Abs((y.High-move)/unit-x.High) > 1e-9 {
				t.Fatalf("%+v, at another level and unit %+v", x, y)
			}
			if plain.Add(math.NaN()) != a || average.Add(math.NaN()) != x {
				t.Fatal("what is no number moved a chart")
			}
		}
	})
}
