package deviation

import (
	"flag"
	"math"
	"reflect"
	"slices"
	"sync"
	"testing"

	"pgregory.net/rapid"
)

// looked is what a study says once the last of some blades has made n cuts.
func looked(fittings []Fitting, n int) Trend {
	list := slices.Clone(fittings)
	on := &list[len(list)-1]
	on.Cuts = on.Cuts[:min(n, len(on.Cuts))]
	return Study(Saw{Fittings: list, Limit: modelLimit, Shift: 1000})
}

// kinds are those of the findings, but wear.
func kinds(t Trend) (list []Kind) {
	for _, f := range t.Findings {
		if f.Kind != BladeWear {
			list = append(list, f.Kind)
		}
	}
	return list
}

// The faults of a saw, each on its last blades, after eight sound ones of the
// model; i counts the cuts from the first with the fault.
var faults = []struct {
	name   string
	want   Kind
	blades int
	set    func(m *model)
	fault  func(c *Cut, i int) fault
	looks  []float64 // shares of the last blade's cuts, or their number
}{
	{"mitred cuts go to one side", MitreOnly, 2, mitred, func(c *Cut, _ int) fault {
		return fault{off: 0.6 * math.Abs(c.Mitre) / 45}
	}, []float64{0.5, 1}},
	{"mitred cuts go to the side of the angle", MitreOnly, 2, mitred, func(c *Cut, _ int) fault {
		return fault{off: 0.6 * c.Mitre / 45}
	}, []float64{0.5, 1}},
	{"mitred cuts go to one side on this blade only", MitreOnly, 1, mitred, func(c *Cut, _ int) fault {
		return fault{off: pick(math.Abs(c.Mitre) > 1, 0, 0.6)}
	}, []float64{0.5, 1}},
	{"one grade of three wanders off on this blade only", GradeOnly, 1, graded, func(c *Cut, _ int) fault {
		return fault{outward: pick(c.Grade == "A500", 0, 0.6)}
	}, []float64{0.5, 1}},
	{"tall cuts wander off on this blade only", GuideGap, 1, nil, func(c *Cut, _ int) fault {
		return fault{outward: 0.06 * (c.Height - 4)}
	}, []float64{0.5, 1}},
	{"one grade of three wanders off", GradeOnly, 2, graded, func(c *Cut, _ int) fault {
		return fault{outward: pick(c.Grade == "A500", 0, 0.6)}
	}, []float64{0.5, 1}},
	{"tall cuts wander off", GuideGap, 2, nil, func(c *Cut, _ int) fault {
		return fault{outward: 0.06 * (c.Height - 4)}
	}, []float64{0.5, 1}},
	{"cuts go to either side in turn", GuideGap, 2, nil, func(_ *Cut, i int) fault {
		return fault{off: pick(i%2 == 0, 0.4, -0.4)}
	}, []float64{0.5, 1}},
	{"the feed is pushed every second shift", FeedPushed, 2, nil, func(_ *Cut, i int) fault {
		if i/110%2 == 1 {
			return fault{lead: 1.5, rate: 1.25}
		}
		return fault{}
	}, []float64{0.5, 1}},
	{"the machine is a tenth slower", Machine, 2, graded, func(*Cut, int) fault {
		return fault{rate: 0.9}
	}, []float64{0.5, 1}},
	{"the guide stands off from a change of blade on", SawAlignment, 2, nil, func(*Cut, int) fault {
		return fault{off: 0.9}
	}, []float64{0.5, 1}},
	// 50 and 100 cuts after it: a new blade is run in over the first dozen.
	{"the blade was changed and nobody said so", UnloggedChange, 1, nil, func(_ *Cut, i int) fault {
		return fault{fresh: i == 450}
	}, []float64{500, 550}},
}

func mitred(m *model) { m.mitres = true }
func graded(m *model) { m.grades = []string{"A36", "A500", "A992"} }

// faulty is a saw with a fault on its last blades.
func faulty(seed uint64, k int) []Fitting {
	c := faults[k]
	m := newModel(seed)
	if c.set != nil {
		c.set(m)
	}
	list := m.fittings(8)
	start := m.cuts
	m.fault = func(cut *Cut, i int) fault { return c.fault(cut, i-start) }
	return append(list, m.fittings(c.blades)...)
}

