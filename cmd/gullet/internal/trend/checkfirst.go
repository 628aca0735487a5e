package trend

import (
	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
)

// CheckFirst is what to look at first, in order, where a finding of a kind stands and
// nothing more is known of it.
func CheckFirst(kind deviation.Kind) []string { return checks(deviation.Finding{Kind: kind}) }

// Told are findings of one saw in words, in the order in which they are given.
func Told(d *Data, saw *Saw, findings []deviation.Finding, style figures.Style) []Finding {
	a := answerer{data: d, saw: saw, words: words{style: style, over: d.Over, unit: d.Unit, gap: saw.GuideGap}}
	list := make([]Finding, len(findings))
	for i := range findings {
		list[i] = a.finding(findings[i])
	}
	return list
}
