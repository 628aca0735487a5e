package deviation

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// read are cuts that say these deviations over a height of 10 in.
func read(values ...float64) (cuts []Cut) {
	for i, v := range values {
		cuts = append(cuts, Cut{Area: float64(i), Height: 10, Deviation: v / 10})
	}
	return cuts
}

func TestSensorByHand(t *testing.T) {
	same := func(n int, v float64) (list []float64) {
		for range n {
			list = append(list, v)
		}
		return list
	}
	first := []float64{1, 2, 4, 3, 6, 5, 2, 8, 1, 3, 5, 7}
	for _, c := range []struct {
		name        string
		cuts        []Cut
		same, since int
		as          float64
		told        bool
	}{
		{"no cut", nil, 0, -1, math.NaN(), false},
		{"readings that differ", read(first...), 1, 11, 7, false},
		{"eight in a row the same", read(append(first, same(8, 2.5)...)...), 8, 12, 2.5, true},
		{"seven are too few", read(append(first, same(7, 2.5)...)...), 7, 12, 2.5, false},
		{"as before, it moves again", read(append(append(first, same(9, 2.5)...), 1)...), 1, 21, 1, false},
		{"a sensor that always said so", read(same(20, 0)...), 20, 0, 0, true},
	} {
		s := Sensor(c.cuts)
		if s.Same != c.same || s.SameSince != c.since || !(s.SameAs == c.as || math.IsNaN(c.as) && math.IsNaN(s.SameAs)) || s.Chance >= told != c.told {
			t.Errorf("%s: %+v, want %d of %v since cut %d, told %v", c.name, s, c.same, c.as, c.since, c.told)
		}
	}
}

// What says the same is the sensor, whose length the height has divided.
func TestSensorSaysLengths(t *testing.T) {
	cuts := read(1, 3, 2, 5, 4, 3, 1, 2)
	for i := range 10 {
		h := 4 + float64(i)
		cuts = append(cuts, Cut{Area: 20, Height: h, Deviation: 2.5 / h})
	}
	if s := Sensor(cuts); s.Same != 10 || s.Chance < told {
		t.Errorf("a sensor stuck at 2.5 under cuts of ten heights: %+v", s)
	}
}

// Simulated, seed 1: a sensor of few steps, most of whose readings are 0, is not
// stuck when eight or more of them come in a row, in 19 of 20 blades at least.
func TestCoarseSensorIsNotStuck(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 0))
	told := 0
	for range 400 {
		var values []float64
		for range 200 {
			values = append(values, math.Round(0.7*random.NormFloat64()))
		}
		values = append(values, 0, 0, 0, 0, 0, 0, 0, 0)
		if Sensor(read(values...)).Chance >= 0.9 {
			told++
		}
	}
	if told > 20 {
		t.Errorf("told as stuck on %d of 400 blades", told)
	}
}

func TestSensorCountsIdleTrips(t *testing.T) {
	cuts := read(1, 2, 3, 4, 5)
	cuts[1].Tripped = true
	cuts[2].Tripped, cuts[2].Idle = true, true
	cuts[4].Tripped, cuts[4].Idle = true, true
	cuts[0].Idle = true // a cut that was none, and no trip
	if s := Sensor(cuts); s.Idle != 2 || s.Trips != 3 || s.FirstIdle != 2 {
		t.Errorf("%+v, want 2 idle of 3 trips, the first at 2", s)
	}
}

// Whatever comes, counts and chance are sound.
func TestSensorProperties(t *testing.T) {
	odd := rapid.SampledFrom([]float64{0, 1, -1, 2.5, math.NaN(), math.Inf(1), math.Inf(-1), 1e300, 1e-300})
	rapid.Check(t, func(t *rapid.T) {
		var cuts []Cut
		for range rapid.IntRange(0, 60).Draw(t, "cuts") {
			cuts = append(cuts, Cut{Deviation: odd.Draw(t, "deviation"), Height: odd.Draw(t, "height"), Tripped: rapid.Bool().Draw(t, "trip"), Idle: rapid.Bool().Draw(t, "idle")})
		}
		s := Sensor(cuts)
		if !(s.Chance >= 0 && s.Chance <= 1) || s.Same > len(cuts) || s.Idle > s.Trips || s.SameSince >= len(cuts) || s.Same >= minSame && s.SameSince < 0 {
			t.Fatalf("%+v", s)
		}
	})
}
