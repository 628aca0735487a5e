package deviation

import (
	"fmt"
	"math"
	"slices"
)

// Follower follows the deviation of one saw, cut by cut and blade by blade, and
// tells what belongs to the saw from what belongs to its blades. It keeps a few
// accounts of what has happened beside each other, each with its chance: nothing
// sudden; the saw stepped at some cut, and stays there whatever blade is on; the
// blade stepped, and takes the step along when it goes; the blade was changed and
// nobody said so. Each reading shifts the chances, and the next blade decides
// between saw and blade. A reading costs the same however many came before.
//
// Source: multi-process models, Harrison and Stevens 1976, J. R. Statist. Soc. B
// 38:205; their use to tell a change of level from an outlier as it happens,
// Smith and West 1983, Biometrics 39:867 [both from memory].
type Follower struct {
	pool    Pool
	pace    Standard
	stories []story
	area    float64 // of the blade now
	cuts    int     // with or without a reading
	now     onBlade
	faces   running // area on the clock of a cut, of late
	sudden  int     // trips that nothing before them foretold
	worn    float64 // area cut on the clock, all blades

	spread    float64 // variance of the last reading's forecast
	sameBlade bool    // a person said so: no change went unlogged
}

// onBlade is what was read on the blade that is on.
type onBlade struct {
	cuts, readings, wild int
	pace                 running // ln in²/min beside the standard, wear allowed for
}

// The chances of sudden events (our choice; steps that go with a change of blade are
// commoner, for then the machine was open). A step is the saw's three times
// in four: teeth that go at once strip, and the blade comes off, while a guide,
// an arm or a vise that moved lets the cut run on.
const (
	chanceSaw       = 5e-5 // a cut
	chanceBlade     = 1.7e-5
	chanceFresh     = 1e-5
	chanceSawAtFit  = 0.01  // a change of blade
	chanceRight     = 0.05  // a change of blade, of a saw that plainly stands off
	chanceWild      = 0.01  // a reading
	spawnEvery      = 6     // cuts
	maxOfSort       = 4     // accounts, no longer young, whose last event is of one sort
	young           = 24    // cuts since its last event
	paceSD          = 2     // times that from cut to cut: saws are set and slow down for other reasons
	offsetSD        = 0.05  // of the scale: how far a saw that nobody has seen may stand off
	stepSD          = 0.4   // of the scale: how far a saw or a blade steps
	wildSD          = 1.5   // of the scale: how far off a wild reading lies
	absurd          = 100.0 // standard deviations: a unit mistaken or a sensor gone
	wild            = 3.0   // standard deviations beyond which a reading is told as wild
	averageOverCuts = 50
)

// NewFollower begins with a saw of which nothing is known but the habits of its
// blades. It fails on a pool that Learn would not make.
func NewFollower(p Pool, pace Standard) (*Follower, error) {
	for _, x := range []float64{p.Noise.Cut + p.Noise.Probe, p.Power, p.LevelSD, p.DriftSD, p.Scale} {
		if !(x > 0) || math.IsInf(x, 0) {
			return nil, fmt.Errorf("following a saw: the pool is %+v: want numbers above 0", p)
		}
	}
	f := &Follower{pool: p, pace: pace, stories: []story{{weight: 1}}, faces: running{over: averageOverCuts}}
	f.stories[0].cov[gg] = offsetSD * offsetSD * p.Scale * p.Scale
	f.fit(0)
	return f, nil
}

// Fit hangs another blade, that has cut area in² elsewhere before.
func (f *Follower) Fit(area float64) {
	total := f.total()
	for i := range f.stories {
		f.stories[i].weight /= total
	}
	// Accounts that differ in the blade that is gone tell the same from now on.
	kept := f.stories[:0]
	for _, s := range f.stories {
		same := slices.IndexFunc(kept, func(k story) bool { return k.saw == s.saw })
		s.fit(&f.pool, 0)
		if same < 0 {
			kept = append(kept, s)
			continue
		}
		kept[same].merge(s)
	}
	f.stories = kept
	f.spawnSaw(chanceSawAtFit)
	f.spawnRight()
	f.fit(area)
}

// fit begins the blade's own counts and lets the clocks run to what it has cut.
func (f *Follower) fit(area float64) {
	for i := range f.stories {
		s := &f.stories[i]
		s.fit(&f.pool, 0)
		s.move(f.clock(area, 0), f.pool.Wander)
	}
	f.area, f.now = area, onBlade{pace: running{over: averageOverCuts}}
}

