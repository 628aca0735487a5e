package deviation

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// Noise is how the deviation of one kind of blade on one saw moves, with areas
// in thousands of in² and deviations in one unit throughout.
type Noise struct {
	Measure float64 // standard deviation of one reading about the level
	Level   float64 // standard deviation of the level's own steps over 1,000 in²
	Drift   float64 // standard deviation of the change of the drift over 1,000 in²
}

// Prior is what is known of a blade before its first cut, from those before it:
// mean and standard deviation of its level and of its drift per 1,000 in².
type Prior struct{ Level, LevelSD, Drift, DriftSD float64 }

// Wear follows one blade's deviation: a level that drifts,
//
//	level(a+d) = level(a) + drift·d + N(0, Level²·d),
//	drift(a+d) = drift(a) + N(0, Drift²·d),     reading = level + N(0, Measure²),
//
// by the Kalman filter. A reading costs the same however many came before. One
// that lies further from its forecast than 3 standard deviations counts as if its
// own noise were as great as that calls for, so that a wild reading moves
// little and a lasting change is followed after a few.
//
// Source: Harvey, Forecasting, Structural Time Series Models and the Kalman
// Filter, section 2.3 and chapter 3 [from memory].
type Wear struct {
	noise                  Noise
	area                   float64 // thousands of in² at the last reading
	level, drift           float64
	levelVar, driftVar, co float64
	n                      int
	logLik                 float64
}

// wild is how many standard deviations off a reading counts as wild.
const wild = 3

// NewWear begins with a new blade. It fails on a prior or noise that is not a
// number, or a standard deviation below 0 (of a reading: not above 0).
func NewWear(prior Prior, noise Noise) (*Wear, error) {
	for _, c := range []struct {
		what  string
		value float64
		least float64
	}{
		{"level", prior.Level, math.Inf(-1)}, {"doubt of the level", prior.LevelSD, 0}, {"drift", prior.Drift, math.Inf(-1)}, {"doubt of the drift", prior.DriftSD, 0},
		{"noise of the level", noise.Level, 0}, {"noise of the drift", noise.Drift, 0},
	} {
		if !(c.value >= c.least) || math.IsInf(c.value, 0) {
			return nil, fmt.Errorf("wear: %s is %v: want a number of at least %v", c.what, c.value, c.least)
		}
	}
	if !(noise.Measure > 0) || math.IsInf(noise.Measure, 0) {
		return nil, fmt.Errorf("wear: noise of a reading is %v: want a number above 0", noise.Measure)
	}
	return &Wear{
		noise: noise, level: prior.Level, drift: prior.Drift,
		levelVar: prior.LevelSD * prior.LevelSD, driftVar: prior.DriftSD * prior.DriftSD,
	}, nil
}

// Reading is what a reading was to the filter.
type Reading struct {
	Off  float64 // how many standard deviations it lay off its forecast
	Wild bool
}

// Add takes the deviation of a cut after which the blade had cut area in² in all.
// It fails on a number that is not finite and on an area less than the last.
func (w *Wear) Add(area, deviation float64) (Reading, error) {
	next := area / PerArea
	if math.IsNaN(next) || math.IsInf(next, 0) || next < w.area {
		return Reading{}, fmt.Errorf("wear: area %v after %v: want a number, no less", area, w.area*PerArea)
	}
	if math.IsNaN(deviation) || math.IsInf(deviation, 0) {
		return Reading{}, fmt.Errorf("wear: deviation %v: want a number", deviation)
	}
	w.move(next - w.area)
	w.area = next
	w.n++
	noise := w.noise.Measure * w.noise.Measure
	spread := w.levelVar + noise
	off := (deviation - w.level) / math.Sqrt(spread)
	r := Reading{Off: off, Wild: math.Abs(off) > wild}
	if r.Wild {
		spread *= off * off / (wild * wild)
	}
	w.logLik -= (math.Log(2*math.Pi*spread) + (deviation-w.level)*(deviation-w.level)/spread) / 2
	gainLevel, gainDrift := w.levelVar/spread, w.co/spread
	miss := deviation - w.level
	w.level += gainLevel * miss
	w.drift += gainDrift * miss
	w.driftVar -= gainDrift * w.co
	w.co -= gainLevel * w.co
	w.levelVar -= gainLevel * w.levelVar
	return r, nil
}

