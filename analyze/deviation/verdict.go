package deviation

import (
	"math"
	"slices"
	"sync"
	"time"
)

const (
	// leastOff is the part of the scale that a saw must stand off to be told.
	leastOff = 0.15
	// surely is the chance from which on something sudden has happened on this blade.
	surely = 0.95
	// leastRise is the part of the scale that wear must have carried a blade to be told.
	leastRise = 0.1
	// minBlades is the fewest past blades from which a new one is known.
	minBlades = 3
	// minSettled is the fewest readings of a blade that settles the charts of the next.
	minSettled = 60
	// minSince is the fewest readings since something sudden that tell of it.
	minSince = 8
	// startsTold is how many new blades' levels are told with a finding, at most.
	startsTold = 5
)

// follow runs a follower over the fittings and reads the level, the outlook and what
// it finds on some cuts from it; false where the saw cannot be followed. What shows on some cuts only is taken off the last fittings
// before they are followed; where the blade was changed and nobody said so, it is
// looked for on either blade by itself, for a new blade would look like an effect.
func (s *study) follow() (v verdict, followed bool) {
	last := max(0, len(s.Fittings)-contrastFittings)
	f, fresh, err := s.run(s.Fittings)
	if err != nil {
		s.WhyLevel = err.Error()
		return v, false
	}
	v = verdict{study: s, f: f, at: newIndex(s.Fittings)}
	tail := s.Fittings[last:]
	unlogged, changed := v.unlogged()
	if changed {
		tail = split(tail, f.Unlogged().Since.Cut-v.at.last())
		s.Findings = append(s.Findings, unlogged)
	}
	found, rest := s.pool.effects(tail, &s.pace)
	s.Findings = append(s.Findings, found...)
	s.alternates(tail)
	s.turns()
	if len(found) > 0 && !changed {
		fittings := append(append([]Fitting{}, s.Fittings[:last]...), rest...)
		if f, fresh, err = s.run(fittings); err != nil {
			s.WhyLevel = err.Error()
			return v, false
		}
		v = verdict{study: s, f: f, at: newIndex(fittings)}
	}
	level := f.Level()
	s.Level, s.Wild = &level, f.now.wild
	s.outlook(fresh, v.at.fittings[len(v.at.fittings)-1].Cuts)
	return v, true
}

// run follows all cuts of some fittings and charts those of the last. Fresh is how it
// stood when the last was hung.
func (s *study) run(fittings []Fitting) (f, fresh *Follower, err error) {
	if f, err = NewFollower(s.pool, s.pace); err != nil {
		return nil, nil, err
	}
	base := Baseline{Sigma: 1, Low: -3, High: 3}
	var offs []float64
	s.Settled = ""
	for k := range fittings {
		if b, err := settled(offs); err == nil && fittings[k-1].Type == s.on.Type {
			base, s.Settled = b, fittings[k-1].Blade
		}
		if k > 0 {
			s.wasOff = f.SawOff(leastOff * s.pool.Scale).Chance
		}
		f.Fit(fittings[k].start())
		// Without times a change that nobody logged cannot be told from a step.
		f.sameBlade = fittings[k].Same || s.pace.SD == 0
		fresh = f.clone()
		offs = offs[:0]
		for i := range fittings[k].Cuts {
			r, err := f.Add(&fittings[k].Cuts[i])
			if err != nil {
				return nil, nil, err
			}
			if fittings[k].Cuts[i].known() {
				offs = append(offs, r.Off)
			}
		}
	}
	if c, err := RunCharts(base, offs); err == nil {
		s.Chart = &c
	}
	return f, fresh, nil
}

// split makes two of the last fitting at its cut i, the second of a new blade.
func split(fittings []Fitting, i int) []Fitting {
	out := slices.Clone(fittings)
	old := &out[len(out)-1]
	if i <= 0 || i >= len(old.Cuts) {
		return out
	}
	fresh := *old
	fresh.Cuts = slices.Clone(old.Cuts[i:])
	area := fresh.Cuts[0].From
	for k := range fresh.Cuts {
		fresh.Cuts[k].From -= area
		fresh.Cuts[k].Area -= area
	}
	old.Cuts = old.Cuts[:i]
	return append(out, fresh)
}

