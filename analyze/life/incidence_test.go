package life

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"sort"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// byCause names the cause of each of some lives; only the ended ones' is read.
func byCause(obs []Observation, causes ...int) []Caused {
	caused := make([]Caused, len(obs))
	for i, o := range obs {
		caused[i] = Caused{Observation: o, Cause: causes[i]}
	}
	return caused
}

// incidenceOf is Incidence of blades that are in order.
func incidenceOf(t interface{ Fatal(...any) }, obs []Caused, causes int) []CauseCurve {
	curves, err := Incidence(obs, causes)
	if err != nil {
		t.Fatal(err)
	}
	return curves
}

// valueAt reads a curve where it must say something.
func valueAt(t interface{ Fatalf(string, ...any) }, c CauseCurve, area float64) float64 {
	step, ok := c.At(area)
	if !ok {
		t.Fatalf("nothing said at %v", area)
	}
	return step.Value
}

// The reference names its causes in the order of their numbers here.
var referenceCauses = []string{"broke", "dull", "stripped"}

// readCaused reads lives with the cause by name in the last column.
func readCaused(t *testing.T, path string) []Caused {
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
	var obs []Caused
	for _, row := range rows[1:] {
		c := Caused{Cause: slices.Index(referenceCauses, row[2])}
		c.Ended = row[1] == "1"
		if _, err := fmt.Sscan(row[0], &c.Area); err != nil {
			t.Fatal(err)
		}
		obs = append(obs, c)
	}
	return obs
}

// Wanted values: R 4.2.2, cmprsk 2.2-11's cuminc and survival 3.5-3,
// testdata/reference/competing/SOURCE.
func TestIncidenceAgreesWithReference(t *testing.T) {
	var want struct {
		At        []float64
		Incidence []struct {
			Cause           string
			Value, Variance []float64
		}
		Weibulls []struct {
			Cause                string
			Ended                int
			Shape, Scale, LogLik float64
		} `json:"cause_weibull"`
	}
	readJSON(t, referencePath("competing", "expected.json"), &want)
	obs := readCaused(t, referencePath("competing", "input.csv"))
	curves := incidenceOf(t, obs, len(referenceCauses))
	if len(want.At) != 6 || len(want.Incidence) != 3 || len(want.Weibulls) != 3 {
		t.Fatalf("the reference has %d areas and %d causes, want 6 and 3", len(want.At), len(want.Incidence))
	}
	for i, name := range referenceCauses {
		t.Run(name, func(t *testing.T) {
			incidence, weibull := want.Incidence[i], want.Weibulls[i]
			if incidence.Cause != name || weibull.Cause != name {
				t.Fatalf("cause %q and %q, want %q", incidence.Cause, weibull.Cause, name)
			}
			for j, area := range want.At {
				step, ok := curves[i].At(area)
				if !ok {
					t.Fatalf("nothing said at %v", area)
				}
				near(t, fmt.Sprintf("share at %v", area), step.Value, incidence.Value[j], 1e-12)
				near(t, fmt.Sprintf("variance at %v", area), step.StdErr*step.StdErr, incidence.Variance[j], 1e-12)
			}
			w := fitOf(t, OfCause(obs, i))
			if w.Ended != weibull.Ended || curves[i].Ended != weibull.Ended {
				t.Errorf("%d ended in the fit, %d in the curve, want %d", w.Ended, curves[i].Ended, weibull.Ended)
			}
			near(t, "shape", w.Shape, weibull.Shape, 1e-7)
			near(t, "scale", w.Scale, weibull.Scale, 1e-7)
			near(t, "log likelihood", w.LogLik, weibull.LogLik, 1e-9)
		})
	}
}