// move lets d thousand in² pass.
func (w *Wear) move(d float64) {
	w.level += w.drift * d
	w.levelVar += 2*w.co*d + w.driftVar*d*d + w.noise.Level*w.noise.Level*d + w.noise.Drift*w.noise.Drift*d*d*d/3
	w.co += w.driftVar*d + w.noise.Drift*w.noise.Drift*d*d/2
	w.driftVar += w.noise.Drift * w.noise.Drift * d
}

// Estimate is a value with its 95 % limits.
type Estimate struct{ Value, Low, High float64 }

func normalEstimate(value, variance float64) Estimate {
	spread := z95 * math.Sqrt(math.Max(0, variance))
	return Estimate{value, value - spread, value + spread}
}

// z95 is the 97.5 % point of the standard normal.
const z95 = 1.959963984540054

// Level is where the blade's deviation stands now.
func (w *Wear) Level() Estimate { return normalEstimate(w.level, w.levelVar) }

// Drift is how it moves with 1,000 in² more.
func (w *Wear) Drift() Estimate { return normalEstimate(w.drift, w.driftVar) }

// N is the number of readings taken.
func (w *Wear) N() int { return w.n }

// LogLik is the log likelihood of the readings so far, each given those before
// it: what pooled noises are fitted by.
func (w *Wear) LogLik() float64 { return w.logLik }

// quadrature is the points in each direction over which a passage is averaged.
const quadrature = 9

// Reaches is the chance that the deviation first goes beyond -limit or limit
// before the blade has cut area in² more: first passage averaged over what the
// readings leave possible of level and drift, with Gauss-Hermite quadrature. The
// drift is taken to stay as it is from now on, and the two sides to exclude each
// other. It is 1 at once for a level that is beyond, and NaN for a limit that
// is not above 0.
func (w *Wear) Reaches(limit, area float64) float64 {
	if !(limit > 0) || math.IsNaN(area) {
		return math.NaN()
	}
	return w.average(func(level, drift float64) float64 {
		if math.Abs(level) >= limit {
			return 1
		}
		up := w.side(drift, limit-level, area)
		down := w.side(-drift, limit+level, area)
		return math.Min(1, up+down)
	})
}

// side is the chance to reach one limit. A level without noise of its own goes
// there straight.
func (w *Wear) side(drift, distance, area float64) float64 {
	if w.noise.Level == 0 {
		if drift > 0 && distance/drift*PerArea <= area {
			return 1
		}
		return 0
	}
	return math.Exp(Passage{drift / PerArea, w.noise.Level / math.Sqrt(PerArea), distance}.LogChance(area))
}

// average is the mean of f over level and drift as the readings leave them.
func (w *Wear) average(f func(level, drift float64) float64) float64 {
	x, weight := make([]float64, quadrature), make([]float64, quadrature)
	quad.Hermite{}.FixedLocations(x, weight, math.Inf(-1), math.Inf(1))
	levelSD := math.Sqrt(math.Max(0, w.levelVar))
	slope, left := 0.0, math.Max(0, w.driftVar) // of the drift given the level
	if levelSD > 0 {
		slope = w.co / levelSD
		left = math.Max(0, w.driftVar-slope*slope)
	}
	sum := 0.0
	for i, u := range x {
		for j, v := range x {
			level := w.level + math.Sqrt2*levelSD*u
			drift := w.drift + math.Sqrt2*(slope*u+math.Sqrt(left)*v)
			sum += weight[i] * weight[j] / math.Pi * f(level, drift)
		}
	}
	return sum
}

// Window is the area still to be cut at which the limit is reached with chances
// of 10, 50 and 90 %; +Inf where the chance is never so great.
type Window struct{ Q10, Q50, Q90 float64 }

// furthest is the area, in in², beyond which nobody asks: a hundred blades.
const furthest = 1e6

// UntilLimit is when the deviation is likely to be beyond -limit or limit.
func (w *Wear) UntilLimit(limit float64) Window {
	return Window{w.until(limit, 0.1), w.until(limit, 0.5), w.until(limit, 0.9)}
}

func (w *Wear) until(limit, chance float64) float64 {
	switch {
	case math.IsNaN(w.Reaches(limit, 0)):
		return math.NaN()
	case w.Reaches(limit, 0) >= chance:
		return 0
	case w.Reaches(limit, furthest) < chance:
		return math.Inf(1)
	}
	low, high := 0.0, furthest
	for high-low > 1e-6*high+1e-9 {
		middle := (low + high) / 2
		if w.Reaches(limit, middle) >= chance {
			high = middle
		} else {
			low = middle
		}
	}
	return high
}
