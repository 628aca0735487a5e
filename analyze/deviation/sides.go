package deviation

import (
	"math"
	"slices"
)

// lead is how far new blades go to their side, whichever it is: a blade leads to one
// side or the other, hardly ever straight ahead, so that the two sides together are
// no normal about 0.
type lead struct{ level, drift side }

// side is the mean size of a value on its side, and the spread of blades about it.
type side struct{ mean, sd float64 }

// What is believed of sides before any blade was seen (our choice).
const (
	sideSD    = 1.0 // of the logarithm of the size: the usual one is right to a factor of about 3
	leadsOn   = 0.5 // correlation of level and drift of blades of one side
	sizeSteps = 61
	sizeSpan  = 3.0 // either way, in ln
)

// apart are the spreads of blades of one side that are tried, as parts of their size:
// up to that of a normal about 0 cut in half.
var apart = []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6}

// leads learns both from the lines of past blades.
func leads(lines []bladeLine, usualLevel, usualDrift float64) lead {
	return lead{
		level: sideOf(lines, func(l bladeLine) (float64, float64) { return l.level, l.levelVar }, usualLevel),
		drift: sideOf(lines, func(l bladeLine) (float64, float64) { return l.drift, l.driftVar }, usualDrift),
	}
}

// sideOf is the mean over what size and spread may be, on a grid of both, by the
// likelihood of values of either sign, each with the noise of its own line:
//
//	N(v; mean, sd² + noise)/2 + N(v; -mean, sd² + noise)/2.
//
// Values 2.5 times as far off as the median count as that far, as in Pool.spread.
func sideOf(lines []bladeLine, of func(bladeLine) (value, variance float64), usual float64) side {
	values := clipped(lines, of).values
	log, best := make([]float64, 0, sizeSteps*len(apart)), math.Inf(-1)
	var tried []side
	for i := range sizeSteps {
		step := sizeSpan * (2*float64(i)/(sizeSteps-1) - 1)
		size := usual * math.Exp(step)
		for _, part := range apart {
			one := side{size * math.Sqrt(1-part*part), size * part}
			sum := -step * step / (2 * sideSD * sideSD)
			for k, l := range lines {
				_, noise := of(l)
				sum += one.logLik(math.Abs(values[k]), noise)
			}
			tried, log, best = append(tried, one), append(log, sum), math.Max(best, sum)
		}
	}
	var total, mean, square float64
	for i, one := range tried {
		w := math.Exp(log[i] - best)
		total += w
		mean += w * one.mean
		square += w * (one.mean*one.mean + one.sd*one.sd)
	}
	mean /= total
	return side{mean, math.Sqrt(math.Max(0, square/total-mean*mean))}
}

// logLik is that of a value of that size, but for a constant.
func (s side) logLik(size, noise float64) float64 {
	variance := s.sd*s.sd + noise
	off := size - s.mean
	return math.Log1p(math.Exp(-2*size*s.mean/variance)) - off*off/(2*variance) - math.Log(variance)/2
}

// clone is a follower that goes its own way from here.
func (f *Follower) clone() *Follower {
	c := *f
	c.stories = slices.Clone(f.stories)
	return &c
}

// sided is a follower that goes on from a fresh blade, of a kind, with two accounts in
// place of each: that the blade leads to the one side, and to the other.
func (f *Follower) sided(p *Pool) *Follower {
	g := *f
	g.pool, g.stories = *p, nil
	for _, s := range f.stories {
		s.weight /= 2
		for _, sign := range []float64{1, -1} {
			s.fit(p, 0)
			s.lead(p, sign)
			s.move(g.clock(f.area, 0), p.Wander)
			g.stories = append(g.stories, s)
		}
	}
	return &g
}

// lead takes the fresh blade of an account for one that goes to a side. Where blades
// start off to the other side than they wear to, so does this one.
func (s *story) lead(p *Pool, sign float64) {
	l := &p.lead
	s.level, s.drift = math.Copysign(sign*l.level.mean, sign*p.Corr), sign*l.drift.mean
	s.cov[uu], s.cov[vv] = l.level.sd*l.level.sd, l.drift.sd*l.drift.sd
	s.cov[uv] = math.Copysign(leadsOn, p.Corr) * l.level.sd * l.drift.sd
}
