package lives

import (
	"fmt"
	"math"
	"strings"

	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
)

// mostCompared is the number of groups of which every pair is compared; of more,
// each is compared with the group of most blades.
const mostCompared = 6

// compare fills in whether the groups differ, by tests, pairwise, and as one
// shop drawn toward its common life.
func (s *study) compare(r *Report, names []string) {
	if len(names) < 2 {
		r.WhyTests = "there is one group"
		r.WhyShrunk = r.WhyTests
		return
	}
	groups := make([][]life.Observation, len(names))
	for i, name := range names {
		groups[i] = s.observations(name)
	}
	test := func(f func([][]life.Observation) (life.Test, error)) *Test {
		t, err := f(groups)
		if err != nil {
			r.WhyTests = err.Error()
			return nil
		}
		return &Test{t.Chi2, t.DF, t.P}
	}
	r.LogRank, r.Peto = test(life.LogRank), test(life.Peto)
	for _, p := range pairs(groups) {
		r.Pairs = append(r.Pairs, s.pair(names[p[0]], names[p[1]], groups[p[0]], groups[p[1]]))
	}
	s.shrink(r, names, groups)
}

// pairs lists the pairs of groups to compare, by index.
func pairs(groups [][]life.Observation) (list [][2]int) {
	most := 0
	for i, g := range groups {
		if len(g) > len(groups[most]) {
			most = i
		}
	}
	for i := range groups {
		for j := i + 1; j < len(groups); j++ {
			if len(groups) <= mostCompared || i == most || j == most {
				list = append(list, [2]int{i, j})
			}
		}
	}
	return list
}

func (s *study) pair(nameA, nameB string, a, b []life.Observation) (p Pair) {
	p = Pair{A: nameA, B: nameB, BladesA: len(a), BladesB: len(b), EndedA: ended(a), EndedB: ended(b)}
	doubt := s.mixDoubt(nameA, nameB)
	if ratio, ok := costRatio(s.costLine(nameA), s.costLine(nameB), doubt); ok {
		p.Cost = &ratio
		defer func() { p.Sentence += costWords(&p, s.clock) }()
	}
	c, err := life.Compare(a, b)
	if err != nil {
		p.Sentence = fmt.Sprintf("%s and %s cannot be compared yet: %s", nameA, nameB, strings.TrimPrefix(err.Error(), "comparison: "))
		return p
	}
	c = c.Widen(doubt)
	ratio := interval(c.Ratio)
	p.Ratio, p.P = &ratio, &c.P
	p.Sentence = sentence(&p, &c)
	return p
}

// sentence says in words which group lasts longer, if it can be said.
func sentence(p *Pair, c *life.Comparison) string {
	long, short, ratio := p.A, p.B, c.Ratio
	if ratio.Value < 1 {
		long, short = short, long
		ratio = life.Estimate{Value: 1 / ratio.Value, Low: 1 / ratio.High, High: 1 / ratio.Low}
	}
	blades := fmt.Sprintf("%d and %d blades, %d and %d ended", p.BladesA, p.BladesB, p.EndedA, p.EndedB)
	if long != p.A {
		blades = fmt.Sprintf("%d and %d blades, %d and %d ended", p.BladesB, p.BladesA, p.EndedB, p.EndedA)
	}
	if ratio.Low > 1 {
		return fmt.Sprintf("%s outlasts %s by %s (%s to %s), %s", long, short, more(ratio.Value), more(ratio.Low), more(ratio.High), blades)
	}
	if c.MoreEach < 0 {
		return fmt.Sprintf("no difference can be told between %s and %s (%s, %s to %s; %s): they cut different materials, and how these wear a blade is not known well enough",
			long, short, more(ratio.Value), more(ratio.Low), more(ratio.High), blades)
	}
	p.Needed = &c.MoreEach
	return fmt.Sprintf("no difference can be told yet between %s and %s (%s, %s to %s; %s): about %s more blades of each would be needed to tell one of %s",
		long, short, more(ratio.Value), more(ratio.Low), more(ratio.High), blades, figures.Thousands(twoFigures(c.MoreEach)), more(c.Aimed))
}

