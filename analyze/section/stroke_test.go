package section

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"gullet/analyze"
)

// sixtyDegrees is the cut of domain reference 2.5.
func sixtyDegrees(saw analyze.SawKind) Pass { return Pass{Mitre: 60, Count: 1, Saw: saw} }

func TestStretches(t *testing.T) {
	const beam = `{"shape":"beam","depth":12.2,"flange_width":6.49,"flange_thickness":0.38,"web_thickness":0.23}`
	for _, c := range []struct {
		name, json string
		pass       Pass
		upTo       int
		want       []Stretch
	}{
		// Chords from domain reference 2.5; areas are length × contact.
		{"beam at 60° on a swivel frame: the width stretches", beam, sixtyDegrees(analyze.SwivelFrame), 8, []Stretch{
			{0, 0.38, 12.98, 12.98, 4.9324}, {0.38, 11.82, 0.46, 0.46, 5.2624}, {11.82, 12.2, 12.98, 12.98, 4.9324},
		}},
		{"beam at 60° on a tilting column: the height stretches", beam, sixtyDegrees(analyze.TiltingColumn), 8, []Stretch{
			{0, 3.13, 1.52, 1.52, 4.7576}, {3.13, 3.36, 24.4, 24.4, 5.612}, {3.36, 6.49, 1.52, 1.52, 4.7576},
		}},
		// Chord 2√(y(6-y)): 4.472136 at 1 in is domain reference 2.3; area of the
		// segments 9·acos(2/3) - 2√5 and 9·acos(1/3) - √8 and of the half disc 4.5π.
		{"round in halves", `{"shape":"round","diameter":6}`, squareCut, 3, []Stretch{
			{0, 3, 0, 6, 14.137167}, {3, 6, 6, 0, 14.137167},
		}},
		{"round in sixths", `{"shape":"round","diameter":6}`, squareCut, 7, []Stretch{
			{0, 1, 0, 4.472136, 3.097482}, {1, 2, 4.472136, 5.656854, 5.152725}, {2, 3, 5.656854, 6, 5.886959},
			{3, 4, 6, 5.656854, 5.886959}, {4, 5, 5.656854, 4.472136, 5.152725}, {5, 6, 4.472136, 0, 3.097482},
		}},
		{"two hexagons side by side", `{"shape":"hex","flats":2}`, Pass{Count: 2, Saw: analyze.FixedFrame}, 0, []Stretch{
			{0, 1, 2.309401, 4.618802, 3.464102}, {1, 2, 4.618802, 2.309401, 3.464102},
		}},
		{"two hexagons one after the other", `{"shape":"hex","flats":2}`, Pass{Count: 2, Saw: analyze.TiltingColumn}, 3, []Stretch{
			{0, 0.577350, 0, 2, 0.577350}, {0.577350, 1.732051, 2, 2, 2.309401}, {1.732051, 2.309401, 2, 0, 0.577350},
		}},
		{"sharp tube", `{"shape":"rect-tube","width":4,"height":6,"wall":0.25,"outer_radius":0}`, squareCut, 8, []Stretch{
			{0, 0.25, 4, 4, 1}, {0.25, 5.75, 0.5, 0.5, 2.75}, {5.75, 6, 4, 4, 1},
		}},
		// Chords by domain reference 2.1; the outer circle of a pipe less its bore,
		// 2√(t(D-t)) = 2.010304 at the wall and 2t = 0.474 at the centre; the area above
		// the wall is a segment, (D/2)²·acos(1-2t/D) - (D/2-t)·√(t(D-t)), and half of
		// 3.1740 in² less that lies between there and the centre.
		{"pipe", `{"shape":"round-tube","diameter":4.5,"wall":0.237}`, squareCut, 0, []Stretch{
			{0, 0.237, 0, 2.010304, 0.321132}, {0.237, 2.25, 2.010304, 0.474, 1.265892}, {2.25, 4.263, 0.474, 2.010304, 1.265892}, {4.263, 4.5, 2.010304, 0, 0.321132},
		}},
		{"channel on its web", `{"shape":"channel","depth":8,"flange_width":2.26,"flange_thickness":0.39,"web_thickness":0.22,"lay":"toes-up"}`, squareCut, 8, []Stretch{
			{0, 2.04, 0.78, 0.78, 1.5912}, {2.04, 2.26, 8, 8, 1.76},
		}},
		{"channel on its toes", `{"shape":"channel","depth":8,"flange_width":2.26,"flange_thickness":0.39,"web_thickness":0.22,"lay":"toes-down"}`, squareCut, 8, []Stretch{
			{0, 0.22, 8, 8, 1.76}, {0.22, 2.26, 0.78, 0.78, 1.5912},
		}},
		{"tee as a T", `{"shape":"tee","depth":6,"flange_width":8,"flange_thickness":0.6,"web_thickness":0.4,"lay":"stem-down"}`, squareCut, 8, []Stretch{
			{0, 0.6, 8, 8, 4.8}, {0.6, 6, 0.4, 0.4, 2.16},
		}},
		{"beam as an H", beam[:len(beam)-1] + `,"lay":"web-horizontal"}`, squareCut, 8, []Stretch{
			{0, 3.13, 0.76, 0.76, 2.3788}, {3.13, 3.36, 12.2, 12.2, 2.806}, {3.36, 6.49, 0.76, 0.76, 2.3788},
		}},
		{"square on its corner", `{"shape":"rect","width":2,"height":2,"lay":"on-corner"}`, squareCut, 0, []Stretch{
			{0, 1.414214, 0, 2.828427, 2}, {1.414214, 2.828427, 2.828427, 0, 2},
		}},
		{"angle on its heel", `{"shape":"angle","leg1":6,"leg2":4,"thickness":0.5}`, squareCut, 8, []Stretch{
			{0, 3.5, 0.5, 0.5, 1.75}, {3.5, 4, 6, 6, 3},
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := object(t, c.json).Stretches(c.pass, c.upTo)
			if diff := cmp.Diff(c.want, got, cmpopts.EquateApprox(0, 1e-6)); diff != "" || err != nil {
				t.Errorf("%v (-want +got):\n%s", err, diff)
			}
		})
	}
}

