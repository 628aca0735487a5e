package deviation

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// Estimate is a value with its 95 % limits.
type Estimate struct{ Value, Low, High float64 }

func normalEstimate(value, variance float64) Estimate {
	spread := z95 * math.Sqrt(math.Max(0, variance))
	return Estimate{value, value - spread, value + spread}
}

// z95 is the 97.5 % point of the standard normal.
const z95 = 1.959963984540054

// Level is where the deviation stands now, over all accounts.
func (f *Follower) Level() Estimate { return normalEstimate(f.mixture()) }

// Window is the area still to be cut at which something is over with chances of
// 10, 50 and 90 %; +Inf where the chance is not so great within what is looked
// at.
type Window struct{ Q10, Q50, Q90 float64 }

// Outlook is the chance, over growing areas still to be cut, that the saw has
// tripped.
type Outlook struct{ area, left []float64 }

const (
	// furthest is the area, in in², beyond which nobody asks: several blades.
	furthest = 1e5
	// growth is the step from one area looked at to the next.
	growth = 1.05
	// points is how many values of level and of drift each account is averaged over.
	points = 5
	// leastFace is the area of a cut in in² up to which none is believed.
	leastFace = 1e-6
	// slight is the weight of an account that is left out.
	slight = 0.01
)

// Until is the outlook to the first trip at limit on either side. A saw trips
// when the level gets there,
// as a diffusion (Passage), and before that when a single cut wanders beyond; the
// first is averaged over what the readings leave possible of level and drift, by
// Gauss-Hermite quadrature, the second is added up cut by cut along the mean way
// there. A reading's own error, which shrinks with the height, trips no saw. The
// two are taken to be independent; trips that no level foretold go on at the rate at
// which they came.
//
// A saw that stops at one length has a limit over the height for each height: of
// several limits each cut has one of them at random, and a level is only surely
// beyond at the greatest.
//
// It is nil without a limit and for one that is no number above 0.
func (f *Follower) Until(limits ...float64) *Outlook {
	for _, limit := range limits {
		if !(limit > 0) || math.IsInf(limit, 1) {
			return nil
		}
	}
	if len(limits) == 0 {
		return nil
	}
	face := f.face()
	ways := f.ways(limits)
	o := &Outlook{area: []float64{0}, left: []float64{leftOf(ways)}}
	for area := face; area < furthest && o.left[len(o.left)-1] > 0.01; area *= growth {
		last := o.area[len(o.area)-1]
		for i := range ways {
			ways[i].run(f, area, (area-last)/face)
		}
		o.area, o.left = append(o.area, area), append(o.left, math.Min(o.left[len(o.left)-1], leftOf(ways)))
	}
	return o
}

// face is the mean area of a cut of late; of what is too little for a cut, there
// would be more of them up to the furthest area than can be counted.
func (f *Follower) face() float64 {
	if f.faces.mean > leastFace {
		return f.faces.mean
	}
	return 1
}

// suddenly is the rate, per in², of trips that no level foretells: those seen over
// what was cut, with few in much area to begin with (our choice).
func (f *Follower) suddenly() float64 {
	const trips, area = 0.02, 1000
	return (float64(f.sudden) + trips) / (f.worn + area)
}

func leftOf(ways []way) (sum float64) {
	for i := range ways {
		sum += ways[i].weight * ways[i].left
	}
	return sum
}

// Chance is that of a trip within an area. Between the areas looked at the trips
// to be expected rise at an even pace of their logarithm.
func (o *Outlook) Chance(area float64) float64 {
	if !(area > 0) {
		return 1 - o.left[0]
	}
	i, _ := slices.BinarySearch(o.area, area)
	if i == len(o.area) {
		return 1 - o.left[i-1]
	}
	share := (area - o.area[i-1]) / (o.area[i] - o.area[i-1])
	before, after := expected(o.left[i-1]), expected(o.left[i])
	if before > 0 {
		return -math.Expm1(-math.Pow(before, 1-share) * math.Pow(after, share))
	}
	return -math.Expm1(-share * after)
}

// expected is how many trips leave that chance of none, kept finite: between an
// area where some are left and one where none is, the chance rises as well.
func expected(left float64) float64 { return -math.Log(math.Max(left, 1e-300)) }

// Window reads the three areas off the outlook.
func (o *Outlook) Window() Window { return Window{o.quantile(0.1), o.quantile(0.5), o.quantile(0.9)} }

func (o *Outlook) quantile(chance float64) float64 {
	want := 1 - chance
	for i, left := range o.left {
		switch {
		case left > want:
		case i == 0:
			return 0
		default:
			before, after, there := expected(o.left[i-1]), expected(left), -math.Log(want)
			share := there / after
			if before > 0 {
				share = math.Log(there/before) / math.Log(after/before)
			}
			return o.area[i-1] + share*(o.area[i]-o.area[i-1])
		}
	}
	return math.Inf(1)
}

