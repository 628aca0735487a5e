package deviation

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Over 12 saws of 12 blades the habits are found that the model has: a cut
// wanders by 0.25, the probe errs by 1, wear goes by the square of the area, and a
// blade leads off by 0.3·LogN(0, 0.25) to either side, whose root mean square is
// 0.3·exp(0.0625) = 0.319; level and drift go together but for the lives.
func TestPoolIsRecovered(t *testing.T) {
	n := 12
	var cut, probe, power, level, corr, drift float64
	for seed := range uint64(n) {
		p, ok := Learn(newModel(seed).past(12), modelLimit)
		if !ok || p.Blades != 12 {
			t.Fatalf("learned %+v (%v)", p, ok)
		}
		for _, s := range []struct {
			sum *float64
			of  float64
		}{{&cut, p.Cut}, {&probe, p.Probe}, {&power, p.Power}, {&level, p.LevelSD}, {&corr, p.Corr}, {&drift, p.DriftSD}} {
			*s.sum += s.of / float64(n)
		}
		if p.Wander > 0.02 || p.Power < 1.5 || p.Power > 2.5 {
			t.Errorf("seed %d: power %v and wander %v, want about 2 and none", seed, p.Power, p.Wander)
		}
	}
	// 1.5·(1000/9000)², the spread of sides and lives with it: exp(0.0625+2·0.18²).
	wantDrift := 1.5 / 81 * math.Exp(0.0625+4*0.18*0.18)
	for _, c := range []struct {
		what              string
		got, want, within float64
	}{
		{"wander of a cut", cut, 0.25, 0.01}, {"error of the probe", probe, 1, 0.1}, {"power", power, 2, 0.1},
		{"level of new blades", level, 0.319, 0.03}, {"drift", drift, wantDrift, 0.004}, {"correlation", corr, 0.9, 0.08},
	} {
		if math.Abs(c.got-c.want) > c.within {
			t.Errorf("the %s is %.4f, want %.4f", c.what, c.got, c.want)
		}
	}
}

// Few blades stay near what is usual, and none at all is the usual.
func TestPoolOfFewBlades(t *testing.T) {
	none, ok := Learn(nil, modelLimit)
	if !ok {
		t.Fatal("with a limit nothing is learned")
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"noise", none.Cut, modelLimit / 12}, {"error of the probe", none.Probe, 0}, {"power", none.Power, 1.5}, {"wander", none.Wander, 0},
		{"level", none.LevelSD, 0.15 * modelLimit}, {"drift", none.DriftSD, 0.7 * modelLimit / math.Pow(8, 1.5)},
		{"correlation", none.Corr, 0.8}, {"scale", none.Scale, modelLimit}, {"count", float64(none.Blades + none.Cuts), 0},
	} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("of no blade the %s is %v, want %v", c.what, c.got, c.want)
		}
	}
	// A first blade that leads off by three times as much as any counts for half.
	odd := scattered(2, 1, 400, Noise{Cut: 0.25, Probe: 1}, shapeHeights)
	for i := range odd[0] {
		odd[0][i].Deviation += 1.5
	}
	one, _ := Learn(odd, modelLimit)
	if one.Blades != 1 || one.LevelSD < 0.15*modelLimit || one.LevelSD > 1.8/math.Sqrt2+0.15*modelLimit {
		t.Errorf("of one blade at 1.8 the pool is %+v", one)
	}
	if got, ok := Learn(nil, math.NaN()); ok {
		t.Errorf("of no blade and no limit the pool is %+v", got)
	}
	short := scattered(2, 4, minLearned-1, Noise{Cut: 0.25}, shapeHeights)
	if p, _ := Learn(short, modelLimit); p.Blades != 0 || math.Abs(p.LevelSD-0.15*modelLimit) > 1e-12 {
		t.Errorf("of blades with 15 readings the pool is %+v, want the noise alone", p)
	}
	if p, ok := Learn(scattered(2, 4, 200, Noise{Cut: 0.25}, shapeHeights), math.NaN()); !ok || math.Abs(p.Scale-1.5) > 0.2 {
		t.Errorf("without a limit the scale is %v (%v), want 6 times 0.25", p.Scale, ok)
	}
}