// Nearly every area is shared, up to the last. Wanted values: R 4.2.2, cmprsk
// 2.2-11's cuminc.
func TestIncidenceOfTiedEnds(t *testing.T) {
	obs := byCause(lives(10, 10, 10, 20, 20, 20, -20, 30, 30, -40, 40, 40, 50, 60, 60),
		0, 0, 1, 0, 1, 1, 0, 0, 0, 0, 1, 0, 1, 0, 1)
	curves := incidenceOf(t, obs, 2)
	for cause, want := range []struct{ value, variance []float64 }{
		{
			[]float64{0.1333333333333333, 0.2, 0.35, 0.425, 0.425, 0.525},
			[]float64{0.008253968253968257, 0.01141093474426808, 0.01736241382074716, 0.01911723885682221, 0.01911723885682221, 0.02574642756934425},
		},
		{
			[]float64{0.06666666666666667, 0.2, 0.2, 0.275, 0.375, 0.475},
			[]float64{0.004444444444444444, 0.01139650472983806, 0.01139650472983806, 0.01513996612954947, 0.02192066999358663, 0.02574642756934423},
		},
	} {
		for i, v := range want.value {
			at := float64(10 * (i + 1))
			step, _ := curves[cause].At(at)
			near(t, fmt.Sprintf("share %d at %v", cause, at), step.Value, v, 1e-12)
			near(t, fmt.Sprintf("variance %d at %v", cause, at), step.StdErr*step.StdErr, want.variance[i], 1e-12)
		}
	}
}

// Shock absorbers of Meeker and Escobar, Table C.2: lives as in
// TestFitWeibullPublished, the split in two modes from memory of the same table.
// Wanted values computed for the project's domain reference, section 5.2.
func TestFitsByModeOfFailure(t *testing.T) {
	var obs []Caused
	for mode, km := range [][]float64{
		{6700, 12200, 14300, 17520, 22700, 26510, 27490},
		{9120, 13150, 20100, 20900},
		{
			-6950, -7820, -8790, -9660, -9820, -11310, -11690, -11850, -11880, -12140, -12870, -13330, -13470,
			-14040, -17540, -17890, -18450, -18960, -18980, -19410, -20100, -20150, -20320, -23490, -27410,
			-27890, -28100,
		},
	} {
		obs = append(obs, byCause(lives(km...), slices.Repeat([]int{mode}, len(km))...)...)
	}
	var whole []Observation
	for _, o := range obs {
		whole = append(whole, o.Observation)
	}
	for _, c := range []struct {
		name         string
		obs          []Observation
		ended        int
		shape, scale float64
	}{
		{"all", whole, 11, 3.1605, 27718.7},
		{"mode 1", OfCause(obs, 0), 7, 3.384, 31205.8},
		{"mode 2", OfCause(obs, 1), 4, 2.822, 40865.9},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := fitOf(t, c.obs)
			near(t, "shape", w.Shape, c.shape, 2e-4)
			near(t, "scale", w.Scale, c.scale, 2e-6)
			if w.Ended != c.ended || w.Blades != 38 {
				t.Errorf("%d of %d ended, want %d of 38", w.Ended, w.Blades, c.ended)
			}
		})
	}
}

