package deviation

import (
	"math"
	"slices"
)

// Pool is how the deviation of one kind of blade moves on one saw, learned from
// the blades before. The wear clock of a blade is (area/1000)^Power, on which its
// level is a straight line with a slope of its own and a wander beside it:
//
//	level(t+d) = level(t) + drift·d + N(0, Wander²·d),   reading = level + Noise.
//
// A power above 1 is wear that speeds up. Levels are about 0: a blade leads to
// either side, and only a saw that stands off leads all to one.
//
// Source: a Wiener process on a transformed clock, Whitmore and Schenkelberg
// 1997, Lifetime Data Analysis 3:27 [from memory]; its random drift, Meeker and
// Escobar 1998, chapter 13 [from memory].
type Pool struct {
	Noise
	Power   float64
	Wander  float64
	LevelSD float64 // between new blades, of the level
	DriftSD float64 // of the drift
	Corr    float64 // between the two: what leads off at once wears off faster
	Scale   float64 // what counts as far off: the trip limit, else 6 standard deviations of a reading
	Blades  int     // learned from
	Cuts    int

	shapes []shaped // powers that may be right, Power among them
	bins   []bins   // what it was learned from
	lead   lead     // of a new blade to whichever side it goes
}

// The values of a kind of blade nobody has seen yet (our choice), for a blade
// that would reach the scale within about 8,000 in².
const (
	usualPower  = 1.5
	powerSD     = 0.75
	usualLevel  = 0.15 // of the scale
	usualDrift  = 0.7  // of the scale over usualLife
	usualCorr   = 0.8
	usualLife   = 8.0 // thousand in²
	usualWeight = 1   // as many blades the usual values count for
	usualNoise  = 1.0 / 12
)

// minLearned is the fewest readings of a blade that anything is learned from.
const minLearned = 16

// binsPerBlade is how many means a blade is cut down to for learning.
const binsPerBlade = 40

// minBin is the fewest readings of a mean: their median knows a wild one.
const minBin = 4

// Learn takes the pool from past blades, each on this saw or one like it. Limit
// is the trip limit over the height, or no number above 0. With few blades it stays near what
// is usual; without any reading it reports false, for then there is not even a
// noise.
func Learn(past [][]Cut, limit float64) (Pool, bool) {
	noise, ok := MeasureNoise(past)
	if math.IsInf(limit, 1) {
		limit = math.NaN()
	}
	if !ok && !(limit > 0) {
		return Pool{}, false
	}
	if !ok {
		noise.Cut = usualNoise * limit
	}
	p := Usual(noise, limit)
	var blades []bins
	for _, cuts := range past {
		if b := newBins(cuts, p.Noise); b.readings >= minLearned {
			blades = append(blades, b)
			p.Blades++
			p.Cuts += b.readings
		}
	}
	p.bins = blades
	p.shape(blades)
	p.spread(blades)
	return p, true
}

// Usual is the pool of a kind of blade nobody has seen yet, whose readings have a
// noise. Limit is the trip limit over the height, or NaN.
func Usual(noise Noise, limit float64) Pool {
	p := Pool{Noise: noise, Power: usualPower, Scale: limit}
	if !(limit > 0) {
		p.Scale = 6 * math.Max(p.Cut, p.Probe/6)
	}
	p.spread(nil)
	return p
}

// bins are the readings of a blade in groups by area, each with its mean, those
// beyond 4 standard deviations of its median pulled in, the variance of that and the
// mean area.
type bins struct {
	list     []bin
	readings int
}

type bin struct{ area, mean, variance float64 }

func newBins(cuts []Cut, noise Noise) bins {
	var known []*Cut
	for i := range cuts {
		if cuts[i].known() {
			known = append(known, &cuts[i])
		}
	}
	b := bins{readings: len(known)}
	groups := min(binsPerBlade, len(known)/minBin)
	for g := range groups {
		part := known[g*len(known)/groups : (g+1)*len(known)/groups]
		one, weight := bin{}, 0.0
		middle := middleReading(part)
		for _, c := range part {
			variance := noise.Variance(c.Height)
			edge := chartClip * math.Sqrt(variance)
			w := 1 / variance
			weight += w
			one.mean += w * (middle + math.Max(-edge, math.Min(edge, c.Deviation-middle)))
			one.area += w * c.Area
		}
		one.mean, one.area, one.variance = one.mean/weight, one.area/weight, 1/weight
		b.list = append(b.list, one)
	}
	return b
}

