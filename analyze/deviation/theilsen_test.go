package deviation

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// line returns n points on intercept + slope·area, 10 in² apart.
func line(n int, intercept, slope float64) []Point {
	points := make([]Point, n)
	for i := range points {
		area := 10 * float64(i+1)
		points[i] = Point{Area: area, Deviation: intercept + slope*area}
	}
	return points
}

// noisy returns n points of a worn blade as the demo shop makes them: 14 in²
// a cut, deviations read to a thousandth, so that many are equal.
func noisy(n int, seed uint64) []Point {
	random := rand.New(rand.NewPCG(seed, 0))
	points := make([]Point, n)
	for i := range points {
		x := float64(i+1) / float64(n)
		points[i] = Point{
			Area:      14 * float64(i+1),
			Deviation: math.Round(1000*(0.3+1.5*x*x+0.25*random.NormFloat64())) / 1000,
		}
	}
	return points
}

// Wanted values: SciPy 1.10.1 theilslopes, 60 simulated cuts of which 3 are
// wild; testdata/reference/slope/SOURCE.
func TestTheilSenAgreesWithReference(t *testing.T) {
	folder := filepath.Join("..", "..", "testdata", "reference", "slope")
	f, err := os.Open(filepath.Join(folder, "input.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var points []Point
	for _, row := range rows[1:] {
		area, errArea := strconv.ParseFloat(row[0], 64)
		deviation, errDeviation := strconv.ParseFloat(row[1], 64)
		if err := errors.Join(errArea, errDeviation); err != nil {
			t.Fatal(err)
		}
		points = append(points, Point{area, deviation})
	}
	text, err := os.ReadFile(filepath.Join(folder, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		TheilSen struct{ Slope, Low, High float64 } `json:"theil_sen"`
	}
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	got, err := TheilSen(points)
	if err != nil {
		t.Fatal(err)
	}
	wanted := Slope{Value: 1000 * want.TheilSen.Slope, Low: 1000 * want.TheilSen.Low, High: 1000 * want.TheilSen.High, N: 60}
	if diff := cmp.Diff(wanted, got, cmpopts.EquateApprox(1e-10, 0)); diff != "" {
		t.Errorf("slope (-want +got):\n%s", diff)
	}
}

// plain is the definition, by sorting everything; limits worked as SciPy's
// theilslopes documents them.
func plain(points []Point) (value, low, high float64) {
	var slopes []float64
	for i := range points {
		for j := range points {
			if run := points[j].Area - points[i].Area; run > 0 {
				slopes = append(slopes, 1000*(points[j].Deviation-points[i].Deviation)/run)
			}
		}
	}
	slices.Sort(slopes)
	ties := func(of func(Point) float64) (sum float64) {
		groups := map[float64]float64{}
		for _, p := range points {
			groups[of(p)]++
		}
		for _, k := range groups {
			sum += k * (k - 1) * (2*k + 5)
		}
		return sum
	}
	n, pairs := float64(len(points)), float64(len(slopes))
	variance := (n*(n-1)*(2*n+5) - ties(func(p Point) float64 { return p.Area }) - ties(func(p Point) float64 { return p.Deviation })) / 18
	reach := 1.959963984540054 * math.Sqrt(variance)
	lowest := max(int(math.RoundToEven((pairs-reach)/2))-1, 0)
	highest := min(int(math.RoundToEven((pairs+reach)/2)), len(slopes)-1)
	value = slopes[len(slopes)/2]
	if len(slopes)%2 == 0 {
		value = (value + slopes[len(slopes)/2-1]) / 2
	}
	return value, slopes[lowest], slopes[highest]
}

func somePoints(t *rapid.T) []Point {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Point {
		return Point{
			Area:      float64(rapid.IntRange(0, 40).Draw(t, "area")) * 25,
			Deviation: float64(rapid.IntRange(-30, 30).Draw(t, "deviation")) / 1000,
		}
	}), MinPoints, 60).Draw(t, "points")
}

// slopeOf skips the draw whose points all lie on one area.
func slopeOf(t *rapid.T, points []Point) Slope {
	s, err := TheilSen(points)
	if errors.Is(err, ErrNoSpread) {
		t.Skip("all at one area")
	}
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestTheilSenIsTheMedianOfSlopes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points := somePoints(t)
		got := slopeOf(t, points)
		value, low, high := plain(points)
		want := Slope{Value: value, Low: low, High: high, N: len(points)}
		if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-12, 1e-12)); diff != "" {
			t.Fatalf("slope (-by sorting +got):\n%s", diff)
		}
	})
}

func TestTheilSenProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points := somePoints(t)
		before := slices.Clone(points)
		s := slopeOf(t, points)
		if diff := cmp.Diff(before, points); diff != "" {
			t.Fatalf("the caller's points changed:\n%s", diff)
		}
		if !(s.Low <= s.Value && s.Value <= s.High) {
			t.Fatalf("limits do not hold the value: %+v", s)
		}
		shuffled := rapid.Permutation(points).Draw(t, "shuffled")
		if got := slopeOf(t, shuffled); got != s {
			t.Fatalf("order matters: %+v, shuffled %+v", s, got)
		}
		tilt := float64(rapid.IntRange(-8, 8).Draw(t, "tilt"))
		for i := range shuffled {
			shuffled[i].Deviation += 0.5 + tilt*shuffled[i].Area/1000
		}
		tilted := slopeOf(t, shuffled)
		if math.Abs(tilted.Value-s.Value-tilt) > 1e-9 {
			t.Fatalf("tilted by %v: slope %v became %v", tilt, s.Value, tilted.Value)
		}
		for i := range points {
			points[i].Deviation = -points[i].Deviation
		}
		if got := slopeOf(t, points); math.Abs(got.Value+s.Value) > 1e-12 {
			t.Fatalf("mirrored: slope %v became %v", s.Value, got.Value)
		}
	})
}

func TestTheilSenShrugsOffWildReadings(t *testing.T) {
	points := line(40, 0.002, 2e-6)
	for i := 0; i < 40; i += 4 { // a quarter of them
		points[i].Deviation = 0.5
	}
	got, err := TheilSen(points)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.Value-0.002) > 2e-4 {
		t.Errorf("slope %v per 1,000 in², want about 0.002", got.Value)
	}
}

// Simulated, seed 5: 95 % limits hold a slope of 1 per 1,000 in² in 95 % of
// 1,000 blades of 30 cuts (standard error 0.7 points).
func TestTheilSenLimitsCover(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 0))
	const blades = 1000
	held := 0
	for range blades {
		points := line(30, 0.3, 1e-3)
		for i := range points {
			points[i].Deviation += 0.25 * random.NormFloat64()
		}
		s, err := TheilSen(points)
		if err != nil {
			t.Fatal(err)
		}
		if s.Low <= 1 && 1 <= s.High {
			held++
		}
	}
	if share := float64(held) / blades; share < 0.93 || share > 0.97 {
		t.Errorf("95 %% limits held the truth in %.1f %%", 100*share)
	}
}

func TestTheilSenOfManyPoints(t *testing.T) {
	points := noisy(20_000, 3)
	for i := range points { // three cuts to one reading of the area
		points[i].Area = points[i/3*3].Area
	}
	value, _, _ := plain(points[:1000]) // not thinned: the plain way still answers
	got, err := TheilSen(points[:1000])
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.Value-value) > 1e-12 {
		t.Errorf("1,000 points: slope %v, by sorting %v", got.Value, value)
	}
	got, err = TheilSen(points)
	if err != nil {
		t.Fatal(err)
	}
	// 0.3 + 1.5x² rises by 1.5 over 280,000 in².
	if want := 1.5 / 280; math.Abs(got.Value-want) > 0.05*want {
		t.Errorf("20,000 points: slope %v per 1,000 in², want about %v", got.Value, want)
	}
	if got.N != 20_000 {
		t.Errorf("N = %d, want the points given", got.N)
	}
	slices.Reverse(points)
	again, err := TheilSen(points)
	if err != nil {
		t.Fatal(err)
	}
	if again != got {
		t.Errorf("order matters: %+v, reversed %+v", got, again)
	}
}

