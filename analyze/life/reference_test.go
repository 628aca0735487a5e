package life

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// The reference cases were made by R 4.2.2 with survival 3.5-3 and by direct
// maximum likelihood; each folder's SOURCE names its data set.
var referenceCases = []string{
	"life-nist", "life-remission", "life-remission-treated", "life-bearings",
	"life-delayed", "life-one-end", "life-fans",
}

// reference is the part of expected.json that this package answers.
type reference struct {
	KM []struct {
		Area, Survival float64
		AtRisk         int `json:"at_risk"`
		Ended          int
		StdError       *float64 `json:"std_error"`
		Low, High      *float64
		PlainLow       *float64 `json:"plain_low"`
		PlainHigh      *float64 `json:"plain_high"`
	}
	NelsonAalen []struct {
		Area     float64
		Hazard   float64 `json:"cumulative_hazard"`
		StdError float64 `json:"std_error"`
	} `json:"nelson_aalen"`
	Median struct {
		Value, Low, High *float64
		PlainLow         *float64 `json:"plain_low"`
		PlainHigh        *float64 `json:"plain_high"`
	}
	Weibull struct {
		Shape, Scale, LogLik, AIC, Mean float64
		LogShapeSE                      float64 `json:"log_shape_se"`
		LogScaleSE                      float64 `json:"log_scale_se"`
		LogCovariance                   float64 `json:"log_covariance"`
		ShapeLow                        float64 `json:"shape_low"`
		ShapeHigh                       float64 `json:"shape_high"`
		ShapeWaldLow                    float64 `json:"shape_wald_low"`
		ShapeWaldHigh                   float64 `json:"shape_wald_high"`
		B10, B50                        referenceQuantile
	}
	Exponential struct{ Scale, LogLik, AIC float64 }
}

type referenceQuantile struct {
	Value, Low, High float64
	WaldLow          float64 `json:"wald_low"`
	WaldHigh         float64 `json:"wald_high"`
}

func (q referenceQuantile) check(t *testing.T, what string, profile, wald Estimate) {
	t.Helper()
	near(t, what, profile.Value, q.Value, 1e-9)
	near(t, "lower limit of "+what, profile.Low, q.Low, 1e-6)
	near(t, "upper limit of "+what, profile.High, q.High, 1e-6)
	near(t, what, wald.Value, q.Value, 1e-9)
	near(t, "lower Wald limit of "+what, wald.Low, q.WaldLow, 1e-6)
	near(t, "upper Wald limit of "+what, wald.High, q.WaldHigh, 1e-6)
}

func referencePath(name, file string) string {
	return filepath.Join("..", "..", "testdata", "reference", name, file)
}

func readJSON(t *testing.T, path string, into any) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatal(err)
	}
}

// readLives reads the columns start (optional), area and ended by header.
func readLives(t *testing.T, path string) []Observation {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var obs []Observation
	for _, row := range rows[1:] {
		var o Observation
		for i, name := range rows[0] {
			if name == "group" {
				continue
			}
			v, err := strconv.ParseFloat(row[i], 64)
			if err != nil {
				t.Fatal(err)
			}
			switch name {
			case "start":
				o.Start = v
			case "area":
				o.Area = v
			case "ended":
				o.Ended = v == 1
			}
		}
		obs = append(obs, o)
	}
	return obs
}

// near fails unless got is within relative tolerance of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// nearOr is near for a value that R gives as NA (null): ours is then none.
func nearOr(t *testing.T, what string, got float64, want *float64, none, tolerance float64) {
	t.Helper()
	if want != nil {
		near(t, what, got, *want, tolerance)
		return
	}
	if got != none && !(math.IsNaN(none) && math.IsNaN(got)) {
		t.Errorf("%s is %v, want %v", what, got, none)
	}
}