// costWords says which of two groups costs less for what it cuts.
func costWords(p *Pair, clock string) string {
	c, cheap, dear := *p.Cost, p.A, p.B
	if c.Low == nil || c.High == nil {
		return ""
	}
	low, high := *c.Low, *c.High
	if c.Value > 1 {
		c.Value, low, high = 1/c.Value, 1/high, 1/low
		cheap, dear = dear, cheap
	}
	if high >= 1 {
		return fmt.Sprintf("; which costs less per %s cannot be told yet (%s against %s: %s, %s to %s)", clock, cheap, dear, more(c.Value), more(low), more(high))
	}
	return fmt.Sprintf("; %s costs %s less per %s (%s to %s)", cheap, figures.Percent(1-c.Value), clock, figures.Percent(1-high), figures.Percent(1-low))
}

// more writes a ratio as a change in percent.
func more(ratio float64) string {
	percent := 100 * (ratio - 1)
	switch {
	case ratio > 1000:
		return "more than ×1,000"
	case percent >= 1000:
		return fmt.Sprintf("×%.0f", ratio)
	}
	if math.Abs(percent) < 0.5 {
		return "0 %"
	}
	return fmt.Sprintf("%.0f %%", percent)
}

// twoFigures rounds a number of blades: it is a rough one.
func twoFigures(n int) float64 {
	x := float64(n)
	if x < 100 {
		return x
	}
	step := math.Pow(10, math.Floor(math.Log10(x))-1)
	return math.Ceil(x/step) * step
}

func ended(obs []life.Observation) (n int) {
	for _, o := range obs {
		if o.Ended {
			n++
		}
	}
	return n
}

// shrink fills in the groups' lives drawn toward their common life.
func (s *study) shrink(r *Report, names []string, groups [][]life.Observation) {
	shrunk, err := life.Shrink(groups)
	if err != nil {
		r.WhyShrunk = err.Error()
		return
	}
	r.Shrunk = &Shrunk{Shape: shrunk.Shape, Scale: shrunk.Scale, SD: interval(shrunk.SD)}
	for i, g := range shrunk.Groups {
		one := ShrunkGroup{
			Group: names[i], Blades: g.Blades, Ended: g.Ended, Cens: g.Blades - g.Ended,
			B10: interval(g.B10), B50: interval(g.B50), Scale: interval(g.Scale), Offset: interval(g.Offset),
		}
		for k := range r.Groups {
			if raw := r.Groups[k].Weibull; raw != nil && r.Groups[k].Group == names[i] {
				one.Raw = &raw.B50.Value
			}
		}
		r.Shrunk.Groups = append(r.Shrunk.Groups, one)
	}
}

// regress fills in ln life against the covariates and the groups.
func (s *study) regress(r *Report) {
	if len(s.Covariates) == 0 {
		return
	}
	names := s.groups()[1:]
	rows := make([]life.Row, len(s.Rows))
	for i := range s.Rows {
		x := make([]float64, 0, len(names)+len(s.Covariates))
		for _, name := range names {
			x = append(x, indicator(s.Rows[i].Group == name))
		}
		rows[i] = life.Row{Observation: s.lives[i], X: append(x, s.Rows[i].X...)}
	}
	var labels []string
	for _, name := range names {
		labels = append(labels, "group "+name)
	}
	labels = append(labels, s.Covariates...)
	fit, err := life.FitRegression(rows)
	if err != nil {
		r.WhyRegr = fmt.Sprintf("%v (columns: %s)", err, strings.Join(labels, ", "))
		return
	}
	last := len(fit.Covariance) - 1
	r.Regression = &Regression{
		Sigma: fit.Sigma, LogSigmaSE: root(fit.Covariance[last][last]), LogLik: fit.LogLik, Blades: fit.Blades, Ended: fit.Ended,
	}
	for j, label := range append([]string{"intercept"}, labels...) {
		r.Regression.Coefficients = append(r.Regression.Coefficients, coefficient(label, fit.Beta[j], fit.Covariance[j][j]))
	}
}

func coefficient(name string, value, variance float64) Coefficient {
	c := Coefficient{Name: name, Value: value, SE: root(variance)}
	if c.SE != nil {
		c.Low, c.High = figures.Finite(value-z95**c.SE), figures.Finite(value+z95**c.SE)
	}
	return c
}

func indicator(is bool) float64 {
	if is {
		return 1
	}
	return 0
}
