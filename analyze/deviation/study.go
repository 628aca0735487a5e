package deviation

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"time"
)

// Saw is what is known of one saw: its fittings in order of time, the last one on
// it now.
type Saw struct {
	Fittings []Fitting
	Like     [][]Cut   // cuts of past blades of the same type on other saws
	Limit    float64   // trip limit over the height of the cut; NaN: not known
	Limits   []float64 // those of cuts of the saw's heights, where it stops at one length; nil: all are Limit
	Tripless bool      // nobody tells whether it trips
	Band     float64   // ft, length of its loops; NaN: not known
	Wheel    float64   // ft, round a wheel; NaN: not known
	Shift    float64   // in² on the clock that wear goes by that a shift cuts; NaN: not known
}

// Trend is what the cuts of a saw say. Where a figure is not known a text says
// why.
type Trend struct {
	Cuts, Readings int     // of the blade that is on
	Wild           int     // readings of those that lie far off their forecast
	Area           float64 // in² the blade has cut, on the clock that wear goes by
	Pool           *Pool   // habits of its kind on this saw
	Level          *Estimate
	WhyLevel       string
	Slope          *Slope
	WhySlope       string
	Reach          *Window  // area still to be cut until the first trip
	Outlook        *Outlook // the whole of it, on the clock
	Odds           float64  // of a trip within the next shift; NaN: not known
	WhyReach       string
	WhyOdds        string
	Path           *Path   // of the readings themselves, per in² on the clock
	Ahead          *Window // when such a path reaches the limit; nil where that is not known or has been
	WhyPath        string
	Change         *Change
	WhyChange      string
	Chart          *Charts // of readings less their forecasts: a wear trend alone is not out of control
	Settled        string  // the blade before, that the baseline of the charts is from; "" where none was settled enough
	Trips          *Trips
	WhyTrips       string
	Pace           *Pace
	Standard       *Standard // of the saw's cuts by grade and size
	WhyPace        string
	Findings       []Finding
	Blades         []LotBlade // of the fittings looked at, for Lots
}

// Change is a sudden change on the blade that is on.
type Change struct {
	At   time.Time
	Area float64 // in² of the blade just before
	Size float64
	P    float64
}

// Trips is how often the saw tripped over the blades that were looked at, and in
// the later half of that area against the earlier.
type Trips struct {
	Rate
	Ratio       Estimate
	P           float64
	Left, Right int // by the sign of the deviation
}

// Pace is how fast the blade cuts beside the standard of its grade and size, wear
// allowed for, and what wear takes by now.
type Pace struct {
	Off     Estimate // ln
	Slowing float64  // ln
	Cuts    int
}

// The numbers of a study.
const (
	followed    = 24  // fittings
	poolFrom    = 12  // blades
	fewOwn      = 4   // blades below which those of other saws count too
	shuffles    = 499 // for a change
	breakBelow  = 0.01
	minDeviated = 3 // readings below which there is no level
	seed        = 1
)

// Study reads one saw.
func Study(s Saw) Trend {
	t := Trend{Odds: math.NaN()}
	if len(s.Fittings) == 0 {
		t.WhyLevel = "no blade is known to be on the saw"
		t.WhySlope, t.WhyReach, t.WhyOdds, t.WhyChange, t.WhyTrips, t.WhyPace, t.WhyPath = t.WhyLevel, t.WhyLevel, t.WhyLevel, t.WhyLevel, t.WhyLevel, t.WhyLevel, t.WhyLevel
		return t
	}
	s.Fittings = s.Fittings[max(0, len(s.Fittings)-followed):]
	st := study{Saw: s, Trend: &t, on: s.Fittings[len(s.Fittings)-1]}
	for i := range st.on.Cuts {
		t.Cuts++
		t.Area = st.on.Cuts[i].Area
		if st.on.Cuts[i].known() {
			t.Readings++
		}
	}
	st.trips()
	st.path()
	st.sensor()
	deviates := st.learn()
	st.paces()
	if deviates {
		var beside sync.WaitGroup
		beside.Go(st.slope)
		beside.Go(st.change)
		v, followed := st.follow()
		beside.Wait()
		if followed {
			v.saw()
			v.wear()
		}
		t.Blades = t.lots(s.Fittings)
		Order(t.Findings)
	}
	return t
}

