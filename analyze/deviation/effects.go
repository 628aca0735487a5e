package deviation

import (
	"maps"
	"math"
	"slices"
	"time"
)

// effect is something that shows on some cuts only.
type effect struct {
	finding Finding
	outward bool
	mark    func(*Cut) (float64, bool)
	size    float64 // per unit of the mark
	from    int     // fitting
}

// effects looks for what shows on some cuts of the last fittings only, over all of
// them and over the last alone, where it may have begun; the plainest first, which
// is taken off the cuts before the next is looked for, so that one fault is not
// found under two names.
func (p *Pool) effects(fittings []Fitting, pace *Standard) (found []Finding, rest []Fitting) {
	rest = fittings
	for range 3 {
		best := effect{}
		for _, from := range []int{0, len(rest) - 1} {
			for _, e := range p.candidates(rest[max(0, from):], pace) {
				again := slices.ContainsFunc(found, func(f Finding) bool { return f.Kind == e.finding.Kind && f.Facts[0].Name == e.finding.Facts[0].Name })
				if e.finding.Chance > best.finding.Chance && !again {
					best, best.from = e, max(0, from)
				}
			}
		}
		if best.finding.Chance < told {
			break
		}
		found = append(found, best.finding)
		rest = p.without(rest, best)
	}
	return found, rest
}

// candidates are all effects that are looked for.
func (p *Pool) candidates(fittings []Fitting, pace *Standard) (list []effect) {
	list = append(list, p.mitres(fittings)...)
	list = append(list, p.grades(fittings)...)
	list = append(list, p.tall(fittings)...)
	return append(list, p.pushed(fittings, pace)...)
}

// square is the angle up to which a cut counts as square.
const square = 1.0

// mitres are effects on mitred cuts, to one side or to the side of the angle.
func (p *Pool) mitres(fittings []Fitting) (list []effect) {
	for _, mark := range []func(*Cut) (float64, bool){
		func(c *Cut) (float64, bool) {
			if math.Abs(c.Mitre) > square {
				return 1, true
			}
			return 0, true
		},
		func(c *Cut) (float64, bool) {
			if math.Abs(c.Mitre) > square {
				return math.Copysign(1, c.Mitre), true
			}
			return 0, true
		},
	} {
		list = append(list, p.effect(MitreOnly, fittings, blockCuts, false, "", mark)...)
	}
	return list
}

// grades are effects on one grade.
func (p *Pool) grades(fittings []Fitting) (list []effect) {
	names := map[string]bool{}
	for _, f := range fittings {
		for i := range f.Cuts {
			names[f.Cuts[i].Grade] = true
		}
	}
	if len(names) < 2 {
		return nil
	}
	for _, name := range slices.Sorted(maps.Keys(names)) {
		list = append(list, p.effect(GradeOnly, fittings, blockCuts, true, name, func(c *Cut) (float64, bool) {
			if c.Grade == name {
				return 1, true
			}
			return 0, true
		})...)
	}
	return list
}

// effect is a contrast between cuts that are marked and those that are not.
func (p *Pool) effect(kind Kind, fittings []Fitting, block int, outward bool, name string, mark func(*Cut) (float64, bool)) []effect {
	least := leastEffect
	if kind == FeedPushed {
		least = leastPushed
	}
	c := p.contrast(fittings, block, outward, 1, least, mark)
	if c.With < leastWith || c.Others < leastWith || outward && c.Effect.Value < 0 {
		return nil
	}
	return []effect{{
		finding: Finding{Kind: kind, Area: math.NaN(), Since: first(fittings, mark), Last: last(fittings, mark), Chance: c.Chance, Facts: []Fact{
			fact(FactWith, c.Effect, c.With, name), plainFact(FactOthers, math.NaN(), c.Others, ""),
		}},
		outward: outward, mark: mark, size: c.Effect.Value,
	}}
}

// tall is deviation over height that grows with the height, as it must not.
func (p *Pool) tall(fittings []Fitting) []effect {
	low, high := outer(fittings)
	if !(high > 1.5*low) {
		return nil
	}
	mark := func(c *Cut) (float64, bool) { return c.Height - low, c.Height > 0 }
	c := p.contrast(fittings, blockCuts, true, high-low, leastEffect, mark)
	if c.With+c.Others < 2*leastWith || c.Effect.Value < 0 {
		return nil
	}
	return []effect{{
		finding: Finding{Kind: GuideGap, Area: math.NaN(), Since: first(fittings, mark), Chance: c.Chance, Facts: []Fact{
			fact(FactTall, c.Effect, c.With+c.Others, ""), {What: FactHeights, Value: math.NaN(), Low: low, High: high},
		}},
		outward: true, mark: mark, size: c.Effect.Value / (high - low),
	}}
}

// pushed are cuts that are faster than standard, several in a row, and further
// off.
func (p *Pool) pushed(fittings []Fitting, pace *Standard) []effect {
	off, n := 0.0, 0
	for _, f := range fittings {
		for i := range f.Cuts {
			if c := &f.Cuts[i]; c.fast {
				off += c.pace
				n++
			}
		}
	}
	if n < minPushed {
		return nil
	}
	list := p.effect(FeedPushed, fittings, math.MaxInt, true, "", func(c *Cut) (float64, bool) {
		if c.fast {
			return 1, true
		}
		return 0, !math.IsNaN(c.pace)
	})
	for i := range list {
		e := normalEstimate(off/float64(n), pace.SD*pace.SD/float64(n))
		list[i].finding.Facts = append(list[i].finding.Facts, fact(FactPace, e, n, ""))
	}
	return list
}

// first is the time of the first cut that bears an effect.
func first(fittings []Fitting, mark func(*Cut) (float64, bool)) (at time.Time) {
	for _, f := range fittings {
		for i := range f.Cuts {
			if x, ok := mark(&f.Cuts[i]); ok && x != 0 {
				return f.Cuts[i].At
			}
		}
	}
	return at
}

// last is the time of the last cut that bears an effect.
func last(fittings []Fitting, mark func(*Cut) (float64, bool)) (at time.Time) {
	for k := len(fittings) - 1; k >= 0; k-- {
		for i := len(fittings[k].Cuts) - 1; i >= 0; i-- {
			if x, ok := mark(&fittings[k].Cuts[i]); ok && x != 0 {
				return fittings[k].Cuts[i].At
			}
		}
	}
	return at
}

// without takes an effect off the cuts that bear it.
func (p *Pool) without(fittings []Fitting, e effect) []Fitting {
	out := slices.Clone(fittings)
	for k := e.from; k < len(out); k++ {
		side := 1.0
		if e.outward {
			side = p.side(out[k].Cuts)
		}
		out[k].Cuts = slices.Clone(out[k].Cuts)
		for i := range out[k].Cuts {
			c := &out[k].Cuts[i]
			if x, ok := e.mark(c); ok {
				c.Deviation -= side * e.size * x
			}
		}
	}
	return out
}
