package deviation

import "math"

// story is one account of how a saw's readings came about: what the saw itself
// stands off, the level of its blade beside that, and the blade's drift, as a
// normal distribution.
type story struct {
	weight               float64 // chance of this account, relative to the others
	offset, level, drift float64
	cov                  [6]float64
	from                 float64 // area at which the blade's clock stood at 0
	clock                float64 // the blade's clock now
	pace                 running // of the blade that is gone, where nobody logged its change
	saw, blade, fresh    *Event  // the last step of the saw, of this blade, and the change of blade that nobody logged
}

// The covariances of offset g, level u and drift v.
const (
	gg = iota
	gu
	gv
	uu
	uv
	vv
)

// Event is a sudden change in the course of the readings.
type Event struct {
	Cut  int     // index, in the saw's cuts so far, of the first cut after it
	Area float64 // in² of the blade at the cut before
}

// The sorts of accounts, by the last of their events.
const (
	ofNothing = iota
	ofSaw
	ofBlade
	ofFresh
	sorts
)

// sort is that of the last event, and the cut it came before.
func (s *story) sort() (sort, last int) {
	last = math.MinInt / 2
	for i, e := range [sorts]*Event{ofSaw: s.saw, ofBlade: s.blade, ofFresh: s.fresh} {
		if e != nil && e.Cut >= last {
			sort, last = i, e.Cut
		}
	}
	return sort, last
}

// mean is the level of a reading.
func (s *story) mean() float64 { return s.offset + s.level }

// variance is that of the level of a reading, without the reading's noise.
// Where next to nothing was known before, rounding may leave it below 0.
func (s *story) variance() float64 { return max(0, s.cov[gg]+2*s.cov[gu]+s.cov[uu]) }

// move lets the blade's clock run on by d.
func (s *story) move(d, wander float64) {
	s.clock += d
	s.level += s.drift * d
	c := &s.cov
	c[uu] += 2*c[uv]*d + c[vv]*d*d + wander*wander*d
	c[uv] += c[vv] * d
	c[gu] += c[gv] * d
}

// learn takes a reading that missed its forecast, of that variance: the Kalman
// filter's step, which costs the same however many came before.
//
// Source: Harvey, Forecasting, Structural Time Series Models and the Kalman
// Filter, section 3.2 [from memory].
func (s *story) learn(miss, variance float64) {
	c := &s.cov
	g, u, v := c[gg]+c[gu], c[gu]+c[uu], c[gv]+c[uv]
	inverse := 1 / variance
	s.offset += g * inverse * miss
	s.level += u * inverse * miss
	s.drift += v * inverse * miss
	c[gg] = max(0, c[gg]-g*g*inverse)
	c[gu] -= g * u * inverse
	c[gv] -= g * v * inverse
	c[uu] = max(0, c[uu]-u*u*inverse)
	c[uv] -= u * v * inverse
	c[vv] = max(0, c[vv]-v*v*inverse)
}

// fit hangs a new blade whose clock stands at 0 when its area is from. What is
// known of the saw stays.
func (s *story) fit(p *Pool, from float64) {
	s.level, s.drift, s.clock, s.from = 0, 0, 0, from
	s.cov = [6]float64{
		gg: s.cov[gg], uu: p.LevelSD * p.LevelSD,
		uv: p.Corr * p.LevelSD * p.DriftSD, vv: p.DriftSD * p.DriftSD,
	}
	s.blade, s.fresh = nil, nil
}

// merge makes one account of two that tell the same, keeping mean and variance.
func (s *story) merge(o story) {
	total := s.weight + o.weight
	if !(total > 0) {
		return
	}
	a, b := s.weight/total, o.weight/total
	dg, du, dv := s.offset-o.offset, s.level-o.level, s.drift-o.drift
	for i, between := range [6]float64{gg: dg * dg, gu: dg * du, gv: dg * dv, uu: du * du, uv: du * dv, vv: dv * dv} {
		s.cov[i] = a*s.cov[i] + b*o.cov[i] + a*b*between
	}
	s.offset, s.level, s.drift = a*s.offset+b*o.offset, a*s.level+b*o.level, a*s.drift+b*o.drift
	s.weight = total
}

// normal is the density of a miss of that variance.
func normalDensity(miss, variance float64) float64 {
	inverse := 1 / variance
	return math.Exp(-miss*miss*inverse/2) * math.Sqrt(inverse/(2*math.Pi))
}