// A corner radius that rounds to another depth than the wall makes no sliver.
func TestStretchesOfATubeHaveNoSlivers(t *testing.T) {
	for _, wall := range []float64{0.1, 0.3, 0.237, 1. / 3} {
		s := Section{Shape: RectTube, Width: 7.7, Height: 9.1, Wall: wall}
		got, err := s.Stretches(squareCut, 0)
		if err != nil || len(got) != 5 {
			t.Errorf("wall %g: %d stretches, want corner, wall, sides, wall, corner (%v)", wall, len(got), err)
		}
	}
}

// The last part of a divided stretch ends at the level itself: one rounding
// further the contact of a tube is already that below its wall.
func TestDividedStretchesEndBeforeTheStep(t *testing.T) {
	for k := range 200 {
		s := Section{Shape: RectTube, Width: 4, Height: 4, Wall: 0.1 + 0.002*float64(k)}
		list, err := s.Stretches(squareCut, 15)
		if err != nil || len(list) != 13 {
			t.Fatalf("wall %g: %d stretches, want three for each corner and wall and one for the sides (%v)", s.Wall, len(list), err)
		}
		// Outside the hole: 4 in less the roundings 2r - 2√(t(2r-t)), r = 2t.
		if want := 4 - 4*s.Wall + 2*math.Sqrt(3)*s.Wall; math.Abs(list[2].End-want) > 1e-9 {
			t.Errorf("wall %g: contact %g at the end of the wall, want %g", s.Wall, list[2].End, want)
		}
	}
}

