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
	"gullet/store"
)

// The shop of the benchmark: so many saws, each of which has used up so many blades,
// and the cuts of the last of them.
const (
	benchSaws   = 20
	benchBlades = 1000
	benchCuts   = 400
	benchRead   = 24
	benchTypes  = 4
)

func benchType(k int) string { return fmt.Sprintf("type %d", k) }

// benchShop is what is known of the shop: its fittings, and the cuts that are read.
func benchShop(b *testing.B) (rows []store.FittingRow, saws []trend.Saw, now time.Time) {
	r := rand.New(rand.NewPCG(1, 2))
	now = opened
	reasons := []analyze.EndReason{analyze.ReasonPlanned, analyze.ReasonPlanned, analyze.ReasonDull, analyze.ReasonCrooked, analyze.ReasonStripped}
	for k := range benchSaws {
		s := trend.Saw{Name: fmt.Sprintf("s%d", k+1), PerUnit: 1}
		s.Limit, s.Shift, s.Band, s.Wheel = 0.0024, 1500, math.NaN(), math.NaN()
		kind := benchType(k % benchTypes)
		at := now.AddDate(0, 0, -900)
		for i := range benchBlades {
			area := 9000 * math.Pow(r.ExpFloat64(), 1/2.5)
			row := store.FittingRow{}
			row.ID, row.Saw = int64(k*benchBlades+i+1), s.Name
			row.Serial, row.Type, row.Start, row.End = fmt.Sprintf("%s-%d", s.Name, i), kind, at, at.Add(20*time.Hour)
			row.Reason, row.Cuts, row.LastGrade = reasons[r.IntN(len(reasons))], benchCuts, "1018"
			row.Totals = []analyze.GradeTotal{{Grade: "1018", Area: area * 0.7, Cuts: 280}, {Grade: "304", Area: area * 0.3, Cuts: 120}}
			if i == benchBlades-1 {
				row.End, row.Reason = time.Time{}, ""
			}
			if i >= benchBlades-benchRead {
				s.Fittings = append(s.Fittings, benchFitting(r, &row, area))
			}
			at = at.Add(21 * time.Hour)
			rows = append(rows, row)
		}
		saws = append(saws, s)
	}
	return rows, saws, now
}

func benchFitting(r *rand.Rand, row *store.FittingRow, area float64) deviation.Fitting {
	f := deviation.Fitting{Blade: row.Serial, Type: row.Type, Start: row.Start}
	side := math.Copysign(math.Exp(0.25*r.NormFloat64()), r.Float64()-0.5)
	for i := range benchCuts {
		c := deviation.Cut{At: row.Start.Add(time.Duration(i+1) * 3 * time.Minute), From: area * float64(i) / benchCuts, Area: area * float64(i+1) / benchCuts, Face: area / benchCuts, Height: 4 + 8*r.Float64(), Grade: "1018", Speed: math.NaN()}
		used := c.Area / 12000
		c.Deviation = 0.001 * (side*(0.3+1.5*used*used) + 0.25*r.NormFloat64() + r.NormFloat64()/c.Height)
		c.Seconds = 60 * c.Face / 8 * (1 + 0.35*used*used) * math.Exp(0.05*r.NormFloat64())
		f.Cuts = append(f.Cuts, c)
	}
	return f
}

// BenchmarkPlan makes the plan of 20 saws from 20,000 past blades and the cuts of the
// last 24 of each saw, with the costs of changes and the shelf known, and what its parts take: the lives, the trends of all saws, and
// that of one saw, which is what a cut more changes.
func BenchmarkPlan(b *testing.B) {
	const limit = 0.300 // s
	rows, saws, now := benchShop(b)
	cfg := simulatedConfig(b)
	gather := func() *trend.Data {
		return &trend.Data{Saws: saws, Over: true, Unit: "in2", Weigh: true, Lives: lives.Gather(rows, nil, cfg, lives.Since(now))}
	}
	price, onHand := 90.0, map[string]int{}
	for k := range benchTypes {
		cfg.BladeTypes = append(cfg.BladeTypes, analyze.BladeType{Name: benchType(k), Price: &price})
		onHand[benchType(k)] = 100
	}
	data := gather()
	one := *data
	one.Saws = data.Saws[:1]
	build := func(d *trend.Data) {
		Build(&Input{Now: now, Days: 7, Config: cfg, Calendar: shift.Default(time.UTC), Data: d, OnHand: onHand, Costs: Costs{SawHour: 120, Planned: 15, Unplanned: 45, Fitter: 2 * time.Hour, Scrap: 60, Service: 0.95, Lead: 7 * 24 * time.Hour}})
	}
	for _, part := range []struct {
		name string
		do   func()
	}{
		{"Cold", func() { build(gather()) }},
		{"Lives", func() { gather() }},
		{"Trends", func() { trend.Trends(data) }},
		{"OneSaw", func() { build(&one) }},
	} {
		b.Run(part.name, func(b *testing.B) {
			for b.Loop() {
				part.do()
			}
			took := b.Elapsed().Seconds() / float64(b.N)
			b.ReportMetric(took*1000, "ms")
			b.ReportMetric(took/limit, "of-limit")
			b.ReportMetric(0, "ns/op")
		})
	}
}