// Worked by hand: five blades, S = 1, 4/5, 4/5·2/3 = 8/15, 4/15.
func TestIncidenceByHand(t *testing.T) {
	nan := math.NaN()
	obs := byCause(lives(10, -20, 30, 40, -50), 0, -1, 1, 0, 99)
	got := incidenceOf(t, obs, 3)
	v1 := math.Pow(1.0/5, 2)
	// At 40, F = 1/5 + 8/15·1/2 = 7/15; r is (7/15 - 1/5)/4 at 10, the same over 2
	// at 30, and 0 at 40.
	v2 := math.Pow(1.0/5-4.0/15/4, 2) + math.Pow(4.0/15/2, 2) + math.Pow(8.0/15/2, 2)
	// At 30, F = 4/5·1/3 = 4/15; r is 4/15/4 at 10, where another cause ended one.
	v3 := math.Pow(4.0/15/4, 2) + math.Pow(4.0/5/3, 2)
	limits := func(s IncidenceStep) IncidenceStep {
		half := 1.959963984540054 * s.StdErr / (s.Value * math.Log(s.Value))
		s.Low, s.High = math.Pow(s.Value, math.Exp(-half)), math.Pow(s.Value, math.Exp(half))
		return s
	}
	want := []CauseCurve{
		{Ended: 2, Last: 50, Steps: []IncidenceStep{
			limits(IncidenceStep{Area: 10, AtRisk: 5, Ended: 1, Value: 1.0 / 5, StdErr: math.Sqrt(v1)}),
			limits(IncidenceStep{Area: 40, AtRisk: 2, Ended: 1, Value: 7.0 / 15, StdErr: math.Sqrt(v2)}),
		}},
		{Ended: 1, Last: 50, Steps: []IncidenceStep{
			limits(IncidenceStep{Area: 30, AtRisk: 3, Ended: 1, Value: 4.0 / 15, StdErr: math.Sqrt(v3)}),
		}},
		{Last: 50},
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-12, 0)); diff != "" {
		t.Errorf("curves (-by hand +got):\n%s", diff)
	}
	for _, c := range []struct {
		area float64
		want IncidenceStep
		ok   bool
	}{
		{-1, IncidenceStep{Low: nan, High: nan}, true},
		{math.Nextafter(10, 0), IncidenceStep{Low: nan, High: nan}, true},
		{10, got[0].Steps[0], true},
		{39, got[0].Steps[0], true},
		{50, got[0].Steps[1], true},
		{51, IncidenceStep{}, false},
		{nan, IncidenceStep{}, false},
	} {
		step, ok := got[0].At(c.area)
		if diff := cmp.Diff(c.want, step, cmpopts.EquateNaNs()); diff != "" || ok != c.ok {
			t.Errorf("at %v: %v, want %v (-want +got):\n%s", c.area, ok, c.ok, diff)
		}
	}
}

func TestIncidenceAtTheEdges(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name   string
		obs    []Caused
		causes int
		want   []CauseCurve
	}{
		{"nothing ended", byCause(lives(-5, -9), 7, -7), 2, []CauseCurve{{Last: 9}, {Last: 9}}},
		{"one blade, ended", byCause(lives(5), 0), 1, []CauseCurve{{Ended: 1, Last: 5, Steps: []IncidenceStep{{5, 1, 1, 1, 1, nan, nan}}}}},
		{"all tied by one cause", byCause(lives(5, 5), 0, 0), 1, []CauseCurve{{Ended: 2, Last: 5, Steps: []IncidenceStep{{5, 2, 2, 1, 0, nan, nan}}}}},
		{
			"tied by two causes", byCause(lives(5, 5, -5, -9), 0, 1, 9, 9), 2,
			[]CauseCurve{
				{Ended: 1, Last: 9, Steps: []IncidenceStep{{5, 4, 1, 0.25, 0.25, 0.003346, 0.713791}}},
				{Ended: 1, Last: 9, Steps: []IncidenceStep{{5, 4, 1, 0.25, 0.25, 0.003346, 0.713791}}},
			},
		},
		{
			"late entries after all had ended",
			byCause([]Observation{{0, 5, true}, {6, 8, true}, {6, 9, false}}, 0, 1, 0), 2,
			[]CauseCurve{
				{Ended: 1, Last: 9, Steps: []IncidenceStep{{5, 1, 1, 1, 1, nan, nan}}},
				{Ended: 1, Last: 9, Steps: []IncidenceStep{{8, 2, 1, 0, 0, nan, nan}}},
			},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := incidenceOf(t, c.obs, c.causes)
			if diff := cmp.Diff(c.want, got, cmpopts.EquateApprox(0, 1e-5), cmpopts.EquateNaNs(), cmpopts.EquateEmpty()); diff != "" {
				t.Errorf("curves (-want +got):\n%s", diff)
			}
		})
	}
}

func TestIncidenceRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		obs    []Caused
		causes int
		says   string
	}{
		{"no causes", byCause(lives(5), 0), 0, "incidence: 0 causes: at least 1 is needed"},
		{"no blades", nil, 2, "incidence: no blades"},
		{"cause too great", byCause(lives(5, 6), 1, 2), 2, "incidence: observation 2: cause 2: want 0 to 1"},
		{"cause below 0", byCause(lives(5, 6), -1, 1), 2, "incidence: observation 1: cause -1: want 0 to 1"},
		{"area NaN", byCause(lives(5, math.NaN()), 1, 0), 2, "incidence: observation 2: area NaN: want a number"},
		{"area endless", byCause(lives(math.Inf(1)), 0), 1, "incidence: observation 1: area +Inf: want a number"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := Incidence(c.obs, c.causes); err == nil || err.Error() != c.says {
				t.Errorf("error %v, want %q", err, c.says)
			}
		})
	}
}

