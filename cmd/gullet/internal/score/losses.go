package score

import (
	"fmt"

	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/figures"
)

// levels are those of the window.
var levels = [3]float64{0.1, 0.5, 0.9}

// guess is what each way of forecasting said at a level.
type guess struct{ gullet, life, interval float64 }

// guesses are those at each level; false where one of the ways had no number.
func (f *scored) guesses() (list [3]guess, ok bool) {
	life, ok1 := f.rivals.life.left(f.WeightedArea)
	interval, ok2 := f.rivals.interval.left(f.WeightedArea)
	for i, q := range []*float64{f.Q10, f.Q50, f.Q90} {
		if q == nil || !ok1 || !ok2 {
			return list, false
		}
		list[i] = guess{*q, life, interval}
	}
	return list, true
}

// pinball compares the loss with that of the rivals. They know one number, which
// stands for each level.
func (s *study) pinball() (*Pinball, string, error) {
	out := &Pinball{}
	sub := &study{Data: s.Data}
	for i := range s.scored {
		f := &s.scored[i]
		_, ok := f.guesses()
		switch {
		case f.fate.outcome().Beyond:
			out.Unended++
		case !ok:
			out.NoRival++
		default:
			sub.scored = append(sub.scored, *f)
		}
	}
	if len(sub.scored) == 0 {
		return nil, fmt.Sprintf("of %s the blade was not done by now, of %s no rival or no upper end was known", figures.Plural(out.Unended, "forecast", "forecasts"), figures.Plural(out.NoRival, "forecast", "forecasts")), nil
	}
	out.Forecasts = len(sub.scored)
	var failed error
	loss := func(level float64, of func(guess) float64, k int) []plan.Group {
		return sub.group(func(f *scored) (float64, float64) {
			list, _ := f.guesses()
			mean, _, err := plan.Pinball(level, []float64{of(list[k])}, []plan.Outcome{f.fate.outcome()})
			if err != nil {
				failed = err
			}
			return mean, 1
		})
	}
	gullet := func(g guess) float64 { return g.gullet }
	life := func(g guess) float64 { return g.life }
	interval := func(g guess) float64 { return g.interval }
	var overLife, overInterval []plan.Group
	for k, level := range levels {
		own, byLife, byInterval := loss(level, gullet, k), loss(level, life, k), loss(level, interval, k)
		out.Levels = append(out.Levels, Level{Level: level, Gullet: meanOf(own), MeanLife: meanOf(byLife), Interval: meanOf(byInterval)})
		overLife, overInterval = less(overLife, byLife, own), less(overInterval, byInterval, own)
		out.Blades = len(own)
	}
	if failed != nil {
		return nil, "", failed
	}
	out.OverMean, out.OverInterval = meanOf(overLife), meanOf(overInterval)
	return out, "", nil
}

// less adds up, blade by blade, by how much one loss is less than another, a level
// counting as much as the next.
func less(sum, rival, own []plan.Group) []plan.Group {
	if sum == nil {
		sum = make([]plan.Group, len(own))
	}
	for i := range own {
		sum[i].Sum += rival[i].Sum - own[i].Sum
		sum[i].Count += own[i].Count
	}
	return sum
}

// foreseen is the chance within a shift from which on an end counts as foreseen: one
// in five, several times what an average shift has.
const foreseen = 0.2

// shift scores the chances that a blade is done by the end of a shift.
func (s *study) shift() (*Shift, string, error) {
	out := &Shift{}
	var chances []float64
	var happened []bool
	sub := &study{Data: s.Data}
	for i := range s.scored {
		f := &s.scored[i]
		became, known := f.inShift(s.Data)
		if !known {
			out.LeftOut++
			continue
		}
		chances, happened, sub.scored = append(chances, *f.Odds), append(happened, became), append(sub.scored, *f)
	}
	if len(chances) == 0 {
		return nil, "no shift that was foretold is over with its blade on to the end or done", nil
	}
	all, err := plan.Brier(chances, happened)
	if err != nil {
		return nil, "", err
	}
	squares := sub.group(func(f *scored) (float64, float64) {
		became, _ := f.inShift(s.Data)
		one, err := plan.Brier([]float64{*f.Odds}, []bool{became})
		if err != nil {
			return 0, 0 // it was told above already
		}
		return one.Brier, 1
	})
	rate := sub.group(func(f *scored) (float64, float64) { return f.came(s.Data), 1 })
	out.Forecasts, out.Blades, out.Reference = all.N, len(rate), all.Reference
	out.Brier, out.BaseRate = meanOf(squares), shareOf(rate)
	warned := sub.group(func(f *scored) (float64, float64) {
		if *f.Odds < foreseen {
			return 0, 0
		}
		out.Warned++
		out.CameTrue += int(f.came(s.Data))
		return f.came(s.Data), 1
	})
	if out.Warned > 0 {
		share := shareOf(warned)
		out.TrueShare = &share
	}
	return out, "", nil
}

// came is 1 where the blade was done by the end of the shift, else 0.
func (f *scored) came(d *Data) float64 {
	if became, _ := f.inShift(d); became {
		return 1
	}
	return 0
}

// inShift is whether the blade was done by the end of the shift; known is false while
// it runs, where the blade was changed early within it, and without odds.
func (f *scored) inShift(d *Data) (became, known bool) {
	over := !f.ShiftEnd.After(d.Now)
	if f.Odds == nil || !over {
		return false, false
	}
	if f.fate.state == on || f.fate.at.After(f.ShiftEnd) {
		return false, true
	}
	return true, f.fate.state == done
}