// Each fault is found under its name in 90 % of the looks at least, and hardly
// ever, in 1 of 16, under another.
func TestFaultsAreFoundByName(t *testing.T) {
	t.Parallel()
	for k, c := range faults {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			found, looks, other := 0, 0, map[Kind]int{}
			seeds := pick(*long, 10, 40)
			for seed := range uint64(seeds) {
				list := faulty(seed, k)
				for _, n := range c.looks {
					if n <= 1 {
						n *= float64(len(list[len(list)-1].Cuts))
					}
					looks++
					for _, kind := range kinds(looked(list, int(n))) {
						if kind == c.want {
							found++
						} else {
							other[kind]++
						}
					}
				}
			}
			t.Logf("%s in %d of %d looks, %v", c.want, found, looks, other)
			if float64(found) < 0.9*float64(looks) {
				t.Errorf("found in %d of %d looks", found, looks)
			}
			for kind, n := range other {
				if n > max(1, looks/16) {
					t.Errorf("named %s in %d of %d looks", kind, n, looks)
				}
			}
		})
	}
}

// A guide that moves by 0.9 in the middle of a blade is laid to the saw within 30
// cuts, for sure once another blade is on, and no blade is charged with it; once
// it is put right nothing is found.
func TestGuideFault(t *testing.T) {
	t.Parallel()
	const seeds = 8
	within, sure, right, steps, held, drifts := 0, 0, 0, 0, 0, 0.0
	for seed := range uint64(seeds) {
		m := newModel(seed)
		list := m.fittings(8)
		from, to := m.cuts+300, math.MaxInt
		m.guide = func(cut int) float64 { return pick(cut >= from && cut < to, 0, 0.9) }
		list = append(list, m.fittings(3)...)
		to = m.cuts
		list = append(list, m.fittings(3)...)

		if alignment(looked(list[:9], 300)) != nil {
			t.Errorf("seed %d: the saw stands off before it does", seed)
		}
		for n := 305; n <= 330; n += 5 {
			if alignment(looked(list[:9], n)) != nil {
				within++
				break
			}
		}
		for k, n := range map[int]int{10: math.MaxInt, 11: 60} { // of the next two blades
			trend := looked(list[:k], n)
			f := alignment(trend)
			if f == nil || f.Chance < 0.9 {
				continue
			}
			sure++
			if x := f.Facts[0]; x.What == FactOffset && x.Low <= 0.9 && 0.9 <= x.High {
				held++
			}
			if blade := finding(trend, BladeWear); blade != nil && slices.ContainsFunc(blade.Facts, func(x Fact) bool { return x.What == FactStep }) {
				steps++
			}
		}
		sound, faulty := Study(Saw{Fittings: list[:8], Limit: modelLimit}), Study(Saw{Fittings: list[:11], Limit: modelLimit})
		drifts += faulty.Pool.DriftSD / sound.Pool.DriftSD / seeds
		if alignment(looked(list[:12], math.MaxInt)) == nil && alignment(looked(list[:13], 60)) == nil && alignment(looked(list[:14], math.MaxInt)) == nil {
			right++
		}
	}
	t.Logf("of %d: within 30 cuts %d, sure %d and its interval right %d of %d, nothing after the repair %d, blades charged %d, drifts %.2f", seeds, within, sure, held, 2*seeds, right, steps, drifts)
	if within < seeds {
		t.Errorf("found within 30 cuts on %d of %d saws", within, seeds)
	}
	if sure < 2*seeds-1 || held < sure-2 {
		t.Errorf("sure of it in %d of %d looks at later blades, 0.9 in the interval in %d", sure, 2*seeds, held)
	}
	if right < seeds-1 {
		t.Errorf("nothing is found after the repair on %d of %d saws", right, seeds)
	}
	if steps > 0 || math.Abs(drifts-1) > 0.15 {
		t.Errorf("%d blades are charged with a step, their drifts are %.2f times as wide", steps, drifts)
	}
}

func finding(t Trend, kind Kind) *Finding {
	for i := range t.Findings {
		if t.Findings[i].Kind == kind {
			return &t.Findings[i]
		}
	}
	return nil
}

func alignment(t Trend) *Finding { return finding(t, SawAlignment) }

var long = flag.Bool("long", false, "look at many more saws")

