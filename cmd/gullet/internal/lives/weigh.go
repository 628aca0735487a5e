package lives

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
)

// weigh fills in the weights of the classes and puts the study on weighted area
// where they are all known.
func (s *study) weigh(r *Report) {
	if len(s.Classes) == 0 {
		r.WhyWeights = "what the blades cut is not told by class of material"
		return
	}
	for i := range s.Rows {
		if row := &s.Rows[i]; row.Ended && row.Last < 0 {
			r.WhyWeights = fmt.Sprintf("the class in the cut at the end of %s is not told", row.Name)
			r.Doubts = append(r.Doubts, "lives are in in² as cut, not weighted: "+r.WhyWeights)
			return
		}
	}
	r.Reference = s.Classes[s.Reference].Name
	if w, err := life.FitWeights(mixed(s.Data), s.Reference, nil); err == nil {
		r.Weights = s.weights(&w)
		r.Exposure = s.exposure(&w)
	} else {
		r.WhyWeights = strings.TrimPrefix(err.Error(), "material weights: ")
		if len(kinds(s.Data)) > 1 {
			r.WhyWeights += " (each kind of blade has a life of its own, so kinds that share no class of material cannot be weighed against each other)"
		}
	}
	settled, err := settle(s.Data)
	if err != nil {
		s.assume(r, err)
		return
	}
	r.Settled = s.weights(&settled)
	weight := make([]float64, len(s.Classes))
	for i, c := range settled.Classes {
		weight[i] = math.Exp(c.LogWeight)
		if c.Why != nil && s.areaOf(i) > 0 {
			r.Doubts = append(r.Doubts, fmt.Sprintf("lives are in in² as cut, not weighted: the weight of class %s cannot be told and no severity is configured for it: %s", s.Classes[i].Name, c.Why))
			return
		}
	}
	s.weight, s.clock = weight, clockWeighted
	s.doubt = weightDoubt(&settled)
}

// weightDoubt is the covariance of the ln weights by class; 0 for the reference.
func weightDoubt(w *life.Weights) [][]float64 {
	var free []int
	for class, c := range w.Classes {
		if c.SE > 0 {
			free = append(free, class)
		}
	}
	doubt := make([][]float64, len(w.Classes))
	for class := range doubt {
		doubt[class] = make([]float64, len(w.Classes))
	}
	for i, a := range free {
		for j, b := range free {
			doubt[a][b] = w.Covariance[2+i][2+j]
		}
	}
	return doubt
}

// mixDoubt is the variance that the doubt of the weights adds to the ln ratio of
// the lives of two groups. A weight moves the lives of a group by its class's
// share of their weighted area, so what counts is the difference of the shares.
func (s *study) mixDoubt(a, b string) float64 {
	if s.doubt == nil {
		return 0
	}
	shareA, shareB := s.shares(a), s.shares(b)
	variance := 0.0
	for i := range s.doubt {
		for j, covariance := range s.doubt[i] {
			variance += (shareA[i] - shareB[i]) * (shareA[j] - shareB[j]) * covariance
		}
	}
	return variance
}

// shares is each class's share of what a group cut, weighted.
func (s *study) shares(group string) []float64 {
	shares, sum := make([]float64, len(s.Classes)), 0.0
	for _, r := range s.of(group) {
		for class, area := range r.Cut {
			shares[class] += area * s.weight[class]
			sum += area * s.weight[class]
		}
	}
	for class := range shares {
		if sum > 0 {
			shares[class] /= sum
		}
	}
	return shares
}

// assume takes the configured severities where nothing can be learned yet.
func (s *study) assume(r *Report, why error) {
	weight, doubt := make([]float64, len(s.Classes)), make([][]float64, len(s.Classes))
	for i, c := range s.Classes {
		weight[i] = c.Severity / s.Classes[s.Reference].Severity
		doubt[i] = make([]float64, len(s.Classes))
		if i != s.Reference && !c.Fixed {
			doubt[i][i] = severitySD * severitySD
		}
		if math.IsNaN(weight[i]) {
			r.Doubts = append(r.Doubts, "lives are in in² as cut, not weighted: "+why.Error())
			return
		}
	}
	r.Doubts = append(r.Doubts, "the classes of material are weighted by their configured severity alone: "+why.Error())
	s.weight, s.doubt, s.clock = weight, doubt, clockWeighted
}

// settle weighs the classes with the configured severities as priors: the
// weights in use.
func settle(d *Data) (life.Weights, error) {
	return life.FitWeights(mixed(d), d.Reference, priors(d))
}

// mixed is the blades as the weights are learned from. Kinds of blade last
// differently and cut different mixes: each kind has a scale of its own, or its
// quality would be charged to its materials.
func mixed(d *Data) []life.Mixed {
	names := kinds(d)
	list := make([]life.Mixed, len(d.Rows))
	for i := range d.Rows {
		r := &d.Rows[i]
		kind, _ := slices.BinarySearch(names, r.Kind)
		list[i] = life.Mixed{Areas: r.Cut, Start: r.Start, Ended: r.Ended, Last: r.Last, Kind: kind}
	}
	return list
}

// kinds lists the kinds of blade by name.
func kinds(d *Data) []string {
	var names []string
	for i := range d.Rows {
		names = append(names, d.Rows[i].Kind)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// priors is what is known of the weights beforehand. Where the severity of the
// reference class is not configured, nothing is.
func priors(d *Data) []life.Prior {
	reference := d.Classes[d.Reference].Severity
	list := make([]life.Prior, len(d.Classes))
	for i, c := range d.Classes {
		list[i] = life.Prior{SD: math.Inf(1)}
		switch mean := math.Log(c.Severity / reference); {
		case math.IsNaN(mean):
		case c.Fixed:
			list[i] = life.Prior{Mean: mean, SD: assumedSD}
		default:
			list[i] = life.Prior{Mean: mean, SD: severitySD}
		}
	}
	return list
}

func (s *study) areaOf(class int) (sum float64) {
	for i := range s.Rows {
		if s.Rows[i].Cut != nil {
			sum += s.Rows[i].Cut[class]
		}
	}
	return sum
}

func (s *study) weights(w *life.Weights) []Weight {
	list := []Weight{}
	reference := s.Classes[s.Reference].Severity
	for i, c := range w.Classes {
		out := Weight{
			Class: s.Classes[i].Name, LogWeight: figures.Finite(c.LogWeight), SE: figures.Finite(c.SE), Weight: figures.Finite(math.Exp(c.LogWeight)),
			Low: figures.Finite(math.Exp(c.LogWeight - z95*c.SE)), High: figures.Finite(math.Exp(c.LogWeight + z95*c.SE)),
			Blades: c.Blades, Ended: c.Ended, Area: s.areaOf(i), Configured: figures.Finite(s.Classes[i].Severity / reference),
		}
		if c.Why != nil {
			out.Why = c.Why.Error()
		}
		list = append(list, out)
	}
	return list
}

func (s *study) exposure(w *life.Weights) *Exposure {
	return &Exposure{
		Reference: s.Classes[s.Reference].Name, Shape: w.Shape, Scale: w.Scale,
		LogShapeSE: root(w.Covariance[0][0]), LogScaleSE: root(w.Covariance[1][1]), LogLik: w.LogLik, Blades: w.Blades, Ended: w.Ended,
	}
}