func TestThinKeepsBothEnds(t *testing.T) {
	points := line(2500, 0, 1)
	got := thin(points)
	if len(got) != maxPoints || got[0] != points[0] || got[len(got)-1] != points[2499] {
		t.Errorf("kept %d points from %v to %v, want %d from first to last", len(got), got[0], got[len(got)-1], maxPoints)
	}
	for i := 1; i < len(got); i++ {
		if step := got[i].Area - got[i-1].Area; step != 20 && step != 30 {
			t.Fatalf("a step of %v in² at %d, want 2 or 3 cuts of 10", step, i)
		}
	}
}

func TestTheilSenErrors(t *testing.T) {
	spoilt := func(p Point) []Point { return append(line(8, 0, 1), p) }
	sameArea := slices.Repeat([]Point{{Area: 50, Deviation: 0.1}}, 9)
	for _, c := range []struct {
		name   string
		points []Point
		is     error
		says   string
	}{
		{"none", nil, ErrTooFewPoints, "0 cuts with a deviation: at least 8 are needed for a slope"},
		{"seven", line(7, 0, 1), ErrTooFewPoints, "7 cuts with a deviation: at least 8 are needed for a slope"},
		{"one area", sameArea, ErrNoSpread, "9 cuts with a deviation: the cuts do not differ enough in area for a slope"},
		{"areas a breath apart", append(slices.Repeat([]Point{{Area: 0, Deviation: 0}}, 8), Point{Area: 5e-324, Deviation: 1}), ErrNoSpread,
			"9 cuts with a deviation: areas lie too close together: the cuts do not differ enough in area for a slope"},
		{"NaN area", spoilt(Point{math.NaN(), 0}), nil, "point 9: area NaN, deviation 0: want numbers, area at least 0"},
		{"negative area", spoilt(Point{-1, 0}), nil, "point 9: area -1, deviation 0: want numbers, area at least 0"},
		{"endless area", spoilt(Point{math.Inf(1), 0}), nil, "point 9: area +Inf, deviation 0: want numbers, area at least 0"},
		{"NaN deviation", spoilt(Point{1, math.NaN()}), nil, "point 9: area 1, deviation NaN: want numbers, area at least 0"},
		{"endless deviation", spoilt(Point{1, math.Inf(-1)}), nil, "point 9: area 1, deviation -Inf: want numbers, area at least 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := TheilSen(c.points)
			if err == nil || err.Error() != c.says {
				t.Errorf("error %v, want %q", err, c.says)
			}
			if c.is != nil && !errors.Is(err, c.is) {
				t.Errorf("error %v is not %v", err, c.is)
			}
		})
	}
}

func TestTheilSenFromEightPoints(t *testing.T) {
	got, err := TheilSen(line(8, 0.001, -3e-6))
	if err != nil {
		t.Fatal(err)
	}
	want := Slope{Value: -0.003, Low: -0.003, High: -0.003, N: 8}
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-9, 0)); diff != "" {
		t.Errorf("slope (-want +got):\n%s", diff)
	}
}

func TestNthSelects(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-3, 3), 1, 50).Draw(t, "values")
		if rapid.Bool().Draw(t, "ties") {
			for i := range values {
				values[i] = math.Round(values[i])
			}
		}
		sorted := slices.Sorted(slices.Values(values))
		k := rapid.IntRange(0, len(values)-1).Draw(t, "k")
		if got := nth(values, k); got != sorted[k] {
			t.Fatalf("rank %d is %v, want %v", k, got, sorted[k])
		}
		if k > 0 && slices.Max(values[:k]) > values[k] || slices.Min(values[k:]) < values[k] {
			t.Fatalf("not parted about place %d: %v", k, values)
		}
	})
}

func BenchmarkTheilSen(b *testing.B) {
	for _, n := range []int{60, 700, 1000, 20_000} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			points := noisy(n, 1)
			for b.Loop() {
				if _, err := TheilSen(points); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
