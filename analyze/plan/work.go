package plan

import "math"

// Leg is a stretch of coming work: a job, or what a saw usually cuts.
type Leg struct {
	Job      string  // "" for the usual work
	Area     float64 // in²
	Weighted float64 // in² of the reference class that wear a blade as much
	Bends    float64 // of the band; NaN where not known
	Hours    float64 // of the shop's work
}

// Work is what a saw is to cut, jobs in their order and then the usual for ever.
type Work struct {
	Jobs  []Leg
	Usual Leg // of one hour; its Weighted is above 0
}

// Place is how far the work is along.
type Place struct{ Area, Weighted, Bends, Hours float64 }

// after is the place when a share of a leg is done, too.
func (p Place) after(l Leg, share float64) Place {
	return Place{p.Area + share*l.Area, p.Weighted + share*l.Weighted, p.Bends + share*l.Bends, p.Hours + share*l.Hours}
}

// At is the place at which a blade has been worn by so much weighted area from
// now; within a leg all counts run evenly.
func (w *Work) At(weighted float64) Place {
	return w.reach(weighted, func(l Leg) float64 { return l.Weighted })
}

// AtHours is the place after so many hours of work.
func (w *Work) AtHours(hours float64) Place {
	return w.reach(hours, func(l Leg) float64 { return l.Hours })
}

// reach is the place at which one of the counts has run so far.
func (w *Work) reach(far float64, of func(Leg) float64) (p Place) {
	if !(far > 0) {
		return p
	}
	for _, l := range w.Jobs {
		if step := of(l); step < far {
			far -= step
			p = p.after(l, 1)
			continue
		}
		return p.after(l, far/of(l))
	}
	step := of(w.Usual)
	if !(step > 0) {
		return Place{math.NaN(), math.NaN(), math.NaN(), math.NaN()}
	}
	return p.after(w.Usual, far/step)
}

// Starts are the places at which the jobs begin, and last the one at which they are
// all done.
func (w *Work) Starts() []Place {
	list := []Place{{}}
	for _, l := range w.Jobs {
		list = append(list, list[len(list)-1].after(l, 1))
	}
	return list
}