// clock is the wear clock at an area of a blade fresh at from.
func (f *Follower) clock(area, from float64) float64 {
	return wearClock(math.Max(0, area-from)/PerArea, f.pool.Power)
}

// wearClock is x^power, x of 0 or more and the power above 0. It is asked for by each
// account at each cut: the quarters that a pool learns come by square roots, in a fifth
// of the time of math.Pow, any others by logarithms, in half of it.
func wearClock(x, power float64) float64 {
	quarters := int(4 * power)
	if float64(quarters) != 4*power || power > 4 {
		return math.Exp(power * math.Log(x))
	}
	y := 1.0
	if quarters&1 != 0 {
		y = math.Sqrt(math.Sqrt(x))
	}
	if quarters&2 != 0 {
		y *= math.Sqrt(x)
	}
	for ; quarters >= 4; quarters -= 4 {
		y *= x
	}
	return y
}

// total is the sum of the weights.
func (f *Follower) total() (sum float64) {
	for i := range f.stories {
		sum += f.stories[i].weight
	}
	return sum
}

// best is the index of the likeliest account.
func (f *Follower) best() (best int) {
	for i := range f.stories {
		if f.stories[i].weight > f.stories[best].weight {
			best = i
		}
	}
	return best
}

// spawnSaw adds the account that the saw stepped just now.
func (f *Follower) spawnSaw(chance float64) {
	s := f.stories[f.best()]
	s.weight *= chance
	s.cov[gg] += f.step()
	s.saw = f.event()
	f.stories = append(f.stories, s)
}

// spawnRight adds the account that a saw that stands off was put right while it
// was open.
func (f *Follower) spawnRight() {
	s := f.stories[f.best()]
	if off := math.Abs(s.offset); off < leastOff*f.pool.Scale || off < wild*math.Sqrt(s.cov[gg]) {
		return
	}
	s.weight *= chanceRight
	s.offset, s.cov[gg] = 0, offsetSD*offsetSD*f.pool.Scale*f.pool.Scale
	s.saw = f.event()
	f.stories = append(f.stories, s)
}

func (f *Follower) step() float64 { return stepSD * stepSD * f.pool.Scale * f.pool.Scale }

func (f *Follower) event() *Event { return &Event{Cut: f.cuts, Area: f.area} }

// spawn adds the accounts that something happened just before the next cuts.
func (f *Follower) spawn() {
	parent := f.stories[f.best()]
	f.spawnSaw(spawnEvery * chanceSaw)
	blade := parent
	blade.weight *= spawnEvery * chanceBlade
	blade.cov[uu] += f.step()
	blade.blade = f.event()
	f.stories = append(f.stories, blade)
	if !f.sameBlade {
		fresh := parent
		fresh.weight *= spawnEvery * chanceFresh
		fresh.fit(&f.pool, f.area)
		fresh.fresh, fresh.pace = f.event(), f.now.pace
		f.stories = append(f.stories, fresh)
	}
	f.prune()
}

// prune keeps the likeliest accounts of each sort, and every one that is young: a
// step shows only some cuts after it, and a change of blade nobody logged only
// once the blade is run in, when many an idle step would have crowded it out.
func (f *Follower) prune() {
	for {
		i := f.tooMany()
		if i < 0 {
			return
		}
		f.stories = slices.Delete(f.stories, i, i+1)
	}
}

// tooMany is the index of the least likely account of a sort of which there are too
// many, the last one of several; -1 where no sort has.
func (f *Follower) tooMany() int {
	var n, least [sorts]int
	for i := range f.stories {
		sort, last := f.stories[i].sort()
		if f.cuts-last < young {
			continue
		}
		if n[sort]++; n[sort] == 1 || f.stories[i].weight <= f.stories[least[sort]].weight {
			least[sort] = i
		}
	}
	for sort := range sorts {
		if n[sort] > maxOfSort {
			return least[sort]
		}
	}
	return -1
}

// Reading is what a reading was to those before it.
type Reading struct {
	Off  float64 // how many standard deviations it lay off its forecast
	Wild bool
}

