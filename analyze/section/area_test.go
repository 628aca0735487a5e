package section

import (
	"math"
	"testing"

	"gullet/analyze"
)

// near fails unless got is want within tolerance.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g ± %.2g", what, got, want, tolerance)
	}
}

// parsed reads a designation that must be good.
func parsed(t *testing.T, designation string) Section {
	t.Helper()
	s, err := Parse(designation)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// object reads a JSON section in inches that must be good.
func object(t *testing.T, json string) Section {
	t.Helper()
	s, err := FromJSON([]byte(json), 1)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A horizontal blade, one bar, square.
var squareCut = Pass{Count: 1, Saw: analyze.FixedFrame}

// Wanted values: domain reference 2.3, computed there by independent code.
func TestAreaOfWorkedExamples(t *testing.T) {
	for _, c := range []struct {
		name string
		s    Section
		want float64
	}{
		{"round 6", parsed(t, "RD6"), 28.2743},
		{"tube 4.000 OD × 3.000 ID", object(t, `{"shape":"round-tube","diameter":4,"wall":0.5}`), 5.4978},
		{"hex 2 across flats", parsed(t, "HEX2"), 3.4641},
		{"4 in standard pipe", parsed(t, "PIPE4STD"), 3.1740},
		{"HSS4x4x1/4", parsed(t, "HSS4x4x1/4"), 3.5890},
		{"HSS4x4x1/4 with sharp corners", object(t, `{"shape":"rect-tube","width":4,"height":4,"wall":0.25,"outer_radius":0}`), 3.7500},
		{"L4x4x1/2", parsed(t, "L4x4x1/2"), 3.7500},
		{"L6x4x1/2", parsed(t, "L6x4x1/2"), 4.7500},
	} {
		near(t, c.name, c.s.Area(), c.want, 0.00005)
	}
	near(t, "ten 2 in rounds", CutArea(parsed(t, "RD2").Area(), 10, 0), 31.4159, 0.00005)
}

// Areas and dimensions as the AISC tables print them, from memory (domain
// reference 2.4), with the tolerances it states: weight over 3.4 within 0.6 %,
// plates 0.3 to 2 % low for want of the fillets.
func TestAreaOfPublishedShapes(t *testing.T) {
	for _, c := range []struct {
		designation  string
		area, plates float64
	}{
		{"W6x25", 7.34, 7.283}, {"W8x31", 9.13, 8.992}, {"W10x49", 14.4, 14.212},
		{"W12x26", 7.65, 7.564}, {"W14x90", 26.5, 26.125}, {"W16x31", 9.13, 8.997},
		{"W18x50", 14.7, 14.535}, {"W21x44", 13.0, 12.780}, {"W24x76", 22.4, 22.144},
		{"W36x150", 44.3, 43.822}, {"C8x11.5", 3.37, 3.351}, {"C12x20.7", 6.08, 6.047},
		{"C15x33.9", 10.0, 9.900}, {"WT6x25", 7.30, 7.191}, {"WT9x25", 7.34, 7.268},
	} {
		s := parsed(t, c.designation)
		// The reference prints WT6x25 as 7.30 against 7.353 by weight: 0.7 %,
		// beyond its own tolerance, so tees are given 0.8 %.
		tolerance := 0.006
		if s.Shape == Tee {
			tolerance = 0.008
		}
		near(t, c.designation+" by weight", s.Area(), c.area, tolerance*c.area)

		s.PerFt = 0 // now by its dimensions
		near(t, c.designation+" as plates", s.Area(), c.plates, 0.0006)
		if low := 1 - s.Area()/c.area; low < 0.003 || low > 0.02 {
			t.Errorf("%s: plates are %.2f %% under the published area, want 0.3 to 2", c.designation, 100*low)
		}
	}
}

// Published areas of angles, from memory (domain reference 2.4): geometry
// within 0.7 %.
func TestAreaOfAngles(t *testing.T) {
	for designation, area := range map[string]float64{
		"L2x2x1/4": .944, "L3x3x1/4": 1.44, "L4x4x1/2": 3.75, "L6x4x1/2": 4.75, "L8x8x1": 15.1,
	} {
		near(t, designation, parsed(t, designation).Area(), area, 0.007*area)
	}
}

// Weights of welded tube from memory, areas on the nominal and on the design
// wall computed independently (domain reference 2.4).
func TestTubeIsCountedOnItsNominalWall(t *testing.T) {
	for _, c := range []struct {
		designation             string
		perFt, nominal, reduced float64
	}{
		{"HSS4x4x1/4", 12.21, 3.589, 3.365}, {"HSS6x4x1/4", 15.62, 4.589, 4.295},
		{"HSS8x8x3/8", 37.69, 11.075, 10.360}, {"HSS6x6x1/2", 35.24, 10.356, 9.738},
		{"HSS12x8x1/2", 62.46, 18.356, 17.178},
	} {
		s := parsed(t, c.designation)
		near(t, c.designation, s.Area(), c.nominal, 0.0006)
		near(t, c.designation+" against its weight", s.Area(), c.perFt/3.4, 0.002*s.Area())
		s.Wall *= 0.93
		near(t, c.designation+" on the design wall", s.Area(), c.reduced, 0.0006)
	}
}

// Factors from domain reference 2.5, to the places printed there.
func TestMitreGrowsTheAreaByOneOverCosine(t *testing.T) {
	for _, c := range []struct{ mitre, want float64 }{
		{0, 1}, {15, 1.03528}, {22.5, 1.08239}, {30, 1.15470}, {45, 1.41421}, {60, 2.00000}, {-45, 1.41421},
	} {
		near(t, "factor", CutArea(1, 1, c.mitre), c.want, 0.000005)
	}
	near(t, "W12x26 at 45°", CutArea(7.65, 1, 45), 10.819, 0.0005)
	near(t, "W12x26 at 60°", CutArea(7.65, 1, 60), 15.30, 0.0005)
}

// Weights of a foot of one square inch from memory (domain reference 2.2).
func TestAreaFromWeightAndDensity(t *testing.T) {
	for _, c := range []struct {
		metal           string
		density, wantFt float64
	}{
		{"aluminium", 0.098, 1.176}, {"stainless 304", 0.290, 3.48}, {"brass", 0.307, 3.68},
		{"Ti-6-4", 0.160, 1.92}, {"alloy 718", 0.297, 3.56}, {"steel", 0, 3.4},
	} {
		s := Section{Shape: Weight, PerFt: 10, Density: c.density}
		near(t, c.metal, s.Area(), 10/c.wantFt, 0.002*s.Area())
	}
}

func TestAreaOfAnUnknownShapeIsNotANumber(t *testing.T) {
	if a := (Section{Shape: "oval"}).Area(); !math.IsNaN(a) {
		t.Errorf("area = %v, want NaN", a)
	}
}

// A heavy wall leaves no room for corners of twice the wall; 2 × 1 with a wall
// of 0.4 then has half circles of 0.5 outside and 0.1 inside.
func TestHeavyWallCapsTheCornerRadius(t *testing.T) {
	s := object(t, `{"shape":"rect-tube","width":2,"height":1,"wall":0.4}`)
	outside := 1*1 + math.Pi*0.25
	inside := 1.2*0.2 - (4-math.Pi)*0.01
	near(t, "area", s.Area(), outside-inside, 1e-12)
}

func TestHeightWidthIsTheBoxAsItLies(t *testing.T) {
	diagonal := 2 * math.Sqrt2
	for _, c := range []struct {
		json          string
		height, width float64
	}{
		{`{"shape":"round","diameter":6}`, 6, 6},
		{`{"shape":"rect","width":4,"height":0.5}`, 0.5, 4},
		{`{"shape":"rect","width":4,"height":0.5,"lay":"turned"}`, 4, 0.5},
		{`{"shape":"rect","width":2,"height":2,"lay":"on-corner"}`, diagonal, diagonal},
		{`{"shape":"hex","flats":2}`, 2, 2.309401},
		{`{"shape":"hex","flats":2,"lay":"on-corner"}`, 2.309401, 2},
		{`{"shape":"rect-tube","width":6,"height":4,"wall":0.25}`, 4, 6},
		{`{"shape":"angle","leg1":6,"leg2":4,"thickness":0.5}`, 4, 6},
		{`{"shape":"angle","leg1":4,"leg2":4,"thickness":0.5,"lay":"tent"}`, 4.5 / math.Sqrt2, 8 / math.Sqrt2},
		{`{"shape":"beam","depth":12.2,"flange_width":6.49,"flange_thickness":0.38,"web_thickness":0.23}`, 12.2, 6.49},
		{`{"shape":"beam","depth":12.2,"flange_width":6.49,"flange_thickness":0.38,"web_thickness":0.23,"lay":"web-horizontal"}`, 6.49, 12.2},
		{`{"shape":"channel","depth":8,"flange_width":2.26,"flange_thickness":0.39,"web_thickness":0.22,"lay":"toes-up"}`, 2.26, 8},
		{`{"shape":"tee","depth":6,"flange_width":8,"flange_thickness":0.6,"web_thickness":0.4}`, 6, 8},
	} {
		height, width, ok := object(t, c.json).HeightWidth()
		if !ok {
			t.Errorf("%s: the box is not known", c.json)
		}
		near(t, c.json+" height", height, c.height, 1e-6)
		near(t, c.json+" width", width, c.width, 1e-6)
	}
	if _, _, ok := (Section{Shape: Weight, PerFt: 26}).HeightWidth(); ok {
		t.Error("a weight has a box, want none")
	}
}
