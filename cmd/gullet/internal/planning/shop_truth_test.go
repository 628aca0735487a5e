package planning

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/deviation"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/lives"
	"gullet/cmd/gullet/internal/trend"
	"gullet/config"
	"gullet/store"
)

// The truth of the tests named after it is the one stratum of the project's domain
// reference, section 10: what ends the blades of a saw, without what is seen of them
// before. It is written apart from the simulated shop.

// breed is a kind of blade on its saw, and how it ends: whichever comes first of dull
// at a lognormal area, a strip and a bad weld by chance, and fatigue.
type breed struct {
	saw, name string
	dull      float64 // weighted in², median
	bends     float64 // of fatigue, the scale; its shape is 3
	perArea   float64 // bends per weighted in²
	band      float64 // ft
	hard      bool    // each blade cuts some part of stainless, else all is 1018
}

// stratum is saw s3 on 1018 alone: B10 4,291 and B50 13,502 in² by the reference.
func stratum() *breed {
	return &breed{saw: "s3", name: "long", dull: 15_000, bends: 28_177 * 3.9, perArea: 3.9, band: 18.5}
}

const (
	dullSpread = 0.18     // of ln area
	stripMean  = 60_000.0 // weighted in²
	weldShare  = 0.03
	weldMean   = 800.0
	hardWear   = 3.2 // of 304 beside 1018
	shiftArea  = 1569.0
)

// draw is when and how one new blade ends.
func (b *breed) draw(r *rand.Rand) (area float64, reason analyze.EndReason) {
	area, reason = b.dull*math.Exp(dullSpread*r.NormFloat64()), analyze.ReasonDull
	if strip := stripMean * r.ExpFloat64(); strip < area {
		area, reason = strip, analyze.ReasonStripped
	}
	if tired := b.bends / b.perArea * math.Cbrt(r.ExpFloat64()); tired < area {
		area, reason = tired, analyze.ReasonBrokeBody
	}
	if weld := weldMean * r.ExpFloat64(); r.Float64() < weldShare && weld < area {
		area, reason = weld, analyze.ReasonBrokeWeld
	}
	return area, reason
}

// lasts is the chance that a new blade has not ended by an area: the reference's S.
func (b *breed) lasts(area float64) float64 {
	if area <= 0 {
		return 1
	}
	tired := area * b.perArea / b.bends
	return math.Exp(-area/stripMean-tired*tired*tired) * math.Erfc(math.Log(area/b.dull)/dullSpread/math.Sqrt2) / 2 *
		(1 - weldShare + weldShare*math.Exp(-area/weldMean))
}

// share is how much of a blade's in² is stainless.
func (b *breed) share(r *rand.Rand) float64 {
	if b.hard {
		return r.Float64()
	}
	return 0
}

// factor is weighted in² per in² with a share of stainless of that weight.
func factor(share, weight float64) float64 { return 1 - share + share*weight }

// fitting is a blade that cut so much weighted in², a share of its in² stainless.
func (b *breed) fitting(serial string, weighted, share float64, start time.Time) store.FittingRow {
	raw := weighted / factor(share, hardWear)
	f := store.FittingRow{Fitting: analyze.Fitting{Saw: b.saw, Serial: serial, Type: b.name, Start: start}, Area: raw, Cuts: 2, LastGrade: "1018"}
	// The band runs the length that bends it so often, two bends to a loop.
	travel := weighted * b.perArea * b.band / 2
	for grade, part := range map[string]float64{"1018": 1 - share, "304": share} {
		if part > 0 {
			f.Totals = append(f.Totals, analyze.GradeTotal{Grade: grade, Area: raw * part, Cuts: 1, Seconds: raw * part * 10, Travel: travel * part})
		}
	}
	return f
}

// hung makes fittings of n blades, one every second day until now.
func (b *breed) hung(now time.Time, n int, r *rand.Rand, draw func() (float64, float64, analyze.EndReason)) (rows []store.FittingRow) {
	for i := range n {
		start := now.AddDate(0, 0, -2*(n-i))
		area, share, reason := draw()
		f := b.fitting(fmt.Sprintf("%s-%d", b.name, i), area, share, start)
		f.End, f.Reason = start.AddDate(0, 0, 2), reason
		// It ends in either as often as that wears it.
		if r.Float64() < share*hardWear/factor(share, hardWear) {
			f.LastGrade = "304"
		}
		rows = append(rows, f)
	}
	return rows
}