func TestKaplanMeierAgreesWithReference(t *testing.T) {
	for _, name := range referenceCases {
		t.Run(name, func(t *testing.T) {
			var want reference
			readJSON(t, referencePath(name, "expected.json"), &want)
			c, err := KaplanMeier(readLives(t, referencePath(name, "input.csv")))
			if err != nil {
				t.Fatal(err)
			}
			if len(c.Steps) != len(want.KM) {
				t.Fatalf("%d steps, want %d", len(c.Steps), len(want.KM))
			}
			for i, w := range want.KM {
				s, at := c.Steps[i], strconv.FormatFloat(w.Area, 'g', -1, 64)
				if s.Area != w.Area || s.AtRisk != w.AtRisk || s.Ended != w.Ended {
					t.Errorf("step %d is %+v, want area %v, %d at risk, %d ended", i, s, w.Area, w.AtRisk, w.Ended)
				}
				near(t, "survival at "+at, s.Survival, w.Survival, 1e-12)
				nearOr(t, "standard error at "+at, s.StdErr, w.StdError, math.NaN(), 1e-10)
				nearOr(t, "lower limit at "+at, s.Low, w.Low, math.NaN(), 1e-10)
				nearOr(t, "upper limit at "+at, s.High, w.High, math.NaN(), 1e-10)
			}
			plain := c.Plain()
			for i, w := range want.KM {
				nearOr(t, "plain lower limit", plain.Steps[i].Low, w.PlainLow, math.NaN(), 1e-10)
				nearOr(t, "plain upper limit", plain.Steps[i].High, w.PlainHigh, math.NaN(), 1e-10)
			}
			m, inf := plain.Median(), math.Inf(1)
			nearOr(t, "plain lower limit of the median", m.Low, want.Median.PlainLow, inf, 1e-12)
			nearOr(t, "plain upper limit of the median", m.High, want.Median.PlainHigh, inf, 1e-12)
			m = c.Median()
			nearOr(t, "median", m.Value, want.Median.Value, inf, 1e-12)
			nearOr(t, "lower limit of the median", m.Low, want.Median.Low, inf, 1e-12)
			nearOr(t, "upper limit of the median", m.High, want.Median.High, inf, 1e-12)
		})
	}
}

func TestNelsonAalenAgreesWithReference(t *testing.T) {
	for _, name := range referenceCases {
		t.Run(name, func(t *testing.T) {
			var want reference
			readJSON(t, referencePath(name, "expected.json"), &want)
			got := curveOf(t, readLives(t, referencePath(name, "input.csv"))).NelsonAalen()
			if len(got) != len(want.NelsonAalen) {
				t.Fatalf("%d steps, want %d", len(got), len(want.NelsonAalen))
			}
			for i, w := range want.NelsonAalen {
				near(t, "area", got[i].Area, w.Area, 0)
				near(t, "cumulative hazard", got[i].Hazard, w.Hazard, 1e-12)
				near(t, "standard error", got[i].StdErr, w.StdError, 1e-10)
			}
		})
	}
}

func TestFitAgreesWithReference(t *testing.T) {
	for _, name := range referenceCases {
		t.Run(name, func(t *testing.T) {
			var file reference
			readJSON(t, referencePath(name, "expected.json"), &file)
			want := file.Weibull
			w, err := FitWeibull(readLives(t, referencePath(name, "input.csv")))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "shape", w.Shape, want.Shape, 1e-9)
			near(t, "scale", w.Scale, want.Scale, 1e-9)
			near(t, "log likelihood", w.LogLik, want.LogLik, 1e-12)
			near(t, "mean", w.Mean(), want.Mean, 1e-9)
			near(t, "AIC", w.AIC(), want.AIC, 1e-12)
			want.B10.check(t, "B10", w.QuantileEstimate(0.1), w.QuantileWald(0.1))
			want.B50.check(t, "B50", w.QuantileEstimate(0.5), w.QuantileWald(0.5))
			near(t, "lower Wald limit of the shape", w.ShapeWald().Low, want.ShapeWaldLow, 1e-6)
			near(t, "upper Wald limit of the shape", w.ShapeWald().High, want.ShapeWaldHigh, 1e-6)
			near(t, "standard error of log shape", math.Sqrt(w.Covariance[0][0]), want.LogShapeSE, 1e-6)
			near(t, "standard error of log scale", math.Sqrt(w.Covariance[1][1]), want.LogScaleSE, 1e-6)
			near(t, "covariance", w.Covariance[0][1], want.LogCovariance, 1e-4)
			near(t, "covariance, other corner", w.Covariance[1][0], want.LogCovariance, 1e-4)
			near(t, "lower limit of the shape", w.ShapeLow, want.ShapeLow, 1e-6)
			near(t, "upper limit of the shape", w.ShapeHigh, want.ShapeHigh, 1e-6)
		})
	}
}

