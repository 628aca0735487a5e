package section

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze"
)

func TestFromJSON(t *testing.T) {
	radius := 0.4
	for _, c := range []struct {
		in   string
		want Section
	}{
		{`{"shape":"round","diameter":6}`, Section{Shape: Round, Diameter: 6}},
		{" {\n\"diameter\" : 6e0, \"shape\":\"ro\\u0075nd\"} ", Section{Shape: Round, Diameter: 6}},
		{`{"shape":"rect","width":4,"height":0.5}`, Section{Shape: Rect, Lay: AsGiven, Width: 4, Height: .5}},
		{`{"shape":"hex","flats":2,"lay":"on-corner"}`, Section{Shape: Hex, Lay: OnCorner, Flats: 2}},
		{`{"shape":"round-tube","diameter":4,"wall":0.5}`, Section{Shape: RoundTube, Diameter: 4, Wall: .5}},
		{`{"shape":"rect-tube","width":4,"height":6,"wall":0.25}`, Section{Shape: RectTube, Lay: AsGiven, Width: 4, Height: 6, Wall: .25}},
		{`{"shape":"rect-tube","width":4,"height":6,"wall":0.25,"outer_radius":0.4}`, Section{Shape: RectTube, Lay: AsGiven, Width: 4, Height: 6, Wall: .25, OuterRadius: &radius}},
		{`{"shape":"angle","leg1":6,"leg2":4,"thickness":0.5,"lay":"tent"}`, Section{Shape: Angle, Lay: Tent, Leg1: 6, Leg2: 4, Thickness: .5}},
		{`{"shape":"channel","depth":8,"flange_width":2.26,"flange_thickness":0.39,"web_thickness":0.22}`, Section{Shape: Channel, Lay: WebVertical, Depth: 8, FlangeWidth: 2.26, FlangeThickness: .39, WebThickness: .22}},
		{`{"shape":"beam","depth":8,"flange_width":8,"flange_thickness":0.4,"web_thickness":0.3}`, Section{Shape: Beam, Lay: WebVertical, Depth: 8, FlangeWidth: 8, FlangeThickness: .4, WebThickness: .3}},
		{`{"shape":"tee","depth":6,"flange_width":8,"flange_thickness":0.6,"web_thickness":0.4}`, Section{Shape: Tee, Lay: StemUp, Depth: 6, FlangeWidth: 8, FlangeThickness: .6, WebThickness: .4}},
		{`{"shape":"weight","per_ft":26}`, Section{Shape: Weight, PerFt: 26}},
		{`{"shape":"weight","per_ft":10,"density":0.098}`, Section{Shape: Weight, PerFt: 10, Density: .098}},
	} {
		got, err := FromJSON([]byte(c.in), 1)
		if diff := cmp.Diff(c.want, got); diff != "" || err != nil {
			t.Errorf("%s: %v (-want +got):\n%s", c.in, err, diff)
		}
	}
}

func TestWeightIsNotALength(t *testing.T) {
	s, err := FromJSON([]byte(`{"shape":"weight","per_ft":10,"density":0.098}`), 1/25.4)
	if err != nil || s.PerFt != 10 || s.Density != 0.098 {
		t.Errorf("%+v, %v, want 10 lb/ft and 0.098 lb/in³", s, err)
	}
}