func TestThinnest(t *testing.T) {
	for _, c := range []struct {
		name, json string
		pass       Pass
		want       Stretch
	}{
		{"web of a beam", `{"shape":"beam","depth":12.2,"flange_width":6.49,"flange_thickness":0.38,"web_thickness":0.23}`,
			squareCut, Stretch{0.38, 11.82, 0.23, 0.23, 2.6312}},
		{"flange of the beam on a tilting column", `{"shape":"beam","depth":12.2,"flange_width":6.49,"flange_thickness":0.38,"web_thickness":0.23}`,
			sixtyDegrees(analyze.TiltingColumn), Stretch{0, 3.13, 1.52, 1.52, 4.7576}},
		// A round starts from nothing: a twentieth is left out, 0.435890 D there.
		{"round", `{"shape":"round","diameter":6}`, squareCut, Stretch{0.3, 0.3, 2.615339, 2.615339, 0}},
		{"round tube at its middle", `{"shape":"round-tube","diameter":4.5,"wall":0.237}`, squareCut, Stretch{2.25, 2.25, 0.474, 0.474, 0}},
		{"sides of a tube with round corners", `{"shape":"rect-tube","width":4,"height":4,"wall":0.25}`, squareCut, Stretch{0.5, 3.5, 0.5, 0.5, 1.5}},
		// A tent starts from its heel, twice the depth wide, and ends in as much
		// at the foot of its longer leg: the first of the two, a twentieth of 6.5/√2 in.
		{"tent", `{"shape":"angle","leg1":6,"leg2":4,"thickness":0.5,"lay":"tent"}`,
			squareCut, Stretch{0.229810, 0.229810, 0.459619, 0.459619, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := object(t, c.json).Thinnest(c.pass)
			if diff := cmp.Diff(c.want, got, cmpopts.EquateApprox(0, 1e-6)); diff != "" || err != nil {
				t.Errorf("%v (-want +got):\n%s", err, diff)
			}
		})
	}
}

// shared are the shares of the stroke of a section that must be good.
func shared(t *testing.T, s Section, p Pass, tpi float64) (stroke, area []float64) {
	t.Helper()
	shares, err := s.Shares(p, tpi)
	if err != nil {
		t.Fatal(err)
	}
	for _, sh := range shares {
		stroke, area = append(stroke, sh.Stroke), append(area, sh.Area)
	}
	return stroke, area
}

// Domain reference section 3: a contact of 2 in wants 1.5 to 12 TPI, best 3 to
// 6; one of 6 in 0.5 to 4, best 1 to 2.
func TestCommonPracticeBoundsTheTeeth(t *testing.T) {
	fewer, under, best, over, more := 0, 1, 2, 3, 4
	for _, c := range []struct {
		contact, tpi float64
		want         int
	}{
		{2, 1.49, fewer}, {2, 1.5, under}, {2, 2.99, under}, {2, 3, best}, {2, 6, best}, {2, 6.01, over}, {2, 12, over}, {2, 12.01, more},
		{6, 0.49, fewer}, {6, 0.5, under}, {6, 1, best}, {6, 2, best}, {6, 2.01, over}, {6, 4, over}, {6, 4.01, more},
	} {
		stroke, area := shared(t, Section{Shape: Rect, Width: c.contact, Height: 1}, squareCut, c.tpi)
		near(t, "share of the stroke", stroke[c.want], 1, 1e-12)
		near(t, "share of the area", area[c.want], 1, 1e-12)
	}
}

// A round of 6 in at 3 TPI has n teeth in the cut 3 - √(9 - n²/36) in from
// either side (computed); areas by the segment of a circle.
func TestSharesOfARound(t *testing.T) {
	stroke, area := shared(t, parsed(t, "RD6"), squareCut, 3)
	depth := func(n float64) float64 { return 3 - math.Sqrt(9-n*n/36) }
	segment := func(h float64) float64 { return 9*math.Acos((3-h)/3) - (3-h)*math.Sqrt(h*(6-h)) }
	for i, want := range []struct{ from, to float64 }{{0, depth(3)}, {depth(3), depth(6)}, {depth(6), depth(12)}, {depth(12), 3}, {3, 3}} {
		near(t, "share of the stroke", stroke[i], (want.to-want.from)/3, 1e-9)
		near(t, "share of the area", area[i], (segment(want.to)-segment(want.from))/(4.5*math.Pi), 1e-9)
	}
}

