package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// By hand: of ten blades one ends below the window, two are lost below, of the seven
// left three end within; one is lost within, then one more of the three left ends within,
// and two go beyond. The curve is 0.9, 0.9·4/7, 0.9·4/7·2/3.
func TestAllowedByHand(t *testing.T) {
	w := Window{100, 200, 300}
	var blades []Fates
	for _, o := range []Outcome{
		{50, false}, {60, true}, {70, true}, {100, false}, {150, false}, {160, false}, {210, true}, {300, false}, {301, false}, {500, true},
	} {
		var f Fates
		f.Add(w, o)
		blades = append(blades, f)
	}
	got, above := Allowed(blades), 0.9*4/7*2/3
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"below", got.Below, 0.1}, {"inside", got.Inside, 0.9 - above}, {"above", got.Above, above}} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("%s %v, want %v", c.name, c.got, c.want)
		}
	}
	for name, list := range map[string][]Fates{"nothing": nil, "what is lost before Q90": blades[:7]} {
		if none := Allowed(list); !math.IsNaN(none.Inside) {
			t.Errorf("of %s %+v, want not known", name, none)
		}
	}
	if done := Allowed([]Fates{blades[0], blades[3]}); done != (Shares{0.5, 0.5, 0}) {
		t.Errorf("with all ended before Q90 %+v, want half below and half inside", done)
	}
}

func TestOutcomesAreOnTheScaleOfTheirWindow(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		w    Window
		o    Outcome
		want fate
	}{
		{Window{100, 200, 400}, Outcome{50, false}, fate{0.5, false}},
		{Window{100, 200, 400}, Outcome{100, false}, fate{1, false}},
		{Window{100, 200, 400}, Outcome{150, true}, fate{1.5, true}},
		{Window{100, 200, 400}, Outcome{400, false}, fate{3, false}},
		{Window{100, 200, 400}, Outcome{600, false}, fate{4, false}},
		{Window{100, 100, 400}, Outcome{100, false}, fate{1, false}},
		{Window{0, 0, 400}, Outcome{0, false}, fate{1, false}},
		{Window{100, inf, inf}, Outcome{500, false}, fate{1, true}},
		{Window{100, 200, inf}, Outcome{500, true}, fate{2, true}},
	} {
		var f Fates
		if f.Add(c.w, c.o); len(f) != 1 || f[0] != c.want {
			t.Errorf("%+v in %+v falls to %+v, want %+v", c.o, c.w, f, c.want)
		}
	}
}

// Simulated: windows that hold 80 % of Weibull lives, of which four in five are lost
// at an early area, are told to hold 80 %, where the share of the decided is far off; and the limits
// hold the truth.
func TestAllowedHoldsWithLosses(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	quantile := func(p float64) float64 { return 10000 * math.Pow(-math.Log1p(-p), 1/2.5) }
	w := Window{quantile(0.1), quantile(0.5), quantile(0.9)}
	var blades []Fates
	var decided []Outcome
	for range 4000 {
		o := Outcome{Area: quantile(random.Float64())}
		if lost := 0.4 * w.Q90; random.Float64() < 0.8 && lost < o.Area {
			o = Outcome{lost, true}
		}
		var f Fates
		f.Add(w, o)
		blades, decided = append(blades, f), append(decided, o)
	}
	windows := make([]Window, len(decided))
	for i := range windows {
		windows[i] = w
	}
	cover, err := Cover(windows, decided)
	if err != nil {
		t.Fatal(err)
	}
	low, high := AllowedLimits(blades, 1)
	if got := Allowed(blades).Inside; math.Abs(got-0.8) > 0.02 || !(low < 0.8 && 0.8 < high) || high-low > 0.06 {
		t.Errorf("allowed for, %v (%v to %v) held, want 0.8", got, low, high)
	}
	if math.Abs(cover.Share-0.8) < 0.03 {
		t.Errorf("of the decided %v held: the case shows nothing", cover.Share)
	}
	if low, high := AllowedLimits(blades[:4], 1); !math.IsNaN(low) || !math.IsNaN(high) {
		t.Errorf("4 blades have limits %v to %v, want none", low, high)
	}
}