func TestFromJSONErrorsSayWhatIsAllowed(t *testing.T) {
	const shapes = "round, rect, hex, round-tube, rect-tube, angle, channel, beam, tee, weight"
	for _, c := range []struct{ in, want string }{
		{``, `not a JSON object, allowed is one such as {"shape":"round","diameter":6}`},
		{`null`, `not a JSON object, allowed is one such as {"shape":"round","diameter":6}`},
		{`["round",6]`, `not a JSON object, allowed is one such as {"shape":"round","diameter":6}`},
		{`{"shape":"round","diameter":6`, `not valid JSON: unexpected end of JSON input`},
		{`{"shape":"round","diameter":NaN}`, `not valid JSON: invalid character 'N' looking for beginning of value`},
		{`{}`, `shape is missing, allowed are ` + shapes},
		{`{"shape":6}`, `shape is "6", allowed is a word in quotes`},
		{`{"shape":"oval"}`, `shape "oval" is not known, allowed are ` + shapes},
		{`{"shape":"Round","diameter":6}`, `shape "Round" is not known, allowed are ` + shapes},
		{`{"shape":"round"}`, `round: diameter is missing, it needs diameter`},
		{`{"shape":"round","Diameter":6}`, `round: diameter is missing, it needs diameter`},
		{`{"shape":"beam","depth":8}`, `beam: flange_width is missing, it needs depth, flange_width, flange_thickness, web_thickness`},
		{`{"shape":"weight"}`, `weight: per_ft is missing, it needs per_ft`},
		{`{"shape":"round","diameter":"6"}`, `round: diameter is "\"6\"", allowed is a number`},
		{`{"shape":"round","diameter":null}`, `round: diameter is "null", allowed is a number`},
		{`{"shape":"round","diameter":1e999}`, `round: diameter is "1e999", allowed is a number`},
		{`{"shape":"round","diameter":[[6]]}`, `round: diameter is "[[6]]", allowed is a number`},
		{`{"shape":"round","diameter":0}`, `round: diameter is 0 in, allowed is 0.001 to 120 in`},
		{`{"shape":"round","diameter":-6}`, `round: diameter is -6 in, allowed is 0.001 to 120 in`},
		{`{"shape":"round","diameter":121}`, `round: diameter is 121 in, allowed is 0.001 to 120 in`},
		{`{"shape":"round","diameter":6,"wall":1,"bore":2}`, `round: member "bore" is not known, allowed are shape, diameter`},
		{`{"shape":"angle","leg1":4,"leg2":4,"thickness":1,"x":1}`, `angle: member "x" is not known, allowed are shape, leg1, leg2, thickness, lay`},
		{`{"shape":"rect-tube","width":4,"height":4,"wall":1,"x":1}`, `rect-tube: member "x" is not known, allowed are shape, width, height, wall, outer_radius, lay`},
		{`{"shape":"weight","per_ft":4,"x":1}`, `weight: member "x" is not known, allowed are shape, per_ft, density`},
		{`{"shape":"round","diameter":6,"density":0.1}`, `round: member "density" is not known, allowed are shape, diameter`},
		{`{"shape":"round","diameter":6,"lay":"on-flat"}`, `round: lay is "on-flat", but this shape has none: leave it out`},
		{`{"shape":"hex","flats":2,"lay":"tent"}`, `hex: lay is "tent", allowed are on-flat, on-corner`},
		{`{"shape":"hex","flats":2,"lay":""}`, `hex: lay is empty, leave it out for the default`},
		{`{"shape":"hex","flats":2,"lay":null}`, `lay is "null", allowed is a word in quotes`},
		{`{"shape":"rect","width":4,"height":2,"lay":"on-corner"}`, `rect: lay is "on-corner", allowed only for a square bar, this one is 4 × 2 in`},
		{`{"shape":"round-tube","diameter":4,"wall":2}`, `round-tube: wall is 2 in, allowed is less than half the diameter (2 in)`},
		{`{"shape":"rect-tube","width":4,"height":3,"wall":1.5}`, `rect-tube: wall is 1.5 in, allowed is less than half the narrow side (1.5 in)`},
		{`{"shape":"rect-tube","width":4,"height":3,"wall":1,"outer_radius":1.6}`, `rect-tube: outer_radius is 1.6 in, allowed is 0 to half the narrow side (1.5 in)`},
		{`{"shape":"rect-tube","width":4,"height":3,"wall":1,"outer_radius":-1}`, `rect-tube: outer_radius is -1 in, allowed is 0 to half the narrow side (1.5 in)`},
		{`{"shape":"rect-tube","width":4,"height":3,"wall":1,"outer_radius":"1"}`, `rect-tube: outer_radius is "\"1\"", allowed is a number`},
		{`{"shape":"angle","leg1":4,"leg2":3,"thickness":3}`, `angle: thickness is 3 in, allowed is less than the shorter leg (3 in)`},
		{`{"shape":"beam","depth":8,"flange_width":4,"flange_thickness":4,"web_thickness":1}`, `beam: flange_thickness is 4 in, allowed is less than half the depth (4 in)`},
		{`{"shape":"channel","depth":8,"flange_width":1,"flange_thickness":0.5,"web_thickness":2}`, `channel: web_thickness is 2 in, allowed is less than the flange width (1 in)`},
		{`{"shape":"tee","depth":4,"flange_width":4,"flange_thickness":4,"web_thickness":1}`, `tee: flange_thickness is 4 in, allowed is less than the depth (4 in)`},
		{`{"shape":"weight","per_ft":0}`, `weight: per_ft is 0 lb/ft, allowed is 0.01 to 50000 lb/ft`},
		{`{"shape":"weight","per_ft":60000}`, `weight: per_ft is 60000 lb/ft, allowed is 0.01 to 50000 lb/ft`},
		{`{"shape":"weight","per_ft":10,"density":0}`, `weight: density is 0, allowed is 0.03 to 0.85 lb/in³`},
		{`{"shape":"weight","per_ft":10,"density":2.7}`, `weight: density is 2.7 lb/in³, allowed is 0.03 to 0.85 lb/in³`},
		{`{"shape":"weight","per_ft":10,"density":"steel"}`, `weight: density is "\"steel\"", allowed is a number`},
	} {
		_, err := FromJSON([]byte(c.in), 1)
		if want := "section: " + c.want; err == nil || err.Error() != want {
			t.Errorf("%s\n got %v\nwant %s", c.in, err, want)
		}
	}
}