// The web of a W12x26 is 11.44 of its 12.2 in, 2.6312 of 7.5636 in² of plates.
func TestSharesOfABeam(t *testing.T) {
	stroke, area := shared(t, parsed(t, "W12x26"), squareCut, 3.5)
	near(t, "stroke with the web alone", stroke[0], 11.44/12.2, 1e-9)
	near(t, "area with the web alone", area[0], 2.6312/7.5636, 1e-9)
	near(t, "stroke in a flange", stroke[3], 0.76/12.2, 1e-9) // 22.7 teeth
}

// A bar turned over has as much of its stroke and area with as many teeth.
func TestSharesOfABarTurnedOver(t *testing.T) {
	for _, c := range []struct {
		designation string
		lays        [2]Lay
	}{
		{"L6x4x1/2", [2]Lay{Heel, LegsDown}}, {"L6x4x1/2", [2]Lay{Tent, Vee}}, {"C8x11.5", [2]Lay{ToesUp, ToesDown}}, {"WT6x25", [2]Lay{StemUp, StemDown}},
	} {
		a, b := parsed(t, c.designation), parsed(t, c.designation)
		a.Lay, b.Lay = c.lays[0], c.lays[1]
		stroke, area := shared(t, a, squareCut, 4)
		otherStroke, otherArea := shared(t, b, squareCut, 4)
		near := cmpopts.EquateApprox(0, 1e-9)
		if diff := cmp.Diff(stroke, otherStroke, near) + cmp.Diff(area, otherArea, near); diff != "" {
			t.Errorf("%s %v:\n%s", c.designation, c.lays, diff)
		}
	}
}

// The thinnest wall of the largest tube, the smallest bar and an edge as flat as
// they come still add up.
func TestStrokeOfTheSmallestAndTheLargest(t *testing.T) {
	for _, json := range []string{
		`{"shape":"round","diameter":0.001}`, `{"shape":"round","diameter":120}`,
		`{"shape":"round-tube","diameter":120,"wall":0.001}`, `{"shape":"round-tube","diameter":1,"wall":0.499999999}`,
		`{"shape":"rect-tube","width":120,"height":120,"wall":0.001}`, `{"shape":"rect-tube","width":120,"height":0.003,"wall":0.001,"outer_radius":0.0015}`,
		`{"shape":"rect","width":120,"height":0.001}`, `{"shape":"hex","flats":0.001,"lay":"on-corner"}`,
		`{"shape":"angle","leg1":120,"leg2":0.01,"thickness":0.001,"lay":"tent"}`,
		`{"shape":"beam","depth":120,"flange_width":120,"flange_thickness":0.001,"web_thickness":0.001}`,
	} {
		s := object(t, json)
		for _, p := range []Pass{squareCut, {Mitre: 84.9, Count: 1, Saw: analyze.SwivelFrame}, {Mitre: -84.9, Count: 1, Saw: analyze.TiltingColumn}} {
			list, err := s.Stretches(p, 8)
			if err != nil {
				t.Fatal(err)
			}
			area, want := 0.0, CutArea(s.Area(), 1, p.Mitre)
			for _, st := range list {
				area += st.Area
			}
			if math.Abs(area/want-1) > 1e-6 {
				t.Errorf("%s on a %s saw: areas add up to %g, cut area %g", json, p.Saw, area, want)
			}
			stroke, shares := shared(t, s, p, 3)
			if sum := stroke[0] + stroke[1] + stroke[2] + stroke[3] + stroke[4]; math.Abs(sum-1) > 1e-9 || !(shares[0] >= 0) {
				t.Errorf("%s on a %s saw: shares of the stroke %g, of the area %g", json, p.Saw, stroke, shares)
			}
			if st, err := s.Thinnest(p); err != nil || !(st.Least() > 0) || math.IsInf(st.Least(), 0) {
				t.Errorf("%s on a %s saw: thinnest %+v (%v)", json, p.Saw, st, err)
			}
		}
	}
}

