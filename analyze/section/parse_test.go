package section

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		in   string
		want Section
	}{
		{"L4x4x1/2", Section{Shape: Angle, Lay: Heel, Leg1: 4, Leg2: 4, Thickness: .5, Designation: "L4x4x1/2"}},
		{"l6 x 4 x .5", Section{Shape: Angle, Lay: Heel, Leg1: 6, Leg2: 4, Thickness: .5, Designation: "L6x4x1/2"}},
		{"L2-1/2x2 1/2X3/16", Section{Shape: Angle, Lay: Heel, Leg1: 2.5, Leg2: 2.5, Thickness: .1875, Designation: "L2-1/2x2-1/2x3/16"}},
		{"L8x8x1 1/8", Section{Shape: Angle, Lay: Heel, Leg1: 8, Leg2: 8, Thickness: 1.125, Designation: "L8x8x1-1/8"}},
		{"HSS6x4x.25", Section{Shape: RectTube, Lay: AsGiven, Height: 6, Width: 4, Wall: .25, Designation: "HSS6x4x1/4"}},
		{"TS4×4×1/4", Section{Shape: RectTube, Lay: AsGiven, Height: 4, Width: 4, Wall: .25, Designation: "HSS4x4x1/4"}},
		{"HSS4.500x0.237", Section{Shape: RoundTube, Diameter: 4.5, Wall: .237, Designation: "HSS4.500x0.237"}},
		{"HSS10x1/2", Section{Shape: RoundTube, Diameter: 10, Wall: .5, Designation: "HSS10.000x0.500"}},
		{"HSS4.5x0.2375", Section{Shape: RoundTube, Diameter: 4.5, Wall: .2375, Designation: "HSS4.500x0.2375"}},
		{"pipe 4 std", Section{Shape: RoundTube, Diameter: 4.5, Wall: .237, Designation: "PIPE4STD"}},
		{"PIPE2-1/2XS", Section{Shape: RoundTube, Diameter: 2.875, Wall: .276, Designation: "PIPE2-1/2XS"}},
		{"PIPE1 1/2 XXS", Section{Shape: RoundTube, Diameter: 1.9, Wall: .4, Designation: "PIPE1-1/2XXS"}},
		{"RD6", Section{Shape: Round, Diameter: 6, Designation: "RD6"}},
		{"rd 2 1/2", Section{Shape: Round, Diameter: 2.5, Designation: "RD2-1/2"}},
		{"RD0.7", Section{Shape: Round, Diameter: .7, Designation: "RD0.7"}},
		{"SQ2", Section{Shape: Rect, Lay: AsGiven, Width: 2, Height: 2, Designation: "SQ2"}},
		{"HEX 1-1/16", Section{Shape: Hex, Lay: OnFlat, Flats: 1.0625, Designation: "HEX1-1/16"}},
		{"FL1/2x4", Section{Shape: Rect, Lay: AsGiven, Width: 4, Height: .5, Designation: "FL1/2x4"}},
		{"FL 4 x 1/2", Section{Shape: Rect, Lay: AsGiven, Width: 4, Height: .5, Designation: "FL1/2x4"}},
		{"PL3/64x10", Section{Shape: Rect, Lay: AsGiven, Width: 10, Height: .046875, Designation: "PL3/64x10"}},
	} {
		got, err := Parse(c.in)
		if diff := cmp.Diff(c.want, got); diff != "" || err != nil {
			t.Errorf("Parse(%q): %v (-want +got):\n%s", c.in, err, diff)
		}
	}
}

