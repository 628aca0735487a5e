package backtest

import (
	"math"
	"runtime"
	"sort"
	"time"

	"golang.org/x/sync/errgroup"

	"gullet/analyze/life"
	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/lives"
	"gullet/cmd/gullet/internal/planning"
)

// What was known is learned anew where so many days have passed and one blade in so
// many is new; in between the older knowledge serves. All of it is from before.
const (
	learnDays  = 7
	learnShare = 20
)

// told is what was foretold of a blade when it was hung, in weighted in² it cuts: the
// ages at which each policy changes it, +Inf for never, and what it was to last. NaN
// is not known.
type told struct {
	plan, fixed, mean float64
	new               plan.Window
	half              float64     // half its median life
	worn              plan.Window // of what is left from there on
	weigher           *weigher    // nil where its deviation is not to be followed
}

// times is the same in another measure.
func (t told) times(by float64) *told {
	return &told{by * t.plan, by * t.fixed, by * t.mean, scaled(t.new, by), by * t.half, scaled(t.worn, by), t.weigher}
}

func scaled(w plan.Window, by float64) plan.Window {
	return plan.Window{Q10: by * w.Q10, Q50: by * w.Q50, Q90: by * w.Q90}
}

// moment is what was known of new blades at one time.
type moment struct {
	*Input
	time  time.Time
	shop  *lives.Shop
	types map[string]*kind
	told  map[[2]string]*told // by type and saw; nil where nothing could be told

	weights map[string]float64 // of all grades ever cut; nil until asked
}

// kind is what was known of a type.
type kind struct {
	parts              []lives.Part
	longest            float64
	planned, unplanned float64 // cost of a change; 0 where it cannot be weighed
	fixed, mean        float64
}

// learn is what was known at a time.
func (in *Input) learn(t time.Time) (*moment, error) {
	since := lives.Since(t)
	rows, err := in.at(t, since)
	if err != nil {
		return nil, err
	}
	return &moment{in, t, lives.Gather(rows, nil, in.Config, since), map[string]*kind{}, map[[2]string]*told{}, nil}, nil
}

// decide has each blade foretold by what was known when it was hung, and returns how
// often that was learned.
func (in *Input) decide(list []*blade) (learned int, err error) {
	starts := in.anew(list)
	var work errgroup.Group
	work.SetLimit(runtime.GOMAXPROCS(0))
	for i, first := range starts {
		last := len(list)
		if i+1 < len(starts) {
			last = starts[i+1]
		}
		work.Go(func() error {
			m, err := in.learn(list[first].hung)
			if err != nil {
				return err
			}
			for _, b := range list[first:last] {
				b.told = m.of(b)
			}
			return nil
		})
	}
	return len(starts), work.Wait()
}

// anew lists the blades at which what was known is learned anew. It looks at when those
// before were hung, and at nothing else.
func (in *Input) anew(list []*blade) (starts []int) {
	oldest := 0 // of the blades that count
	for i, b := range list {
		if b.hung.Before(in.From) {
			continue
		}
		if len(starts) == 0 {
			starts = append(starts, i)
			continue
		}
		last := starts[len(starts)-1]
		for list[oldest].hung.Before(lives.Since(b.hung)) {
			oldest++
		}
		if b.hung.Sub(list[last].hung) >= learnDays*24*time.Hour && (i-last)*learnShare >= i-oldest {
			starts = append(starts, i)
		}
	}
	return starts
}

// of is what was foretold of a blade, nil for nothing. Its age by the weights of then
// becomes that by the weights of now as the blade's own area does.
func (m *moment) of(b *blade) *told {
	key := [2]string{b.kind, b.saw}
	t, ok := m.told[key]
	if !ok {
		t = m.foretell(b.kind, b.saw)
		m.told[key] = t
	}
	if t == nil {
		return nil
	}
	if b.follow && t.weigher == nil {
		t.weigher = m.weigher(b.kind, b.saw)
	}
	then := 0.0
	for _, g := range b.cut {
		then += g.Area * m.shop.Weight(g.Grade)
	}
	if !(then > 0) {
		return t
	}
	return t.times(b.life / then)
}

// foretell is what was known of a new blade of a type on a saw; nil is nothing.
func (m *moment) foretell(name, saw string) *told {
	k := m.kind(name)
	furthest := planning.Furthest(k.longest)
	fresh, err := planning.Fresh(k.parts, m.usual(saw), furthest)
	if err != nil {
		return nil
	}
	t := &told{plan: math.NaN(), fixed: k.fixed, mean: k.mean, new: quantiles(fresh, 0)}
	t.half = t.new.Q50 / 2
	t.worn = quantiles(fresh, t.half)
	if k.planned > 0 {
		t.plan = m.age(fresh, furthest, k)
	}
	return t
}

// usual is the work that a saw had done of late.
func (m *moment) usual(saw string) plan.Leg {
	u := m.shop.Usual(saw, m.time)
	return plan.Leg{Area: u.Area, Weighted: u.Weighted, Bends: u.Area * u.Bends, Hours: 1}
}

// age is the one at which the plan changes a new blade; NaN is not known.
func (m *moment) age(fresh *plan.Combined, furthest float64, k *kind) float64 {
	if m.Costs.Risk > 0 {
		return fresh.Quantile(m.Costs.Risk)
	}
	best, err := plan.Replace(fresh.Left, furthest, k.planned, k.unplanned)
	if err != nil {
		return math.NaN()
	}
	return best.Age
}

// quantiles is the window of what is left of a blade that has cut so much already.
func quantiles(fresh *plan.Combined, cut float64) plan.Window {
	left := fresh.Left(cut)
	at := func(chance float64) float64 { return math.Max(0, fresh.Quantile(1-left*(1-chance))-cut) }
	return plan.Window{Q10: at(0.1), Q50: at(0.5), Q90: at(0.9)}
}

// kind is what was known of a type.
func (m *moment) kind(name string) *kind {
	if k := m.types[name]; k != nil {
		return k
	}
	k := &kind{parts: m.shop.NewParts(name), fixed: math.NaN(), mean: math.NaN()}
	m.types[name] = k
	k.planned, k.unplanned, _ = m.Costs.Of(m.Config, name)
	for _, t := range m.shop.Types() {
		if t.Type == name {
			k.longest = t.Longest
			k.mean = meanEnd(t.Lives)
			k.fixed = fixedAge(t.Lives, k.planned, k.unplanned)
		}
	}
	return k
}

// meanEnd is the mean of what the blades that had ended cut, NaN without any. It is too
// short where blades were pulled early or still ran, as a shop's own mean is.
func meanEnd(list []life.Observation) float64 {
	sum, n := 0.0, 0.0
	for _, o := range list {
		if o.Ended {
			sum += o.Area
			n++
		}
	}
	return sum / n
}

// fixedAge is the one age at which changing would have cost least by the Kaplan-Meier
// curve of the blades known; NaN is not known.
func fixedAge(list []life.Observation, planned, unplanned float64) float64 {
	curve, err := life.KaplanMeier(list)
	if err != nil || !(planned > 0) || !(curve.Last > 0) {
		return math.NaN()
	}
	best, err := plan.Replace(alive(curve.Steps), curve.Last, planned, unplanned)
	if err != nil {
		return math.NaN()
	}
	return best.Age
}

// alive is the share alive after an area.
func alive(steps []life.Step) func(area float64) float64 {
	return func(area float64) float64 {
		i := sort.Search(len(steps), func(i int) bool { return steps[i].Area > area })
		if i == 0 {
			return 1
		}
		return steps[i-1].Survival
	}
}
