package trend

import (
	"cmp"
	"math"
	"slices"
	"sync"
	"time"

	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
)

// lotTold is the chance from which on a lot is told.
const lotTold = 0.9

// Study reads every saw, and the lots of all their blades together. Texts of the
// findings are in the style of the shop.
func Study(d *Data, style figures.Style) *Report {
	r := &Report{Unit: "in/in", AreaUnit: d.Unit, Clock: "area", Saws: []Answer{}, Doubts: append([]string{}, d.Doubts...)}
	if !d.Over {
		r.Unit = "in"
	}
	if d.Weigh {
		r.Clock = "weighted area"
	}
	trends := Trends(d)
	for i := range d.Saws {
		s := &d.Saws[i]
		a := answerer{data: d, saw: s, trend: &trends[i], words: words{style: style, over: d.Over, unit: d.Unit, gap: s.GuideGap}}
		r.Saws = append(r.Saws, a.answer())
	}
	return r
}

// Trends is what the cuts of each saw say, parallel to Saws, and what those of all
// say of a lot.
func Trends(d *Data) []deviation.Trend {
	trends := make([]deviation.Trend, len(d.Saws))
	var blades []deviation.LotBlade
	var all sync.WaitGroup
	for i := range d.Saws {
		all.Go(func() { trends[i] = deviation.Study(d.Saws[i].Saw) })
	}
	all.Wait()
	for i := range d.Saws {
		for _, b := range trends[i].Blades {
			b.Saw = d.Saws[i].Name
			blades = append(blades, b)
		}
	}
	lots := deviation.Lots(blades)
	for i := range d.Saws {
		if on := d.Saws[i].on(); on != nil {
			trends[i].Findings = append(trends[i].Findings, lotFindings(lots, on)...)
			deviation.Order(trends[i].Findings)
		}
	}
	return trends
}

// lotFindings are those of the lot of the blade that is on.
func lotFindings(lots []deviation.LotFinding, on *deviation.Fitting) (list []deviation.Finding) {
	for _, l := range lots {
		if l.Lot != on.Lot || l.Chance < lotTold {
			continue
		}
		list = append(list, deviation.Finding{
			Kind: deviation.Lot, Since: on.Start, Area: math.NaN(), Chance: l.Chance,
			Facts: []deviation.Fact{
				{What: deviation.FactLot, Value: l.Ratio.Value, Low: l.Ratio.Low, High: l.Ratio.High, N: l.Blades, Name: l.Lot},
				{What: deviation.FactSaws, N: l.Saws}, {What: deviation.FactOthers, N: l.Others},
			},
		})
	}
	return list
}

type answerer struct {
	data  *Data
	saw   *Saw
	trend *deviation.Trend
	words words
}

// told is an area on the clock in the unit people are told.
func (a *answerer) clock(x float64) float64 {
	if a.data.Unit == unitCuts {
		return x / perCut
	}
	return x
}

func (a *answerer) answer() Answer {
	t, on := a.trend, a.saw.on()
	out := Answer{
		Saw: a.saw.Name, Cuts: t.Cuts, Readings: t.Readings, Wild: t.Wild, Area: a.clock(t.Area), Limit: figures.Finite(a.saw.Limit), LimitNote: a.saw.Note,
		WhyLevel: t.WhyLevel, WhySlope: t.WhySlope, WhyReach: t.WhyReach, WhyChange: t.WhyChange, WhyPace: t.WhyPace, WhyTrips: t.WhyTrips, WhyPath: t.WhyPath,
		Findings: []Finding{}, Points: []Point{},
	}
	if on != nil {
		out.Blade, out.Type, out.Lot = on.Blade, on.Type, on.Lot
		for i := range on.Cuts {
			c := &on.Cuts[i]
			out.Points = append(out.Points, Point{At: moment(c.At), Area: a.clock(c.Area), Deviation: figures.Finite(c.Deviation), Height: positive(c.Height), Trip: c.Tripped})
		}
	}
	if t.Level != nil {
		level := figures.Limits(t.Level.Value, t.Level.Low, t.Level.High)
		out.Level = &level
	}
	if s := t.Slope; s != nil {
		per := a.clock(1)
		out.Slope = &Slope{Value: s.Value / per, Low: s.Low / per, High: s.High / per, PerArea: deviation.PerArea, N: s.N}
	}
	if p := t.Path; p != nil {
		out.Path = &Path{Drift: p.Drift / a.clock(1), DriftSE: p.DriftErr / a.clock(1), Diffusion: p.Diffusion / math.Sqrt(a.clock(1)), Steps: p.Steps}
	}
	if w := t.Ahead; w != nil {
		out.Path.Reach = &Window{figures.Finite(a.clock(w.Q10)), figures.Finite(a.clock(w.Q50)), figures.Finite(a.clock(w.Q90))}
	}
	if c := t.Change; c != nil {
		out.Change = &Change{At: moment(c.At), Area: a.clock(c.Area), Size: c.Size, P: c.P}
	}
	out.Reach, out.Chart, out.Pace, out.Trips, out.Habits = a.reach(), chart(t), pace(t.Pace), a.trips(), habits(t.Pool)
	for _, f := range t.Findings {
		out.Findings = append(out.Findings, a.finding(f))
	}
	return out
}