type study struct {
	Saw
	*Trend
	on   Fitting
	pool Pool
	pace Standard
	lost int // readings that a stuck sensor told

	wasOff float64 // chance that the saw stood off when the blade before came off
}

// learn takes the pool and the standard from the blades before, or with too few
// of them from those of other saws too.
func (s *study) learn() bool {
	var past [][]Cut
	var all [][]Cut
	for i := len(s.Fittings) - 2; i >= 0; i-- {
		all = append(all, s.Fittings[i].Cuts)
		if s.Fittings[i].Type == s.on.Type && len(past) < poolFrom {
			past = append(past, s.Fittings[i].Cuts)
		}
	}
	if len(past) < fewOwn {
		past = append(past, s.Like[:min(len(s.Like), poolFrom)]...)
	}
	pool, ok := Learn(past, s.Limit)
	if noise, measured := MeasureNoise([][]Cut{s.on.Cuts}); pool.Blades == 0 && measured {
		// With no blade before it this one's own readings give the noise, and no more.
		pool, ok = Usual(noise, s.Limit), true
		if b := newBins(s.on.Cuts, noise); b.readings >= minLearned {
			pool.shape([]bins{b})
			pool.spread(nil)
		}
	}
	if s.pool = pool; !ok {
		s.pool.Power = usualPower // times tell of wear without deviations, too
	}
	slices.Reverse(all)
	s.pace = NewStandard(append(all, s.on.Cuts), s.pool.Power)
	s.Standard = &s.pace
	if s.Readings < minDeviated {
		why := fmt.Sprintf("%d of the blade's %d cuts told their deviation", s.Readings, s.Cuts)
		if s.lost > 0 {
			why = fmt.Sprintf("%d of the blade's %d readings are left without those of a stuck sensor", s.Readings, s.Readings+s.lost)
		}
		s.unread(fmt.Sprintf("%s: at least %d are needed", why, minDeviated))
		return false
	}
	if !ok {
		s.unread(fmt.Sprintf("%d readings, no trip limit and no blade before it: nothing says how far one reading scatters", s.Readings))
		return false
	}
	s.Pool = &s.pool
	return true
}

// unread gives one reason for all that needs deviations.
func (s *study) unread(why string) {
	s.WhyLevel, s.WhySlope, s.WhyReach, s.WhyOdds, s.WhyChange = why, why, why, why, "unknown: "+why
}

func (s *study) slope() {
	var points []Point
	for i := range s.on.Cuts {
		if c := &s.on.Cuts[i]; c.known() {
			points = append(points, Point{Area: c.Area, Deviation: c.Deviation})
		}
	}
	slope, err := TheilSen(points)
	if err != nil {
		s.WhySlope = err.Error()
		return
	}
	s.Slope = &slope
}

// change looks for a break beside the wear line of the blade that is on.
func (s *study) change() {
	var clock, values []float64
	var cuts []*Cut
	for i := range s.on.Cuts {
		if c := &s.on.Cuts[i]; c.known() {
			clock, values, cuts = append(clock, s.pool.clock(c.Area)), append(values, c.Deviation), append(cuts, c)
		}
	}
	if len(values) < MinBreak {
		s.WhyChange = fmt.Sprintf("unknown: %d readings on this blade: at least %d are needed", len(values), MinBreak)
		return
	}
	b, err := LevelBreak(clock, values, shuffles, rand.New(rand.NewPCG(seed, 0)))
	switch {
	case err != nil:
		s.WhyChange = "unknown: " + err.Error()
	case b.P > breakBelow:
		s.WhyChange = fmt.Sprintf("none stands out: chance of one as large without any change %.2g", b.P)
	default:
		s.Change = &Change{At: cuts[b.Last+1].At, Area: cuts[b.Last].Area, Size: b.Size, P: b.P}
	}
}

