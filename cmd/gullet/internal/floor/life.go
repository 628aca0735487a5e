package floor

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"gullet/analyze"
	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
	"gullet/store"
)

// blade is all fittings of one serial.
type blade struct {
	kind        string // its type, "" when nobody said
	area        float64
	weighted    float64
	areaUnknown int64
	cuts        int64
	seconds     float64
	travel      float64
	trips       int64
	classes     map[string]*Class
	first, last time.Time // start of the oldest and of the newest fitting
	running     bool
	reason      analyze.EndReason // of the newest fitting
}

// kind is one blade type and what is known of its life.
type kind struct {
	life    Life
	fit     *life.Weibull
	longest float64 // weighted in² of the blade of this type that cut most
}

// noClass is the class of what nobody configured.
const noClass = "not configured"

// class is how a grade wears a blade. One that nobody configured counts as the
// reference grade and is told of.
func (b *builder) class(grade string) Class {
	if g, ok := b.cfg.GradeOf(grade); ok {
		return Class{Class: g.Class, Severity: g.Severity, Known: true}
	}
	return Class{Class: noClass, Severity: 1}
}

// gatherBlades puts the fittings of each serial together.
func (b *builder) gatherBlades() {
	b.blades, b.strange = map[string]*blade{}, map[string]float64{}
	for i := range b.fittings {
		f := &b.fittings[i]
		for _, t := range f.Totals {
			if !b.class(t.Grade).Known {
				b.strange[t.Grade] += t.Area
			}
		}
		if f.Serial == "" {
			continue
		}
		if b.blades[f.Serial] == nil {
			b.blades[f.Serial] = &blade{classes: map[string]*Class{}}
		}
		b.blades[f.Serial].add(b, f)
	}
}

// bladeOf is the whole blade of a fitting; an unnamed one stands for itself.
func (b *builder) bladeOf(f *store.FittingRow) *blade {
	if w, ok := b.blades[f.Serial]; ok {
		return w
	}
	w := &blade{classes: map[string]*Class{}}
	w.add(b, f)
	return w
}

func (w *blade) add(b *builder, f *store.FittingRow) {
	w.cuts += f.Cuts
	w.trips += f.Trips
	for _, t := range f.Totals {
		c := b.class(t.Grade)
		w.area += t.Area
		w.weighted += t.Area * c.Severity
		w.areaUnknown += t.AreaUnknown
		w.seconds += t.Seconds
		w.travel += t.Travel
		if w.classes[c.Class] == nil {
			w.classes[c.Class] = &c
		}
		w.classes[c.Class].Area += t.Area
	}
	if w.first.IsZero() || f.Start.Before(w.first) {
		w.first = f.Start
	}
	if !f.Start.Before(w.last) {
		w.last, w.reason, w.kind = f.Start, f.Reason, cmp.Or(f.Type, w.kind)
	}
	w.running = w.running || f.Open()
}

func (w *blade) classList() []Class {
	list := []Class{}
	for _, name := range sortedKeys(w.classes) {
		list = append(list, *w.classes[name])
	}
	return list
}

// fitTypes fits the life of each blade type.
func (b *builder) fitTypes() {
	b.types = map[string]*kind{}
	observations := map[string][]life.Observation{}
	for _, serial := range sortedKeys(b.blades) {
		w := b.blades[serial]
		if w.first.Before(b.since) {
			continue
		}
		k := b.types[w.kind]
		if k == nil {
			k = &kind{life: Life{Type: w.kind}}
			b.types[w.kind] = k
		}
		ended := !w.running && w.reason.Ends()
		if ended && w.weighted == 0 {
			continue // it ended before anything was counted: no age at its end
		}
		observations[w.kind] = append(observations[w.kind], life.Observation{Area: w.weighted, Ended: ended})
		k.count(w, ended)
	}
	for name, k := range b.types {
		k.estimate(observations[name])
	}
}

func (k *kind) count(w *blade, ended bool) {
	k.life.Blades++
	k.life.Area += w.area
	k.life.Weighted += w.weighted
	k.longest = max(k.longest, w.weighted)
	if ended {
		k.life.Ended++
		return
	}
	k.life.Censored++
	if !w.running && w.reason == analyze.ReasonUnknown {
		k.life.Unknown++
	}
}

func (k *kind) estimate(obs []life.Observation) {
	curve, err := life.KaplanMeier(obs)
	switch median := curve.Median(); {
	case err != nil:
		k.life.WhyMedian = err.Error()
	case math.IsInf(median.Value, 1):
		k.life.WhyMedian = fmt.Sprintf("not reached: fewer than half have ended (n=%d)", curve.Blades)
	default:
		i := interval(median)
		k.life.Median = &i
	}
	w, err := life.FitWeibull(obs)
	if err == nil && w.Ended < life.MinForecastEnds {
		err = fmt.Errorf("%d of %d blades have ended: at least %d ends are needed", w.Ended, w.Blades, life.MinForecastEnds)
	}
	if err != nil {
		k.life.WhyWeibull = err.Error()
		return
	}
	k.fit = &w
	k.life.Weibull = &Weibull{
		Shape: interval(life.Estimate{Value: w.Shape, Low: w.ShapeLow, High: w.ShapeHigh}),
		Scale: interval(w.ScaleEstimate()),
		Mean:  interval(w.MeanEstimate()),
	}
}

// interval is an estimate whose limits are nil where the data set none.
func interval(e life.Estimate) figures.Interval {
	return figures.Interval{Value: e.Value, Low: finite(e.Low), High: finite(e.High)}
}

// finite is nil for a limit that the data do not set.
func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

// lifeOrder lists the types by name.
func (b *builder) lifeOrder() []Life {
	list := []Life{}
	for _, name := range sortedKeys(b.types) {
		list = append(list, b.types[name].life)
	}
	return list
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

func typeName(t string) string { return cmp.Or(t, "(type not said)") }
