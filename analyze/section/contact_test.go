package section

import (
	"math"
	"strings"
	"testing"

	"gullet/analyze"
)

// Chords from the formulas of domain reference 2.1 and the worked examples of
// 2.3; the blade is horizontal and the cut square.
func TestChord(t *testing.T) {
	root2, root3 := math.Sqrt2, math.Sqrt(3)
	const beam = `{"shape":"beam","depth":12.2,"flange_width":6.49,"flange_thickness":0.38,"web_thickness":0.23`
	const channel = `{"shape":"channel","depth":8,"flange_width":2.26,"flange_thickness":0.39,"web_thickness":0.22`
	const tee = `{"shape":"tee","depth":6,"flange_width":8,"flange_thickness":0.6,"web_thickness":0.4`
	const angle = `{"shape":"angle","leg1":6,"leg2":4,"thickness":0.5`
	for _, c := range []struct {
		name, json string
		y, want    float64
	}{
		{"round at 1 in", `{"shape":"round","diameter":6}`, 1, 4.472136},
		{"round at the centre", `{"shape":"round","diameter":6}`, 3, 6},
		{"round at the top", `{"shape":"round","diameter":6}`, 0, 0},
		{"flat", `{"shape":"rect","width":4,"height":2}`, 1.3, 4},
		{"flat at the end", `{"shape":"rect","width":4,"height":2}`, 2, 4},
		{"flat on its edge", `{"shape":"rect","width":4,"height":2,"lay":"turned"}`, 3.9, 2},
		{"square on corner", `{"shape":"rect","width":2,"height":2,"lay":"on-corner"}`, 0.5, 1},
		{"square on corner, lower half", `{"shape":"rect","width":2,"height":2,"lay":"on-corner"}`, 2, 2 * (2*root2 - 2)},
		{"hex on a flat at the top", `{"shape":"hex","flats":2}`, 0, 2 / root3},
		{"hex on a flat", `{"shape":"hex","flats":2}`, 0.5, 3 / root3},
		{"hex on a flat, most", `{"shape":"hex","flats":2}`, 1, 1.1547005 * 2},
		{"hex on a corner", `{"shape":"hex","flats":2,"lay":"on-corner"}`, 0.25, 2 * root3 * 0.25},
		{"hex on a corner, middle", `{"shape":"hex","flats":2,"lay":"on-corner"}`, 1.1, 2},
		{"pipe, most", `{"shape":"round-tube","diameter":4.5,"wall":0.237}`, 0.237, 2.010304},
		{"pipe at the centre", `{"shape":"round-tube","diameter":4.5,"wall":0.237}`, 2.25, 0.474},
		{"sharp tube in its top", `{"shape":"rect-tube","width":4,"height":6,"wall":0.25,"outer_radius":0}`, 0.2, 4},
		{"sharp tube in its sides", `{"shape":"rect-tube","width":4,"height":6,"wall":0.25,"outer_radius":0}`, 0.25, 0.5},
		{"round-cornered tube at the top", `{"shape":"rect-tube","width":4,"height":6,"wall":0.25}`, 0, 3},
		{"tee stem up, stem", tee + `}`, 5.3, 0.4},
		{"tee stem up, flange", tee + `}`, 5.4, 8},
		{"tee stem down, flange", tee + `,"lay":"stem-down"}`, 0.5, 8},
		{"tee on its side, tips", tee + `,"lay":"stem-horizontal"}`, 1, 0.6},
		{"tee on its side, stem", tee + `,"lay":"stem-horizontal"}`, 4, 6},
		{"beam web vertical, flange", beam + `}`, 0.1, 6.49},
		{"beam web vertical, web", beam + `}`, 6, 0.23},
		{"beam web vertical, lower flange", beam + `}`, 12.1, 6.49},
		{"beam web horizontal, tips", beam + `,"lay":"web-horizontal"}`, 1, 0.76},
		{"beam web horizontal, web", beam + `,"lay":"web-horizontal"}`, 3.2, 12.2},
		{"channel, web", channel + `}`, 4, 0.22},
		{"channel toes up, toes", channel + `,"lay":"toes-up"}`, 1, 0.78},
		{"channel toes up, web", channel + `,"lay":"toes-up"}`, 2.2, 8},
		{"channel toes down, web", channel + `,"lay":"toes-down"}`, 0.1, 8},
		{"channel toes down, toes", channel + `,"lay":"toes-down"}`, 1, 0.78},
		{"angle on its heel, upright leg", angle + `}`, 3.4, 0.5},
		{"angle on its heel, flat leg", angle + `}`, 3.6, 6},
		{"angle on its heel at the end", angle + `}`, 4, 6},
		{"angle legs down", angle + `,"lay":"legs-down"}`, 0.4, 6},
		{"angle tent, heel", angle + `,"lay":"tent"}`, 0.1, 0.2},
		{"angle tent, below its inside corner", angle + `,"lay":"tent"}`, 0.6 * root2, 2 * 0.5 * root2},
		{"angle tent, two legs", angle + `,"lay":"tent"}`, 2, 2 * 0.5 * root2},
		{"angle tent, longer leg alone", angle + `,"lay":"tent"}`, 4, 0.5 * root2},
		{"angle vee, heel last", angle + `,"lay":"vee"}`, 6.5/root2 - 0.1, 0.2},
		{"above the bar", beam + `}`, -0.1, 0},
		{"below the bar", beam + `}`, 12.3, 0},
	} {
		near(t, c.name, object(t, c.json).Chord(squareCut, c.y), c.want, 1e-6)
	}
}