// path measures how the readings of the blade move, as if each were the level:
// the scatter of readings is in its diffusion, which is an upper bound.
func (s *study) path() {
	var steps []Step
	last := -1
	for i := range s.on.Cuts {
		c := &s.on.Cuts[i]
		if !c.known() {
			continue
		}
		if last >= 0 && c.Area > s.on.Cuts[last].Area {
			before := &s.on.Cuts[last]
			steps = append(steps, Step{Area: c.Area - before.Area, Level: c.Deviation - before.Deviation})
		}
		last = i
	}
	path, err := MeasurePath(steps)
	if err != nil {
		s.WhyPath = err.Error()
		return
	}
	s.Path = &path
	s.ahead()
}

// ahead is when such a path, from the last reading on, reaches the limit of the side
// it goes to.
func (s *study) ahead() {
	last := 0.0
	for i := range s.on.Cuts {
		if s.on.Cuts[i].known() {
			last = s.on.Cuts[i].Deviation
		}
	}
	side := math.Copysign(1, s.Path.Drift)
	p, err := NewPassage(side*s.Path.Drift, s.Path.Diffusion, s.Limit-side*last)
	if err == nil {
		s.Ahead = &Window{p.Quantile(0.1), p.Quantile(0.5), p.Quantile(0.9)}
	}
}

// trips counts over all fittings; the halves are of equal area.
func (s *study) trips() {
	if s.Tripless {
		s.WhyTrips = "nobody told whether the saw trips"
		return
	}
	var area float64
	for _, f := range s.Fittings {
		area += f.span()
	}
	var early, late, left, right int
	passed := 0.0
	for _, f := range s.Fittings {
		start := f.start()
		for i := range f.Cuts {
			c := &f.Cuts[i]
			if !c.Tripped {
				continue
			}
			if passed+c.Area-start <= area/2 {
				early++
			} else {
				late++
			}
			switch {
			case c.Deviation < 0:
				left++
			case c.Deviation > 0:
				right++
			}
		}
		passed += f.span()
	}
	rate, err := NewRate(early+late, area)
	if err != nil {
		s.WhyTrips = "nothing of known area was cut"
		return
	}
	before, _ := NewRate(early, area/2)
	after, _ := NewRate(late, area/2)
	s.Trips = &Trips{Rate: rate, Left: left, Right: right}
	s.Trips.Ratio, s.Trips.P = RateRatio(before, after)
}

// start is the area the blade had cut before its first cut here, as near as the
// first cut tells.
func (f *Fitting) start() float64 {
	if len(f.Cuts) == 0 {
		return 0
	}
	return f.Cuts[0].From
}

// span is the area cut in the fitting.
func (f *Fitting) span() float64 {
	if len(f.Cuts) == 0 {
		return 0
	}
	return f.Cuts[len(f.Cuts)-1].Area - f.start()
}

func (s *study) sensor() {
	signs := Sensor(s.on.Cuts)
	if signs.Chance >= told {
		s.Findings = append(s.Findings, Finding{
			Kind: SensorFault, Since: s.on.Cuts[signs.SameSince].At, Area: s.on.Cuts[signs.SameSince].Area, Chance: signs.Chance,
			Facts: []Fact{plainFact(FactSame, signs.SameAs, signs.Same, "")},
		})
		s.disbelieve(signs.SameSince)
	}
	if signs.Idle >= minIdle {
		s.Findings = append(s.Findings, Finding{
			Kind: SensorFault, Since: s.on.Cuts[signs.FirstIdle].At, Area: s.on.Cuts[signs.FirstIdle].Area, Chance: idleChance,
			Facts: []Fact{plainFact(FactIdle, math.NaN(), signs.Idle, ""), plainFact(FactOthers, math.NaN(), signs.Trips-signs.Idle, "")},
		})
	}
}

// disbelieve takes what a stuck sensor says from a cut on for no reading.
func (s *study) disbelieve(from int) {
	s.on.Cuts, s.Fittings = slices.Clone(s.on.Cuts), slices.Clone(s.Fittings)
	for i := from; i < len(s.on.Cuts); i++ {
		if s.on.Cuts[i].known() {
			s.on.Cuts[i].Deviation = math.NaN()
			s.Readings--
			s.lost++
		}
	}
	s.Fittings[len(s.Fittings)-1] = s.on
}