// settled is the baseline that a blade gives the charts of the next: what was left
// of its readings beside their forecasts once it was run in.
func settled(offs []float64) (Baseline, error) {
	if len(offs) < minSettled {
		return Baseline{}, ErrTooFewPoints
	}
	b, err := RobustBaseline(offs[len(offs)/5:])
	if err != nil {
		return Individuals(offs[len(offs)/5:]) // most neighbours are equal: a coarse sensor
	}
	return b, nil
}

// outlook is when the saw will trip. It goes by a blade that leads to a side: what is
// to come hangs on how far blades do, while whose a step is is judged without
// believing so much of them.
func (s *study) outlook(fresh *Follower, cuts []Cut) {
	limits := s.Limits
	if len(limits) == 0 {
		limits = []float64{s.Limit}
	}
	o := s.average(fresh, cuts, limits)
	if o == nil {
		s.WhyReach = "the trip limit of the saw is not known"
		s.WhyOdds = s.WhyReach
		return
	}
	w := o.Window()
	s.Reach, s.Outlook = &w, o
	if !(s.Shift > 0) {
		s.WhyOdds = "what a shift cuts on this saw is not known"
		return
	}
	s.Odds = o.Chance(s.Shift)
}

// average is the outlook over all powers of the wear clock that may be right. By each
// the blade is followed anew from where the saw stood: what that stands off hardly
// hangs on how its blades wear.
func (s *study) average(fresh *Follower, cuts []Cut, limits []float64) *Outlook {
	pools, weights := s.pool.Likely()
	all := make([]*Outlook, len(pools))
	var beside sync.WaitGroup
	for i := range pools {
		beside.Go(func() {
			f := fresh.sided(&pools[i])
			for k := range cuts {
				_, _ = f.Add(&cuts[k]) // run has added them before
			}
			all[i] = f.Until(limits...)
		})
	}
	if beside.Wait(); slices.Contains(all, nil) {
		return nil
	}
	return mixed(all, weights)
}

// alternates lays readings that go to either side in turn to the guides.
func (s *study) alternates(fittings []Fitting) {
	if c := s.pool.alternates(fittings); c.Chance >= told {
		s.Findings = append(s.Findings, Finding{
			Kind: GuideGap, Since: fittings[0].Start, Area: math.NaN(), Chance: c.Chance,
			Facts: []Fact{fact(FactAlternate, c.Effect, c.With, "")},
		})
	}
}

// turns lays what comes back with each turn of the band to the blade, and with
// each turn of a wheel to the saw.
func (s *study) turns() {
	for _, part := range []struct {
		name  string
		round float64
		kind  Kind
	}{{TurnBand, s.Band, BladeWear}, {TurnWheel, s.Wheel, SawAlignment}} {
		t := s.pool.Turns(s.on.Cuts, part.round)
		if t.Chance < told || t.Size < leastTurn*s.pool.Scale {
			continue
		}
		s.Findings = append(s.Findings, Finding{
			Kind: part.kind, Since: s.on.Start, Area: math.NaN(), Chance: t.Chance,
			Facts: []Fact{plainFact(FactTurn, t.Size, t.Readings, part.name)},
		})
	}
}

// index finds the fitting and the cut that an event of a follower names.
type index struct {
	fittings []Fitting
	starts   []int
}

func newIndex(fittings []Fitting) index {
	x := index{fittings: fittings}
	n := 0
	for _, f := range fittings {
		x.starts = append(x.starts, n)
		n += len(f.Cuts)
	}
	return x
}

// last is the number of cuts before the last fitting.
func (x index) last() int { return x.starts[len(x.starts)-1] }

// of is the time of an event, and how many changes of blade came after it.
func (x index) of(e *Event) (at time.Time, changes int) {
	k := len(x.starts) - 1
	for k > 0 && x.starts[k] > e.Cut {
		k--
	}
	if i := e.Cut - x.starts[k]; i < len(x.fittings[k].Cuts) {
		at = x.fittings[k].Cuts[i].At
	}
	return at, len(x.starts) - 1 - k
}

// verdict reads the findings from a follower that has seen all cuts.
type verdict struct {
	*study
	f  *Follower
	at index
}