func TestDeepNestingIsAnErrorOfOneShortLine(t *testing.T) {
	for _, depth := range []int{100, 9_000, 1_000_000} {
		in := `{"shape":"round","diameter":` + strings.Repeat("[", depth) + strings.Repeat("]", depth) + `}`
		_, err := FromJSON([]byte(in), 1)
		if err == nil || len(err.Error()) > 200 {
			t.Errorf("depth %d: error = %v, want a short one", depth, err)
		}
	}
}

func TestUnitsOutsideTheirDomain(t *testing.T) {
	for _, u := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := FromJSON([]byte(`{"shape":"round","diameter":6}`), u); err == nil {
			t.Errorf("%v inches per unit gave no error", u)
		}
	}
}

// Sections not made by Parse or FromJSON, such as with a lay set by hand.
func TestCheckRefusesWhatIsNotANumber(t *testing.T) {
	nan := math.NaN()
	for name, s := range map[string]Section{
		"diameter":     {Shape: Round, Diameter: nan},
		"infinite":     {Shape: Round, Diameter: math.Inf(1)},
		"outer radius": {Shape: RectTube, Width: 4, Height: 4, Wall: 1, OuterRadius: &nan},
		"weight":       {Shape: Weight, PerFt: nan},
		"density":      {Shape: Weight, PerFt: 10, Density: nan},
		"beam weight":  {Shape: Beam, Depth: 8, FlangeWidth: 8, FlangeThickness: .4, WebThickness: .3, PerFt: nan},
		"no shape":     {},
	} {
		if s.Check() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func FuzzFromJSON(f *testing.F) {
	f.Add([]byte(`{"shape":"round","diameter":6}`), false)
	f.Add([]byte(`{"shape":"rect-tube","width":100,"height":50,"wall":6,"outer_radius":9}`), true)
	f.Add([]byte(`{"shape":"angle","leg1":6,"leg2":4,"thickness":0.5,"lay":"tent"}`), false)
	f.Fuzz(func(t *testing.T, in []byte, metric bool) {
		unit := 1.0
		if metric {
			unit = 1 / 25.4
		}
		s, err := FromJSON(in, unit)
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("error of more than one line: %q", err)
			}
			return
		}
		if a := s.Area(); !(a > 0) {
			t.Errorf("area = %v", a)
		}
		for _, saw := range analyze.SawKinds() {
			c, err := s.Contact(Pass{Count: 2, Saw: saw})
			if (err != nil) != (s.Shape == Weight) {
				t.Errorf("contact on a %s saw: %v", saw, err)
			}
			if err == nil && !(0 < c.Min && c.Min <= c.Max && c.Stroke > 0) {
				t.Errorf("contact on a %s saw: %+v", saw, c)
			}
		}
	})
}
