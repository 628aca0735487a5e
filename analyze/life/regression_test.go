package life

import (
	"encoding/csv"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// readTable reads a reference's input.csv as rows of text by column name.
func readTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(referencePath(name, "input.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, row map[string]string, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[column], 64)
	if err != nil {
		t.Fatalf("column %s: %v", column, err)
	}
	return v
}

// Wanted values: survreg in R 4.2.2 with survival 3.5-3, testdata/reference/aft/SOURCE.
func TestRegressionAgreesWithReference(t *testing.T) {
	var want struct {
		Coefficients, SE map[string]float64
		Sigma, LogLik    float64
	}
	readJSON(t, referencePath("aft", "expected.json"), &want)
	var rows []Row
	for _, r := range readTable(t, "aft") {
		x := []float64{0, 0, number(t, r, "speed")}
		switch r["group"] {
		case "B":
			x[0] = 1
		case "C":
			x[1] = 1
		}
		rows = append(rows, Row{Observation{Area: number(t, r, "area"), Ended: r["ended"] == "1"}, x})
	}
	got, err := FitRegression(rows)
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range []string{"(Intercept)", "groupB", "groupC", "speed"} {
		near(t, name, got.Beta[i], want.Coefficients[name], 1e-6)
		near(t, "standard error of "+name, math.Sqrt(got.Covariance[i][i]), want.SE[name], 1e-6)
	}
	near(t, "sigma", got.Sigma, want.Sigma, 1e-6)
	near(t, "standard error of log sigma", math.Sqrt(got.Covariance[4][4]), want.SE["Log(scale)"], 1e-6)
	near(t, "log likelihood", got.LogLik, want.LogLik, 1e-9)
	if got.Blades != len(rows) || got.Ended == 0 || got.Ended > got.Blades {
		t.Errorf("%d of %d ended", got.Ended, got.Blades)
	}
}

// Without columns the model is the Weibull fit: intercept ln Scale, sigma
// 1/Shape.
func TestRegressionWithoutColumnsIsTheWeibullFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 4, rapid.Bool().Draw(t, "delayed"))
		w := fitOrSkip(t, obs)
		if w.Shape < 0.05 {
			t.Skip("the likelihood is all but flat")
		}
		rows := make([]Row, len(obs))
		for i, o := range obs {
			rows[i] = Row{Observation: o}
		}
		r, err := FitRegression(rows)
		if err != nil {
			t.Fatal(err)
		}
		if r.LogLik < w.LogLik-1e-7*math.Abs(w.LogLik) && math.Abs(r.Sigma*w.Shape-1) > 1e-6 {
			t.Fatalf("%+v, want as %+v", r, w)
		}
	})
}

func TestRegressionRefuses(t *testing.T) {
	row := func(area float64, x ...float64) Row {
		return Row{Observation{Area: math.Abs(area), Ended: area > 0}, x}
	}
	for _, c := range []struct {
		name  string
		rows  []Row
		is    error
		words string
	}{
		{"no rows", nil, ErrTooFewEnds, "none of 0"},
		{"no ends", []Row{row(-3, 1), row(-4, 2)}, ErrTooFewEnds, "none of 2"},
		{"constant", []Row{row(3, 1, 7), row(4, 2, 7), row(9, 5, 7)}, nil, "column 2 is the same"},
		{"constant but for a blade that cut nothing", []Row{row(3, 7), row(4, 7), {Observation{Start: 5, Area: 5}, []float64{1}}}, nil, "column 1 is the same"},
		{"collinear", []Row{row(3, 1, 1e6, 1), row(4, 2, 2e6, 8), row(9, 5, 5e6, 2), row(5, 6, 6e6, 1)}, nil, "column 2 follows"},
		{"sum of two", []Row{row(3, 1, 0, 11), row(4, 0, 1, 11), row(9, 0, 0, 10), row(5, 1, 0, 11), row(7, 0, 1, 11)}, nil, "column 3 follows"},
		{"more columns than rows", []Row{row(3, 1, 4, 2), row(4, 2, 1, 9), row(5, 2, 7, 7)}, nil, "column 3 follows"},
		{"ragged", []Row{row(3, 1), row(4, 2, 7)}, nil, "row 2 has 2 columns, row 1 has 1"},
		{"not a number", []Row{row(3, 1), row(4, math.NaN())}, nil, "row 2, column 1"},
		{"on the line", []Row{row(math.Exp(1), 1), row(math.Exp(2), 2), row(math.Exp(4), 4)}, ErrNoFit, "sigma"},
		{"a type none of which ended", []Row{row(3, 0), row(5, 0), row(4, 0), row(-4, 1), row(-9, 1)}, ErrNoFit, "column 1"},
		{"impossible", []Row{row(3, 1), {Observation{Area: math.Inf(1)}, []float64{2}}}, nil, "observation 2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := FitRegression(c.rows)
			if err == nil || c.is != nil && !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.words) {
				t.Errorf("%+v, error %v; want %q", r, err, c.words)
			}
		})
	}
}