// onBlade is the chance that something sudden happened on the blade that is on.
func (v *verdict) onBlade() (sum float64) {
	start := v.at.last()
	for i := range v.f.stories {
		s := &v.f.stories[i]
		if s.saw != nil && s.saw.Cut > start || s.blade != nil || s.fresh != nil {
			sum += s.weight
		}
	}
	return sum
}

// saw finds that the saw stands off: for sure, or most likely where something
// sudden has happened and no other blade has been on since.
func (v *verdict) saw() {
	off := v.f.SawOff(leastOff * v.pool.Scale)
	sudden := v.onBlade()
	// What was told of the blade before stands until a new one makes it unlikely.
	before := v.wasOff >= lasting && off.Chance >= leaning
	if off.Chance < told && !before && !(sudden >= surely && off.Chance >= leaning) {
		return
	}
	f := Finding{Kind: SawAlignment, Area: math.NaN(), Chance: off.Chance}
	changes := len(v.at.starts) - 1
	if off.Since != nil {
		f.Since, changes = v.at.of(off.Since)
		if changes == 0 {
			f.Area = off.Since.Area
		}
	}
	if changes == 0 && (v.pool.Blades < minBlades || v.readingsSince(off.Since) < minSince) {
		return // a new sort of blade may lead off as far, and a few cuts may be wild
	}
	f.Facts = append(f.Facts, fact(FactOffset, off.Size, len(v.at.starts), ""), plainFact(FactSurvived, math.NaN(), changes, ""))
	if off.Chance < told && changes == 0 {
		f.Facts = append(f.Facts, plainFact(FactStep, v.f.BladeStepped().Chance, 0, ""))
	}
	f.Facts = append(f.Facts, v.levels(changes)...)
	v.Findings = append(v.Findings, f)
}

// readingsSince counts the readings of the blade that is on after an event.
func (v *verdict) readingsSince(e *Event) (n int) {
	from := 0
	if e != nil {
		from = max(0, e.Cut-v.at.last())
	}
	cuts := v.at.fittings[len(v.at.fittings)-1].Cuts
	for i := from; i < len(cuts); i++ {
		if cuts[i].known() {
			n++
		}
	}
	return n
}

// levels are those of the new blades since an event and of as many before.
func (v *verdict) levels(changes int) (list []Fact) {
	n := len(v.at.fittings)
	for k := max(0, n-min(startsTold, 2*changes+1)); k < n; k++ {
		b := newBins(v.at.fittings[k].Cuts, v.pool.Noise)
		if l, ok := b.line(v.pool.Power); ok && b.readings >= minLearned {
			list = append(list, fact(FactStart, normalEstimate(l.level, l.levelVar), b.readings, v.at.fittings[k].Blade))
		}
	}
	return list
}

// unlogged finds a change of blade that nobody logged: readings come nearer to
// square at once, and cuts get faster as with a new blade.
func (v *verdict) unlogged() (f Finding, found bool) {
	s := v.f.Unlogged()
	if !(s.Chance >= told) || v.pool.Blades < minBlades || v.pace.SD == 0 {
		return f, false
	}
	start := v.at.last()
	cuts := v.at.fittings[len(v.at.fittings)-1].Cuts
	before, after := cuts[:s.Since.Cut-start], cuts[s.Since.Cut-start:]
	drop, slow := v.drop(before, after)
	faster, n := faster(before, after, v.pace, s.Since.Area)
	if drop.Value <= 0 || n < minCell || faster.Low <= 0 {
		return f, false
	}
	at, _ := v.at.of(s.Since)
	return Finding{
		Kind: UnloggedChange, Since: at, Area: s.Since.Area, Chance: s.Chance,
		Facts: []Fact{fact(FactDrop, drop, slow, ""), fact(FactPace, faster, n, "")},
	}, true
}

const (
	// near is how many cuts on either side of a moment are compared.
	near = 40
	// late is how many cuts a change that nobody logged may be dated too late: those
	// before it are left out.
	late = 60
)

// worn are the last cuts before a moment that are surely of the old blade.
func worn(before []Cut) []Cut {
	before = before[:max(min(near, len(before)), len(before)-late)]
	return before[max(0, len(before)-near):]
}

// drop is how much nearer to square the readings after a moment lie than those
// before it.
func (v *verdict) drop(before, after []Cut) (drop Estimate, n int) {
	a, va, _ := v.meanOf(worn(before))
	b, vb, n := v.meanOf(after[:min(near, len(after))])
	return normalEstimate(math.Abs(a)-math.Abs(b), va+vb), n
}

