package deviation

import "math"

// SensorSigns are what speaks for a sensor that does not tell what the cut does.
type SensorSigns struct {
	Same      int     // readings in a row, the last ones, that are equal
	SameAs    float64 // what they say, as the sensor gave it
	Chance    float64 // that so many are no accident
	SameSince int     // index of the first cut of them
	Idle      int     // trips while the saw said that it was not cutting
	Trips     int     // trips in all
	FirstIdle int     // index of the first of those
}

const (
	minSame = 8
	minIdle = 2
	// chanceStuck is the chance, before looking, that a sensor is stuck (our choice).
	chanceStuck = 0.001
)

// Sensor looks through the cuts of one blade.
func Sensor(cuts []Cut) SensorSigns {
	s := SensorSigns{SameSince: -1, FirstIdle: -1}
	pairs, equal, run := 0, 0, 0
	last := math.NaN()
	for i := range cuts {
		c := &cuts[i]
		if c.Tripped {
			s.Trips++
			if c.Idle {
				if s.Idle++; s.Idle == 1 {
					s.FirstIdle = i
				}
			}
		}
		if !c.known() {
			continue
		}
		raw := c.Deviation
		if c.Height > 0 {
			raw *= c.Height
		}
		if math.Abs(raw-last) <= 1e-9*math.Max(1, math.Abs(raw)) {
			equal++
			run++
		} else {
			run, s.SameSince = 1, i
		}
		pairs++
		last = raw
	}
	s.Same, s.SameAs = run, last
	if run < minSame {
		return s
	}
	// How often neighbours are equal elsewhere, as a coarse sensor makes them; one
	// such pair is allowed for where none was seen.
	usual := float64(equal-run+2) / float64(pairs-run+2)
	accident := math.Pow(math.Min(usual, 1), float64(run-1)) * float64(max(1, pairs-run))
	odds := chanceStuck / (1 - chanceStuck) / math.Max(accident, 1e-300)
	s.Chance = odds / (1 + odds)
	return s
}
