package lives

import (
	"maps"
	"math"
	"slices"
	"strings"

	"gullet/analyze"
	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
)

// notSaid is the way of ending that nobody told.
const notSaid = "not told"

// causes is how the blades of a group ended, the commonest way first.
func (s *study) causes(group string) []Cause {
	rows := s.of(group)
	lives := s.observations(group)
	names, counts := endings(rows)
	caused := make([]life.Caused, len(rows))
	for i, r := range rows {
		caused[i] = life.Caused{Observation: lives[i], Cause: slices.Index(names, named(r.Cause, notSaid))}
	}
	if len(names) == 0 {
		return []Cause{}
	}
	curves, err := life.Incidence(caused, len(names))
	ended := 0
	for _, n := range counts {
		ended += n
	}
	list := []Cause{}
	for i, name := range names {
		c := Cause{Cause: name, Ended: counts[i], Share: float64(counts[i]) / float64(ended), Incidence: []Incidence{}}
		if err == nil {
			for _, step := range curves[i].Steps {
				c.Incidence = append(c.Incidence, Incidence{
					Area: step.Area, Value: step.Value, StdError: figures.Finite(step.StdErr), Low: figures.Finite(step.Low), High: figures.Finite(step.High),
				})
			}
		}
		s.causeFit(&c, rows, life.OfCause(caused, i))
		list = append(list, c)
	}
	return list
}

// endings lists the ways in which rows ended, the commonest first.
func endings(rows []*Row) (names []string, counts []int) {
	number := map[string]int{}
	for _, r := range rows {
		if r.Ended {
			number[named(r.Cause, notSaid)]++
		}
	}
	for name := range number {
		names = append(names, name)
	}
	slices.SortFunc(names, func(a, b string) int {
		if d := number[b] - number[a]; d != 0 {
			return d
		}
		return strings.Compare(a, b)
	})
	for _, name := range names {
		counts = append(counts, number[name])
	}
	return names, counts
}

// causeFit fits one way of ending, the others censored, on the clock it goes by.
// Wear goes by weighted area, fatigue by bends of the band: both are tried where
// the bends are known.
func (s *study) causeFit(c *Cause, rows []*Row, obs []life.Observation) {
	clock, lives := s.clock, obs
	bends, known := onBends(rows, obs)
	switch {
	case known == 0:
		c.WhyClocks = "the bends of the band are not known: tell the saws' band lengths (saw.band_length) and send band_speed with each cut"
	case 10*known < 9*len(rows):
		c.WhyClocks = "the bends of the band are known of too few blades to choose a clock by"
	default:
		if s.goesByBends(c, rows, obs, bends) {
			clock, lives = clockBends, slices.DeleteFunc(bends, func(o life.Observation) bool { return o.Area == 0 })
		}
	}
	w, err := life.FitWeibull(lives)
	if err != nil {
		c.WhyWeibull = err.Error()
		return
	}
	c.Weibull = s.weibull(&w, clock)
}

// onBends is the lives in bends of the band, and of how many they are known; an
// Area of 0 stands for one that is not.
func onBends(rows []*Row, obs []life.Observation) (bends []life.Observation, known int) {
	bends = make([]life.Observation, len(rows))
	for i, r := range rows {
		if r.Bends == nil || *r.Bends == 0 || r.BendsPerArea == nil && obs[i].Ended {
			continue
		}
		known++
		bends[i] = life.Observation{Area: *r.Bends, Ended: obs[i].Ended}
		if r.Area > 0 {
			bends[i].Start = *r.Bends * r.Start / r.Area
		}
	}
	return bends, known
}

// goesByBends compares the clocks, each kind of blade by itself: kinds that last
// differently would choose the clock on which they happen to last alike.
func (s *study) goesByBends(c *Cause, rows []*Row, obs, bends []life.Observation) bool {
	byKind := map[string][2]life.Clocked{}
	for i, r := range rows {
		if bends[i].Area == 0 {
			continue
		}
		pair := byKind[r.Kind]
		pair[0].Lives, pair[0].Rates = append(pair[0].Lives, obs[i]), append(pair[0].Rates, s.rate(r))
		pair[1].Lives, pair[1].Rates = append(pair[1].Lives, bends[i]), append(pair[1].Rates, orZero(r.BendsPerArea))
		byKind[r.Kind] = pair
	}
	var aic [2]float64
	told := false
	for _, kind := range slices.Sorted(maps.Keys(byKind)) {
		pair := byKind[kind]
		_, fits, err := life.BestClock(pair[:])
		if err != nil || fits[0].Err != nil || fits[1].Err != nil {
			continue // too few of this kind ended this way
		}
		told = true
		for i, f := range fits {
			aic[i] += f.AIC
		}
	}
	if !told {
		c.WhyClocks = "too few blades of a kind ended this way to choose a clock by"
		return false
	}
	c.Clocks = []Clock{{s.clock, aic[0]}, {clockBends, aic[1]}}
	if math.Abs(aic[0]-aic[1]) < apart {
		c.WhyClocks = "the clocks cannot be told apart yet"
		return c.Cause == string(analyze.ReasonBrokeBody) // fatigue, by what is known of bands
	}
	return aic[1] < aic[0]
}

// apart is the difference of AIC from which on one clock is said to be better.
// Under 2 the two are as good as each other, from 4 on the worse has considerably
// less behind it (common practice). The weights of materials were learned from
// these same ends, which favours weighted area a little.
const apart = 4

// rate is how much of the clock passes with an in² of what the blade cut at its
// end.
func (s *study) rate(r *Row) float64 {
	if s.weight == nil || r.Last < 0 {
		return 1
	}
	return s.weight[r.Last] * r.LastWear
}

func orZero(x *float64) float64 {
	if x == nil {
		return 0
	}
	return *x
}