// past is what the store has of n blades. With pulls a blade is pulled at an area drawn
// from three quarters to 1.15 of the median dull one, whatever it is like; else all run
// to their end.
func (b *breed) past(r *rand.Rand, now time.Time, n int, pulls bool) []store.FittingRow {
	return b.hung(now, n, r, func() (float64, float64, analyze.EndReason) {
		area, reason := b.draw(r)
		if pull := (0.75 + 0.4*r.Float64()) * b.dull; pulls && pull < area {
			area, reason = pull, analyze.ReasonPlanned
		}
		return area, b.share(r), reason
	})
}

// running is a blade of that age on its saw now.
func (b *breed) running(now time.Time, age float64) store.FittingRow {
	share := 0.0
	if b.hard {
		share = 0.5
	}
	return b.fitting(b.name+" on", age, share, now.Add(-time.Hour))
}

// truthShop is a shop that has such breeds, at the end of a shift.
type truthShop struct {
	breeds   []*breed
	cfg      *config.Config
	calendar *shift.Calendar
	now      time.Time
	costs    Costs
	price    float64
	days     int
	jobs     []Coming
}

func newTruthShop(t testing.TB, costs Costs, breeds ...*breed) *truthShop {
	t.Helper()
	loaded, err := config.Load(config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := &truthShop{
		breeds: breeds, cfg: &loaded.Config, calendar: twoShifts(), now: time.Date(2026, 3, 2, 14, 0, 0, 0, time.UTC), costs: costs, price: 90, days: 7,
	}
	s.costs.Service, s.costs.Lead = 0.95, 7*24*time.Hour
	s.cfg.Saws, s.cfg.BladeTypes = nil, nil
	for _, b := range breeds {
		s.cfg.Saws = append(s.cfg.Saws, analyze.Saw{Name: b.saw, BandLength: &b.band})
		s.cfg.BladeTypes = append(s.cfg.BladeTypes, analyze.BladeType{Name: b.name, Price: &s.price})
	}
	return s
}

// twoShifts is from 6 to 22 o'clock every day.
func twoShifts() *shift.Calendar {
	return &shift.Calendar{Zone: time.UTC, Rules: []shift.Rule{
		{Name: "early", Start: 6 * 60, End: 14 * 60, Days: allWeek}, {Name: "late", Start: 14 * 60, End: 22 * 60, Days: allWeek},
	}}
}

var allWeek = [7]bool{true, true, true, true, true, true, true}

// input is what a plan is made from with those fittings in the store; no saw tells a
// deviation.
func (s *truthShop) input(rows []store.FittingRow) *Input {
	data := &trend.Data{Over: true, Unit: "in2", Weigh: true, Lives: lives.Gather(rows, nil, s.cfg, lives.Since(s.now))}
	for _, b := range s.breeds {
		data.Saws = append(data.Saws, s.cutting(b.saw))
	}
	return &Input{Now: s.now, Days: s.days, Config: s.cfg, Calendar: s.calendar, Costs: s.costs, Data: data, Jobs: s.jobs}
}

// plan is that of one saw, without the shelf, which takes the most time.
func (s *truthShop) plan(rows []store.FittingRow, of int) Saw {
	in := s.input(rows)
	trends := trend.Trends(in.Data)
	saw := in.saw(&in.Data.Saws[of], &trends[of])
	in.combine(saw)
	return in.answer(saw)
}

// cutting is a saw that cut the area of a shift of 1018 in each of the last two weeks,
// evenly.
func (s *truthShop) cutting(name string) trend.Saw {
	const cuts = 8
	out := trend.Saw{Name: name, PerUnit: 1}
	out.Limit, out.Shift, out.Band, out.Wheel = math.NaN(), shiftArea, math.NaN(), math.NaN()
	f := deviation.Fitting{Blade: "x", Start: s.now.AddDate(0, 0, -14)}
	area, face := 0.0, shiftArea/cuts
	for _, turn := range s.calendar.Turns(name, s.now.AddDate(0, 0, -14), s.now) {
		for i := range cuts {
			f.Cuts = append(f.Cuts, deviation.Cut{
				At:   turn.Start.Add(turn.End.Sub(turn.Start) * time.Duration(i+1) / (cuts + 1)),
				From: area, Area: area + face, Face: face, Deviation: math.NaN(), Seconds: 60 * face / 8, Speed: 260, Grade: "1018", Height: 4,
			})
			area += face
		}
	}
	out.Fittings = []deviation.Fitting{f}
	return out
}