// someCaused draws lives with ends by three causes.
func someCaused(t *rapid.T, delayed bool) []Caused {
	var obs []Caused
	for _, o := range someLives(t, 1, delayed) {
		obs = append(obs, Caused{o, rapid.IntRange(0, 2).Draw(t, "cause")})
	}
	return obs
}

func TestIncidenceProperties(t *testing.T) {
	about := cmp.Options{cmpopts.EquateApprox(1e-9, 1e-9), cmpopts.EquateNaNs()}
	t.Run("causes and survivors add up", rapid.MakeCheck(func(t *rapid.T) {
		obs := someCaused(t, true)
		var whole []Observation
		for _, o := range obs {
			whole = append(whole, o.Observation)
		}
		curves := incidenceOf(t, obs, 3)
		for _, s := range curveOf(t, whole).Steps {
			sum := s.Survival
			for _, c := range curves {
				sum += valueAt(t, c, s.Area)
			}
			if math.Abs(sum-1) > 1e-12 {
				t.Fatalf("at %v survival and shares add up to %v", s.Area, sum)
			}
		}
	}))
	t.Run("one cause is all that do not survive", rapid.MakeCheck(func(t *rapid.T) {
		obs := someLives(t, 1, true)
		km, got := curveOf(t, obs), incidenceOf(t, byCause(obs, make([]int, len(obs))...), 1)[0]
		if len(km.Steps) != len(got.Steps) || km.Ended != got.Ended || km.Last != got.Last {
			t.Fatalf("%d steps, want %d", len(got.Steps), len(km.Steps))
		}
		for i, s := range got.Steps {
			k := km.Steps[i]
			if s.Area != k.Area || s.AtRisk != k.AtRisk || s.Ended != k.Ended || math.Abs(s.Value+k.Survival-1) > 1e-12 {
				t.Fatalf("step %+v does not mirror %+v", s, k)
			}
		}
	}))
	t.Run("merged causes add up", rapid.MakeCheck(func(t *rapid.T) {
		obs := someCaused(t, true)
		merged := slices.Clone(obs)
		for i := range merged {
			merged[i].Cause = min(merged[i].Cause, 1)
		}
		three, two := incidenceOf(t, obs, 3), incidenceOf(t, merged, 2)
		if diff := cmp.Diff(three[0], two[0], about); diff != "" {
			t.Fatalf("a cause left alone changed:\n%s", diff)
		}
		for _, o := range obs {
			one, other := valueAt(t, three[1], o.Area), valueAt(t, three[2], o.Area)
			if got := valueAt(t, two[1], o.Area); math.Abs(got-one-other) > 1e-12 {
				t.Fatalf("at %v %v, want %v + %v", o.Area, got, one, other)
			}
		}
	}))
	t.Run("order, unit and watching in two pieces change nothing", rapid.MakeCheck(func(t *rapid.T) {
		obs := someCaused(t, false)
		unit := math.Ldexp(1, rapid.IntRange(-40, 40).Draw(t, "unit"))
		var other []Caused
		for _, o := range rapid.Permutation(obs).Draw(t, "shuffled") {
			at := o.Area * rapid.Float64Range(0, 0.9).Draw(t, "at")
			other = append(other, Caused{Observation: Observation{Area: at * unit}},
				Caused{Observation{at * unit, o.Area * unit, o.Ended}, o.Cause})
		}
		before := slices.Clone(obs)
		want, got := incidenceOf(t, obs, 3), incidenceOf(t, other, 3)
		if diff := cmp.Diff(before, obs); diff != "" {
			t.Fatalf("the caller's observations changed:\n%s", diff)
		}
		for i := range got {
			got[i].Last /= unit
			for j := range got[i].Steps {
				got[i].Steps[j].Area /= unit
			}
		}
		if diff := cmp.Diff(want, got, about); diff != "" {
			t.Fatalf("(-want +got):\n%s", diff)
		}
	}))
	t.Run("sound", rapid.MakeCheck(func(t *rapid.T) {
		for _, c := range incidenceOf(t, someCaused(t, true), 3) {
			last := 0.0
			for _, s := range c.Steps {
				if !(last <= s.Value && s.Value <= 1 && s.StdErr >= 0) || s.Ended > s.AtRisk {
					t.Fatalf("impossible step %+v after %v", s, last)
				}
				if !math.IsNaN(s.Low) && !(0 <= s.Low && s.Low <= s.Value && s.Value <= s.High && s.High <= 1) {
					t.Fatalf("limits do not hold the share: %+v", s)
				}
				last = s.Value
			}
		}
	}))
}