// way is one course that level and drift may take from here.
type way struct {
	weight, level, drift float64
	limits               []float64
	limit                float64 // the greatest of them
	from, clock          float64 // of its account
	hazard               float64 // of a trip on the last cut looked at
	held                 float64 // chance that no single cut tripped so far
	left                 float64 // chance that nothing did
}

// ways are the courses of all accounts that count.
func (f *Follower) ways(limits []float64) []way {
	limit := slices.Max(limits)
	x, weight := make([]float64, points), make([]float64, points)
	quad.Hermite{}.FixedLocations(x, weight, math.Inf(-1), math.Inf(1))
	var list []way
	total := 0.0
	for i := range f.stories {
		s := &f.stories[i]
		if s.weight < slight {
			continue
		}
		total += s.weight
		level, drift := s.spreads()
		for i, u := range x {
			for j, v := range x {
				w := way{weight: s.weight * weight[i] * weight[j] / math.Pi, limits: limits, limit: limit, from: s.from, clock: s.clock, held: 1, left: 1}
				w.level = s.mean() + math.Sqrt2*level*u
				w.drift = s.drift + math.Sqrt2*(drift.with*u+drift.own*v)
				if math.Abs(w.level) >= limit {
					w.left = 0
				}
				w.hazard = hazard(f.beyond(w.level, limits))
				list = append(list, w)
			}
		}
	}
	for i := range list {
		list[i].weight /= total
	}
	return list
}

// spreads are the standard deviation of the level of a reading and that of the
// drift, split into what goes with the level and what is its own.
func (s *story) spreads() (level float64, drift struct{ with, own float64 }) {
	level = math.Sqrt(math.Max(0, s.variance()))
	if level > 0 {
		drift.with = (s.cov[gv] + s.cov[uv]) / level
	}
	drift.own = math.Sqrt(math.Max(0, s.cov[vv]-drift.with*drift.with))
	return level, drift
}

// beyond is the chance that one cut at a level goes beyond its limit.
func (f *Follower) beyond(level float64, limits []float64) (sum float64) {
	for _, limit := range limits {
		sum += f.wanders(limit-level) + f.wanders(limit+level)
	}
	return sum / float64(len(limits))
}

// wanders is the chance that one cut wanders by more than a distance to one side.
func (f *Follower) wanders(distance float64) float64 {
	if distance >= 9*f.pool.Cut {
		return 0 // less than 1e-18, and where no cut wanders a level at the limit is not beyond
	}
	return math.Erfc(distance/(math.Sqrt2*f.pool.Cut)) / 2
}

// run lets the way go on to an area in all, over so many cuts since the last.
func (w *way) run(f *Follower, area, cuts float64) {
	if w.left == 0 {
		return
	}
	t := f.clock(f.area+area, w.from) - w.clock
	// What has not got there yet lies about a standard deviation of the wander short.
	short := math.Max(0, w.limit-f.pool.Wander*math.Sqrt(math.Max(0, t)))
	level := math.Max(-short, math.Min(short, w.level+w.drift*t))
	now := hazard(f.beyond(level, w.limits))
	w.held *= math.Exp(-cuts * (between(w.hazard, now) + f.suddenly()*f.face()))
	w.hazard = now
	w.left = w.held * (1 - math.Min(1, f.reaches(w.drift, w.limit-w.level, t)+f.reaches(-w.drift, w.limit+w.level, t)))
}

// between is the mean of a rate that rises or falls from a to b at an even pace of
// its logarithm, as that of a level nearing its limit nearly does.
func between(a, b float64) float64 {
	if !(a > 0 && b > 0) || math.Abs(b-a) <= 1e-6*a {
		return (a + b) / 2
	}
	return (b - a) / math.Log(b/a)
}

// hazard is the rate per cut that gives a chance per cut, kept finite.
func hazard(chance float64) float64 { return -math.Log1p(-math.Min(chance, 1-1e-9)) }

// reaches is the chance that the level gets to one side within t on the clock. A
// level without a wander goes there straight.
func (f *Follower) reaches(drift, distance, t float64) float64 {
	ahead := distance - drift*t
	switch wander := f.pool.Wander; {
	case wander == 0 && ahead > 0, wander > 0 && ahead > 8*wander*math.Sqrt(t) && drift > 0:
		return 0
	case wander == 0, ahead < -8*wander*math.Sqrt(t):
		return 1
	}
	return math.Exp(Passage{Drift: drift, Diffusion: f.pool.Wander, Distance: distance}.LogChance(t))
}

// mixed is the outlook of several by their weights, at the areas of the one that goes
// furthest.
func mixed(all []*Outlook, weights []float64) *Outlook {
	longest, total := all[0], 0.0
	for i, o := range all {
		if len(o.area) > len(longest.area) {
			longest = o
		}
		total += weights[i]
	}
	out := &Outlook{area: longest.area, left: make([]float64, len(longest.area))}
	for i, o := range all {
		for k, area := range out.area {
			out.left[k] += weights[i] / total * (1 - o.Chance(area))
		}
	}
	return out
}
