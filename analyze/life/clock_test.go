package life

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// The clocks of shopClocks.
const rawArea, weightedArea, bends = 0, 1, 2

// shopClocks simulates n blades that each cut lots of some material, which sets
// weight and bends per in². A blade ends where the clock wears has come to a
// Weibull(3) draw, unless it is pulled before at some raw area.
func shopClocks(random *rand.Rand, n, wears int) []Clocked {
	// Weight and bends do not rise together: a hard grade is cut slowly, but so
	// is a soft one with long contact.
	materials := []struct{ weight, bends float64 }{{1, 3}, {1, 12}, {2.5, 4}, {4, 2}, {4, 15}}
	scale := []float64{10000, 22000, 60000}[wears]
	clocks := []Clocked{{Name: "raw area"}, {Name: "weighted area"}, {Name: "bends"}}
	for range n {
		life, pull := scale*math.Cbrt(random.ExpFloat64()), 25000*random.Float64()
		var reading, rates [3]float64
		ended := false
		for !ended && reading[rawArea] < pull {
			m := materials[random.IntN(len(materials))]
			rates = [3]float64{1, m.weight, m.bends}
			lot := min(200+2000*random.ExpFloat64(), pull-reading[rawArea])
			if ended = reading[wears]+rates[wears]*lot >= life; ended {
				lot = (life - reading[wears]) / rates[wears]
			}
			for i := range reading {
				reading[i] += rates[i] * lot
			}
		}
		for i := range clocks {
			clocks[i].Lives = append(clocks[i].Lives, Observation{Area: reading[i], Ended: ended})
			clocks[i].Rates = append(clocks[i].Rates, rates[i])
		}
	}
	return clocks
}

// clockOf is BestClock of clocks that have one.
func clockOf(t interface{ Fatal(...any) }, clocks []Clocked) (int, []ClockFit) {
	best, fits, err := BestClock(clocks)
	if err != nil {
		t.Fatal(err)
	}
	return best, fits
}

// Simulated, seed 51, 100 shops of 60 blades for each clock: the clock that
// wears the blades out is found nearly always.
func TestBestClockIsTheOneThatWears(t *testing.T) {
	const shops = 100
	for wears, name := range []string{"raw area", "weighted area", "bends"} {
		t.Run(name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(51, uint64(wears)))
			found, clear, wrong := 0, 0, 0
			for range shops {
				best, fits := clockOf(t, shopClocks(random, 60, wears))
				second := math.Inf(1)
				for i, f := range fits {
					if i != best {
						second = min(second, f.Behind)
					}
				}
				switch {
				case best == wears && second >= 2:
					clear++
					fallthrough
				case best == wears:
					found++
				case second >= 2:
					wrong++
				}
			}
			t.Logf("found in %d of %d shops, clearly in %d; another clearly in %d", found, shops, clear, wrong)
			if found < 95 || clear < 90 || wrong > 3 {
				t.Errorf("found in %d of %d shops, clearly in %d; another clearly in %d", found, shops, clear, wrong)
			}
		})
	}
}

// With as many bends to each in² of weighted area, bends say the same as area,
// in another unit. Without the rates the greater numbers would lose by far.
func TestClocksInStepComeOutEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		area := shopClocks(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0)), 40, weightedArea)[weightedArea]
		perArea := math.Pow(10, rapid.Float64Range(-9, 9).Draw(t, "bends per area"))
		other := Clocked{Name: "bends"}
		for i, o := range area.Lives {
			other.Lives = append(other.Lives, Observation{Area: o.Area * perArea, Ended: o.Ended})
			other.Rates = append(other.Rates, area.Rates[i]*perArea)
		}
		_, fits := clockOf(t, []Clocked{area, other})
		if gap := math.Abs(fits[0].AIC - fits[1].AIC); gap > 1e-9*math.Abs(fits[0].AIC) || math.Max(fits[0].Behind, fits[1].Behind) != gap {
			t.Fatalf("AIC %v and %v, behind by %v and %v", fits[0].AIC, fits[1].AIC, fits[0].Behind, fits[1].Behind)
		}
		near := math.Abs(fits[1].Weibull.Scale/(fits[0].Weibull.Scale*perArea) - 1)
		if near > 1e-7 {
			t.Fatalf("scales %v and %v, want %v times as much", fits[0].Weibull.Scale, fits[1].Weibull.Scale, perArea)
		}
	})
}

// A clock that runs as a power of area makes a Weibull life of a Weibull life:
// the curve is the same, so must the criterion be, though the rate at each end
// is another.
func TestClockThatIsAPowerOfAreaComesOutEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 4, true)
		fitOrSkip(t, obs)
		power := rapid.Float64Range(0.5, 2).Draw(t, "power")
		area, other := Clocked{Name: "area"}, Clocked{Name: "power"}
		for _, o := range obs {
			area.Lives, area.Rates = append(area.Lives, o), append(area.Rates, 1)
			other.Lives = append(other.Lives, Observation{math.Pow(o.Start, power), math.Pow(o.Area, power), o.Ended})
			other.Rates = append(other.Rates, power*math.Pow(o.Area, power-1))
		}
		_, fits := clockOf(t, []Clocked{area, other})
		if fits[1].Err != nil {
			t.Skip(fits[1].Err) // at the edge of the shapes searched
		}
		if math.Abs(fits[0].AIC-fits[1].AIC) > 1e-7 {
			t.Fatalf("AIC %v, on the power %v", fits[0].AIC, fits[1].AIC)
		}
	})
}