func TestSharesWithoutAPitchAreNotNumbers(t *testing.T) {
	for _, tpi := range []float64{0, -3, math.NaN(), math.Inf(1)} {
		stroke, area := shared(t, parsed(t, "RD6"), squareCut, tpi)
		if !math.IsNaN(stroke[0]) || !math.IsNaN(area[4]) {
			t.Errorf("tpi %g: shares %g and %g, want NaN", tpi, stroke, area)
		}
	}
}

func TestStrokeIsRefusedAsContactIs(t *testing.T) {
	weight := Section{Shape: Weight, PerFt: 26}
	_, want := weight.Contact(squareCut)
	_, one := weight.Stretches(squareCut, 8)
	_, two := weight.Thinnest(squareCut)
	_, three := weight.Shares(squareCut, 3)
	for _, err := range []error{one, two, three} {
		if err == nil || err.Error() != want.Error() {
			t.Errorf("error %v, want %v", err, want)
		}
	}
}

// Domain reference section 3: round of 6 in, 3 TPI, 250 ft/min, 8 in²/min:
// 1.3333 in/min and 0.000148 in a tooth at the centre.
func TestBite(t *testing.T) {
	rate := Drive{Rate: 8, Speed: 250, TPI: 3}
	near(t, "at the centre", rate.Bite(6), 0.000148148, 1e-9)
	near(t, "in the average width", rate.Bite(4.7124), 8/4.7124/9000, 1e-12)
	near(t, "of a feed of 1.3333 in/min", Drive{Feed: 4. / 3, Speed: 250, TPI: 3}.Bite(6), 0.000148148, 1e-9)
	near(t, "of a held feed where little is in contact", Drive{Feed: 4. / 3, Speed: 250, TPI: 3}.Bite(0.1), 0.000148148, 1e-9)
	if got := rate.Bite(0); !math.IsInf(got, 1) {
		t.Errorf("on top of a round %g, want +Inf", got)
	}
	for _, d := range []Drive{{}, {Rate: 8, Speed: 250}, {Rate: 8, TPI: 3}, {Speed: 250, TPI: 3}, {Rate: math.NaN(), Speed: 250, TPI: 3}, {Feed: -1, Speed: 250, TPI: 3}} {
		if got := d.Bite(6); !math.IsNaN(got) {
			t.Errorf("%+v: %g, want NaN", d, got)
		}
	}
}

func TestStretchesMakeTheStrokeAndTheCutArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := anySection(t), anyPass(t)
		list, err := s.Stretches(p, rapid.IntRange(0, 20).Draw(t, "up to"))
		c, errC := s.Contact(p)
		if err != nil || errC != nil {
			t.Fatal(err, errC)
		}
		bars := 1.0
		if p.Saw == analyze.TiltingColumn {
			bars = float64(p.Count)
		}
		var area, end float64
		for _, st := range list {
			if math.Abs(st.From-end) > 1e-8*c.Stroke || !(st.To > st.From) {
				t.Errorf("a stretch from %g to %g after %g", st.From, st.To, end)
			}
			slack, length := 1e-12*c.Max*c.Stroke, st.To-st.From
			if st.Most() > c.Max*(1+1e-9) || st.Area < st.Least()*length-slack || st.Area > st.Most()*length+slack {
				t.Errorf("%+v: want contact up to %g and an area between its bounds", st, c.Max)
			}
			area, end = area+st.Area*bars, st.To
		}
		if math.Abs(end*bars-c.Stroke) > 1e-9*c.Stroke {
			t.Errorf("the stretches end at %g, stroke %g of %g bars", end, c.Stroke, bars)
		}
		if want := CutArea(s.Area(), p.Count, p.Mitre); math.Abs(area-want) > 1e-6*want {
			t.Errorf("areas add up to %g, cut area %g", area, want)
		}
	})
}