func moment(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	utc := t.UTC()
	return &utc
}

func positive(x float64) *float64 {
	if x > 0 {
		return &x
	}
	return nil
}

func (a *answerer) reach() *Reach {
	w := a.trend.Reach
	if w == nil {
		return nil
	}
	told := func(x float64) *float64 { return figures.Finite(x / a.saw.PerUnit) }
	r := &Reach{
		Q10: told(w.Q10), Q50: told(w.Q50), Q90: told(w.Q90), Unit: a.data.Unit,
		Odds: figures.Finite(a.trend.Odds), Shift: figures.Finite(a.saw.Shift / a.saw.PerUnit), WhyOdds: a.trend.WhyOdds,
	}
	if a.data.Weigh {
		r.Weighted = &Window{figures.Finite(w.Q10), figures.Finite(w.Q50), figures.Finite(w.Q90)}
	}
	if r.Odds == nil && a.saw.WhyShift != "" {
		r.WhyOdds += ": " + a.saw.WhyShift
	}
	return r
}

func chart(t *deviation.Trend) *Chart {
	c := t.Chart
	if c == nil {
		return nil
	}
	out := &Chart{
		EWMA: c.EWMA.Value, EWMALow: c.EWMA.Low, EWMAHigh: c.EWMA.High,
		Upper: c.CUSUM.High, Lower: c.CUSUM.Low, Limit: deviation.ChartLimit, Out: c.EWMA.Out() || c.CUSUM.Side != 0,
		Level: c.Base.Level, Sigma: c.Base.Sigma, Low: c.Base.Low, High: c.Base.High, Beyond: c.Out, Readings: c.N, Settled: t.Settled,
	}
	if c.CUSUM.Side != 0 {
		out.Since = &c.CUSUM.Since
	}
	return out
}

func pace(p *deviation.Pace) *Pace {
	if p == nil {
		return nil
	}
	return &Pace{Ratio: figures.Limits(math.Exp(p.Off.Value), math.Exp(p.Off.Low), math.Exp(p.Off.High)), Slowing: math.Exp(-p.Slowing), Cuts: p.Cuts}
}

func (a *answerer) trips() *Trips {
	t := a.trend.Trips
	if t == nil {
		return nil
	}
	per := a.clock(1)
	out := &Trips{
		Count: t.Count, Area: a.clock(t.Area), Rate: t.Value / per, Low: t.Low / per, High: t.High / per, PerArea: deviation.PerArea,
		Minus: t.Left, Plus: t.Right,
	}
	if shift := a.saw.Shift; shift > 0 {
		chance := func(rate float64) float64 { return -math.Expm1(-rate * shift / deviation.PerArea) }
		odds := figures.Limits(chance(t.Value), chance(t.Low), chance(t.High))
		out.Odds = &odds
	}
	if t.Count == 0 {
		out.WhyRatio = "no trip to compare"
		return out
	}
	out.Ratio = &Ratio{Value: figures.Finite(t.Ratio.Value), Low: figures.Finite(t.Ratio.Low), High: figures.Finite(t.Ratio.High), P: t.P}
	return out
}

func habits(p *deviation.Pool) *Habits {
	if p == nil {
		return nil
	}
	return &Habits{Blades: p.Blades, Cuts: p.Cuts, Cut: p.Cut, Probe: p.Probe, Power: p.Power, NewSD: p.LevelSD, DriftSD: p.DriftSD}
}

func (a *answerer) finding(f deviation.Finding) Finding {
	out := Finding{Kind: string(f.Kind), Since: moment(f.Since), Last: moment(f.Last), Confidence: f.Chance, Evidence: []string{}, CheckFirst: checks(f)}
	if !math.IsNaN(f.Area) {
		area := a.clock(f.Area)
		out.Area = &area
	}
	out.Sentence = a.words.sentence(f)
	for _, fact := range f.Facts {
		if text := a.words.evidence(f.Kind, fact); text != "" {
			out.Evidence = append(out.Evidence, text)
		}
	}
	return out
}

// Urgent orders the answers: those with a finding that is not the blade's wear
// first, then by the odds of a trip within the next shift.
func (r *Report) Urgent() []*Answer {
	var list []*Answer
	for i := range r.Saws {
		list = append(list, &r.Saws[i])
	}
	slices.SortStableFunc(list, func(a, b *Answer) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), -cmp.Compare(odds(a), odds(b)))
	})
	return list
}

func rank(a *Answer) int {
	switch {
	case len(a.Findings) == 0:
		return 2
	case a.Findings[0].Kind == string(deviation.BladeWear):
		return 1
	}
	return 0
}

func odds(a *Answer) float64 {
	if a.Reach == nil || a.Reach.Odds == nil {
		return 0
	}
	return *a.Reach.Odds
}
