package deviation

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// drawn are blades whose drifts scatter by 0.3 of their logarithm, those of the
// lot times as fast.
func drawn(seed uint64, others, lot int, times float64) (list []LotBlade) {
	random := rand.New(rand.NewPCG(seed, 1))
	for i := range others + lot {
		b := LotBlade{Saw: fmt.Sprint("s", i%2), Lot: fmt.Sprint("ordinary ", i%3), Drift: math.Exp(0.3 * random.NormFloat64())}
		if i >= others {
			b.Lot, b.Drift = "odd", b.Drift*times
		}
		list = append(list, b)
	}
	return list
}

// By hand: 3 blades of ln drift ln 2 ± 0.1 against 6 of ±0.1 differ by ln 2 with a
// pooled variance of (2·0.01 + 6·0.01)/7 = 0.08/7 and a standard error of
// √(0.08/7·(1/3+1/6)) = 0.0756.
func TestLotsByHand(t *testing.T) {
	e := func(x float64) float64 { return math.Exp(x) }
	var list []LotBlade
	for i, x := range []float64{0.1, -0.1, 0.1, -0.1, 0.1, -0.1} {
		list = append(list, LotBlade{Saw: "a", Lot: fmt.Sprint(i), Drift: e(x)})
	}
	for i, x := range []float64{0.1, 0, -0.1} {
		list = append(list, LotBlade{Saw: fmt.Sprint(i % 2), Lot: "B", Drift: 2 * e(x)})
	}
	found := Lots(list)
	if len(found) != 1 {
		t.Fatalf("found %+v, want one lot", found)
	}
	f, sd := found[0], math.Sqrt(0.08/7*0.5)
	if f.Lot != "B" || f.Blades != 3 || f.Saws != 2 || f.Others != 6 || f.Chance < 0.99 {
		t.Errorf("found %+v", f)
	}
	close(t, "ratio", f.Ratio.Value, 2, 1e-9)
	close(t, "its upper limit", f.Ratio.High, 2*math.Exp(z95*sd), 1e-9)
	close(t, "its lower limit", f.Ratio.Low, 2*math.Exp(-z95*sd), 1e-9)
}

// Simulated, seeds 0 to 199: among blades alike but for 0.3 of ln drift a lot of
// four that wears twice as fast is told in half of the shops (110), one of eight in
// four of five (168), and one like all others in less than 1 of 200.
func TestLotsAreFound(t *testing.T) {
	count := func(blades int, times float64) (told int) {
		for seed := range uint64(200) {
			for _, f := range Lots(drawn(seed, 16, blades, times)) {
				if f.Lot == "odd" && f.Chance >= 0.9 {
					told++
				}
			}
		}
		return told
	}
	four, eight, sound := count(4, 2), count(8, 2), count(4, 1)
	t.Logf("of 200 lots told: %d of four that wear twice as fast, %d of eight, %d that do not", four, eight, sound)
	if four < 95 || eight < 155 || sound > 1 {
		t.Errorf("of 200 lots told: %d of four that wear twice as fast, %d of eight, %d that do not", four, eight, sound)
	}
}

// A lot on two saws of the model, whose blades go off twice as fast, is found from
// what the studies of the saws say once twelve of them are known. The drifts of the
// model's blades scatter by 0.44 of their logarithm: four blades are no evidence.
func TestLotOfTheModel(t *testing.T) {
	t.Parallel()
	told := 0
	const shops = 4
	for shop := range uint64(shops) {
		var blades []LotBlade
		for saw := range 2 {
			m := newModel(10*shop + uint64(saw))
			list := m.fittings(10)
			m.wear = 2
			list = append(list, m.fittings(6)...)
			for k := range list {
				list[k].Lot = []string{"L1", "L2"}[k/10]
			}
			for _, b := range Study(Saw{Fittings: list, Limit: modelLimit}).Blades {
				b.Saw = fmt.Sprint(saw)
				blades = append(blades, b)
			}
		}
		for _, f := range Lots(blades) {
			if f.Lot != "L2" || f.Saws != 2 || f.Blades != 12 || f.Others != 20 || f.Ratio.Low > 2 || f.Ratio.High < 2 {
				t.Errorf("shop %d: found %+v", shop, f)
			}
			if f.Chance >= 0.9 {
				told++
			}
		}
	}
	if told < shops-1 {
		t.Errorf("the lot is told in %d of %d shops", told, shops)
	}
}

func TestLotsLeaveOut(t *testing.T) {
	for name, list := range map[string][]LotBlade{
		"nothing":                nil,
		"two blades only":        drawn(1, 12, 2, 3),
		"few others":             drawn(1, 5, 4, 3),
		"slower ones":            drawn(1, 16, 4, 0.4),
		"blades without a lot":   slices.Concat(drawn(1, 12, 0, 1), make([]LotBlade, 5)),
		"drifts that are no way": slices.Repeat([]LotBlade{{Lot: "odd", Drift: -1}, {Lot: "other", Drift: 0}}, 8),
	} {
		for _, f := range Lots(list) {
			if f.Lot == "odd" || f.Lot == "" || f.Blades < minLot || f.Others < minOthers {
				t.Errorf("of %s: %+v", name, f)
			}
		}
	}
}

// The order of the blades does not matter, and a unit of the drift does not as
// long as none is too small to be told.
func TestLotsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := drawn(rapid.Uint64().Draw(t, "seed"), rapid.IntRange(0, 12).Draw(t, "others"), rapid.IntRange(0, 6).Draw(t, "lot"), rapid.Float64Range(1, 4).Draw(t, "times"))
		a := Lots(list)
		turned := slices.Clone(list)
		slices.Reverse(turned)
		for i := range turned {
			turned[i].Drift *= 3
		}
		b := Lots(turned)
		if len(a) != len(b) {
			t.Fatalf("%+v, turned %+v", a, b)
		}
		for i := range a {
			if a[i].Lot != b[i].Lot || math.Abs(a[i].Ratio.Value/b[i].Ratio.Value-1) > 1e-9 || math.Abs(a[i].Chance-b[i].Chance) > 1e-9 {
				t.Fatalf("%+v, turned %+v", a[i], b[i])
			}
		}
	})
}