// The closed form of the area is held against the chord by the midpoint rule.
func TestAreaOfAStretchIsTheIntegralOfTheChord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := anySection(t), anyPass(t)
		list, err := s.Stretches(p, 16)
		if err != nil {
			t.Fatal(err)
		}
		st := rapid.SampledFrom(list).Draw(t, "stretch")
		const steps = 2000
		half, sum := (st.To-st.From)/2, 0.0
		for k := range steps {
			sin, cos := math.Sincos(math.Pi * (float64(k) + 0.5) / steps)
			sum += s.Chord(p, st.From+half*(1-cos)) * half * sin * math.Pi / steps
		}
		if math.Abs(sum-st.Area) > 1e-5*st.Most()*(st.To-st.From) {
			t.Errorf("%+v: integral %g", st, sum)
		}
	})
}

func TestThinnestIsTheLeastContact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := anySection(t), anyPass(t)
		st, err := s.Thinnest(p)
		c, errC := s.Contact(p)
		if err != nil || errC != nil {
			t.Fatal(err, errC)
		}
		// Contact.Min is never above the mean; the thinnest is where it is.
		if got := min(st.Least(), c.Mean); math.Abs(got-c.Min) > 1e-6*c.Max {
			t.Errorf("thinnest %+v, least contact %g", st, c.Min)
		}
		if at := s.Chord(p, st.From); !(st.From <= st.To) || st.From < st.To && math.Abs(at-st.Begin) > 1e-9*c.Max {
			t.Errorf("thinnest %+v, contact there %g", st, at)
		}
	})
}

func TestSharesSumToOneAndGoByTeeth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := anySection(t), anyPass(t)
		tpi := rapid.Float64Range(0.1, 50).Draw(t, "tpi")
		a, err := s.Shares(p, tpi)
		if err != nil {
			t.Fatal(err)
		}
		var stroke, area float64
		for _, sh := range a {
			if !(sh.Stroke >= 0 && sh.Stroke <= 1+1e-12 && sh.Area >= -1e-12 && sh.Area <= 1+1e-12) {
				t.Errorf("%+v: want shares from 0 to 1", sh)
			}
			stroke, area = stroke+sh.Stroke, area+sh.Area
		}
		if math.Abs(stroke-1) > 1e-9 || math.Abs(area-1) > 1e-9 {
			t.Errorf("shares of the stroke sum to %g, of the area to %g", stroke, area)
		}
		// What makes every inch longer and every tooth coarser changes nothing.
		k := rapid.Float64Range(0.5, 2).Draw(t, "scale")
		for _, d := range lengths[s.Shape] {
			*d.of(&s) *= k
		}
		if s.OuterRadius != nil {
			r := *s.OuterRadius * k * (1 - 1e-12)
			s.OuterRadius = &r
		}
		b, err := s.Shares(p, tpi/k)
		if err != nil {
			t.Skip(err) // a length beyond its limit
		}
		if diff := cmp.Diff(a, b, cmpopts.EquateApprox(0, 1e-6)); diff != "" {
			t.Errorf("at %g times the size:\n%s", k, diff)
		}
	})
}

// A swivel frame stretches the width, a tilting column the height, both by
// 1/cos (domain reference 2.5): along the blade either way.
func TestMitreStretchesTheContact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := anySection(t), anyPass(t)
		p.Saw = rapid.SampledFrom([]analyze.SawKind{analyze.SwivelFrame, analyze.TiltingColumn}).Draw(t, "saw")
		mitred, err := s.Stretches(p, 12)
		factor := 1 / math.Cos(p.Mitre*math.Pi/180)
		p.Mitre = 0
		square, errS := s.Stretches(p, 12)
		if err != nil || errS != nil {
			t.Fatal(err, errS)
		}
		for i := range square {
			square[i].Begin *= factor
			square[i].End *= factor
			square[i].Area *= factor
		}
		if diff := cmp.Diff(square, mitred, cmpopts.EquateApprox(1e-9, 1e-12)); diff != "" {
			t.Errorf("square × 1/cos and mitred:\n%s", diff)
		}
	})
}

func BenchmarkShares(b *testing.B) {
	s := Section{Shape: RectTube, Width: 6, Height: 4, Wall: 0.25}
	for b.Loop() {
		if _, err := s.Shares(squareCut, 3); err != nil {
			b.Fatal(err)
		}
	}
}