// idleChance is how sure trips of a standing saw make a fault of its sensor: a late
// state reading is the other account of them (our choice).
const idleChance = 0.95

// paces tells the pace of the blade and looks for a machine that cuts every
// grade slower.
func (s *study) paces() {
	s.pace.mark(s.Fittings)
	var values []float64
	for i := range s.on.Cuts {
		if x := s.on.Cuts[i].pace; !math.IsNaN(x) {
			values = append(values, x)
		}
	}
	values = values[max(0, len(values)-averageOverCuts):]
	if s.pace.Cuts < minCell {
		s.WhyPace = "the cuts told no times"
		return
	}
	if len(values) < minCell {
		s.WhyPace = fmt.Sprintf("%d of its cuts can be held against others of their grade and size on this saw: at least %d are needed", len(values), minCell)
		return
	}
	s.Pace = &Pace{
		Off:  normalEstimate(median(slices.Clone(values)), math.Pi/2*s.pace.SD*s.pace.SD/float64(len(values))),
		Cuts: len(values), Slowing: s.pace.Slow * s.pool.clock(s.Area),
	}
	s.machine()
}

// machine finds every grade slower than standard, on the blade that is on and on
// the one before it; a saw that cuts several must be slower in two at least. Of each
// blade only cuts count by which wear has slowed it little: one wears off sooner than
// another, and all of them wear.
func (s *study) machine() {
	n := len(s.Fittings)
	if n < 2 {
		return
	}
	now, before := s.slowed(s.Fittings[n-1]), s.slowed(s.Fittings[n-2])
	f := Finding{Kind: Machine, Area: math.NaN()}
	for name, g := range now.grades {
		e := s.paceOf(g)
		if g.n < minCell {
			continue
		}
		if e.High > slowAt {
			return
		}
		f.Facts = append(f.Facts, fact(FactPace, e, g.n, name))
	}
	e := s.paceOf(before.all)
	if len(f.Facts) < min(2, s.grades()) || before.all.n < minCell || e.High > slowAt {
		return
	}
	slices.SortFunc(f.Facts, func(a, b Fact) int { return cmp.Or(b.N-a.N, cmp.Compare(a.Name, b.Name)) })
	f.Facts = append(f.Facts, fact(FactBefore, e, before.all.n, s.Fittings[n-2].Blade))
	f.Since = before.first
	both := now.all
	odds := chanceContrast / (1 - chanceContrast) * bayesFactor(both.mean, paceSD*paceSD*s.pace.SD*s.pace.SD/float64(both.n), slowSD*slowSD)
	if f.Chance = odds / (1 + odds); f.Chance >= told {
		s.Findings = append(s.Findings, f)
	}
}

// grades is how many grades the saw cuts more than now and then.
func (s *study) grades() int {
	cuts, n := map[string]int{}, 0
	for _, f := range s.Fittings {
		for i := range f.Cuts {
			if cuts[f.Cuts[i].Grade]++; cuts[f.Cuts[i].Grade] == leastWith {
				n++
			}
		}
	}
	return max(1, n)
}

// slowed is the pace of a blade before wear slowed it, by grade and in all.
type slowed struct {
	grades map[string]*running
	all    *running
	first  time.Time
}

func (s *study) slowed(f Fitting) slowed {
	out := slowed{grades: map[string]*running{}, all: &running{over: slowOver}}
	for i := range f.Cuts {
		c := &f.Cuts[i]
		if math.IsNaN(c.pace) || s.pace.Slow*s.pool.clock(c.Area) > -slowAt {
			continue
		}
		if out.all.n == 0 {
			out.first = c.At
		}
		g := out.grades[c.Grade]
		if g == nil {
			g = &running{over: slowOver}
			out.grades[c.Grade] = g
		}
		g.add(c.pace)
		out.all.add(c.pace)
	}
	return out
}

func (s *study) paceOf(r *running) Estimate {
	return normalEstimate(r.mean, s.pace.SD*s.pace.SD/float64(max(1, r.n)))
}