// Domain reference 2.1 and 2.3: most, least and mean contact of square cuts.
func TestContactOfASquareCut(t *testing.T) {
	for _, c := range []struct {
		designation    string
		lay            Lay
		min, mean, max float64
	}{
		// A round starts from nothing: the least is 2√(0.05·0.95) D = 0.43589 D.
		{"RD6", "", 0.435890 * 6, 4.7124, 6},
		{"HEX2", OnFlat, 1.1547, 1.7321, 2.3094},
		{"HEX2", OnCorner, 0.4, 1.5, 2}, // least 2√3 × a twentieth of 1.1547 × 2
		{"PIPE4STD", "", 0.474, 0.7053, 2.0103},
		{"HSS4.000x0.500", "", 1, 1.3744, 2.6458}, // most 2√(t(D-t)) = √7
		{"SQ2", AsGiven, 2, 2, 2},
		{"SQ2", OnCorner, 0.282843, 1.414214, 2.828427},
		{"FL1/2x4", AsGiven, 4, 4, 4},
		{"L6x4x1/2", Heel, 0.5, 4.75 / 4, 6},
	} {
		s := parsed(t, c.designation)
		s.Lay = c.lay
		got, err := s.Contact(squareCut)
		if err != nil {
			t.Fatal(err)
		}
		name := c.designation + " " + string(c.lay)
		near(t, name+" least", got.Min, c.min, 0.00005)
		near(t, name+" mean", got.Mean, c.mean, 0.00005)
		near(t, name+" most", got.Max, c.max, 0.00005)
	}
}

// A vertical blade enters a tent at the foot of one leg, tapering over t√2/2
// and then even: what Min leaves out would otherwise lift it above the mean.
func TestLeastContactIsNotAboveTheMean(t *testing.T) {
	s := Section{Shape: Angle, Lay: Tent, Leg1: 1, Leg2: 1, Thickness: 1. / 16}
	c, err := s.Contact(Pass{Count: 1, Saw: analyze.TiltingColumn})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", c.Mean, s.Area()/math.Sqrt2, 1e-9)
	near(t, "least", c.Min, c.Mean, 1e-12)
	near(t, "most", c.Max, math.Sqrt2/16, 1e-9)
}

