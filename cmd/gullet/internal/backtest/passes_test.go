package backtest

import (
	"math"
	"math/rand/v2"
	"time"

	"gullet/analyze"
	"gullet/store"
)

// crooked makes the blades of an input wander off as those of the demo shop do: to a
// side, by 0.3 + 1.5·used² mil per inch of height, each cut by 0.25 more, the probe by 1
// mil (the project's domain reference, section 10.3), in so many cuts a blade evenly over
// its time. How much a blade is used is its area over its own life, which lies about
// wears; the first cut beyond the limit, 2.4 mil per inch, ends it, if nothing else did
// before. What the fittings tell is changed to fit.
func crooked(in *Input, seed uint64, cuts int, wears float64) {
	type blade struct {
		last time.Time
		cuts func() []store.HistoryRow // made again when read: those of 20,000 blades would not fit
	}
	made := map[string][]blade{}
	for i := range in.Fittings {
		was, f := in.Fittings[i], &in.Fittings[i]
		list := cutsOf(seed, &was, cuts, wears)
		f.Cuts, f.LastPass = int64(len(list)), list[len(list)-1].At
		if list[len(list)-1].Kind == analyze.KindTrip {
			f.End, f.Reason, f.Trips, f.LastGrade = f.LastPass.Add(time.Second), analyze.ReasonCrooked, 1, f.Totals[0].Grade
		}
		f.Totals = totalOf(list)
		f.Area = f.Totals[0].Area
		made[f.Saw] = append(made[f.Saw], blade{f.LastPass, func() []store.HistoryRow { return cutsOf(seed, &was, cuts, wears) }})
	}
	in.Passes = func(saw string, from, until time.Time, each func(store.HistoryRow) error) error {
		for _, b := range made[saw] {
			if !b.last.After(from) {
				continue
			}
			if later, err := between(b.cuts(), from, until, each); later || err != nil {
				return err
			}
		}
		return nil
	}
	in.Totals = func(saw string, from, until time.Time) ([]analyze.GradeTotal, error) {
		var list []store.HistoryRow
		err := in.Passes(saw, from, until, func(h store.HistoryRow) error { list = append(list, h); return nil })
		return totalOf(list), err
	}
}

const crookedAt = 0.0024

func cutsOf(seed uint64, f *store.FittingRow, cuts int, wears float64) (list []store.HistoryRow) {
	r := rand.New(rand.NewPCG(seed, uint64(f.ID)))
	side := math.Copysign(math.Exp(0.25*r.NormFloat64()), r.Float64()-0.5)
	own := wears * math.Exp(0.18*r.NormFloat64())
	face, span := f.Area/float64(cuts), f.LastPass.Sub(f.Start)
	for i := range cuts {
		height, used := 4+8*r.Float64(), face*float64(i+1)/own
		off := 0.001 * (side*(0.3+1.5*used*used) + 0.25*r.NormFloat64())
		read := height * (off + 0.001*r.NormFloat64()/height)
		h := store.HistoryRow{
			At: f.Start.Add(time.Duration(float64(span) * float64(i+1) / float64(cuts))), Kind: analyze.KindCut, Grade: f.Totals[0].Grade,
			Area: ptr(face), Seconds: ptr(10 * face), Height: ptr(height), Limit: ptr(crookedAt * height), Deviation: ptr(read), Bars: 1,
		}
		if math.Abs(off) > crookedAt {
			h.Kind = analyze.KindTrip
			return append(list, h)
		}
		list = append(list, h)
	}
	return list
}

// between gives those passes after one time and not after another, and whether there are
// later ones.
func between(list []store.HistoryRow, from, until time.Time, each func(store.HistoryRow) error) (later bool, err error) {
	for _, h := range list {
		if h.At.After(until) {
			return true, nil
		}
		if !h.At.After(from) {
			continue
		}
		if err := each(h); err != nil {
			return false, err
		}
	}
	return false, nil
}

// totalOf sums passes of one grade.
func totalOf(list []store.HistoryRow) []analyze.GradeTotal {
	var g analyze.GradeTotal
	for _, h := range list {
		g.Grade = h.Grade
		g.Area += *h.Area
		g.Cuts++
		g.Seconds += *h.Seconds
		g.Travel += 10 * *h.Area
	}
	return []analyze.GradeTotal{g}
}
