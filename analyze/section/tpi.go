package section

import (
	"fmt"
	"strings"
)

// The tooth pitches a band saw blade may have, in teeth per inch.
const minTPI, maxTPI = 0.1, 50.0

// ParseTPI reads the tooth pitch of a blade in teeth per inch: "3" for an even
// pitch, "3/4" or "4-6" for a variable one, the coarse end first.
func ParseTPI(s string) (low, high float64, err error) {
	first, second := strings.TrimSpace(s), ""
	if i := strings.IndexAny(first, "/-"); i >= 0 {
		first, second = strings.TrimSpace(first[:i]), strings.TrimSpace(first[i+1:])
	} else {
		second = first
	}
	low, okLow := parseTeeth(first)
	high, okHigh := parseTeeth(second)
	if !okLow || !okHigh || low > high {
		return 0, 0, fmt.Errorf("tpi %.40q: allowed is one number (3) or a variable pitch with the smaller first (3/4), each %g to %g", s, minTPI, maxTPI)
	}
	return low, high, nil
}

// parseTeeth reads one pitch. A pitch is a plain decimal: its slash separates
// the two ends and is no fraction.
func parseTeeth(s string) (float64, bool) {
	if strings.ContainsAny(s, "/-") {
		return 0, false
	}
	v, ok := parseNumber(s)
	return v, ok && v >= minTPI && v <= maxTPI
}