// A guide fault on a third of the blades, three times their usual level, does not
// double the spread of levels, does not move that of drifts, and on the mean of 12
// saws leaves level and drift together.
func TestPoolOfAFaultySaw(t *testing.T) {
	together := 0.0
	for seed := range uint64(12) {
		list := newModel(seed).past(12)
		sound, _ := Learn(list, modelLimit)
		for k := 8; k < 12; k++ {
			for i := range list[k] {
				list[k][i].Deviation += 0.9
			}
		}
		p, _ := Learn(list, modelLimit)
		together += p.Corr / 12
		if p.LevelSD > 1.7*sound.LevelSD || math.Abs(p.DriftSD/sound.DriftSD-1) > 0.01 || math.Abs(p.Cut-sound.Cut) > 1e-9 {
			t.Errorf("seed %d: with a fault on four of twelve blades %+v, without %+v", seed, p, sound)
		}
	}
	if together < 0.75 {
		t.Errorf("the correlation is %.3f on the mean, want about 0.9", together)
	}
}

// In another unit the pool is the same one, and whatever comes it is one that a follower takes.
func TestPoolProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := newModel(rapid.Uint64Range(0, 1<<40).Draw(t, "seed")).past(3)
		a, _ := Learn(list, modelLimit)
		unit := rapid.Float64Range(1e-6, 1e6).Draw(t, "unit")
		for _, cuts := range list {
			for i := range cuts {
				cuts[i].Deviation *= unit
			}
		}
		b, _ := Learn(list, unit*modelLimit)
		for _, c := range [][2]float64{{b.Cut, a.Cut * unit}, {b.LevelSD, a.LevelSD * unit}, {b.DriftSD, a.DriftSD * unit}, {b.Wander, a.Wander * unit}, {b.Power, a.Power}, {b.Corr, a.Corr}} {
			if math.Abs(c[0]-c[1]) > 1e-6*math.Max(math.Abs(c[1]), 1e-12*unit) {
				t.Fatalf("%+v, in a unit of %v %+v", a, unit, b)
			}
		}
	})
	odd := rapid.OneOf(rapid.SampledFrom([]float64{0, 1, math.NaN(), math.Inf(1), 1e9, 1e-6, -1}), rapid.Map(rapid.IntRange(-500, 500), func(i int) float64 { return float64(i) / 100 }))
	rapid.Check(t, func(t *rapid.T) {
		var list [][]Cut
		for range rapid.IntRange(0, 4).Draw(t, "blades") {
			var cuts []Cut
			area := 0.0
			for range rapid.IntRange(0, 40).Draw(t, "cuts") {
				area += rapid.SampledFrom([]float64{0, 1, 12, 1e4}).Draw(t, "face")
				cuts = append(cuts, Cut{Area: area, Deviation: odd.Draw(t, "deviation"), Height: odd.Draw(t, "height")})
			}
			list = append(list, cuts)
		}
		if p, ok := Learn(list, odd.Draw(t, "limit")); ok {
			if _, err := NewFollower(p, Standard{}); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// Blades pulled at 30 to 50 % of their life leave open how wear goes on: the power is
// not drawn to one side, and others stay in the running with their weights.
func TestEarlyPulledBladesLeaveThePowerOpen(t *testing.T) {
	sum, open := 0.0, 0
	const seeds = 30
	for seed := range uint64(seeds) {
		m := newModel(seed)
		past := m.past(8)
		for i, cuts := range past {
			n := 0
			for n < len(cuts) && cuts[n].Area < m.life*(0.3+0.025*float64(i)) {
				n++
			}
			past[i] = cuts[:n]
		}
		p, _ := Learn(past, modelLimit)
		sum += p.Power
		pools, weights := p.Likely()
		total := 0.0
		for i, w := range weights {
			total += w
			if (pools[i].Power == p.Power) != (i == 0) || !(pools[i].DriftSD > 0) {
				t.Errorf("pool %d is %+v beside %+v", i, pools[i], p)
			}
		}
		if math.Abs(total-1) > 1e-9 {
			t.Errorf("weights sum to %v", total)
		}
		if weights[0] < 0.9 {
			open++
		}
	}
	if mean := sum / seeds; mean < 1.7 || mean > 2.3 {
		t.Errorf("the mean power is %.2f, want near the model's 2", mean)
	}
	if open < seeds*2/3 {
		t.Errorf("the power is taken for known on %d of %d saws", seeds-open, seeds)
	}
}