// someRows draws rows of two columns.
func someRows(t *rapid.T) []Row {
	var rows []Row
	for _, o := range someLives(t, 8, rapid.Bool().Draw(t, "delayed")) {
		x := []float64{float64(rapid.IntRange(0, 1).Draw(t, "type")), rapid.Float64Range(100, 400).Draw(t, "speed")}
		rows = append(rows, Row{o, x})
	}
	return rows
}

func regressionOrSkip(t *rapid.T, rows []Row) Regression {
	r, err := FitRegression(rows)
	if err != nil {
		t.Skip(err)
	}
	// Poorly told coefficients are right to fewer digits.
	if r.Sigma > 20 || r.Sigma < 0.01 {
		t.Skip("spread beyond that of any blade")
	}
	for i := range r.Covariance {
		if r.Covariance[i][i] > 400 {
			t.Skip("hardly told")
		}
	}
	return r
}

// The unit of area moves the intercept alone; the unit and zero of a column
// move its coefficient and the intercept; shape and doubt stay.
func TestRegressionInOtherUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := someRows(t)
		want := regressionOrSkip(t, rows)
		area := math.Pow(10, float64(rapid.IntRange(-6, 9).Draw(t, "unit of area")))
		speed := math.Pow(10, float64(rapid.IntRange(-6, 9).Draw(t, "unit of speed")))
		zero := rapid.Float64Range(-1e3, 1e3).Draw(t, "zero of speed")
		moved := make([]Row, len(rows))
		for i, r := range rows {
			moved[i] = Row{Observation{r.Start * area, r.Area * area, r.Ended}, []float64{r.X[0], speed * (r.X[1] - zero)}}
		}
		got, err := FitRegression(moved)
		if err != nil {
			t.Fatal(err)
		}
		tell := func(what string, got, want, doubt float64) {
			if math.Abs(got-want) > 1e-5*doubt {
				t.Fatalf("%s is %v, want %v with a standard error of %v", what, got, want, doubt)
			}
		}
		se := func(i int) float64 { return math.Sqrt(want.Covariance[i][i]) }
		tell("ln sigma", math.Log(got.Sigma), math.Log(want.Sigma), se(3))
		tell("type", got.Beta[1], want.Beta[1], se(1))
		tell("speed", got.Beta[2]*speed, want.Beta[2], se(2))
		tell("intercept", got.Beta[0], want.Beta[0]+math.Log(area)+zero*want.Beta[2], se(0))
		tell("standard error of speed", math.Sqrt(got.Covariance[2][2])*speed, se(2), se(2))
		tell("standard error of ln sigma", math.Sqrt(got.Covariance[3][3]), se(3), se(3))
	})
}

// logLikLine is the log likelihood as written.
func logLikLine(rows []Row, beta []float64, sigma float64) (l float64) {
	for _, r := range rows {
		scale := beta[0]
		for j, v := range r.X {
			scale += beta[j+1] * v
		}
		l += logLik([]Observation{r.Observation}, 1/sigma, math.Exp(scale))
	}
	return l
}