func TestParseErrorsSayWhatIsAllowed(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"", `designation "": it is empty, allowed is one such as W12x26 or RD6`},
		{" \n ", `designation " \n ": it is empty, allowed is one such as W12x26 or RD6`},
		{"Q6", `designation "Q6": "Q" is no kind of section, allowed are W, HP, S, M, C, MC, WT, ST, MT, L, HSS, TS, PIPE, RD, SQ, HEX, FL, PL`},
		{"6", `designation "6": "" is no kind of section, allowed are W, HP, S, M, C, MC, WT, ST, MT, L, HSS, TS, PIPE, RD, SQ, HEX, FL, PL`},
		{"W12", `designation "W12": 1 numbers after W, allowed is a designation such as W12x26`},
		{"W12x26x3", `designation "W12x26x3": 3 numbers after W, allowed is a designation such as W12x26`},
		{"W12x", `designation "W12x": "" is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as W12x26`},
		{"W12xx26", `designation "W12xx26": "" is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as W12x26`},
		{"W1 2x26", `designation "W1 2x26": "1-2" is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as W12x26`},
		{"RD1/3", `designation "RD1/3": "1/3" is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as RD2-1/2`},
		{"RD1/0", `designation "RD1/0": "1/0" is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as RD2-1/2`},
		{"RD1-3/2", `designation "RD1-3/2": "1-3/2" is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as RD2-1/2`},
		{"RD-6", `designation "RD-6": "-6" is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as RD2-1/2`},
		{"RD6.", `designation "RD6.": "6." is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as RD2-1/2`},
		{"RD.", `designation "RD.": "." is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as RD2-1/2`},
		{"RD1.2.3", `designation "RD1.2.3": "1.2.3" is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as RD2-1/2`},
		{"RD6e1", `designation "RD6e1": "6E1" is not a number, allowed are 6, 0.25, 1/2 and 2-1/2, such as RD2-1/2`},
		{"RD6\"", `designation "RD6\"": character '"' is not allowed, only letters, digits and . / - ×`},
		{"RD\xff", `designation "RD\xff": character '�' is not allowed, only letters, digits and . / - ×`},
		{"RD0", `designation "RD0": round: diameter is 0 in, allowed is 0.001 to 120 in`},
		{"RD120.5", `designation "RD120.5": round: diameter is 120.5 in, allowed is 0.001 to 120 in`},
		{"HSS4x4x2", `designation "HSS4x4x2": rect-tube: wall is 2 in, allowed is less than half the narrow side (2 in)`},
		{"L4x3x3", `designation "L4x3x3": angle: thickness is 3 in, allowed is less than the shorter leg (3 in)`},
		{"W60x100", `designation "W60x100": nominal depth is 60 in, allowed is 1 to 48 in`},
		{"W12x2600", `designation "W12x2600": weight is 2600 lb/ft, allowed is 1 to 1500 lb/ft`},
		{"PIPE4", `designation "PIPE4": pipe class is missing in "4", allowed are STD, XS, XXS after the size, such as PIPE4STD`},
		{"PIPE7STD", `designation "PIPE7STD": pipe size "7" is not known, allowed are 1/2, 3/4, 1, 1-1/4, 1-1/2, 2, 2-1/2, 3, 3-1/2, 4, 5, 6, 8, 10, 12`},
		{"PIPE3-1/2XXS", `designation "PIPE3-1/2XXS": pipe size 3-1/2 is not made in XXS, allowed are STD, XS`},
		{"RD" + strings.Repeat("1", 100), `designation "RD11111111111111111111111111111111111111": 102 bytes long, allowed are 96`},
	} {
		_, err := Parse(c.in)
		if err == nil || err.Error() != c.want {
			t.Errorf("Parse(%q)\n got %v\nwant %s", c.in, err, c.want)
		}
	}
}

// canonicalStays fails unless a designation, once read, reads back as itself.
func canonicalStays(t interface {
	Helper()
	Errorf(string, ...any)
}, s Section) {
	t.Helper()
	again, err := Parse(s.Designation)
	if diff := cmp.Diff(s, again); diff != "" || err != nil {
		t.Errorf("%s read back: %v (-want +got):\n%s", s.Designation, err, diff)
	}
}

func TestCanonicalDesignationsReadBack(t *testing.T) {
	for name := range published {
		s := parsed(t, name)
		if s.Designation != name {
			t.Errorf("Parse(%q).Designation = %q", name, s.Designation)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		// Case, spaces and separators as people write them.
		number := rapid.StringMatching(`[0-9]{1,3}(\.[0-9]{1,6}|[- ][0-9]/(2|4|8|16|32|64)|/(2|4|8|16|32|64))?`)
		x := rapid.SampledFrom([]string{"x", "X", "×", " x "})
		in := rapid.SampledFrom([]string{"W", "WT", "c", "L", "HSS", "RD", "sq ", "HEX", "FL", "Pipe "}).Draw(t, "family")
		for i := range rapid.IntRange(1, 3).Draw(t, "numbers") {
			if i > 0 {
				in += x.Draw(t, "x")
			}
			in += number.Draw(t, "number")
		}
		if s, err := Parse(in); err == nil {
			canonicalStays(t, s)
		} else if strings.Contains(err.Error(), "\n") {
			t.Errorf("error of more than one line: %q", err)
		}
	})
}

func TestNumbersReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.OneOf(
			rapid.Float64Range(0, 2000),
			rapid.Map(rapid.IntRange(0, 64*200), func(n int) float64 { return float64(n) / 64 }),
		).Draw(t, "v")
		for _, s := range []string{fraction(v), decimal(v), thousandths(v)} {
			if got, ok := parseNumber(s); !ok || got != v {
				t.Errorf("%v written %q reads back as %v, %v", v, s, got, ok)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"W12x26", "L2-1/2 x 2 1/2 x 3/16", "HSS4.500×0.237", "PIPE1-1/2XXS", "FL4x1/2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		s, err := Parse(in)
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("error of more than one line: %q", err)
			}
			return
		}
		if a := s.Area(); !(a > 0) {
			t.Errorf("area of %q = %v", in, a)
		}
		canonicalStays(t, s)
	})
}
