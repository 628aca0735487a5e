package deviation

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func readReference(t *testing.T, name string, into any) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/reference/" + name + "/expected.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatal(err)
	}
}

// readColumns reads the columns of a reference case as numbers.
func readColumns(t *testing.T, name string) map[string][]float64 {
	t.Helper()
	f, err := os.Open("../../testdata/reference/" + name + "/input.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	columns := map[string][]float64{}
	for _, row := range rows[1:] {
		for i, column := range rows[0] {
			x, err := strconv.ParseFloat(row[i], 64)
			if err != nil {
				t.Fatal(err)
			}
			columns[column] = append(columns[column], x)
		}
	}
	return columns
}

func close(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Max(math.Abs(want), 1e-300)) {
		t.Errorf("%s is %.15g, want %.15g", what, got, want)
	}
}

// Wanted values from SciPy 1.10.1, testdata/reference/passage/SOURCE; the
// hardest tail there is exp(-902507).
func TestPassageAgreesWithReference(t *testing.T) {
	var want struct {
		Cases []struct {
			Drift, Diffusion, Limit float64
			Quantiles               map[string]float64
			Points                  []struct {
				At          float64
				LogCDF      float64 `json:"log_cdf"`
				LogSurvival float64 `json:"log_survival"`
				LogPDF      float64 `json:"log_pdf"`
			}
		}
		Paths struct {
			Increments       int
			Drift, Diffusion float64
			DriftSE          float64 `json:"drift_se"`
		}
	}
	readReference(t, "passage", &want)
	if len(want.Cases) != 4 {
		t.Fatalf("%d cases, want 4", len(want.Cases))
	}
	for _, c := range want.Cases {
		p, err := NewPassage(c.Drift, c.Diffusion, c.Limit)
		if err != nil {
			t.Fatal(err)
		}
		name := fmt.Sprintf("%v, %v to %v", c.Drift, c.Diffusion, c.Limit)
		for chance, area := range c.Quantiles {
			x, err := strconv.ParseFloat(chance, 64)
			if err != nil {
				t.Fatal(err)
			}
			close(t, name+": quantile "+chance, p.Quantile(x), area, 1e-8)
		}
		for _, at := range c.Points {
			chance := at.LogCDF
			if chance > -1e-15 { // rounding in the reference; its own survival says better
				chance = -math.Exp(at.LogSurvival)
			}
			close(t, fmt.Sprintf("%s: chance within %v", name, at.At), p.LogChance(at.At), chance, 1e-9)
			close(t, fmt.Sprintf("%s: survival of %v", name, at.At), p.LogSurvival(at.At), at.LogSurvival, 1e-9)
			close(t, fmt.Sprintf("%s: density at %v", name, at.At), logDensity(p, at.At), at.LogPDF, 1e-9)
		}
	}
	columns := readColumns(t, "passage")
	var steps []Step
	for i := range columns["area"] {
		from := Step{}
		if i > 0 && columns["blade"][i] == columns["blade"][i-1] {
			from = Step{columns["area"][i-1], columns["level"][i-1]}
		}
		steps = append(steps, Step{columns["area"][i] - from.Area, columns["level"][i] - from.Level})
	}
	path, err := MeasurePath(steps)
	if err != nil {
		t.Fatal(err)
	}
	if path.Steps != want.Paths.Increments {
		t.Errorf("%d steps, want %d", path.Steps, want.Paths.Increments)
	}
	close(t, "drift", path.Drift, want.Paths.Drift, 1e-6)
	close(t, "its standard error", path.DriftErr, want.Paths.DriftSE, 1e-4)
	close(t, "diffusion", path.Diffusion, want.Paths.Diffusion, 1e-6)
}

// House example (domain reference, section 5.3): 1.2e-6 in/in per in², 2e-5,
// limit 0.012: F(8000) .1032, F(10000) .5330; 5/10/50/90 % at 7513, 7976, 9863
// and 12199.
func TestPassageAsWritten(t *testing.T) {
	p := Passage{1.2e-6, 2e-5, 0.012}
	close(t, "F(8000)", math.Exp(p.LogChance(8000)), 0.1032, 5e-4)
	close(t, "F(10000)", math.Exp(p.LogChance(10000)), 0.5330, 1e-4)
	for chance, want := range map[float64]float64{0.05: 7513, 0.1: 7976, 0.5: 9863, 0.9: 12199} {
		close(t, "quantile", p.Quantile(chance), want, 1e-4)
	}
}

// logDensity is the logarithm of the inverse Gaussian density as the handbooks
// write it, which the slope of the chance must be.
func logDensity(p Passage, area float64) float64 {
	off := (p.Drift*area - p.Distance) / (p.Diffusion * math.Sqrt(area))
	return math.Log(p.Distance/p.Diffusion) - 1.5*math.Log(area) - math.Log(2*math.Pi)/2 - off*off/2
}