// Sound saws have no finding but wear: under 1 blade in 200 of those looked at
// early, half way and at the end has another. The long run, with -long, is 1,200
// blades (none had one on 2026-11-25), the usual one 72, in which one is allowed.
func TestSoundSawsAreLeftAlone(t *testing.T) {
	saws := int(pick(*long, 12, 200))
	var lock sync.Mutex
	blades, found := 0, map[Kind]int{}
	t.Run("saws", func(t *testing.T) {
		for part := range 4 {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				for seed := part; seed < saws; seed += 4 {
					n, kinds := lookedSound(uint64(1000 + seed))
					lock.Lock()
					blades += n
					for k := range kinds {
						found[k] += kinds[k]
					}
					lock.Unlock()
				}
			})
		}
	})
	all := 0
	for _, n := range found {
		all += n
	}
	t.Logf("%d blades, findings %v", blades, found)
	if all > max(1, blades/200) {
		t.Errorf("of %d blades of sound saws these have a finding: %v", blades, found)
	}
}

// lookedSound counts the blades of one sound saw that have a finding.
func lookedSound(seed uint64) (blades int, found map[Kind]int) {
	m := newModel(seed)
	m.mitres = seed%2 == 0
	if seed%3 > 0 {
		graded(m)
	}
	list := m.fittings(12)
	found = map[Kind]int{}
	for k := 6; k < 12; k++ {
		blades++
		here := map[Kind]bool{}
		for _, share := range []float64{0.1, 0.5, 1} {
			for _, kind := range kinds(looked(list[:k+1], int(share*float64(len(list[k].Cuts))))) {
				here[kind] = true
			}
		}
		for kind := range here {
			found[kind]++
		}
	}
	return blades, found
}

// What is not known is nil with a reason, what is known has none.
func TestStudyTellsWhatIsNotKnown(t *testing.T) {
	list := newModel(1).fittings(6)
	blind := slices.Clone(list[5].Cuts)
	for i := range blind {
		blind[i].Deviation = math.NaN()
	}
	first := Fitting{Blade: "first", Cuts: list[0].Cuts[:40]}
	for _, c := range []struct {
		name                                  string
		saw                                   Saw
		level, reach, odds, pace, slope, trip bool
	}{
		{"no blade", Saw{Limit: modelLimit}, false, false, false, false, false, false},
		{"all", Saw{Fittings: list, Limit: modelLimit, Shift: 900}, true, true, true, true, true, true},
		{"no limit", Saw{Fittings: list, Limit: math.NaN(), Shift: 900}, true, false, false, true, true, true},
		{"no shift", Saw{Fittings: list, Limit: modelLimit, Shift: math.NaN()}, true, true, false, true, true, true},
		{"a limit without end", Saw{Fittings: list, Limit: math.Inf(1), Shift: 900}, true, false, false, true, true, true},
		{"no reading", Saw{Fittings: append(slices.Clone(list[:5]), Fitting{Cuts: blind}), Limit: modelLimit, Shift: 900}, false, false, false, true, false, true},
		{"two readings", Saw{Fittings: append(slices.Clone(list[:5]), Fitting{Cuts: list[5].Cuts[:2]}), Limit: modelLimit, Shift: 900}, false, false, false, false, false, true},
		{"a first blade", Saw{Fittings: []Fitting{first}, Limit: modelLimit, Shift: 900}, true, true, true, true, true, true},
		{"a first blade without a limit", Saw{Fittings: []Fitting{first}, Limit: math.NaN(), Shift: 900}, true, false, false, true, true, true},
	} {
		tr := Study(c.saw)
		for what, x := range map[string]struct {
			known, want bool
			why         string
		}{
			"level": {tr.Level != nil, c.level, tr.WhyLevel}, "reach": {tr.Reach != nil, c.reach, tr.WhyReach},
			"odds": {!math.IsNaN(tr.Odds), c.odds, tr.WhyOdds}, "pace": {tr.Pace != nil, c.pace, tr.WhyPace},
			"slope": {tr.Slope != nil, c.slope, tr.WhySlope}, "trips": {tr.Trips != nil, c.trip, tr.WhyTrips},
			"change": {tr.Change != nil, tr.Change != nil, tr.WhyChange},
		} {
			if x.known != x.want || x.known == (x.why != "") {
				t.Errorf("%s: the %s is known: %v, because %q", c.name, what, x.known, x.why)
			}
		}
	}
}

