package section

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"gullet/analyze"
)

// anySection draws a good section of a shape that has dimensions, in any lay.
func anySection(t *rapid.T) Section {
	return anyOf(t, rapid.SampledFrom(Shapes()[:9]).Draw(t, "shape"))
}

func anyOf(t *rapid.T, sh Shape) Section {
	s := Section{Shape: sh}
	length := func(name string, low, high float64) float64 {
		return rapid.Float64Range(low, high).Draw(t, name)
	}
	if lays := Lays(s.Shape); len(lays) > 0 {
		s.Lay = rapid.SampledFrom(lays).Draw(t, "lay")
	}
	switch s.Shape {
	case Round:
		s.Diameter = length("diameter", 0.1, 30)
	case Rect:
		s.Width, s.Height = length("width", 0.1, 30), length("height", 0.1, 30)
		if s.Lay == OnCorner {
			s.Height = s.Width
		}
	case Hex:
		s.Flats = length("flats", 0.1, 30)
	case RoundTube:
		s.Diameter = length("diameter", 0.1, 30)
		s.Wall = s.Diameter * length("wall share", 0.01, 0.49)
	case RectTube:
		s.Width, s.Height = length("width", 0.1, 30), length("height", 0.1, 30)
		s.Wall = min(s.Width, s.Height) * length("wall share", 0.01, 0.49)
		if rapid.Bool().Draw(t, "radius given") {
			r := min(s.Width, s.Height) * length("radius share", 0, 0.5)
			s.OuterRadius = &r
		}
	case Angle:
		s.Leg1, s.Leg2 = length("leg1", 0.5, 30), length("leg2", 0.5, 30)
		s.Thickness = min(s.Leg1, s.Leg2) * length("thickness share", 0.01, 0.95)
	default:
		s.Depth, s.FlangeWidth = length("depth", 0.5, 30), length("flange width", 0.5, 30)
		s.FlangeThickness = s.Depth * length("flange share", 0.01, 0.49)
		s.WebThickness = s.FlangeWidth * length("web share", 0.01, 0.95)
	}
	return s
}

// anyPass draws a cut a saw can make.
func anyPass(t *rapid.T) Pass {
	p := Pass{Saw: rapid.SampledFrom(analyze.SawKinds()).Draw(t, "saw"), Count: rapid.IntRange(1, 12).Draw(t, "count")}
	if p.Saw != analyze.FixedFrame {
		p.Mitre = rapid.Float64Range(-70, 70).Draw(t, "mitre")
	}
	return p
}

// integral of the contact over the stroke through one bar. Between two levels
// the substitution y = a + (b-a)(1-cos φ)/2 takes out the vertical tangents of
// the arcs, so the midpoint rule is good to about 1e-5.
func integral(w swath) float64 {
	const steps = 128
	var sum float64
	ys := w.levels()
	for i := 1; i < len(ys); i++ {
		half := (ys[i] - ys[i-1]) / 2
		for k := range steps {
			sin, cos := math.Sincos(math.Pi * (float64(k) + 0.5) / steps)
			sum += w.metal.chord(ys[i-1]+half*(1-cos), true) * half * sin * math.Pi / steps
		}
	}
	return sum * w.factor
}

func TestContactAlongTheStrokeMakesTheCutArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := anySection(t), anyPass(t)
		w, err := s.swath(p)
		if err != nil {
			t.Fatal(err)
		}
		want := CutArea(s.Area(), p.Count, p.Mitre)
		if got := integral(w) * float64(w.bars); math.Abs(got-want) > 2e-4*want {
			t.Errorf("∫ contact = %g, cut area %g", got, want)
		}
		c, err := s.Contact(p)
		if err != nil || math.Abs(c.Mean*c.Stroke-want) > 1e-9*want {
			t.Errorf("mean %g × stroke %g, cut area %g (%v)", c.Mean, c.Stroke, want, err)
		}
	})
}

