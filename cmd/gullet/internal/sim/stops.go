package sim

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// stop is a time the saw stands for a reason that is not the blade's.
type stop struct {
	at           time.Time
	state, cause string
	minutes      float64
}

// stopKind is how often a reason comes and how long it takes. The two causes
// are told about equally often. Common practice, narrowed to one number.
type stopKind struct {
	state         string
	causes        [2]string
	perShift      float64 // Poisson mean
	fixed         bool    // comes exactly once instead
	median, sigma float64 // min, lognormal
}

var stopKinds = []stopKind{
	{state: "stopped", causes: [2]string{"out-of-stock", "waiting-material"}, perShift: .8, median: 9, sigma: .7},
	{state: "idle", causes: [2]string{"waiting-crane", "waiting-crane"}, perShift: .9, median: 6, sigma: .7},
	{state: "stopped", causes: [2]string{"chips", "coolant"}, perShift: .5, median: 8, sigma: .5},
	{state: "stopped", causes: [2]string{"fault", "fault"}, perShift: .15, median: 22, sigma: .7},
	{state: "stopped", causes: [2]string{"maintenance", "maintenance"}, fixed: true, median: 15, sigma: .2},
	{state: "idle", causes: [2]string{"no-operator", "no-operator"}, perShift: .3, median: 25, sigma: .6},
}

// drawStops draws the stops of a shift, in order; those the saw was not yet
// there for are left out.
func (w *saw) drawStops(sh shift) []stop {
	var out []stop
	for _, k := range stopKinds {
		n := 1
		if !k.fixed {
			n = poisson(w.rng, k.perShift)
		}
		for range n {
			at := sh.start.Add(time.Duration(w.rng.Float64() * float64(sh.end.Sub(sh.start))))
			s := stop{at, k.state, k.causes[w.rng.IntN(2)], logNormal(w.rng, k.median, k.sigma)}
			if !at.Before(w.now) {
				out = append(out, s)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b stop) int { return a.at.Compare(b.at) })
	return out
}

// stand takes the stop that is due. One that would last past the shift ends
// with it; the next shift finds the saw ready.
func (w *saw) stand() {
	s := w.due[0]
	w.due = w.due[1:]
	w.state(s.state, s.cause)
	w.wait(s.minutes)
	if w.now.After(w.shift.end) {
		w.now = w.shift.end
	}
}

// poisson draws by multiplying uniforms (Knuth), which suits small means.
func poisson(r *rand.Rand, mean float64) int {
	n, p, limit := 0, r.Float64(), math.Exp(-mean)
	for p > limit {
		n++
		p *= r.Float64()
	}
	return n
}
