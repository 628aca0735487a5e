package section

import (
	"math"
	"strconv"
	"strings"
)

// parseNumber reads a length or weight as the trade writes it: 6, 0.237, .25,
// 1/2 or 2-1/2. Fractions are those of an inch rule: the lower number is a
// power of two up to 64.
func parseNumber(s string) (float64, bool) {
	if whole, part, mixed := strings.Cut(s, "-"); mixed {
		w, ok := parseDigits(whole)
		f, okPart := parseFraction(part)
		return w + f, ok && okPart && f < 1
	}
	if strings.Contains(s, "/") {
		return parseFraction(s)
	}
	whole, part, point := strings.Cut(s, ".")
	if !point {
		return parseDigits(s)
	}
	if _, ok := parseDigits(whole); !ok && whole != "" {
		return 0, false
	}
	if _, ok := parseDigits(part); !ok {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// parseFraction reads n/d, where n may exceed d as in 5/4. All are exact in
// binary, so 1/4 and 0.25 are the same bar.
func parseFraction(s string) (float64, bool) {
	above, below, _ := strings.Cut(s, "/")
	n, okAbove := parseDigits(above)
	switch below {
	case "2", "4", "8", "16", "32", "64":
	default:
		return 0, false
	}
	d, okBelow := parseDigits(below)
	return n / d, okAbove && okBelow
}

// parseDigits reads digits and nothing else: no sign, no exponent, no
// underscore, no inf, all of which strconv would take.
func parseDigits(s string) (float64, bool) {
	if s == "" || strings.Trim(s, "0123456789") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// fraction writes a length in inches: as on an inch rule where it lies on one
// (2-1/2, 1/4, 6), else as a decimal. parseNumber reads back the same value.
func fraction(v float64) string {
	whole, part := math.Modf(v)
	n, d := part*64, 64
	if n != math.Trunc(n) {
		return decimal(v)
	}
	if n == 0 {
		return decimal(whole)
	}
	top := int(n)
	for top%2 == 0 {
		top, d = top/2, d/2
	}
	f := strconv.Itoa(top) + "/" + strconv.Itoa(d)
	if whole == 0 {
		return f
	}
	return decimal(whole) + "-" + f
}

// decimal writes the shortest decimal that reads back as the same value.
func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// thousandths writes a decimal of at least three places, as round tubes are
// designated: 4.500.
func thousandths(v float64) string {
	s := decimal(v)
	_, part, point := strings.Cut(s, ".")
	if !point {
		s += "."
	}
	return s + strings.Repeat("0", max(0, 3-len(part)))
}