func (v *verdict) meanOf(cuts []Cut) (value, variance float64, n int) {
	weight := 0.0
	for i := range cuts {
		if cuts[i].known() {
			w := 1 / v.pool.Variance(cuts[i].Height)
			value += w * cuts[i].Deviation
			weight += w
			n++
		}
	}
	if n == 0 {
		return 0, math.Inf(1), 0
	}
	return value / weight, 1 / weight, n
}

// faster is how much faster the cuts after a moment are than those before it, as
// ln, beside the standards of a sharp blade; the run-in of a new blade is left out.
func faster(before, after []Cut, pace Standard, area float64) (Estimate, int) {
	var a, b running
	a.over, b.over = near, near
	before = worn(before)
	for i := range before {
		if x, ok := pace.Off(&before[i]); ok {
			a.add(x)
		}
	}
	for i := range after {
		if x, ok := pace.Off(&after[i]); ok && after[i].Area-area > runIn && b.n < near {
			b.add(x)
		}
	}
	if a.n == 0 || b.n == 0 {
		return Estimate{}, 0
	}
	return normalEstimate(b.mean-a.mean, pace.SD*pace.SD*(1/float64(a.n)+1/float64(b.n))), b.n
}

// wear finds a blade that wanders off: outward with wear and already far, or
// likely to trip within a shift; or that stepped by itself.
func (v *verdict) wear() {
	outward, level := v.outward()
	share := math.Abs(level) / v.pool.Scale
	stepped := v.f.BladeStepped()
	worn := outward >= told && (share >= wornShare || v.Odds >= soon)
	if !worn && stepped.Chance < told {
		return
	}
	f := Finding{Kind: BladeWear, Since: v.on.Start, Area: math.NaN(), Chance: outward}
	if stepped.Chance >= told {
		at, _ := v.at.of(stepped.Since)
		f.Since, f.Area, f.Chance = at, stepped.Since.Area, stepped.Chance
		f.Facts = append(f.Facts, plainFact(FactStep, stepped.Chance, 0, ""))
	}
	if v.Slope != nil {
		f.Facts = append(f.Facts, fact(FactSlope, Estimate{v.Slope.Value, v.Slope.Low, v.Slope.High}, v.Slope.N, ""))
	}
	if v.Limit > 0 {
		f.Facts = append(f.Facts, plainFact(FactShare, math.Abs(v.Level.Value)/v.Limit, v.Readings, ""))
	}
	if !math.IsNaN(v.Odds) {
		f.Facts = append(f.Facts, plainFact(FactOdds, v.Odds, 0, ""))
	}
	if v.Pace != nil {
		f.Facts = append(f.Facts, fact(FactPace, v.Pace.Off, v.Pace.Cuts, ""), plainFact(FactSlowing, -v.Pace.Slowing, 0, ""))
	}
	v.Findings = append(v.Findings, f)
}

// outward is the chance that wear has carried the blade on to the side it lies on,
// by enough to matter, and how far off it lies itself.
func (v *verdict) outward() (chance, level float64) {
	for i := range v.f.stories {
		level += v.f.stories[i].weight * v.f.stories[i].level
	}
	side := math.Copysign(1, level)
	for i := range v.f.stories {
		s := &v.f.stories[i]
		least := leastRise * v.pool.Scale / math.Max(s.clock, 1e-9)
		chance += s.weight * math.Erfc((least-side*s.drift)/math.Sqrt(2*math.Max(s.cov[vv], 1e-300))) / 2
	}
	return math.Min(1, chance), level
}

// lots are the drifts of the blades that were looked at, for Lots.
func (t *Trend) lots(fittings []Fitting) (list []LotBlade) {
	for _, f := range fittings {
		b := newBins(f.Cuts, t.Pool.Noise)
		l, ok := b.line(t.Pool.Power)
		if !ok || b.readings < minLearned {
			continue
		}
		end := l.level + l.drift*t.Pool.clock(f.Cuts[len(f.Cuts)-1].Area)
		list = append(list, LotBlade{Lot: f.Lot, Blade: f.Blade, Drift: math.Copysign(1, end) * l.drift / t.Pool.DriftSD})
	}
	return list
}
