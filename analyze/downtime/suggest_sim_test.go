package downtime

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gullet/analyze"
)

// simCause is a cause of a simulated shop. The rates and lengths are those of the
// domain reference's simulated saws; how much likelier a cause is with each
// circumstance is drawn anew for each shop.
type simCause struct {
	name           analyze.Cause
	rate           float64
	median, spread float64 // minutes; of the logarithm

	saw, grade, after, trip, blade []float64    // logarithms
	peak, pull                     float64      // hour at which it is likeliest, and how much
	shift                          [][3]float64 // by saw: the circumstances are not independent
}

var simSaws = []string{"s1", "s2", "s3", "s4", "s5"}
var simShifts = [3]string{"night", "early", "late"}
var simGrades = []string{"1018", "4140", "A36", "304"}

// simShop draws stops one after the other.
type simShop struct {
	rng    *rand.Rand
	causes []simCause
	clock  []float64 // minutes, by saw
	alone  bool      // each saw cuts one grade: the two tell the same twice
	last   []int     // cause of the stop before, by saw; -1 for none
}

// newSimShop is a shop in which circumstances matter by so much: 0 not at all, 1 as
// much as a factor of about 3.
func newSimShop(seed uint64, strength float64) *simShop {
	s := &simShop{rng: rand.New(rand.NewPCG(seed, 7))}
	s.causes = []simCause{
		{name: "waiting-material", rate: 0.8, median: 9, spread: 0.6},
		{name: "waiting-crane", rate: 0.9, median: 6, spread: 0.5},
		{name: "chips", rate: 0.5, median: 8, spread: 0.4},
		{name: "fault", rate: 0.2, median: 30, spread: 0.9},
		{name: "no-operator", rate: 0.3, median: 25, spread: 0.5},
		{name: "out-of-stock", rate: 0.3, median: 14, spread: 0.7},
	}
	factors := func(n int) []float64 {
		f := make([]float64, n)
		for i := range f {
			f[i] = strength * s.rng.NormFloat64()
		}
		return f
	}
	for i := range s.causes {
		c := &s.causes[i]
		c.saw, c.grade, c.after = factors(len(simSaws)), factors(len(simGrades)), factors(len(s.causes)+1)
		c.trip, c.blade = factors(2), factors(2)
		c.peak, c.pull = 24*s.rng.Float64(), strength
		for range simSaws {
			c.shift = append(c.shift, [3]float64(factors(3)))
		}
	}
	for range simSaws {
		s.clock, s.last = append(s.clock, 0), append(s.last, -1)
	}
	return s
}

// simStop is a stop and the chance of each cause given all that surrounds it.
type simStop struct {
	Explained
	chance map[analyze.Cause]float64
}

func (s *simShop) stops(n int) []simStop {
	list := make([]simStop, n)
	for i := range list {
		list[i] = s.stop(s.rng.IntN(len(simSaws)))
	}
	return list
}

func (s *simShop) stop(saw int) simStop {
	gap := 90 * s.rng.ExpFloat64()
	at := s.clock[saw] + gap
	minute := int(at) % 1440
	grade := saw % len(simGrades)
	if !s.alone && s.rng.Float64() < 0.4 {
		grade = s.rng.IntN(len(simGrades))
	}
	trip, blade := step(s.rng.Float64() < 0.1), step(s.rng.Float64() < 0.1)
	weights := make([]float64, len(s.causes))
	for i, c := range s.causes {
		x := c.saw[saw] + c.grade[grade] + c.trip[trip] + c.blade[blade] + c.shift[saw][minute/480]
		x += c.pull * math.Cos(2*math.Pi*(float64(minute)/60-c.peak)/24)
		x += c.after[s.last[saw]+1] * math.Exp(-gap/60)
		weights[i] = c.rate * math.Exp(x)
	}
	cause := s.pick(weights)
	took := s.causes[cause].median * math.Exp(s.causes[cause].spread*s.rng.NormFloat64())
	stop := simStop{Explained: Explained{Circumstance: Circumstance{
		Saw: simSaws[saw], Shift: simShifts[minute/480], Grade: simGrades[grade], Minute: minute,
		Worked: time.Duration(took * float64(time.Minute)), Since: time.Duration(gap * float64(time.Minute)),
		Trip: trip == 1, BladeOn: blade == 1,
	}, Cause: s.causes[cause].name}}
	if before := s.last[saw]; before >= 0 {
		stop.After = s.causes[before].name
	}
	stop.chance = s.chances(weights, took)
	s.last[saw], s.clock[saw] = cause, at+took
	return stop
}

