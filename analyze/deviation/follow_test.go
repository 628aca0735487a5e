package deviation

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// usualPool is about what Learn finds on the model.
var usualPool = Pool{Noise: Noise{Cut: 0.25, Probe: 1}, Power: 2, LevelSD: 0.31, DriftSD: 0.022, Corr: 0.9, Scale: modelLimit, Blades: 12}

func follower(t testing.TB, p Pool, pace Standard) *Follower {
	t.Helper()
	f, err := NewFollower(p, pace)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func addAll(t testing.TB, f *Follower, cuts []Cut) {
	t.Helper()
	for i := range cuts {
		if _, err := f.Add(&cuts[i]); err != nil {
			t.Fatal(err)
		}
	}
}

// readings are cuts of 10 in², 10 in high, whose deviations lie off a line by a
// pattern without a trend.
func readings(n int, of func(i int) float64) (cuts []Cut) {
	pattern := []float64{0.12, -0.2, 0.05, -0.08, 0.25, -0.16, 0.1, -0.08}
	for i := range n {
		cuts = append(cuts, Cut{From: 10 * float64(i), Area: 10 * float64(i+1), Height: 10, Deviation: of(i) + pattern[i%len(pattern)], Face: 10, Seconds: 100, Grade: "A36"})
	}
	return cuts
}

// While nothing happens the likeliest account is the exact posterior but for what
// a wild reading would take of it: the weight a reading loses is at most
// chanceWild of it where it lies near.
func TestFollowerIsTheExactPosteriorWhileNothingHappens(t *testing.T) {
	f := follower(t, usualPool, Standard{})
	cuts := readings(200, func(i int) float64 { return 0.35 })
	var clocks, values, noise []float64
	for i := range cuts {
		clocks, values, noise = append(clocks, f.clock(cuts[i].Area, 0)), append(values, cuts[i].Deviation), append(noise, f.pool.Variance(10))
	}
	addAll(t, f, cuts)
	offset := offsetSD * modelLimit
	mean, cov := exact(t, &usualPool, offset*offset, clocks, values, noise)
	s := f.stories[f.best()]
	if s.saw != nil || s.blade != nil || s.fresh != nil || s.weight < 0.9 {
		t.Fatalf("the likeliest account is %+v, want that nothing happened", s)
	}
	close(t, "level", s.mean(), mean[0]+mean[1], 1e-3)
	close(t, "drift", s.drift, mean[2], 1e-2)
	close(t, "standard deviation of the level", math.Sqrt(s.variance()), math.Sqrt(cov[gg]+2*cov[gu]+cov[uu]), 1e-2)
	level := f.Level()
	close(t, "level of all accounts", level.Value, mean[0]+mean[1], 0.02)
	if spread := (level.High - level.Low) / 2 / z95; spread > 0.05 {
		t.Errorf("after 200 readings the level is known to %v", spread)
	}
}

// A reading far off moves the level by less than a fifth of the noise of one and
// is told as wild, a lasting change is followed within eight.
func TestWildReadings(t *testing.T) {
	for _, off := range []float64{2, 3, -4, 25, 1e5, -1e300} {
		f := follower(t, usualPool, Standard{})
		addAll(t, f, readings(100, func(int) float64 { return 0.4 }))
		before := f.Level().Value
		r, err := f.Add(&Cut{From: 1000, Area: 1001, Height: 10, Deviation: off})
		if err != nil || !r.Wild || f.now.wild != 1 {
			t.Errorf("a reading of %v is %+v (%v), %d in all, want it wild", off, r, err, f.now.wild)
		}
		if moved := math.Abs(f.Level().Value - before); moved > 0.2*math.Sqrt(usualPool.Variance(10)) {
			t.Errorf("a reading of %v moves the level by %v", off, moved)
		}
		for i := range 8 {
			addAll(t, f, []Cut{{From: 1004, Area: 1010 + float64(i), Height: 10, Deviation: 1.6}})
		}
		if l := f.Level().Value; math.Abs(l-1.6) > 0.15 {
			t.Errorf("after one of %v and 8 readings of 1.6 the level is %v", off, l)
		}
	}
}

// onto is the next blade of a follower, on the side given.
func onto(t testing.TB, f *Follower, side, off float64) {
	t.Helper()
	f.Fit(0)
	addAll(t, f, readings(300, func(i int) float64 { t := 0.01 * float64(i+1); return side*(0.3+0.0185*t*t) + off }))
}

// A step of the saw outlives the blades and is the saw's, dated to the cut; one of
// a blade leaves with it.
func TestStepsAreTheSawsOrTheBlades(t *testing.T) {
	step := func(t *testing.T) *Follower {
		f := follower(t, usualPool, Standard{})
		onto(t, f, 1, 0)
		f.Fit(0)
		addAll(t, f, readings(300, func(i int) float64 { return -0.3 + pick(i >= 200, 0, 0.9) }))
		return f
	}
	t.Run("nobody knows yet", func(t *testing.T) {
		f := step(t)
		saw, blade := f.SawOff(0.36), f.BladeStepped()
		if ratio := saw.Chance / blade.Chance; saw.Chance+blade.Chance+f.Unlogged().Chance < 0.99 || ratio < 2.5 || ratio > 3.5 {
			t.Errorf("a step is the saw's with %v and the blade's with %v, want three to one", saw.Chance, blade.Chance)
		}
		if saw.Since == nil || saw.Since.Cut < 496 || saw.Since.Cut > 504 || math.Abs(saw.Since.Area-2000) > 40 {
			t.Errorf("it is dated to %+v, want cut 500 at 2,000 in²", saw.Since)
		}
	})
	t.Run("the next blades stand off too", func(t *testing.T) {
		f := step(t)
		for k, side := range []float64{-1, 1, -1} {
			onto(t, f, side, 0.9)
			saw := f.SawOff(0.36)
			if saw.Chance < 0.95 || saw.Size.Low > 0.9 || saw.Size.High < 0.9 {
				t.Errorf("blade %d: the saw stands off with %v by %+v, want 0.9 for sure", k+1, saw.Chance, saw.Size)
			}
			if blade := f.BladeStepped(); blade.Chance > 0.02 {
				t.Errorf("blade %d is charged with %v", k+1, blade.Chance)
			}
		}
	})
	t.Run("the next blade does not", func(t *testing.T) {
		f := step(t)
		onto(t, f, 1, 0)
		onto(t, f, -1, 0)
		if saw, blade := f.SawOff(0.36), f.BladeStepped(); saw.Chance > 0.05 || blade.Chance > 0.05 {
			t.Errorf("the saw stands off with %v, the blade stepped with %v, want neither", saw.Chance, blade.Chance)
		}
	})
	t.Run("the saw is put right", func(t *testing.T) {
		f := step(t)
		for _, side := range []float64{-1, 1} {
			onto(t, f, side, 0.9)
		}
		onto(t, f, 1, 0)
		onto(t, f, -1, 0)
		if saw := f.SawOff(0.36); saw.Chance > 0.05 {
			t.Errorf("the saw stands off with %v by %+v after its repair", saw.Chance, saw.Size)
		}
	})
}

// A change of blade nobody logged shows in the readings and in the time of the
// cuts; where a person said that there was none it is no account at all.
func TestUnloggedChange(t *testing.T) {
	pace := Standard{Slow: 0.004, SD: 0.05, Power: 2, cells: map[cell]float64{cellOf(&Cut{Face: 10, Grade: "A36"}): math.Log(6)}}
	cuts := readings(700, func(i int) float64 {
		t := 0.01 * float64(i%400+1)
		return pick(i < 400, -1, 1) * (0.3 + 0.0185*t*t)
	})
	for i := range cuts {
		t := 0.01 * float64(i%400+1)
		cuts[i].Seconds = 100 * math.Exp(pace.Slow*t*t*4)
		cuts[i].Deviation += pick(i < 400, 0, 0.6) // the old blade was far off by then
	}
	pace.Slow *= 4
	run := func(same bool) Suspicion {
		f := follower(t, usualPool, pace)
		f.Fit(0)
		f.sameBlade = same
		addAll(t, f, cuts)
		return f.Unlogged()
	}
	if s := run(false); s.Chance < 0.9 || s.Since.Cut < 396 || s.Since.Cut > 410 {
		t.Errorf("the blade was changed with %v at %+v, want for sure at cut 400", s.Chance, s.Since)
	}
	if s := run(true); s.Chance != 0 {
		t.Errorf("a person said that it was not, and it was with %v", s.Chance)
	}
}

// The same cuts give the same accounts, and a cut without a reading moves the
// clock alone.
func TestFollowerIsDetermined(t *testing.T) {
	blade := newModel(4).blade()
	run := func() *Follower {
		f := follower(t, usualPool, Standard{})
		for i := range blade.Cuts {
			c := blade.Cuts[i]
			if i%3 == 0 {
				c.Deviation = math.NaN()
			}
			addAll(t, f, []Cut{c})
		}
		return f
	}
	a, b := run(), run()
	if a.Level() != b.Level() || len(a.stories) != len(b.stories) || a.Until(modelLimit).Window() != b.Until(modelLimit).Window() {
		t.Errorf("%+v and %+v", a.Level(), b.Level())
	}
	if a.cuts != len(blade.Cuts) || a.now.readings != len(blade.Cuts)-(len(blade.Cuts)+2)/3 {
		t.Errorf("%d cuts and %d readings of %d", a.cuts, a.now.readings, len(blade.Cuts))
	}
}

func TestFollowerRefuses(t *testing.T) {
	for name, spoil := range map[string]func(*Pool){
		"no noise":             func(p *Pool) { p.Noise = Noise{} },
		"a power of 0":         func(p *Pool) { p.Power = 0 },
		"no spread of levels":  func(p *Pool) { p.LevelSD = 0 },
		"a drift that is NaN":  func(p *Pool) { p.DriftSD = math.NaN() },
		"a scale without end":  func(p *Pool) { p.Scale = math.Inf(1) },
		"a noise that is none": func(p *Pool) { p.Cut = math.NaN() },
	} {
		p := usualPool
		spoil(&p)
		if _, err := NewFollower(p, Standard{}); err == nil {
			t.Errorf("a pool with %s was taken", name)
		}
	}
	f := follower(t, usualPool, Standard{})
	addAll(t, f, readings(10, func(int) float64 { return 0 }))
	for _, area := range []float64{99, -1, math.NaN(), math.Inf(1)} {
		if _, err := f.Add(&Cut{Area: area}); err == nil {
			t.Errorf("an area of %v after 100 was taken", area)
		}
	}
}

// Nothing a saw may send panics or leaves a weight, a level or an outlook that is
// no number.
func TestFollowerProperties(t *testing.T) {
	odd := []float64{0, 1, -1, 1e300, -1e300, 1e-300, math.NaN(), math.Inf(1), math.Inf(-1), 1e9}
	number := rapid.OneOf(rapid.SampledFrom(odd), rapid.Float64Range(-5, 5))
	pace := NewStandard(newModel(1).past(3), 2)
	rapid.Check(t, func(t *rapid.T) {
		f, err := NewFollower(usualPool, pace)
		if err != nil {
			t.Fatal(err)
		}
		area := 0.0
		for range rapid.IntRange(1, 80).Draw(t, "cuts") {
			if rapid.IntRange(0, 19).Draw(t, "change") == 0 {
				area = rapid.Float64Range(0, 1e4).Draw(t, "cut elsewhere")
				f.Fit(area)
			}
			area += math.Abs(rapid.OneOf(rapid.Float64Range(-10, 60), rapid.SampledFrom([]float64{0, 1e6})).Draw(t, "on"))
			c := Cut{
				Area: area, Deviation: number.Draw(t, "deviation"), Height: number.Draw(t, "height"),
				Face: number.Draw(t, "face"), Seconds: number.Draw(t, "seconds"), Grade: "A992",
			}
			if _, err := f.Add(&c); err != nil {
				t.Fatal(err)
			}
		}
		if total := f.total(); math.Abs(total-1) > 1e-9 {
			t.Fatalf("the weights come to %v", total)
		}
		if l := f.Level(); math.IsNaN(l.Low+l.Value+l.High) || !(l.Low <= l.Value && l.Value <= l.High) {
			t.Fatalf("the level is %+v", l)
		}
		w := f.Until(modelLimit).Window()
		if !slices.IsSorted([]float64{0, w.Q10, w.Q50, w.Q90}) {
			t.Fatalf("the window is %+v", w)
		}
		for _, s := range []Suspicion{f.SawOff(0.36), f.BladeStepped(), f.Unlogged()} {
			if !(s.Chance >= 0 && s.Chance <= 1+1e-9) {
				t.Fatalf("a chance of %v", s.Chance)
			}
		}
	})
}

// The wear clock is the power it stands for, by square roots and by logarithms, of a
// fresh blade and over any area.
func TestWearClock(t *testing.T) {
	for _, power := range []float64{0.25, 0.5, 0.75, 1, 1.25, 1.5, 1.75, 2, 2.25, 3, 3.75, 4, 4.25, 1.37, 0.1, 9} {
		for _, x := range []float64{0, 1e-9, 0.001, 0.3, 1, 1.7, 12, 480} {
			if got, want := wearClock(x, power), math.Pow(x, power); math.Abs(got-want) > 1e-13*want {
				t.Errorf("%v^%v: got %v, want %v", x, power, got, want)
			}
		}
	}
	if got := wearClock(math.NaN(), 1.5); !math.IsNaN(got) {
		t.Errorf("of no number: got %v", got)
	}
}