// Domain reference 2.5: W12x26 at 60° with its web vertical.
func TestContactOfAMitreDependsOnTheSaw(t *testing.T) {
	s := parsed(t, "W12x26")
	for _, c := range []struct {
		saw                            analyze.SawKind
		first, middle, stroke, contact float64
	}{
		{analyze.SwivelFrame, 12.98, 0.46, 12.2, 12.98},
		{analyze.TiltingColumn, 1.52, 24.4, 6.49, 24.4},
	} {
		for _, mitre := range []float64{60, -60} {
			p := Pass{Mitre: mitre, Count: 1, Saw: c.saw}
			got, err := s.Contact(p)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "first chord", s.Chord(p, 0.1), c.first, 1e-9)
			near(t, "middle chord", s.Chord(p, c.stroke/2), c.middle, 1e-9)
			near(t, "stroke", got.Stroke, c.stroke, 1e-9)
			near(t, "most", got.Max, c.contact, 1e-9)
			near(t, "least", got.Min, min(c.first, c.middle), 1e-9)
			near(t, "mean × stroke", got.Mean*got.Stroke, 15.30, 0.01)
		}
	}
}

// Common practice: a tilting-column saw that takes 18 × 24 in square takes
// 18 × 16 at 45° one way and 18 × 14.75 the other, 18 × 10 and 18 × 9 at 60°.
// The slanted contact must never exceed the square-cut height of 24 in.
func TestSlantedContactStaysWithinTheCapacityOfCommonPractice(t *testing.T) {
	const capacity = 24
	for _, c := range []struct{ height, mitre float64 }{
		{24, 0}, {16, 45}, {14.75, -45}, {10, 60}, {9, -60},
	} {
		s := Section{Shape: Rect, Width: 18, Height: c.height}
		got, err := s.Contact(Pass{Mitre: c.mitre, Count: 1, Saw: analyze.TiltingColumn})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "contact", got.Max, c.height/math.Cos(c.mitre*math.Pi/180), 1e-9)
		if got.Max > capacity {
			t.Errorf("%g in at %g°: contact %.2f in, capacity is %d", c.height, c.mitre, got.Max, capacity)
		}
		near(t, "stroke", got.Stroke, 18, 0)
	}
	// What geometry alone would let through at 45° and 60°: 16.97 and 12 in.
	for _, c := range []struct{ height, mitre float64 }{{17, 45}, {12.01, 60}} {
		s := Section{Shape: Rect, Width: 18, Height: c.height}
		if got, _ := s.Contact(Pass{Mitre: c.mitre, Count: 1, Saw: analyze.TiltingColumn}); got.Max <= capacity {
			t.Errorf("%g in at %g°: contact %.2f in, want above %d", c.height, c.mitre, got.Max, capacity)
		}
	}
}

// Ten 2 in rounds in one layer: 31.4159 in² (domain reference 2.3).
func TestBarsLieSideBySideInOneLayer(t *testing.T) {
	s := parsed(t, "RD2")
	one, _ := s.Contact(Pass{Count: 1, Saw: analyze.SwivelFrame})
	for _, c := range []struct {
		saw          analyze.SawKind
		most, stroke float64
	}{
		{analyze.SwivelFrame, 20, 2},
		{analyze.FixedFrame, 20, 2},
		{analyze.TiltingColumn, 2, 20},
	} {
		p := Pass{Count: 10, Saw: c.saw}
		got, err := s.Contact(p)
		if err != nil {
			t.Fatal(err)
		}
		near(t, string(c.saw)+" most", got.Max, c.most, 1e-9)
		near(t, string(c.saw)+" least", got.Min, one.Min*c.most/2, 1e-9)
		near(t, string(c.saw)+" stroke", got.Stroke, c.stroke, 1e-9)
		near(t, string(c.saw)+" area", got.Mean*got.Stroke, 31.4159, 0.00005)
	}
	vertical := Pass{Count: 10, Saw: analyze.TiltingColumn}
	near(t, "in the middle of the fourth bar", s.Chord(vertical, 7), 2, 1e-9)
	near(t, "between two bars", s.Chord(vertical, 8), 0, 1e-9)
}