func middleReading(cuts []*Cut) float64 {
	values := make([]float64, len(cuts))
	for i, c := range cuts {
		values[i] = c.Deviation
	}
	return median(values)
}

// shape chooses Power and Wander by the likelihood of all blades on a grid, a
// normal prior about the usual power added. Each blade's clock is tried as one that
// runs to 1 at its end: what is known of its drift before it cut then lets it get as
// far off whatever the power, which would else be drawn up where blades are pulled
// early.
func (p *Pool) shape(blades []bins) {
	life := usualLife
	if len(blades) > 0 {
		ends := make([]float64, len(blades))
		for i, b := range blades {
			ends[i] = b.end()
		}
		life = median(ends) / PerArea
	}
	var tried []shaped
	best := 0
	for power := 0.5; power <= 4.01; power += 0.25 {
		off := (power - usualPower) / powerSD
		one := shaped{power: power, logLik: math.Inf(-1)}
		clocks := clocksOf(blades, power)
		for _, wander := range []float64{0, 0.02, 0.05, 0.1, 0.2} {
			sum := -off * off / 2
			for i, b := range blades {
				sum += b.logLik(clocks[i], wander*p.Scale, p.Scale)
			}
			if sum > one.logLik+1e-9 {
				// The wander was tried on such a clock, that of the middle blade.
				one.logLik, one.wander = sum, wander*p.Scale*math.Pow(life, -power/2)
			}
		}
		if tried = append(tried, one); one.logLik > tried[best].logLik {
			best = len(tried) - 1
		}
	}
	p.Power, p.Wander = tried[best].power, tried[best].wander
	p.shapes = likely(tried)
}

// shaped is one power of the wear clock with the wander that goes best with it.
type shaped struct{ power, wander, logLik, weight float64 }

// slightShape is the weight of a power that is left out.
const slightShape = 0.02

// likely keeps the powers that may be right, with their weights.
func likely(tried []shaped) (list []shaped) {
	best, total := math.Inf(-1), 0.0
	for _, t := range tried {
		best = math.Max(best, t.logLik)
	}
	for i := range tried {
		tried[i].weight = math.Exp(tried[i].logLik - best)
		total += tried[i].weight
	}
	for _, t := range tried {
		if t.weight /= total; t.weight >= slightShape {
			list = append(list, t)
		}
	}
	return list
}

// end is the area of the last bin.
func (b bins) end() float64 { return math.Max(b.list[len(b.list)-1].area, 1) }

// clocksOf are the clocks (area/end)^power of some blades at their bins.
func clocksOf(blades []bins, power float64) [][]float64 {
	clocks := make([][]float64, len(blades))
	for i, b := range blades {
		end := b.end()
		for _, one := range b.list {
			clocks[i] = append(clocks[i], wearClock(one.area/end, power))
		}
	}
	return clocks
}

// logLik is the likelihood of a blade's bins with level and drift hardly known
// before, on a clock. A bin far off its forecast counts as its edge, so that steps do
// not decide the shape.
func (b bins) logLik(clock []float64, wander, scale float64) (sum float64) {
	var s story
	s.cov[uu], s.cov[vv] = scale*scale, 4*scale*scale
	for i, one := range b.list {
		s.move(clock[i]-s.clock, wander)
		miss, spread := one.mean-s.mean(), s.variance()+one.variance
		if off := miss * miss / spread; off > wild*wild {
			spread *= off / (wild * wild)
		}
		sum -= (math.Log(spread) + miss*miss/spread) / 2
		s.learn(miss, spread)
	}
	return sum
}

