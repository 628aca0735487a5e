package section

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
)

// maxDesignation is longer than any designation, in bytes.
const maxDesignation = 96

// family is a kind of designation: the letters it starts with lead to how its
// numbers make a section.
type family struct {
	example string
	numbers []int // how many numbers it may have
	make    func(letters string, n []float64) (Section, error)
}

var families = map[string]family{
	"W":   {"W12x26", []int{2}, rolled},
	"HP":  {"HP12x53", []int{2}, rolled},
	"S":   {"S12x31.8", []int{2}, rolled},
	"M":   {"M12x11.8", []int{2}, rolled},
	"C":   {"C8x11.5", []int{2}, rolled},
	"MC":  {"MC8x20", []int{2}, rolled},
	"WT":  {"WT6x25", []int{2}, rolled},
	"ST":  {"ST6x25", []int{2}, rolled},
	"MT":  {"MT6x5.9", []int{2}, rolled},
	"L":   {"L4x4x1/2", []int{3}, angle},
	"HSS": {"HSS4x4x1/4 or HSS4.500x0.237", []int{2, 3}, tube},
	"TS":  {"TS4x4x1/4", []int{2, 3}, tube}, // the older name of HSS
	"RD":  {"RD2-1/2", []int{1}, round},
	"SQ":  {"SQ2", []int{1}, square},
	"HEX": {"HEX2", []int{1}, hex},
	"FL":  {"FL1/2x4", []int{2}, flat},
	"PL":  {"PL1/2x4", []int{2}, flat},
}

// familyNames names the families in error messages.
const familyNames = "W, HP, S, M, C, MC, WT, ST, MT, L, HSS, TS, PIPE, RD, SQ, HEX, FL, PL"

// Parse reads a designation as the steel trade writes it: W12x26, L4x4x1/2,
// HSS6x4x.25, PIPE4STD, RD2-1/2. Case and spaces do not matter; x, X and ×
// separate the numbers; a number is a decimal, a fraction of an inch rule or a
// mixed number (2-1/2 or 2 1/2).
//
// Rolled shapes take their area from the weight per foot in their name, and
// their dimensions from Gullet's table of published shapes; one that is not in
// the table becomes a Weight. An error is one line that says what is wrong and
// what is allowed.
func Parse(designation string) (Section, error) {
	s, err := parse(designation)
	if err == nil {
		err = s.Check()
	}
	if err != nil {
		return Section{}, fmt.Errorf("designation %.40q: %w", designation, err)
	}
	return s.withLay(), nil
}

// parse reads a designation without checking what it says: the letters choose
// the family, the numbers between the Xs go to it in order. A pipe is apart,
// since the X of its class XS is no separator.
func parse(designation string) (Section, error) {
	text, err := tidy(designation)
	if err != nil {
		return Section{}, err
	}
	rest := strings.TrimLeft(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
	letters := text[:len(text)-len(rest)]
	if letters == "PIPE" {
		return parsePipe(rest)
	}
	f, ok := families[letters]
	if !ok {
		return Section{}, fmt.Errorf("%.40q is no kind of section, allowed are %s", letters, familyNames)
	}
	var n []float64
	for part := range strings.SplitSeq(rest, "X") {
		v, ok := parseNumber(part)
		if !ok {
			return Section{}, fmt.Errorf("%.40q is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as %s", part, f.example)
		}
		n = append(n, v)
	}
	for _, want := range f.numbers {
		if len(n) == want {
			return f.make(letters, n)
		}
	}
	return Section{}, fmt.Errorf("%d numbers after %s, allowed is a designation such as %s", len(n), letters, f.example)
}

// tidy brings a designation to capitals without spaces, with X between its
// numbers. A space between two digits is kept as the hyphen of a mixed number:
// dropping it would read 1 1/2 as 11/2.
func tidy(designation string) (string, error) {
	if len(designation) > maxDesignation {
		return "", fmt.Errorf("%d bytes long, allowed are %d", len(designation), maxDesignation)
	}
	var b strings.Builder
	var last rune
	space := false
	for _, r := range designation {
		switch {
		case unicode.IsSpace(r):
			space = true
			continue
		case r == '×':
			r = 'X'
		case r >= 'a' && r <= 'z':
			r -= 'a' - 'A'
		case r >= 'A' && r <= 'Z', digit(r), r == '.', r == '/', r == '-':
		default:
			return "", fmt.Errorf("character %q is not allowed, only letters, digits and . / - ×", r)
		}
		if space && digit(last) && digit(r) {
			b.WriteByte('-')
		}
		b.WriteRune(r)
		last, space = r, false
	}
	if b.Len() == 0 {
		return "", errors.New("it is empty, allowed is one such as W12x26 or RD6")
	}
	return b.String(), nil
}

func digit(r rune) bool { return r >= '0' && r <= '9' }

// angle has the leg that lies flat first: L6x4x1/2 is on its long leg and
// L4x6x1/2 on its short one. The spelling keeps the order, or it would lose
// the lay.
func angle(_ string, n []float64) (Section, error) {
	return Section{
		Shape: Angle, Leg1: n[0], Leg2: n[1], Thickness: n[2],
		Designation: "L" + fraction(n[0]) + "x" + fraction(n[1]) + "x" + fraction(n[2]),
	}, nil
}

// tube is rectangular with three numbers, and stands as high as the first, as
// the tables draw it; with two it is round. The wall is the nominal one in
// both, see the package comment.
func tube(_ string, n []float64) (Section, error) {
	if len(n) == 2 {
		return Section{
			Shape: RoundTube, Diameter: n[0], Wall: n[1],
			Designation: "HSS" + thousandths(n[0]) + "x" + thousandths(n[1]),
		}, nil
	}
	return Section{
		Shape: RectTube, Height: n[0], Width: n[1], Wall: n[2],
		Designation: "HSS" + fraction(n[0]) + "x" + fraction(n[1]) + "x" + fraction(n[2]),
	}, nil
}

// round is solid round bar by its diameter.
func round(_ string, n []float64) (Section, error) {
	return Section{Shape: Round, Diameter: n[0], Designation: "RD" + fraction(n[0])}, nil
}

// square is solid square bar by its side.
func square(_ string, n []float64) (Section, error) {
	return Section{Shape: Rect, Width: n[0], Height: n[0], Designation: "SQ" + fraction(n[0])}, nil
}

// hex is solid hexagon bar by its size across flats.
func hex(_ string, n []float64) (Section, error) {
	return Section{Shape: Hex, Flats: n[0], Designation: "HEX" + fraction(n[0])}, nil
}

// flat is flat bar or plate lying flat. The trade writes it either way round,
// so the smaller number is the thickness.
func flat(letters string, n []float64) (Section, error) {
	thick, wide := min(n[0], n[1]), max(n[0], n[1])
	return Section{
		Shape: Rect, Width: wide, Height: thick,
		Designation: letters + fraction(thick) + "x" + fraction(wide),
	}, nil
}