// pick draws in proportion to weights.
func (s *simShop) pick(weights []float64) int {
	sum := 0.0
	for _, w := range weights {
		sum += w
	}
	x := s.rng.Float64() * sum
	for i, w := range weights {
		if x -= w; x < 0 {
			return i
		}
	}
	return len(weights) - 1
}

// chances adds to weights what the length tells: Bayes with the densities drawn from.
func (s *simShop) chances(weights []float64, took float64) map[analyze.Cause]float64 {
	chance, sum := map[analyze.Cause]float64{}, 0.0
	for i, c := range s.causes {
		z := math.Log(took/c.median) / c.spread
		w := weights[i] * math.Exp(-z*z/2) / c.spread
		chance[c.name] = w
		sum += w
	}
	for name := range chance {
		chance[name] /= sum
	}
	return chance
}

func explainedOf(stops []simStop) []Explained {
	var list []Explained
	for _, s := range stops {
		list = append(list, s.Explained)
	}
	return list
}

// simWorld is how much circumstances matter in a shop, and whether the grade goes with
// the saw.
type simWorld struct {
	strength float64
	alone    bool
}

var simWorlds = []simWorld{{0.3, false}, {0.6, false}, {1, false}, {0.3, true}, {0.6, true}, {1, true}}

func (w simWorld) String() string { return fmt.Sprintf("strength %g, alone %v", w.strength, w.alone) }

// bySuggestion goes through what is suggested to other stops of shops that have
// explained n.
func (w simWorld) bySuggestion(n int, each func(first bool, s Suggestion, stop *simStop)) {
	for seed := range uint64(30) {
		shop := newSimShop(seed, w.strength)
		shop.alone = w.alone
		a := NewAdviser(explainedOf(shop.stops(n)))
		stops := shop.stops(200)
		for i := range stops {
			for k, s := range a.Suggest(stops[i].Circumstance, 3) {
				each(k == 0, s, &stops[i])
			}
		}
	}
}

// Of the causes given a chance that part is right, to within 10 points in any shop and 5
// over all: from the fewest explained stops on, where circumstances matter little and much.
// Where they are entangled the damping cannot fit every shop.
func TestSuggestShares(t *testing.T) {
	var all shares
	for _, w := range simWorlds {
		for _, n := range []int{40, 100, 400, 2000} {
			var of shares
			w.bySuggestion(n, func(_ bool, s Suggestion, stop *simStop) {
				of.add(s, stop)
				all.add(s, stop)
			})
			of.check(t, fmt.Sprintf("%s, %d explained", w, n), 0.1)
		}
	}
	all.check(t, "all", 0.05)
	if all.n[3] < 5000 {
		t.Errorf("only %.0f suggestions of 60 to 80 %%", all.n[3])
	}
}

// shares is what was said and what was right, by share in steps of 20 %.
type shares struct{ said, right, n [5]float64 }

func (h *shares) add(s Suggestion, stop *simStop) {
	band := min(int(s.Share*5), 4)
	h.said[band] += s.Share
	h.n[band]++
	if s.Cause == stop.Cause {
		h.right[band]++
	}
}

// check leaves out a band with a standard error above 3 points.
func (h *shares) check(t *testing.T, what string, tolerance float64) {
	t.Helper()
	for band, n := range h.n {
		said, right := h.said[band]/n, h.right[band]/n
		t.Logf("%s, %d to %d %%: %.0f suggestions, said %.3f, right %.3f", what, 20*band, 20*band+20, n, said, right)
		if n >= 250 && math.Abs(said-right) > tolerance {
			t.Errorf("%s, %d to %d %%: %.3f said of %.0f, %.3f right", what, 20*band, 20*band+20, said, n, right)
		}
	}
}