// spread learns how new blades differ, by moments about 0 with the noise of each
// blade's own line taken off. A blade 2.5 times as far off as the median one
// counts as that far: a fault of the saw is not the habit of its blades.
func (p *Pool) spread(blades []bins) {
	life := math.Pow(usualLife, p.Power)
	var lines []bladeLine
	for _, b := range blades {
		if l, ok := b.line(p.Power); ok {
			lines = append(lines, l)
		}
	}
	level := clipped(lines, func(l bladeLine) (float64, float64) { return l.level, l.levelVar })
	drift := clipped(lines, func(l bladeLine) (float64, float64) { return l.drift, l.driftVar })
	n := float64(len(lines))
	priorLevel, priorDrift := usualLevel*p.Scale, usualDrift*p.Scale/life
	p.LevelSD = math.Sqrt((usualWeight*priorLevel*priorLevel + level.sum) / (usualWeight + n))
	p.DriftSD = math.Sqrt((usualWeight*priorDrift*priorDrift + drift.sum) / (usualWeight + n))
	p.Corr = usualCorr
	if n > 0 {
		p.Corr = (usualWeight*usualCorr + n*p.together(lines)) / (usualWeight + n)
	}
	p.Corr = math.Max(-maxCorr, math.Min(maxCorr, p.Corr))
	p.lead = leads(lines, priorLevel, priorDrift)
}

// maxCorr leaves level and drift some say of their own.
const maxCorr = 0.95

// together is the correlation of level and drift by medians: that of the drift
// over the level is the way they go together, and that of what is left, over
// that of a standard normal, the spread beside it. A saw that stood off under
// some of the blades does not move it.
func (p *Pool) together(lines []bladeLine) float64 {
	ratios, left, noise := make([]float64, len(lines)), make([]float64, len(lines)), 0.0
	for i, l := range lines {
		ratios[i] = l.drift / l.level
	}
	ratio := median(ratios)
	for i, l := range lines {
		left[i] = math.Abs(l.drift - ratio*l.level)
		noise += (l.driftVar - 2*ratio*l.co + ratio*ratio*l.levelVar) / float64(len(lines))
	}
	spread := median(left) / medianNormal
	share := math.Max(0, spread*spread-noise) / (p.DriftSD * p.DriftSD)
	return math.Copysign(math.Sqrt(math.Max(0, 1-share)), ratio)
}

// clip holds values pulled in to 2.5 times their median size, and the sum of
// their squares less their noise.
type clip struct {
	values []float64
	sum    float64
}

const clipAt = 2.5

func clipped(lines []bladeLine, of func(bladeLine) (value, variance float64)) (c clip) {
	sizes := make([]float64, len(lines))
	for i, l := range lines {
		v, _ := of(l)
		sizes[i] = math.Abs(v)
	}
	edge := math.Inf(1)
	if len(sizes) > 0 {
		edge = clipAt * median(slices.Clone(sizes))
	}
	for _, l := range lines {
		v, noise := of(l)
		v = math.Max(-edge, math.Min(edge, v))
		c.values = append(c.values, v)
		c.sum += math.Max(0, v*v-noise)
	}
	return c
}

// bladeLine is the straight line through one blade's bins on its wear clock.
type bladeLine struct{ level, drift, levelVar, driftVar, co float64 }

func (b bins) line(power float64) (bladeLine, bool) {
	var w, x, xx, y, xy float64
	for _, one := range b.list {
		weight, at := 1/one.variance, wearClock(one.area/PerArea, power)
		w += weight
		x += weight * at
		xx += weight * at * at
		y += weight * one.mean
		xy += weight * at * one.mean
	}
	d := w*xx - x*x
	if !(d > 1e-9*w*xx) {
		return bladeLine{}, false
	}
	return bladeLine{
		level: (xx*y - x*xy) / d, drift: (w*xy - x*y) / d,
		levelVar: xx / d, driftVar: w / d, co: -x / d,
	}, true
}

// Likely are the pools of all powers that may be right, this one first, with their
// weights: blades that were pulled early, or are few, leave open how wear goes on.
func (p *Pool) Likely() (pools []Pool, weights []float64) {
	pools, weights = []Pool{*p}, []float64{1}
	own := slices.IndexFunc(p.shapes, func(s shaped) bool { return s.power == p.Power })
	if own < 0 {
		return pools, weights // nothing was learned
	}
	total := 0.0
	for _, s := range p.shapes {
		total += s.weight
	}
	weights[0] = p.shapes[own].weight / total
	for i, s := range p.shapes {
		if i == own {
			continue
		}
		other := *p
		other.Power, other.Wander = s.power, s.wander
		other.spread(p.bins)
		pools, weights = append(pools, other), append(weights, s.weight/total)
	}
	return pools, weights
}
