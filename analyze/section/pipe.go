package section

import (
	"fmt"
	"strings"
)

// pipe is a nominal pipe size: its outside diameter and its walls in inches;
// a wall of 0 is not made.
type pipe struct{ od, std, xs, xxs float64 }

// pipes holds the sizes of ASME B36.10 from 1/2 to 12 by their nominal size
// (from memory; the tests hold them against published weights).
var pipes = map[string]pipe{
	"1/2":   {0.840, 0.109, 0.147, 0.294},
	"3/4":   {1.050, 0.113, 0.154, 0.308},
	"1":     {1.315, 0.133, 0.179, 0.358},
	"1-1/4": {1.660, 0.140, 0.191, 0.382},
	"1-1/2": {1.900, 0.145, 0.200, 0.400},
	"2":     {2.375, 0.154, 0.218, 0.436},
	"2-1/2": {2.875, 0.203, 0.276, 0.552},
	"3":     {3.500, 0.216, 0.300, 0.600},
	"3-1/2": {4.000, 0.226, 0.318, 0},
	"4":     {4.500, 0.237, 0.337, 0.674},
	"5":     {5.563, 0.258, 0.375, 0.750},
	"6":     {6.625, 0.280, 0.432, 0.864},
	"8":     {8.625, 0.322, 0.500, 0.875},
	"10":    {10.750, 0.365, 0.500, 1.000},
	"12":    {12.750, 0.375, 0.500, 1.000},
}

// pipeSizes names the sizes in error messages.
const pipeSizes = "1/2, 3/4, 1, 1-1/4, 1-1/2, 2, 2-1/2, 3, 3-1/2, 4, 5, 6, 8, 10, 12"

// parsePipe reads what follows PIPE: nominal size and weight class. The size
// is a name, not a measure: a 4 in pipe is 4.5 in outside. Schedule numbers are
// not taken, since 40 and STD part ways above 10 in.
func parsePipe(rest string) (Section, error) {
	// XXS ends in XS, so it is tried first.
	for _, class := range []string{"STD", "XXS", "XS"} {
		size, ok := strings.CutSuffix(rest, class)
		if !ok {
			continue
		}
		n, ok := parseNumber(size)
		p, made := pipes[fraction(n)]
		if !ok || !made {
			return Section{}, fmt.Errorf("pipe size %.40q is not known, allowed are %s", size, pipeSizes)
		}
		wall := map[string]float64{"STD": p.std, "XS": p.xs, "XXS": p.xxs}[class]
		if wall == 0 {
			return Section{}, fmt.Errorf("pipe size %s is not made in %s, allowed are STD, XS", fraction(n), class)
		}
		return Section{Shape: RoundTube, Diameter: p.od, Wall: wall, Designation: "PIPE" + fraction(n) + class}, nil
	}
	return Section{}, fmt.Errorf("pipe class is missing in %.40q, allowed are STD, XS, XXS after the size, such as PIPE4STD", rest)
}
