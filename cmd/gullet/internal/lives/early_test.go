package lives

import (
	"math"
	"testing"

	"gullet/analyze"
	"gullet/analyze/life"
	"gullet/store"
)

// The others of nine blades are eight whose B10 is that of the plain fit; the one that is
// judged is in none of it.
func TestAnEndIsHeldAgainstTheOthers(t *testing.T) {
	areas := []float64{900, 1000, 1100, 1200, 1300, 1400, 1500, 1600}
	early := hung("s1", "E", 20, 21, analyze.ReasonDull, of("1018", 150))
	e := Gather(append(worn(areas...), early), nil, shopConfig(t), since).EndOf(&early)
	var lives []life.Observation
	for _, a := range areas {
		lives = append(lives, life.Observation{Area: a, Ended: true})
	}
	w, err := life.FitWeibull(lives)
	if err != nil {
		t.Fatal(err)
	}
	want := w.QuantileEstimate(0.1)
	if e.B10 == nil || math.Abs(e.B10.Value-want.Value) > 1e-6 || math.Abs(*e.B10.Low-want.Low) > 1e-6 || e.Weighted != 150 || e.Blades != 8 || e.Ended != 8 {
		t.Errorf("%+v, want 150 in² beside a B10 of %+v of 8 others", e, want)
	}
}

func TestWhereNoB10IsKnown(t *testing.T) {
	one := hung("s1", "E", 20, 21, analyze.ReasonDull, of("1018", 150))
	unnamed := hung("s1", "", 20, 21, analyze.ReasonBroke, of("1018", 150))
	unsized := hung("s1", "U", 20, 21, analyze.ReasonDull, analyze.GradeTotal{Grade: "1018", Area: 150, AreaUnknown: 2})
	for _, c := range []struct {
		name string
		rows []store.FittingRow
		why  string
	}{
		{"alone", []store.FittingRow{one}, "no other blade of its type is known"},
		{"too few ends", append(worn(900, 1000), one), "2 of 2 blades have ended: at least 3 ends are needed"},
		{"not named", append(worn(900, 1000, 1100, 1200), unnamed), "the blade has no known serial, so what it cut before is unknown"},
		{"area not known", append(worn(900, 1000, 1100, 1200), unsized), "the area of 2 passes of it is unknown"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := Gather(c.rows, nil, shopConfig(t), since).EndOf(&c.rows[len(c.rows)-1])
			if e.B10 != nil || e.Why != c.why {
				t.Errorf("B10 %+v, why %q; want none, for %q", e.B10, e.Why, c.why)
			}
		})
	}
}

// Through several ways of ending no one curve has limits that hold.
func TestB10OfSeveralWaysHasNoLimits(t *testing.T) {
	rows := worn(900, 1000, 1100, 1200, 1300, 1400, 1500, 1600, 1700, 1800)
	for i, area := range []float64{300, 700, 1400, 2100} {
		rows = append(rows, hung("s2", string(rune('a'+i)), i, i+1, analyze.ReasonStripped, of("1018", area)))
	}
	one := hung("s1", "E", 20, 21, analyze.ReasonDull, of("1018", 150))
	e := Gather(append(rows, one), nil, shopConfig(t), since).EndOf(&one)
	if e.B10 == nil || e.B10.Low != nil || e.B10.High != nil || !(400 < e.B10.Value && e.B10.Value < 1000) {
		t.Errorf("B10 %+v, want a value between the early strips and the wear, without limits", e.B10)
	}
}