func TestExponentialAgreesWithReference(t *testing.T) {
	for _, name := range referenceCases {
		t.Run(name, func(t *testing.T) {
			var want reference
			readJSON(t, referencePath(name, "expected.json"), &want)
			e, err := FitExponential(readLives(t, referencePath(name, "input.csv")))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "scale", e.Scale.Value, want.Exponential.Scale, 1e-12)
			near(t, "log likelihood", e.LogLik, want.Exponential.LogLik, 1e-12)
			near(t, "AIC", e.AIC(), want.Exponential.AIC, 1e-12)
		})
	}
}

// Wanted values: closed form in R 4.2.2, testdata/reference/remaining/SOURCE.
func TestPlugInAgreesWithReference(t *testing.T) {
	var cases []struct{ Shape, Scale, Age, Q10, Q50, Q90 float64 }
	readJSON(t, referencePath("remaining", "expected.json"), &cases)
	if len(cases) < 20 {
		t.Fatalf("%d cases, want the whole table", len(cases))
	}
	for _, c := range cases {
		got := Weibull{Shape: c.Shape, Scale: c.Scale}.PlugIn(c.Age)
		what := strconv.FormatFloat(c.Shape, 'g', -1, 64) + ", " + strconv.FormatFloat(c.Scale, 'g', -1, 64) + " at " + strconv.FormatFloat(c.Age, 'g', -1, 64)
		near(t, "10 % of "+what, got.Q10, c.Q10, 1e-9)
		near(t, "50 % of "+what, got.Q50, c.Q50, 1e-9)
		near(t, "90 % of "+what, got.Q90, c.Q90, 1e-9)
	}
}

// The same table through Remaining and Survives: a fit that is sure of its
// shape and has very many ends has no doubt left to fold in.
func TestRemainingOfASureFitAgreesWithReference(t *testing.T) {
	var cases []struct {
		Shape, Scale, Age, Mean, Q10, Q50, Q90 float64
		Survive1000                            float64 `json:"survive_1000"`
	}
	readJSON(t, referencePath("remaining", "expected.json"), &cases)
	for _, c := range cases {
		const ends = 1e12
		w := Weibull{Shape: c.Shape, Scale: c.Scale, Ended: ends, unit: c.Scale, belief: []belief{{shape: c.Shape, weight: 1, logM: math.Log(ends)}}}
		r := w.Remaining(c.Age, 0)
		near(t, "10 %", r.Q10, c.Q10, 1e-8)
		near(t, "50 %", r.Q50, c.Q50, 1e-8)
		near(t, "90 %", r.Q90, c.Q90, 1e-8)
		near(t, "chance of 1000 more", w.Survives(c.Age, 0, 1000), c.Survive1000, 1e-8)
		// The mean is the integral of the chance over the area, here over its logarithm.
		mean := 0.0
		const h = 1.0 / 64
		for v := -40.0; v < 6; v += h {
			x := c.Scale * math.Exp(v)
			mean += h * x * w.Survives(c.Age, 0, x)
		}
		near(t, "mean", mean, c.Mean, 1e-6)
	}
}
