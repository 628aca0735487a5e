package planning

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gullet/analyze"
	"gullet/analyze/plan"
	"gullet/analyze/section"
	"gullet/cmd/gullet/internal/jobs"
	"gullet/cmd/gullet/internal/lives"
)

// Coming is one open job as it was handed in.
type Coming struct {
	Job     string
	Saw     string // "" for any
	Grade   string
	Section section.Section
	Mitre   float64 // degrees from square
	Bars    int
	Pieces  int // still to cut
	Due     time.Time
}

// pace is what a saw makes of an hour of the shop's work.
type pace struct {
	usual plan.Leg // of one hour
	share float64  // of working time in the cut
	rate  func(grade string, face float64) (float64, bool)
}

// leg is a job as work of a saw: its in² at the angle, weighted as its grade wears,
// and the hours they take at the saw's own rate for grade and size, of which the blade
// is in the cut for a part. It is false where nobody can tell the rate.
func (p *pace) leg(c *Coming, shop *lives.Shop) (plan.Leg, bool) {
	face := section.CutArea(c.Section.Area(), max(1, c.Bars), c.Mitre)
	area := face * float64(c.Pieces) / float64(max(1, c.Bars))
	rate, ok := p.rate(shop.Grade(c.Grade), face)
	if !ok || !(rate > 0) || !(p.share > 0) {
		return plan.Leg{}, false
	}
	weighted := area * shop.Weight(c.Grade)
	bends := math.NaN()
	if p.usual.Area > 0 {
		// The band bends with the time in the cut, at the saw's usual speed.
		bends = p.usual.Bends / (p.usual.Hours * p.share) * area / rate / 60
	}
	return plan.Leg{Job: c.Job, Area: area, Weighted: weighted, Bends: bends, Hours: area / rate / 60 / p.share}, true
}

// place gives each job to its saw, and those of any saw, the earliest due first, to
// the one that has cut their grade and is free first. Jobs that no saw was found for
// come back by name.
func place(coming []Coming, saws []*sawPlan, shop *lives.Shop) (loose []string) {
	slices.SortStableFunc(coming, func(a, b Coming) int { return sooner(a.Due, b.Due) })
	for i := range coming {
		c := &coming[i]
		var best *sawPlan
		var leg plan.Leg
		for _, s := range saws {
			if c.Saw != "" && c.Saw != s.name || c.Saw == "" && !s.cuts[shop.Grade(c.Grade)] {
				continue
			}
			l, ok := s.pace.leg(c, shop)
			if ok && (best == nil || s.hours+l.Hours < best.hours+leg.Hours) {
				best, leg = s, l
			}
		}
		if best == nil {
			loose = append(loose, c.Job)
			continue
		}
		best.hours += leg.Hours
		best.work.Jobs = append(best.work.Jobs, leg)
		best.coming = append(best.coming, c)
	}
	return loose
}

// teeth is what the teeth of the saw's blade are in for, "" where nothing speaks
// against them or the pitch is not configured.
func (in *Input) teeth(s *sawPlan, c *Coming) string {
	if s.blade == nil {
		return ""
	}
	t, ok := in.Config.BladeTypeOf(s.blade.Type)
	if !ok || t.TPI == "" {
		return ""
	}
	low, high, err := section.ParseTPI(t.TPI)
	if err != nil {
		return "" // the configuration was checked when it was read
	}
	row, _ := in.Config.SawOf(s.name)
	a := jobs.Study(jobs.Job{
		Name: c.Job, Section: c.Section, Pass: section.Pass{Mitre: c.Mitre, Count: max(1, c.Bars), Saw: cmp.Or(row.Kind, analyze.FixedFrame)},
	}, jobs.Blade{TPI: t.TPI, Low: low, High: high})
	if a.Verdict == jobs.Strips || a.Verdict == jobs.Fills {
		return a.Caution
	}
	return ""
}

// sooner orders due times; those without one come last.
func sooner(a, b time.Time) int {
	switch {
	case a.IsZero() && b.IsZero():
		return 0
	case a.IsZero():
		return 1
	case b.IsZero():
		return -1
	}
	return a.Compare(b)
}
