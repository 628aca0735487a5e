package backtest

import (
	"math"
	"slices"

	"gullet/cmd/gullet/internal/figures"
)

// judged is the policies' answers for the blades of one type.
type judged struct {
	name        string
	policies    []string
	crowd       *crowd
	early, late float64 // cost of a planned and of an unplanned change
	furthest    float64
	questions   []*question
	answers     [][][]float64 // by policy, draw and figure
}

func judge(name string, policies []string, c *crowd, early, late float64, stream uint64) *judged {
	j := &judged{name: name, policies: policies, crowd: c, early: early, late: late}
	j.furthest = c.furthest()
	for _, p := range policies {
		j.questions = append(j.questions, c.under(p, j.furthest, early, late))
	}
	j.answers = c.answers(j.questions, stream)
	return j
}

// rates is a figure for an area, of a policy, in each draw.
func (j *judged) rates(policy, figure int, per float64) []float64 {
	var list []float64
	for _, sums := range j.answers[policy] {
		list = append(list, per*sums[figure]/sums[area])
	}
	return list
}

// worked is the weighted in² that the blades really cut.
func (j *judged) worked() (sum float64) {
	for _, life := range j.crowd.lives {
		sum += life
	}
	return sum
}

// What rates are told per, in weighted in².
const (
	perChanges = 100_000
	perCost    = 1000
)

// answer is what is told of a type.
func (j *judged) answer() Type {
	t := Type{Type: named(j.name), Blades: len(j.crowd.blades), Furthest: figures.Finite(j.furthest)}
	for _, b := range j.crowd.blades {
		switch {
		case b.ended:
			t.Ended++
		case b.off:
			t.Pulled++
		default:
			t.On++
		}
	}
	for i, name := range j.policies {
		p := Policy{Policy: name, Known: j.questions[i].known(), Ends: j.ends(i)}
		j.ages(&p)
		first := j.answers[i][0]
		p.Beyond = figures.Finite(first[stopped] / first[one])
		if p.Beyond != nil && *p.Beyond > mostBeyond {
			p.Why = "most of its blades run on beyond what can be judged"
		} else {
			p.rate(j.rates(i, planned, perChanges), j.rates(i, unplanned, perChanges), j.rates(i, cost, perCost))
		}
		if i > 0 {
			p.beside(&t.Policies[0], j.rates(i, cost, perCost), j.rates(0, cost, perCost))
		}
		t.Policies = append(t.Policies, p)
	}
	return t
}

// mostBeyond is the share of its blades that a policy may run on beyond what can be
// judged for its rates to be told.
const mostBeyond = 0.5

// ends is how many unplanned changes are known under a policy.
func (j *judged) ends(policy int) (n int) {
	for _, v := range j.questions[policy].figures[unplanned] {
		n += int(v)
	}
	return n
}

// ages fills in when a policy changes blades, and which ends that would have been ahead
// of.
func (j *judged) ages(p *Policy) {
	var ages []float64
	for _, b := range j.crowd.blades {
		age := b.age(p.Policy)
		switch {
		case p.Policy != PolicyHabit:
			ages = append(ages, age)
			if math.IsInf(age, 1) {
				p.Never++
			}
		case b.off && !b.ended:
			ages = append(ages, b.life)
		}
	}
	p.Age = figures.Finite(middle(ages))
	if p.Policy == PolicyHabit {
		return
	}
	var given float64
	p.Seen, p.Ahead, given = j.crowd.early(p.Policy)
	if p.Ahead > 0 {
		p.Given = &given
	}
}

// The fewest blades, of them ends, that limits are told from.
const (
	fewestKnown = 10
	fewestEnds  = 1
)

// rate fills in a policy's rates, each as it is and then in each draw.
func (p *Policy) rate(early, late, paid []float64) {
	if p.Known == 0 {
		p.Why = "of no blade is the outcome known"
		return
	}
	if p.Known < fewestKnown {
		p.Why = "no limits: the outcome of fewer than 10 blades is known"
	} else if p.Ends < fewestEnds {
		p.Why = "no limits: no blade ended before its change"
	}
	p.Planned, p.Unplanned, p.Cost = estimate(early, p.limits()), estimate(late, p.limits()), estimate(paid, p.limits())
}

// limits reports whether enough is known to tell any.
func (p *Policy) limits() bool { return p.Known >= fewestKnown && p.Ends >= fewestEnds }

// beside fills in what a policy costs more than the plan, where both are known.
func (p *Policy) beside(plan *Policy, paid, plans []float64) {
	if p.Cost == nil || plan.Cost == nil {
		return
	}
	more := make([]float64, len(paid))
	for i, x := range paid {
		more[i] = x - plans[i]
	}
	p.More = estimate(more, p.limits() && plan.limits())
}

// estimate is a figure with the limits between which 95 % of its draws lie; nil is not
// known. Draws in which it is not known are left out.
func estimate(list []float64, limits bool) *figures.Interval {
	if math.IsNaN(list[0]) || math.IsInf(list[0], 0) {
		return nil
	}
	e := figures.Interval{Value: list[0]}
	drawn := slices.DeleteFunc(slices.Clone(list[1:]), func(x float64) bool { return math.IsNaN(x) || math.IsInf(x, 0) })
	if !limits || len(drawn) == 0 {
		return &e
	}
	slices.Sort(drawn)
	at := func(share float64) *float64 { return &drawn[int(math.Round(share*float64(len(drawn)-1)))] }
	e.Low, e.High = at(0.025), at(0.975)
	return &e
}

// together is all types at once: each policy's rates for the work that the blades of
// each type really did.
func together(list []*judged, types []Type) Type {
	t := Type{Type: AllTypes}
	all := 0.0
	for i, j := range list {
		t.Blades += types[i].Blades
		t.Ended += types[i].Ended
		t.Pulled += types[i].Pulled
		t.On += types[i].On
		all += j.worked()
	}
	mixed := func(policy, figure int, per float64) []float64 {
		sum := make([]float64, draws+1)
		for _, j := range list {
			for i, x := range j.rates(policy, figure, per) {
				sum[i] += x * j.worked() / all
			}
		}
		return sum
	}
	for i := range list[0].policies {
		p := sumOf(i, list, types)
		if k := slices.IndexFunc(types, func(t Type) bool { return t.Policies[i].Cost == nil }); k >= 0 {
			p.Why = "it is not known of " + types[k].Type
		} else {
			p.rate(mixed(i, planned, perChanges), mixed(i, unplanned, perChanges), mixed(i, cost, perCost))
		}
		if i > 0 {
			p.beside(&t.Policies[0], mixed(i, cost, perCost), mixed(0, cost, perCost))
		}
		t.Policies = append(t.Policies, p)
	}
	return t
}

// sumOf is what the types add up to of a policy.
func sumOf(policy int, list []*judged, types []Type) Policy {
	p := Policy{Policy: list[0].policies[policy]}
	given, reached, blades := 0.0, 0.0, 0.0
	for k, j := range list {
		of := &types[k].Policies[policy]
		p.Known += of.Known
		p.Ends += of.Ends
		p.Never += of.Never
		p.Seen += of.Seen
		p.Ahead += of.Ahead
		if of.Given != nil {
			given += *of.Given * float64(of.Ahead)
		}
		reached += j.answers[policy][0][stopped]
		blades += j.answers[policy][0][one]
	}
	p.Beyond = figures.Finite(reached / blades)
	if p.Ahead > 0 {
		given /= float64(p.Ahead)
		p.Given = &given
	}
	return p
}