// Readings of a stuck sensor are not missing: they are not believed, and that is said.
func TestStudySaysWhoseReadingsAreLeftOut(t *testing.T) {
	tr := Study(Saw{Fittings: []Fitting{{Blade: "A", Cuts: read(slices.Repeat([]float64{2.5}, 20)...)}}, Limit: modelLimit})
	if want := "0 of the blade's 20 readings are left without those of a stuck sensor: at least 3 are needed"; tr.WhyLevel != want {
		t.Errorf("the level is not known because %q, want %q", tr.WhyLevel, want)
	}
}

// Trips are counted by side over all fittings and by halves of the area.
func TestStudyCountsTrips(t *testing.T) {
	var list []Fitting
	for k := range 2 {
		f := Fitting{Blade: "b"}
		for i := range 100 {
			c := Cut{From: 10 * float64(i), Area: 10 * float64(i+1), Height: 10, Deviation: math.NaN()}
			if k == 0 && i < 2 || k == 1 && i%20 == 5 {
				c.Tripped, c.Deviation = true, pick(k == 0, 2.5, -2.5)
			}
			f.Cuts = append(f.Cuts, c)
		}
		list = append(list, f)
	}
	got := Study(Saw{Fittings: list, Limit: modelLimit}).Trips
	if got == nil || got.Count != 7 || got.Area != 2000 || got.Value != 3.5 || got.Left != 2 || got.Right != 5 || math.Abs(got.Ratio.Value-2.5) > 1e-12 {
		t.Errorf("trips %+v, want 7 over 2,000 in², 2 and then 5", got)
	}
}

// The same saw gives the same trend, and blades long gone do not matter.
func TestStudyIsDetermined(t *testing.T) {
	list := newModel(2).fittings(followed + 3)
	a, b := Study(Saw{Fittings: list, Limit: modelLimit, Shift: 900}), Study(Saw{Fittings: list[3:], Limit: modelLimit, Shift: 900})
	if *a.Level != *b.Level || *a.Reach != *b.Reach || a.Odds != b.Odds || !reflect.DeepEqual(*a.Pool, *b.Pool) || len(a.Findings) != len(b.Findings) || len(a.Blades) != followed {
		t.Errorf("%+v and %+v", a, b)
	}
}

// Nothing a saw may send makes a study panic or tell what is no number.
func TestStudyProperties(t *testing.T) {
	odd := rapid.OneOf(rapid.SampledFrom([]float64{0, 1, -1, 1e300, 1e-6, 1e9, math.NaN(), math.Inf(1), math.Inf(-1)}), rapid.Float64Range(-3, 3))
	rapid.Check(t, func(t *rapid.T) {
		model := newModel(rapid.Uint64Range(0, 1<<40).Draw(t, "seed"))
		model.life = 400
		list := model.fittings(rapid.IntRange(1, 5).Draw(t, "blades"))
		for range rapid.IntRange(0, 30).Draw(t, "odd cuts") {
			f := &list[rapid.IntRange(0, len(list)-1).Draw(t, "blade")]
			c := &f.Cuts[rapid.IntRange(0, len(f.Cuts)-1).Draw(t, "cut")]
			*c = Cut{
				From: c.From, Area: c.Area, Deviation: odd.Draw(t, "deviation"), Height: odd.Draw(t, "height"), Face: odd.Draw(t, "face"),
				Seconds: odd.Draw(t, "seconds"), Mitre: odd.Draw(t, "mitre"), Speed: odd.Draw(t, "speed"),
				Tripped: rapid.Bool().Draw(t, "trip"), Idle: rapid.Bool().Draw(t, "idle"),
			}
		}
		tr := Study(Saw{Fittings: list, Limit: odd.Draw(t, "saw's limit"), Shift: odd.Draw(t, "shift"), Band: odd.Draw(t, "band"), Wheel: odd.Draw(t, "wheel")})
		if l := tr.Level; l != nil && math.IsNaN(l.Low+l.Value+l.High) {
			t.Fatalf("the level is %+v", l)
		}
		if w := tr.Reach; w != nil && !slices.IsSorted([]float64{0, w.Q10, w.Q50, w.Q90}) {
			t.Fatalf("the window is %+v", w)
		}
		if tr.Odds < 0 || tr.Odds > 1 {
			t.Fatalf("the odds are %v", tr.Odds)
		}
		for _, f := range tr.Findings {
			if !(f.Chance >= 0 && f.Chance <= 1) || !slices.Contains(Kinds(), f.Kind) {
				t.Fatalf("found %+v", f)
			}
		}
	})
}
