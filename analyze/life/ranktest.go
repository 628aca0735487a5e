package life

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// Test is the result of a test whose statistic follows a chi-square
// distribution with DF degrees of freedom where there is nothing to find.
type Test struct {
	Chi2 float64
	DF   int
	P    float64 // chance of a Chi2 as great or greater where there is nothing to find
}

// LogRank tests whether the blades of two or more groups last equally long. It
// gives every end the same weight, and so is best at telling apart risks that
// stay in proportion over the whole life.
//
// At each area with d ends among n blades at risk, group i is expected to have
// n_i·d/n of them. The test adds up ended less expected for each group, and
// holds the sums against their variance, hypergeometric at a tie:
//
//	V_ij = Σ w²·d(n-d)/(n-1)·(n_i/n)·([i=j] - n_j/n),   w = 1.
//
// A blade with a delayed start is at risk only after it. Areas need one unit,
// whichever, for only their order counts. The cost is that of sorting, and
// groups² for each area with ends.
//
// DF is the number of groups less one. A group without a blade at risk at any
// end says nothing and does not count, as in the reference library. Where late
// entries keep some groups from ever running beside the others, DF is the rank
// of V: the groups are compared within each set of them that did.
//
// It fails on an impossible observation, with fewer than two groups that have
// blades, without an end, and where no end had two groups at risk and a blade
// that outran it.
//
// Source: Kalbfleisch and Prentice, The Statistical Analysis of Failure Time
// Data, section 1.5 [from memory].
func LogRank(groups [][]Observation) (Test, error) {
	return rankTest("log-rank test", groups, 0)
}

// Peto is LogRank with more weight on early ends: w is the share of all blades
// together that are still alive just before the area (Kaplan-Meier, continuous
// from the left). It is best where the risks differ most for young blades.
// With delayed entry that curve can come down to 0 at an early end with few at
// risk: no later end has weight then, and where none before it had, Peto fails.
//
// Source: Harrington and Fleming 1982, Biometrika 69:553, with rho = 1, as in R
// survival's survdiff [from memory].
func Peto(groups [][]Observation) (Test, error) {
	return rankTest("Peto test", groups, 1)
}

// rankTest is the G-rho test: the weight is the pooled survival to the power
// rho.
func rankTest(name string, groups [][]Observation, rho float64) (Test, error) {
	sets, ends, err := riskSets(groups)
	if err != nil {
		return Test{}, fmt.Errorf("%s: %w", name, err)
	}
	excess, ties := compare(sets, ends, rho)
	t := quadratic(excess, ties)
	if t.DF == 0 {
		return Test{}, fmt.Errorf("%s: no end with weight had two groups at risk and a blade that outran it", name)
	}
	t.P = mathext.GammaIncRegComp(float64(t.DF)/2, t.Chi2/2)
	return t, nil
}

// riskSets sorts each group, and returns the distinct areas with ends in any.
func riskSets(groups [][]Observation) (sets []riskSet, ends []float64, err error) {
	have := 0
	for i, obs := range groups {
		if _, err := check(obs); err != nil {
			return nil, nil, fmt.Errorf("group %d: %w", i+1, err)
		}
		if len(obs) > 0 {
			have++
		}
		sets = append(sets, newRiskSet(obs))
		ends = append(ends, sets[i].ends...)
	}
	switch {
	case have < 2:
		return nil, nil, fmt.Errorf("groups with blades: %d of %d, at least 2 are needed", have, len(groups))
	case len(ends) == 0:
		return nil, nil, errors.New("no blade has ended")
	}
	slices.Sort(ends)
	return sets, slices.Compact(ends), nil
}

// compare returns for each group the weighted ends beyond the expected, and for
// each pair j < i of groups -V_ij, which is never negative.
func compare(sets []riskSet, ends []float64, rho float64) (excess []float64, ties [][]float64) {
	excess, ties = make([]float64, len(sets)), make([][]float64, len(sets))
	for i := range ties {
		ties[i] = make([]float64, i)
	}
	atRisk, ended := make([]float64, len(sets)), make([]float64, len(sets))
	survival := 1.0
	for _, area := range ends {
		var n, d float64
		for i := range sets {
			r, e := sets[i].at(area)
			atRisk[i], ended[i] = float64(r), float64(e)
			n, d = n+atRisk[i], d+ended[i]
		}
		w := math.Pow(survival, rho)
		survival *= (n - d) / n
		if n == d {
			continue // all that were at risk ended: as expected, and with no variance
		}
		spread := w * w * d * (n - d) / (n - 1) / (n * n)
		for i := range sets {
			excess[i] += w * (ended[i] - d*atRisk[i]/n)
			for j := range ties[i] {
				ties[i][j] += spread * atRisk[i] * atRisk[j]
			}
		}
	}
	return excess, ties
}

// quadratic is zᵀV⁻z for the excess z, and the rank of V. The rows of V add up
// to 0, so it is made of its ties between pairs alone. Groups are eliminated
// one by one, the ties of each passing to those left; what is summed is never
// negative, so weak ties keep their digits beside strong ones. A group without
// ties left is the last of those it was compared with, and adds nothing.
// It uses up its arguments.
func quadratic(z []float64, ties [][]float64) (t Test) {
	for i := len(z) - 1; i > 0; i-- {
		var all float64
		for _, tie := range ties[i] {
			all += tie
		}
		if all == 0 {
			continue
		}
		t.Chi2 += z[i] * z[i] / all
		t.DF++
		for j, tie := range ties[i] {
			share := tie / all
			z[j] += share * z[i]
			for l := range ties[j] {
				ties[j][l] += share * ties[i][l]
			}
		}
	}
	return t
}

// riskSet is a group of blades in sorted columns, read by rising area.
type riskSet struct {
	starts, areas, ends []float64
	entered, left, done int // how far the columns are read
}

func newRiskSet(obs []Observation) riskSet {
	var r riskSet
	for _, o := range obs {
		r.starts = append(r.starts, o.Start)
		r.areas = append(r.areas, o.Area)
		if o.Ended {
			r.ends = append(r.ends, o.Area)
		}
	}
	slices.Sort(r.starts)
	slices.Sort(r.areas)
	slices.Sort(r.ends)
	return r
}

// at goes on to an area, never back, and returns the blades at risk just before
// it and those that end at it. A blade at risk has come under observation
// before the area and is not gone before it.
func (r *riskSet) at(area float64) (atRisk, ended int) {
	for r.entered < len(r.starts) && r.starts[r.entered] < area {
		r.entered++
	}
	for r.left < len(r.areas) && r.areas[r.left] < area {
		r.left++
	}
	from := r.done
	for r.done < len(r.ends) && r.ends[r.done] <= area {
		r.done++
	}
	return r.entered - r.left, r.done - from
}
