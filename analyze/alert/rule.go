package alert

import "time"

// Rule says when a fact is a condition.
type Rule struct {
	Off      bool
	Raise    float64       // it begins at this level
	Clear    float64       // and is over when the level is better than this
	Hold     time.Duration // for which the level must have held before it is raised
	Rest     time.Duration // for which it must have been better before it is closed
	Fresh    time.Duration // older facts raise nothing
	Again    time.Duration // at least between two messages of one condition
	Lasts    time.Duration // it is over so long after it began, whatever is found; 0: no end
	Severity Severity
}

// Rules are those of a shop.
type Rules struct {
	Shop map[Kind]Rule
	Saws map[Kind]map[string]Rule // where a saw has its own
}

// Of is the rule that holds for a kind and a saw.
func (r *Rules) Of(k Kind, saw string) Rule {
	if saw != "" {
		if rule, ok := r.Saws[k][saw]; ok {
			return rule
		}
	}
	if rule, ok := r.Shop[k]; ok {
		return rule
	}
	return SpecOf(k).Rule
}