// Add takes the next cut of the saw. A cut whose deviation is not known moves
// the clock alone. It fails on an area that is no number or less than the last.
func (f *Follower) Add(c *Cut) (Reading, error) {
	if !(c.Area >= f.area) || math.IsInf(c.Area, 0) {
		return Reading{}, fmt.Errorf("deviation of a cut: area %v after %v: want a number, no less", c.Area, f.area)
	}
	if f.now.cuts%spawnEvery == 0 {
		f.spawn()
	}
	f.faces.add(c.Area - f.area)
	f.worn += c.Area - f.area
	f.area = c.Area
	f.cuts++
	f.now.cuts++
	whole := f.clock(c.Area, 0)
	for i := range f.stories {
		s, at := &f.stories[i], whole
		if s.from > 0 {
			at = f.clock(c.Area, s.from)
		}
		s.move(at-s.clock, f.pool.Wander)
	}
	f.weighPace(c, whole)
	if !c.known() {
		f.settle()
		return Reading{}, nil
	}
	f.now.readings++
	r := f.forecast(c)
	noise := f.pool.Variance(c.Height)
	// How likely a wild reading is hardly depends on the account.
	far := wildSD * f.pool.Scale
	bad := chanceWild * normalDensity(r.Off*math.Sqrt(f.spread), f.spread+far*far)
	if math.Abs(r.Off) > absurd {
		f.settle()
		return r, nil // no account has anything to say of it
	}
	for i := range f.stories {
		s := &f.stories[i]
		miss, variance := c.Deviation-s.mean(), s.variance()+noise
		good := (1 - chanceWild) * normalDensity(miss, variance)
		s.weight *= good + bad
		if good > 1e-6*(good+bad) {
			// A reading that may be wild teaches as much less.
			s.learn(miss, variance+noise*bad/good)
		}
	}
	f.settle()
	return r, nil
}

// weighPace holds the time of a cut against the accounts in which the blade was
// changed: a new blade would cut as much faster as its forerunner was slowed by
// wear beside what it was before, all others go on as of late. The first in² of a new blade say
// nothing, for it may be run in.
func (f *Follower) weighPace(c *Cut, whole float64) {
	off, ok := f.pace.Off(c)
	if !ok {
		return
	}
	slow, sd := f.pace.Slow, paceSD*f.pace.SD
	even := off + slow*whole
	for i := range f.stories {
		s := &f.stories[i]
		if s.fresh == nil || c.Area-s.from < runIn || s.pace.n < minCell {
			continue
		}
		faster := slow * (whole - s.clock)
		as, with := (even-f.now.pace.mean)/sd, (even-s.pace.mean-faster)/sd
		s.weight *= math.Exp(math.Max(-chartClip, math.Min(chartClip, (as*as-with*with)/2)))
	}
	if c.Area > runIn {
		f.now.pace.add(even)
	}
}

// settle brings the weights back to a sum of 1 and drops what has none. Where
// none is left, no account is likelier than another.
func (f *Follower) settle() {
	const none = 1e-12
	total, least := f.total(), 1.0
	for i := range f.stories {
		s := &f.stories[i]
		if s.weight /= total; !(total > 0) {
			s.weight = 1 / float64(len(f.stories))
		}
		least = min(least, s.weight)
	}
	if least < none {
		f.stories = slices.DeleteFunc(f.stories, func(s story) bool { return s.weight < none })
	}
}

// forecast holds a reading against what the accounts foretell together.
func (f *Follower) forecast(c *Cut) Reading {
	level, variance := f.mixture()
	f.spread = variance + f.pool.Variance(c.Height)
	off := (c.Deviation - level) / math.Sqrt(f.spread)
	r := Reading{Off: off, Wild: math.Abs(off) > wild}
	if r.Wild {
		f.now.wild++
		if c.Tripped {
			f.sudden++
		}
	}
	return r
}

// mixture is mean and variance of the level over all accounts.
func (f *Follower) mixture() (level, variance float64) {
	for i := range f.stories {
		level += f.stories[i].weight * f.stories[i].mean()
	}
	for i := range f.stories {
		s := &f.stories[i]
		d := s.mean() - level
		variance += s.weight * (s.variance() + d*d)
	}
	return level, variance
}

// running is a mean over about the last values, exact while they are few.
type running struct {
	over, n int
	mean    float64
}

func (r *running) add(x float64) {
	r.n = min(r.n+1, r.over)
	r.mean += (x - r.mean) / float64(r.n)
}