func TestRegressionIsTheMaximum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := someRows(t)
		r := regressionOrSkip(t, rows)
		best := logLikLine(rows, r.Beta, r.Sigma)
		if math.Abs(best-r.LogLik) > 1e-7*(1+math.Abs(best)) {
			t.Fatalf("log likelihood %v, as written %v", r.LogLik, best)
		}
		for range 5 {
			beta := append([]float64(nil), r.Beta...)
			for j := range beta {
				beta[j] += rapid.Float64Range(-0.1, 0.1).Draw(t, "aside") * math.Sqrt(r.Covariance[j][j])
			}
			sigma := r.Sigma * math.Exp(rapid.Float64Range(-0.1, 0.1).Draw(t, "apart")*math.Sqrt(r.Covariance[3][3]))
			if more := logLikLine(rows, beta, sigma); more > best+1e-7*(1+math.Abs(best)) {
				t.Fatalf("at %v, %v the log likelihood is %v, more than %v at %+v", beta, sigma, more, best, r)
			}
		}
	})
}

// checkDerivatives holds gradient and Hessian of f at x against differences.
func checkDerivatives(t *testing.T, f logLikelihood, x []float64) {
	t.Helper()
	n := len(x)
	look := func(x []float64) (float64, []float64, *mat.SymDense) {
		g, h := make([]float64, n), mat.NewSymDense(n, nil)
		return f(x, g, h), g, h
	}
	_, gradient, hessian := look(x)
	for i := range n {
		const step = 1e-5
		y := append([]float64(nil), x...)
		y[i] = x[i] + step
		high, gHigh, _ := look(y)
		y[i] = x[i] - step
		low, gLow, _ := look(y)
		if d := (high - low) / (2 * step); math.Abs(d-gradient[i]) > 1e-5*(1+math.Abs(d)) {
			t.Errorf("slope %d is %v, by differences %v", i, gradient[i], d)
		}
		for j := range n {
			if d := (gHigh[j] - gLow[j]) / (2 * step); math.Abs(d-hessian.At(i, j)) > 1e-5*(1+math.Abs(d)) {
				t.Errorf("curvature %d, %d is %v, by differences %v", i, j, hessian.At(i, j), d)
			}
		}
	}
}

func TestLineDerivatives(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 0))
	var x [][]float64
	var obs []Observation
	for i := range 20 {
		x = append(x, []float64{1, random.Float64(), random.Float64()})
		obs = append(obs, Observation{float64(i%3) * 100, 300 + 900*random.Float64(), i%4 != 0})
	}
	for name, s := range map[string]standard{"normal": gaussian, "extreme": extreme} {
		t.Run(name, func(t *testing.T) {
			checkDerivatives(t, newLine(s, obs, x, []float64{0, 0.7, 3}).at, []float64{0.3, -0.4, 0.9, 1.3})
		})
	}
}

// Simulated, seed 5: 500 blades, coefficients within 3 standard errors.
func TestRegressionFindsTheTruth(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 0))
	truth, sigma := []float64{9, -0.4, -0.003}, 0.4
	var rows []Row
	for len(rows) < 500 {
		x := []float64{float64(random.IntN(2)), 100 + 300*random.Float64()}
		scale := math.Exp(truth[0] + truth[1]*x[0] + truth[2]*x[1])
		area, start := scale*math.Pow(random.ExpFloat64(), sigma), 0.0
		if random.IntN(3) == 0 {
			start = 3000 * random.Float64()
		}
		if area <= start {
			continue
		}
		pulled := start + 12000*random.Float64()
		rows = append(rows, Row{Observation{start, min(area, pulled), area <= pulled}, x})
	}
	r, err := FitRegression(rows)
	if err != nil {
		t.Fatal(err)
	}
	for j, want := range truth {
		if off := (r.Beta[j] - want) / math.Sqrt(r.Covariance[j][j]); math.Abs(off) > 3 {
			t.Errorf("coefficient %d is %v, %.1f standard errors off %v", j, r.Beta[j], off, want)
		}
	}
	if off := math.Log(r.Sigma/sigma) / math.Sqrt(r.Covariance[3][3]); math.Abs(off) > 3 {
		t.Errorf("sigma is %v, %.1f standard errors off %v", r.Sigma, off, sigma)
	}
}

func BenchmarkFitRegression(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 0))
	rows := make([]Row, 5000)
	for i, o := range drawnLives(random, len(rows), 2.5, 10000, 16000) {
		rows[i] = Row{o, []float64{random.Float64(), random.Float64(), float64(random.IntN(2)), float64(random.IntN(2))}}
	}
	for b.Loop() {
		if _, err := FitRegression(rows); err != nil {
			b.Fatal(err)
		}
	}
}
