package planning

import (
	"fmt"
	"strings"

	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
)

// elsewhere is what to look at, by the findings that are not the blade's: its forecast
// contains them, but a new blade may stand off as well.
var elsewhere = map[deviation.Kind]string{
	deviation.SawAlignment:   "the saw, which seems out of line",
	deviation.GuideGap:       "the guide arm and the tension",
	deviation.FeedPushed:     "the feed, which may be pushed",
	deviation.GradeOnly:      "the grade that alone stands off",
	deviation.MitreOnly:      "the mitred cuts, which alone stand off",
	deviation.SensorFault:    "the sensor",
	deviation.UnloggedChange: "the blade, which may have been changed without a word",
	deviation.Machine:        "the saw, which cuts every grade slower",
}

// findings are those that stand and are not the blade's.
func findings(of []deviation.Finding) []Finding {
	list := []Finding{}
	for i := range of {
		f := &of[i]
		if elsewhere[f.Kind] == "" || !f.Last.IsZero() {
			continue
		}
		out := Finding{Kind: string(f.Kind), Confidence: f.Chance}
		if !f.Since.IsZero() {
			since := f.Since.UTC()
			out.Since = &since
		}
		list = append(list, out)
	}
	return list
}

// LookFirst says where to look before the blade is blamed, "" where nothing speaks for
// anything but the blade.
func (s *Saw) LookFirst() string {
	var list []string
	for _, f := range s.Findings {
		list = append(list, fmt.Sprintf("%s (%s, %s sure)", elsewhere[deviation.Kind(f.Kind)], f.Kind, figures.Odds(f.Confidence)))
	}
	if len(list) == 0 {
		return ""
	}
	return "look first at " + strings.Join(list, " and ") + ", which a new blade may not clear: gullet trend --saw " + s.Saw
}

// Because is the reason of the advice for a saw, and where to look first.
func (s *Saw) Because() string {
	if look := s.LookFirst(); look != "" {
		return s.Advise.Because() + "; " + look
	}
	return s.Advise.Because()
}