func TestPassageAtTheEdges(t *testing.T) {
	p := Passage{1.2e-6, 2e-5, 0.012}
	for _, area := range []float64{0, -5, math.NaN()} {
		if p.LogChance(area) != math.Inf(-1) || p.LogSurvival(area) != 0 {
			t.Errorf("within %v: chance %v, survival %v", area, p.LogChance(area), p.LogSurvival(area))
		}
	}
	if p.Quantile(0) != 0 || !math.IsInf(p.Quantile(1), 1) || !math.IsNaN(p.Quantile(-0.1)) || !math.IsNaN(p.Quantile(math.NaN())) {
		t.Errorf("quantiles at and beyond the ends: %v %v %v", p.Quantile(0), p.Quantile(1), p.Quantile(-0.1))
	}
	// Against a drift away from it the limit is reached with a chance of
	// exp(2·Drift·Distance/Diffusion²) in all (here 1/e), by the noise alone.
	away := Passage{Drift: -0.5, Diffusion: 1, Distance: 1}
	close(t, "chance for good", math.Exp(away.LogChance(1e9)), math.Exp(-1), 1e-9)
	if !math.IsInf(away.Quantile(0.4), 1) || !(away.Quantile(0.3) > 0) || math.IsInf(away.Quantile(0.3), 1) {
		t.Errorf("quantiles away from the limit: %v and %v", away.Quantile(0.4), away.Quantile(0.3))
	}
	for _, bad := range [][3]float64{{math.NaN(), 1, 1}, {1, 0, 1}, {1, -1, 1}, {1, 1, 0}, {1, 1, math.Inf(1)}, {math.Inf(1), 1, 1}, {1, math.NaN(), 1}} {
		if _, err := NewPassage(bad[0], bad[1], bad[2]); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
	for _, steps := range [][]Step{nil, {{1, 1}}, {{1, 1}, {0, 1}}, {{1, 1}, {1, math.NaN()}}} {
		if _, err := MeasurePath(steps); err == nil {
			t.Errorf("%v was measured", steps)
		}
	}
}

func TestPassageProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Passage{
			Drift:     rapid.Float64Range(-2, 5).Draw(t, "drift"),
			Diffusion: rapid.Float64Range(0.05, 5).Draw(t, "diffusion"),
			Distance:  rapid.Float64Range(0.01, 10).Draw(t, "distance"),
		}
		area := math.Exp(rapid.Float64Range(-8, 6).Draw(t, "ln area"))
		chance, survival := math.Exp(p.LogChance(area)), math.Exp(p.LogSurvival(area))
		if math.Abs(chance+survival-1) > 1e-9 {
			t.Fatalf("chance %v and survival %v do not add up to 1", chance, survival)
		}
		// The density is the slope of the chance.
		d := area * 1e-5
		slope := (math.Exp(p.LogChance(area+d)) - math.Exp(p.LogChance(area-d))) / (2 * d)
		if want := math.Exp(logDensity(p, area)); math.Abs(slope-want) > 1e-4*want+1e-9/area {
			t.Fatalf("density %v, slope %v", want, slope)
		}
		if q := p.Quantile(chance); chance > 1e-12 && chance < 1-1e-9 && math.Abs(math.Exp(p.LogChance(q))-chance) > 1e-9 {
			t.Fatalf("within the %v quantile %v the chance is %v", chance, q, math.Exp(p.LogChance(q)))
		}
		// A unit of area or of level does not matter.
		unit, scale := 6.4516, 25.4
		other := Passage{p.Drift * scale / unit, p.Diffusion * scale / math.Sqrt(unit), p.Distance * scale}
		if got := other.LogChance(area * unit); math.Abs(got-p.LogChance(area)) > 1e-8*math.Max(1, math.Abs(got)) {
			t.Fatalf("in other units %v, want %v", got, p.LogChance(area))
		}
	})
}

// Simulated, seed 5: walks in small steps reach the limit when the distribution
// says (a walk looked at in steps of 10 in² finds it a little late).
func TestWalksReachTheLimit(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 0))
	p := Passage{1.2e-6, 2e-5, 0.012}
	const walks, step = 1000, 10.0
	within := map[float64]float64{}
	for range walks {
		level, area := 0.0, 0.0
		for level < p.Distance {
			level += p.Drift*step + p.Diffusion*math.Sqrt(step)*random.NormFloat64()
			area += step
		}
		for _, q := range []float64{0.1, 0.5, 0.9} {
			if area <= p.Quantile(q) {
				within[q] += 1.0 / walks
			}
		}
	}
	for q, share := range within {
		if math.Abs(share-q) > 0.05 {
			t.Errorf("%.3f of the walks are within the %v quantile", share, q)
		}
	}
}
