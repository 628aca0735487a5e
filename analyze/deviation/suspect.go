package deviation

import "math"

// Suspicion is something sudden that the readings speak for.
type Suspicion struct {
	Chance float64  // that it is so, among the accounts that are followed
	Since  *Event   // nil: since before anything was followed
	Size   Estimate // how far off, or by how much
}

// SawOff is how likely it is that the saw itself stands off by more than least,
// to one side, whatever blade is on; since when, and how far, by the accounts that
// share the likeliest step.
func (f *Follower) SawOff(least float64) Suspicion {
	since := f.likeliest(func(s *story) *Event { return s.saw }).Since
	var weight, value, variance float64
	var side [2]float64
	for i := range f.stories {
		s := &f.stories[i]
		if s.saw == since {
			weight += s.weight
			value += s.weight * s.offset
		}
		sd := math.Sqrt(2 * math.Max(s.cov[gg], 1e-300))
		side[0] += s.weight * math.Erfc((least-s.offset)/sd) / 2
		side[1] += s.weight * math.Erfc((least+s.offset)/sd) / 2
	}
	for i := range f.stories {
		s := &f.stories[i]
		if s.saw != since || !(weight > 0) {
			continue
		}
		d := s.offset - value/weight
		variance += s.weight * (s.cov[gg] + d*d) / weight
	}
	return Suspicion{Chance: math.Min(1, math.Max(side[0], side[1])), Since: since, Size: normalEstimate(value/weight, variance)}
}

// BladeStepped is how likely it is that the deviation of the blade on the saw
// stepped and the step is its own.
func (f *Follower) BladeStepped() Suspicion {
	return f.likeliest(func(s *story) *Event { return s.blade })
}

// Unlogged is how likely it is that the blade was changed and nobody said so.
func (f *Follower) Unlogged() Suspicion {
	return f.likeliest(func(s *story) *Event { return s.fresh })
}

// likeliest adds up the accounts that hold an event of one sort and dates it by
// the weightiest of them.
func (f *Follower) likeliest(of func(*story) *Event) (out Suspicion) {
	most := 0.0
	for i := range f.stories {
		s := &f.stories[i]
		e := of(s)
		if e == nil {
			continue
		}
		out.Chance += s.weight
		if s.weight > most {
			most, out.Since = s.weight, e
		}
	}
	out.Chance = math.Min(1, out.Chance)
	return out
}
