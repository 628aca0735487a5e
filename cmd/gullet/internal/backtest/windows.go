package backtest

import (
	"math"

	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/figures"
)

// stage is a point in the life of a blade at which it was foretold.
type stage struct {
	name   string
	since  func(*blade) float64 // +Inf: it was not foretold there
	window func(*blade) plan.Window
}

// toTrip are the same blades, each of which ends at its first trip after the stage at
// which its deviation was seen.
func toTrip(list []*blade) (out []*blade) {
	for _, b := range list {
		if b.ruling.tripped > 0 {
			to := *b
			to.life, to.ended = math.Min(b.ruling.tripped, b.life), true
			b = &to
		}
		out = append(out, b)
	}
	return out
}

var (
	stageNew  = stage{"when a blade was hung", func(*blade) float64 { return 0 }, func(b *blade) plan.Window { return b.told.new }}
	stageHalf = stage{"when it had cut half its median life", func(b *blade) float64 { return b.told.half }, func(b *blade) plan.Window { return b.told.worn }}
	// What is foretold here is the end or the first trip, whichever comes first.
	stageSeen = stage{
		"with their deviation, at the end of the first shift past that, up to the end or the first trip",
		func(b *blade) float64 {
			if b.ruling.seen == 0 {
				return math.Inf(1)
			}
			return math.Min(b.ruling.seen, b.life)
		},
		func(b *blade) plan.Window { return b.ruling.left },
	}
)

// foretold is one forecast and what came of it, in weighted in² from the stage on.
type foretold struct {
	window      plan.Window
	fixed, mean float64
	outcome     plan.Outcome
}

// forecasts are those of the blades that reached the stage.
func (s stage) forecasts(crowds []*crowd) (list []foretold) {
	for _, c := range crowds {
		for _, b := range c.blades {
			since, w := s.since(b), s.window(b)
			if b.life < since || math.IsInf(w.Q10, 1) {
				continue
			}
			left := func(age float64) float64 { return math.Max(0, age-since) }
			list = append(list, foretold{w, left(b.told.fixed), left(b.told.mean), plan.Outcome{Area: b.life - since, Beyond: !b.ended}})
		}
	}
	return list
}

// held says how what was foretold at a stage held.
func held(crowds []*crowd, s stage) Windows {
	list := s.forecasts(crowds)
	w := Windows{Stage: s.name, Blades: len(list), Shares: []Share{}, Losses: []Loss{}}
	windows, outcomes := make([]plan.Window, len(list)), make([]plan.Outcome, len(list))
	for i, f := range list {
		windows[i], outcomes[i] = f.window, f.outcome
	}
	if c, err := plan.Cover(windows, outcomes); err == nil {
		w.Inside, w.Below, w.Above, w.Undecided = c.Inside, c.Below, c.Above, c.Undecided
		if !math.IsNaN(c.Share) {
			share := figures.Limits(c.Share, c.Low, c.High)
			w.Decided = &share
		}
	}
	w.Shares = s.shares(crowds)
	w.Losses = append(w.Losses,
		losses("mean life", list, func(f foretold) float64 { return f.mean }),
		losses(PolicyFixed, list, func(f foretold) float64 { return f.fixed }),
	)
	return w
}

// losses holds a rival that foretells one area beside the plan's windows, where both say
// something at all quantiles.
func losses(name string, list []foretold, rival func(foretold) float64) Loss {
	var outcomes []plan.Outcome
	var theirs []float64
	var ours [3][]float64
	for _, f := range list {
		at := rival(f)
		if f.outcome.Beyond || !(at >= 0) || math.IsInf(at+f.window.Q90, 1) {
			continue
		}
		outcomes, theirs = append(outcomes, f.outcome), append(theirs, at)
		for k, q := range []float64{f.window.Q10, f.window.Q50, f.window.Q90} {
			ours[k] = append(ours[k], q)
		}
	}
	l := Loss{Forecast: name, Blades: len(outcomes)}
	if len(outcomes) == 0 {
		return l
	}
	l.Loss, l.Plan = &Pinball{}, &Pinball{}
	for k, level := range []float64{0.1, 0.5, 0.9} {
		loss := func(of []float64) float64 {
			mean, _, _ := plan.Pinball(level, of, outcomes) // areas all, as many as outcomes
			return mean
		}
		*l.Loss.at(k), *l.Plan.at(k) = loss(theirs), loss(ours[k])
	}
	return l
}

func (p *Pinball) at(k int) *float64 { return []*float64{&p.Q10, &p.Q50, &p.Q90}[k] }

// point is one thing to hold of a window: that a blade is done within it, from one of
// its points to another.
type point struct {
	what     string
	want     float64
	from, to func(plan.Window) float64
}

func points() []point {
	zero := func(plan.Window) float64 { return 0 }
	q10 := func(w plan.Window) float64 { return w.Q10 }
	q50 := func(w plan.Window) float64 { return w.Q50 }
	q90 := func(w plan.Window) float64 { return w.Q90 }
	return []point{
		{"between the 10 and the 90 % point", 0.8, q10, q90},
		{"by the 10 % point", 0.1, zero, q10},
		{"by the 50 % point", 0.5, zero, q50},
		{"by the 90 % point", 0.9, zero, q90},
	}
}

// shares is how often blades were done by the points of their windows.
func (s stage) shares(crowds []*crowd) []Share {
	list := points()
	shares := make([]Share, len(list))
	sums := make([][2][]float64, len(list)) // done, and all, by draw
	for i, p := range list {
		shares[i] = Share{What: p.what, Want: p.want}
		sums[i] = [2][]float64{make([]float64, draws+1), make([]float64, draws+1)}
	}
	for stream, c := range crowds {
		furthest := c.furthest()
		var questions []*question
		for i, p := range list {
			q, asked := c.done(s, p, furthest)
			shares[i].Blades += asked
			shares[i].Known += q.known()
			questions = append(questions, q)
		}
		for i, answers := range c.answers(questions, uint64(stream)) {
			for draw, a := range answers {
				sums[i][0][draw] += a[0]
				sums[i][1][draw] += a[1]
			}
		}
	}
	for i := range shares {
		of := make([]float64, draws+1)
		for draw := range of {
			of[draw] = sums[i][0][draw] / sums[i][1][draw]
		}
		shares[i].Share = estimate(of, shares[i].Known >= fewestKnown)
		switch {
		case shares[i].Blades == 0:
			shares[i].Why = "too few blades were let run so far"
		case shares[i].Known < fewestKnown:
			shares[i].Why = "no limits: the outcome of fewer than 10 blades is known"
		}
	}
	return shares
}

// done asks of each blade that reached the stage whether it was done between two points
// of its window, where the second lies no further than can be judged, and of how many.
// Both figures are sums over blades: of those that were, and of all.
func (c *crowd) done(s stage, p point, furthest float64) (q *question, asked int) {
	n := len(c.blades)
	q = &question{since: make([]int, n), until: make([]int, n), figures: []numbers{make(numbers, n), make(numbers, n)}}
	for i, b := range c.blades {
		since := s.since(b)
		from, to := since+p.from(s.window(b)), since+p.to(s.window(b))
		q.until[i] = -1
		if b.life < since || !(to <= furthest) || math.IsInf(to, 1) {
			continue
		}
		asked++
		if !b.ended && b.life < to {
			continue
		}
		q.since[i], q.until[i] = c.before(since), c.before(math.Min(b.life, to))
		q.figures[1][i] = 1
		if b.ended && from <= b.life && b.life <= to {
			q.figures[0][i] = 1
		}
	}
	return q, asked
}
