package vigil

import (
	"slices"
	"strings"
	"time"

	"gullet/analyze/alert"
	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/trend"
)

// ofSaw are the findings that lay the deviation to the saw and not to the blade, the
// material or whoever feeds it.
var ofSaw = []deviation.Kind{deviation.SawAlignment, deviation.GuideGap, deviation.MitreOnly, deviation.SensorFault}

// findings tells what stands of a saw: what points to it and a new blade did not clear, and
// cuts that take longer and longer.
func (s *slow) findings(saw *trend.Saw, all []deviation.Finding) {
	var hung time.Time
	if n := len(saw.Fittings); n > 0 {
		hung = saw.Fittings[n-1].Start
	}
	told := trend.Told(s.data, saw, all, s.style())
	for i := range all {
		f := &all[i]
		if !f.Last.IsZero() {
			continue
		}
		switch {
		case slices.Contains(ofSaw, f.Kind) && survived(f, hung):
			s.finding(alert.SawFinding, saw.Name, f, &told[i])
		case f.Kind == deviation.Machine:
			s.finding(alert.CutTime, saw.Name, f, &told[i])
		}
	}
}

// survived reports whether a finding is older than the blade that is on, or has outlived
// one.
func survived(f *deviation.Finding, hung time.Time) bool {
	for _, fact := range f.Facts {
		if fact.What == deviation.FactSurvived && fact.N > 0 {
			return true
		}
	}
	return f.Since.Before(hung) // also of one that stands since before anything was followed
}

func (s *slow) finding(kind alert.Kind, saw string, f *deviation.Finding, told *trend.Finding) {
	key := alert.Key{Kind: kind, Saw: saw}
	if kind == alert.SawFinding {
		key.Of = string(f.Kind)
	}
	s.add(alert.Fact{
		Key: key, Level: f.Chance, At: s.newest(saw), Since: s.since(saw, f.Since),
		Words: alert.Words{
			What: told.Sentence, Sure: figures.Odds(f.Chance) + " sure; " + strings.Join(told.Evidence, "; "), Check: told.CheckFirst,
			Path: path(saw), Risky: true,
		},
	})
}
