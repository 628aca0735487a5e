package figures

import "strconv"

// Plural writes a number of things.
func Plural[N int | int64](n N, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return Thousands(float64(n)) + " " + many
}

// Percent writes a counted share.
func Percent(share float64) string { return strconv.FormatFloat(100*share, 'f', 0, 64) + " %" }

// Odds writes an estimated chance, which is never told as certain.
func Odds(p float64) string {
	switch {
	case p < 0.01:
		return "under 1 %"
	case p > 0.99:
		return "over 99 %"
	}
	return Percent(p)
}

// Chance writes the p of a test.
func Chance(p float64) string {
	if p < 0.001 {
		return "less than 0.001"
	}
	return strconv.FormatFloat(p, 'f', 3, 64)
}