// Simulated, seed 31: 2,000 shops with 40 blades that strip at random or wear
// out, pulled at random. Shares are right on average, their standard errors as
// large as their spread, and 95 % limits hold the truth about that often. The
// truth is by Simpson's rule over exp(-a/strip - (a/wear)^3)/strip.
func TestIncidenceFindsTheTruth(t *testing.T) {
	const shops, blades, strip, wear, at = 2000, 40, 20000.0, 10000.0, 8000.0
	var truth float64
	for i := range 1001 {
		a := at * float64(i) / 1000
		truth += []float64{2, 4}[i%2] * math.Exp(-a/strip-math.Pow(a/wear, 3)) / strip * at / 3000
	}
	truth -= (1 + math.Exp(-at/strip-math.Pow(at/wear, 3))) / strip * at / 3000
	random := rand.New(rand.NewPCG(31, 0))
	var sum, squares, variance, held float64
	for range shops {
		obs := make([]Caused, 0, blades)
		for range blades {
			stripped, worn := strip*random.ExpFloat64(), wear*math.Cbrt(random.ExpFloat64())
			pull := 5000 + 15000*random.Float64()
			o := Caused{Observation: Observation{Area: min(stripped, worn, pull), Ended: min(stripped, worn) <= pull}}
			if worn < stripped {
				o.Cause = 1
			}
			obs = append(obs, o)
		}
		step, _ := incidenceOf(t, obs, 2)[0].At(at)
		sum += step.Value / shops
		squares += step.Value * step.Value / shops
		variance += step.StdErr * step.StdErr / shops
		if step.Low <= truth && truth <= step.High {
			held += 100.0 / shops
		}
	}
	spread := math.Sqrt(squares - sum*sum)
	t.Logf("truth %.4f, mean %.4f, spread %.4f, standard error %.4f, limits held %.1f %%", truth, sum, spread, math.Sqrt(variance), held)
	if math.Abs(sum-truth) > 4*spread/math.Sqrt(shops) {
		t.Errorf("shares are %.4f on average, want %.4f", sum, truth)
	}
	near(t, "standard error against the spread", math.Sqrt(variance), spread, 0.05)
	if math.Abs(held-95) > 2 {
		t.Errorf("95 %% limits held %.1f %%", held)
	}
}

func BenchmarkIncidence20000(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 0))
	var obs []Caused
	for _, o := range drawnLives(random, 20_000, 2.5, 10000, 16000) {
		obs = append(obs, Caused{o, random.IntN(4)})
	}
	for b.Loop() {
		if _, err := Incidence(obs, 4); err != nil {
			b.Fatal(err)
		}
	}
}

// At is the step in force at an area: the last one up to it. Below the first
// step it is of share 0, without limits. It is false where the curve says
// nothing: beyond Last, and for an area that is not a number.
func (c CauseCurve) At(area float64) (IncidenceStep, bool) {
	if !(area <= c.Last) {
		return IncidenceStep{}, false
	}
	after := sort.Search(len(c.Steps), func(i int) bool { return c.Steps[i].Area > area })
	if after == 0 {
		return IncidenceStep{Low: math.NaN(), High: math.NaN()}, true
	}
	return c.Steps[after-1], true
}