// The limits hold the chance that a cause has by all that surrounds the stop, which the
// damped word of each circumstance can only come near to. What they miss is mostly
// higher.
func TestSuggestLimits(t *testing.T) {
	for _, w := range simWorlds {
		least := map[float64]float64{0.3: 0.97, 0.6: 0.93, 1: 0.84}[w.strength]
		for _, size := range []int{40, 100, 400, 2000} {
			held, below, n := 0.0, 0.0, 0.0
			w.bySuggestion(size, func(first bool, s Suggestion, stop *simStop) {
				chance := stop.chance[s.Cause]
				switch {
				case !first:
					return
				case chance < s.Low:
					below++
				case chance <= s.High:
					held++
				}
				n++
			})
			t.Logf("%s, %d explained: of %.0f held %.3f, below %.3f", w, size, n, held/n, below/n)
			if held < least*n || below > 0.06*n {
				t.Errorf("%s, %d explained: of %.0f limits %.3f held the chance and %.3f were above it", w, size, n, held/n, below/n)
			}
		}
	}
}

// The constants are near the best in five-fold cross-validation: by the logarithm of the
// chance given to what it was, and by the Brier score.
func TestSuggestConstants(t *testing.T) {
	logs, brier := crossValidate(damping, smoothing, false)
	t.Logf("as it is: %.4f, Brier %.4f", logs, brier)
	for _, c := range []struct {
		name               string
		damping, smoothing float64
		all                bool // chance is heard too
		margin             float64
	}{
		{"circumstances not heard", 0, smoothing, false, 0.2},
		{"plain naive Bayes", 1, 1, true, 0.2},
		{"chance heard too", damping, smoothing, true, 0.05},
		{"independent", 1, smoothing, false, 0},
		{"damped more", 0.65, smoothing, false, 0},
		{"smoothed less", damping, smoothing / 8., false, 0},
		{"smoothed more", damping, smoothing * 4, false, 0},
	} {
		l, b := crossValidate(c.damping, c.smoothing, c.all)
		t.Logf("%s: %.4f, Brier %.4f", c.name, l, b)
		if l > logs-c.margin {
			t.Errorf("%s: a logarithm of %.4f, %.4f as it is", c.name, l, logs)
		}
		if b < brier {
			t.Errorf("%s: a Brier score of %.4f, %.4f as it is", c.name, b, brier)
		}
	}
}

func crossValidate(damping, smoothing float64, all bool) (logs, brier float64) {
	var sum scores
	for _, w := range simWorlds {
		for _, size := range []int{100, 400, 1600} {
			for seed := range uint64(3) {
				shop := newSimShop(seed, w.strength)
				shop.alone = w.alone
				stops := shop.stops(size)
				for fold := range 5 {
					var train []Explained
					for i := range stops {
						if i%5 != fold {
							train = append(train, stops[i].Explained)
						}
					}
					a := newAdviser(train, damping, smoothing)
					for of := range a.heard {
						if all {
							a.heard[of] = 1
						}
					}
					for i := fold; i < len(stops); i += 5 {
						sum.add(a, &stops[i].Explained, 1/float64(size)) // every size counts the same
					}
				}
			}
		}
	}
	return sum.logs / sum.n, sum.brier / sum.n
}

type scores struct{ logs, brier, n float64 }

func (s *scores) add(a *Adviser, stop *Explained, weight float64) {
	e := a.weigh(&stop.Circumstance)
	right := e.other
	if i, ok := slices.BinarySearch(a.causes, stop.Cause); ok {
		right = e.share[i]
	}
	s.n += weight
	s.logs += weight * math.Log(right)
	s.brier += weight * (1 - 2*right)
	for _, share := range e.share {
		s.brier += weight * share * share
	}
}