// By hand, from the density of raw area as written: with a clock of 2 then 5
// units per in², 1,000 in² at 2 and the rest at 5.
func TestAICIsOfTheDensityOfRawArea(t *testing.T) {
	clock := func(area float64) float64 { return 2*min(area, 1000) + 5*max(area-1000, 0) }
	areas := lives(800, 1500, -1700, 2100, 2600, -3000)
	c := Clocked{Name: "clock"}
	for _, o := range areas {
		rate := 5.0
		if o.Area < 1000 {
			rate = 2
		}
		c.Lives = append(c.Lives, Observation{Area: clock(o.Area), Ended: o.Ended})
		c.Rates = append(c.Rates, rate)
	}
	_, fits := clockOf(t, []Clocked{c})
	w := fits[0].Weibull
	var logLik float64
	for _, o := range areas {
		if o.Ended {
			const h = 1e-3
			density := (w.Survival(clock(o.Area-h)) - w.Survival(clock(o.Area+h))) / (2 * h)
			logLik += math.Log(density)
		} else {
			logLik += math.Log(w.Survival(clock(o.Area)))
		}
	}
	near(t, "AIC", fits[0].AIC, 4-2*logLik, 1e-8)
}

func TestBestClockPassesOverOneWithoutAFit(t *testing.T) {
	area := Clocked{Name: "area", Lives: lives(4100, -5200, 6400, 7100), Rates: []float64{1, math.NaN(), 1, 1}}
	tied := Clocked{Name: "pieces", Lives: lives(7, -7, 7, 7), Rates: []float64{0.01, 0, 0.01, 0.01}}
	best, fits := clockOf(t, []Clocked{tied, area})
	if best != 1 || fits[1].Err != nil || fits[1].Behind != 0 || fits[1].Name != "area" {
		t.Errorf("clock %d is best: %+v", best, fits[1])
	}
	if f := fits[0]; !errors.Is(f.Err, ErrNoFit) || !math.IsNaN(f.AIC) || !math.IsNaN(f.Behind) || f.Name != "pieces" {
		t.Errorf("a clock without a fit: %+v", f)
	}
	best, fits, err := BestClock([]Clocked{tied, tied})
	if best != -1 || len(fits) != 2 || !errors.Is(err, ErrNoFit) {
		t.Errorf("clock %d of %d is best, error %v, where none fits", best, len(fits), err)
	}
}

func TestBestClockRefuses(t *testing.T) {
	area := Clocked{Name: "area", Lives: lives(4100, -5200, 6400, 7100), Rates: []float64{1, 1, 1, 1}}
	with := func(change func(*Clocked)) []Clocked {
		other := Clocked{"bends", slices.Clone(area.Lives), slices.Clone(area.Rates)}
		change(&other)
		return []Clocked{area, other}
	}
	for _, c := range []struct {
		name   string
		clocks []Clocked
		says   string
	}{
		{"no clocks", nil, "clocks: none to choose from"},
		{"nothing ended", []Clocked{{Name: "area", Lives: lives(-5), Rates: []float64{1}}}, "clocks: area: 0 of 1 blades have ended: at least one end is needed"},
		{"no blades", []Clocked{{Name: "area"}}, "clocks: area: 0 of 0 blades have ended: at least one end is needed"},
		{"a blade less", with(func(c *Clocked) { c.Lives = c.Lives[1:] }), "clocks: bends has 3 lives, area 4: want the same blades"},
		{"a rate less", with(func(c *Clocked) { c.Rates = c.Rates[1:] }), "clocks: bends has 3 rates for 4 lives"},
		{"another ended", with(func(c *Clocked) { c.Lives[1].Ended = true }), "clocks: bends and area do not agree on whether blade 2 has ended"},
		{"rate 0", with(func(c *Clocked) { c.Rates[2] = 0 }), "clocks: bends: rate 0 at the end of blade 3: want a number above 0"},
		{"rate NaN", with(func(c *Clocked) { c.Rates[0] = math.NaN() }), "clocks: bends: rate NaN at the end of blade 1: want a number above 0"},
		{"rate endless", with(func(c *Clocked) { c.Rates[0] = math.Inf(1) }), "clocks: bends: rate +Inf at the end of blade 1: want a number above 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			best, _, err := BestClock(c.clocks)
			if best != -1 || err == nil || err.Error() != c.says {
				t.Errorf("clock %d is best, error %v, want %q", best, err, c.says)
			}
		})
	}
	if _, fits := clockOf(t, with(func(c *Clocked) { c.Lives[0].Area = math.NaN() })); fits[1].Err == nil {
		t.Errorf("a clock that reads NaN has a fit: %+v", fits[1])
	}
}

// The order of clocks and of blades does not matter.
func TestBestClockInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		clocks := shopClocks(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0)), 30, bends)
		best, want := clockOf(t, clocks)
		places := rapid.Permutation([]int{0, 1, 2}).Draw(t, "clocks")
		blades := make([]int, 30)
		for i := range blades {
			blades[i] = i
		}
		blades = rapid.Permutation(blades).Draw(t, "blades")
		shuffled := make([]Clocked, 3)
		for to, from := range places {
			shuffled[to].Name = clocks[from].Name
			for _, b := range blades {
				shuffled[to].Lives = append(shuffled[to].Lives, clocks[from].Lives[b])
				shuffled[to].Rates = append(shuffled[to].Rates, clocks[from].Rates[b])
			}
		}
		at, fits := clockOf(t, shuffled)
		if places[at] != best {
			t.Fatalf("%s is best, want %s", fits[at].Name, want[best].Name)
		}
		for to, from := range places {
			if diff := cmp.Diff(want[from], fits[to], cmpopts.EquateApprox(1e-7, 1e-7), cmpopts.IgnoreUnexported(Weibull{})); diff != "" {
				t.Fatalf("(-want +got):\n%s", diff)
			}
		}
	})
}