// Contact finds its extremes at a few levels; Chord is asked everywhere.
func TestNoChordIsOutsideLeastAndMost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := anySection(t), anyPass(t)
		c, err := s.Contact(p)
		if err != nil {
			t.Fatal(err)
		}
		slack := 1e-9 * c.Max
		if !(0 < c.Min && c.Min <= c.Mean+slack && c.Mean <= c.Max+slack) {
			t.Errorf("least %g, mean %g, most %g: want above 0 and in order", c.Min, c.Mean, c.Max)
		}
		bars := 1.0
		if p.Saw == analyze.TiltingColumn {
			bars = float64(p.Count)
		}
		one := c.Stroke / bars
		for k := range 200 {
			share := (float64(k) + 0.5) / 200
			y := s.Chord(p, share*one)
			if y > c.Max+slack {
				t.Errorf("chord %g at %g, most %g", y, share*one, c.Max)
			}
			if share > runIn && share < 1-runIn && y < c.Min-slack {
				t.Errorf("chord %g at %g, least %g", y, share*one, c.Min)
			}
		}
	})
}

func TestAreaGrowsWithEveryDimension(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySection(t)
		s.OuterRadius = nil // a larger radius takes metal away
		dims := lengths[s.Shape]
		d := dims[rapid.IntRange(0, len(dims)-1).Draw(t, "dimension")]
		if s.Lay == OnCorner {
			s.Lay = ""
		}
		before := s.Area()
		*d.of(&s) *= 1.001
		if s.Check() != nil {
			t.Skip("no section any more")
		}
		if s.Area() <= before {
			t.Errorf("area %g after %s grew, %g before", s.Area(), d.name, before)
		}
	})
}

// written is the JSON object of a section with its lengths times scale.
func written(t *rapid.T, s Section, scale float64) []byte {
	m := map[string]any{"shape": s.Shape}
	for _, d := range lengths[s.Shape] {
		m[d.name] = *d.of(&s) * scale
	}
	if s.OuterRadius != nil {
		m["outer_radius"] = *s.OuterRadius * scale
	}
	if s.Lay != "" {
		m["lay"] = s.Lay
	}
	b, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestObjectsReadBackInBothUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySection(t)
		inches, err := FromJSON(written(t, s, 1), 1)
		if diff := cmp.Diff(s, inches); diff != "" || err != nil {
			t.Errorf("in inches: %v (-want +got):\n%s", err, diff)
		}
		if s.OuterRadius != nil { // its limit is exact, the conversion is not
			*s.OuterRadius *= 0.999
		}
		mm, err := FromJSON(written(t, s, 25.4), 1/25.4)
		if diff := cmp.Diff(s, mm, cmpopts.EquateApprox(1e-12, 0)); diff != "" || err != nil {
			t.Errorf("in millimetres: %v (-want +got):\n%s", err, diff)
		}
	})
}

// A bar turned over meets the blade in the opposite order, with as much of it.
func TestTurnedOverTheContactIsTheSame(t *testing.T) {
	for _, c := range []struct {
		shape Shape
		lays  [2]Lay
	}{
		{Angle, [2]Lay{Heel, LegsDown}},
		{Angle, [2]Lay{Tent, Vee}},
		{Channel, [2]Lay{ToesUp, ToesDown}},
		{Tee, [2]Lay{StemUp, StemDown}},
	} {
		t.Run(string(c.lays[0]), rapid.MakeCheck(func(t *rapid.T) {
			a := anyOf(t, c.shape)
			b := a
			a.Lay, b.Lay = c.lays[0], c.lays[1]
			ca, errA := a.Contact(squareCut)
			cb, errB := b.Contact(squareCut)
			if diff := cmp.Diff(ca, cb, cmpopts.EquateApprox(1e-9, 0)); diff != "" || errA != nil || errB != nil {
				t.Errorf("%v, %v:\n%s", errA, errB, diff)
			}
			w, _ := a.swath(squareCut)
			y := ca.Stroke * rapid.Float64Range(0.01, 0.99).Draw(t, "share")
			for _, level := range w.levels() {
				if math.Abs(y-level) < 1e-9*ca.Stroke {
					t.Skip("on a step, where rounding chooses the side")
				}
			}
			if down, up := a.Chord(squareCut, y), b.Chord(squareCut, ca.Stroke-y); math.Abs(down-up) > 1e-9*ca.Max {
				t.Errorf("chord %g at %g, turned over %g", down, y, up)
			}
		}))
	}
}