func TestPassOutsideItsDomain(t *testing.T) {
	good := parsed(t, "RD6")
	for _, c := range []struct {
		name string
		s    Section
		p    Pass
		want string
	}{
		{"mitre too large", good, Pass{Mitre: 85, Count: 1, Saw: analyze.SwivelFrame}, "mitre is 85°, allowed is more than -85° and less than 85° from a square cut"},
		{"mitre not a number", good, Pass{Mitre: math.NaN(), Count: 1, Saw: analyze.SwivelFrame}, "mitre is NaN°, allowed is more than -85° and less than 85° from a square cut"},
		{"no bars", good, Pass{Saw: analyze.SwivelFrame}, "count is 0, allowed is 1 to 1000 bars"},
		{"too many bars", good, Pass{Count: 1001, Saw: analyze.SwivelFrame}, "count is 1001, allowed is 1 to 1000 bars"},
		{"unknown saw", good, Pass{Count: 1, Saw: "hand"}, `saw kind is "hand", allowed are tilting-column, swivel-frame, fixed`},
		{"mitre on a fixed saw", good, Pass{Mitre: 45, Count: 1, Saw: analyze.FixedFrame}, "mitre is 45°, allowed is 0 on a fixed saw: its contact at an angle is not known, only its area"},
		{"bad section", Section{Shape: Round}, squareCut, "round: diameter is 0 in, allowed is 0.001 to 120 in"},
		{"weight object", Section{Shape: Weight, PerFt: 10}, squareCut, "weight: contact is not known, the weight gives an area but no dimensions; give the section with its dimensions"},
	} {
		_, err := c.s.Contact(c.p)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s: error = %v, want %q", c.name, err, c.want)
		}
		if y := c.s.Chord(c.p, 0); !math.IsNaN(y) {
			t.Errorf("%s: chord = %v, want NaN", c.name, y)
		}
	}
	if y := good.Chord(squareCut, math.NaN()); !math.IsNaN(y) {
		t.Errorf("chord at NaN = %v, want NaN", y)
	}
}

// Domain reference 3: a 6 in round with 3 TPI has 18 teeth in the cut at its
// centre; a contact of 2 in has 3 teeth at 1.5 TPI and 24 at 12.
func TestTeethInTheCut(t *testing.T) {
	c, err := parsed(t, "RD6").Contact(squareCut)
	if err != nil {
		t.Fatal(err)
	}
	least, most := c.Teeth(3, 3)
	near(t, "most teeth", most, 18, 1e-9)
	near(t, "least teeth", least, 3*0.435890*6, 1e-4)

	least, most = Contact{Min: 2, Max: 2}.Teeth(1.5, 12)
	near(t, "least teeth at 1.5 TPI", least, 3, 1e-9)
	near(t, "most teeth at 12 TPI", most, 24, 1e-9)
}

func TestParseTPI(t *testing.T) {
	for _, c := range []struct {
		in        string
		low, high float64
	}{
		{"3", 3, 3}, {"3/4", 3, 4}, {"4-6", 4, 6}, {" 2 / 3 ", 2, 3}, {"1.4/2.5", 1.4, 2.5}, {"0.75", .75, .75}, {"4/4", 4, 4},
	} {
		low, high, err := ParseTPI(c.in)
		if err != nil || low != c.low || high != c.high {
			t.Errorf("ParseTPI(%q) = %v, %v, %v, want %v, %v", c.in, low, high, err, c.low, c.high)
		}
	}
	for _, in := range []string{"", "/", "3/", "/4", "6/4", "3/4/6", "-3", "0", "51", "3x4", "1e1", "NaN", "3\n4"} {
		_, _, err := ParseTPI(in)
		if err == nil {
			t.Errorf("ParseTPI(%q) gave no error", in)
		} else if !strings.Contains(err.Error(), "allowed is one number (3) or a variable pitch") || strings.Contains(err.Error(), "\n") {
			t.Errorf("ParseTPI(%q): error %q", in, err)
		}
	}
}
