package score

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/lives"
	"gullet/cmd/gullet/internal/planning"
	"gullet/config"
	"gullet/store"
)

// Data is what was foretold over some days and what is known of what came.
type Data struct {
	Now       time.Time
	Days      int
	Config    *config.Config
	Forecasts []store.ForecastRow // by the time they were made
	Lives     *lives.Shop

	passes map[int64][]pass // by fitting, those after its first forecast
}

// pass is one pass of a blade through metal.
type pass struct {
	at       time.Time
	weighted float64 // in²; NaN where its area is not known
	tripped  bool    // the saw stopped on its deviation, and was cutting
}

// Gather reads the forecasts of the last days, and what the blades cut since they
// were made. The lives are read too where they are nil.
func Gather(ctx context.Context, db *store.Store, cfg *config.Config, shop *lives.Shop, now time.Time, days int) (*Data, error) {
	d := &Data{Now: now, Days: days, Config: cfg, Lives: shop, passes: map[int64][]pass{}}
	err := db.View(ctx, func(view *store.Store) error {
		err := view.Forecasts(ctx, d.since(), func(f store.ForecastRow) error {
			// One that was forced beside the first of its shift would count the shift twice.
			if !f.Forced && !f.MadeAt.After(now) {
				d.Forecasts = append(d.Forecasts, f)
			}
			return nil
		})
		if err != nil || len(d.Forecasts) == 0 {
			return err
		}
		if d.Lives == nil {
			since := lives.Since(now)
			rows, err := view.Fittings(ctx, since)
			if err != nil {
				return err
			}
			d.Lives = lives.Gather(rows, nil, cfg, since)
		}
		return d.history(ctx, view)
	})
	if err != nil {
		return nil, err
	}
	return d, nil
}

func (d *Data) since() time.Time { return d.Now.AddDate(0, 0, -d.Days) }

// history reads what the blades that were foretold cut since.
func (d *Data) history(ctx context.Context, db *store.Store) error {
	foretold := map[string]bool{}
	for i := range d.Forecasts {
		foretold[d.Forecasts[i].Serial] = true
	}
	saws := map[string][]*store.FittingRow{}
	rows := d.Lives.Fittings()
	for i := range rows {
		f := &rows[i]
		if foretold[f.Serial] && (f.Open() || f.End.After(d.Forecasts[0].MadeAt)) {
			saws[f.Saw] = append(saws[f.Saw], f)
		}
	}
	for saw, on := range saws {
		slices.SortFunc(on, func(a, b *store.FittingRow) int { return a.Start.Compare(b.Start) })
		i := 0
		err := db.History(ctx, saw, d.Forecasts[0].MadeAt, d.Now, func(h store.HistoryRow) error {
			for i < len(on) && !on[i].Open() && h.At.After(on[i].End) {
				i++
			}
			if i < len(on) && h.At.After(on[i].Start) {
				d.passes[on[i].ID] = append(d.passes[on[i].ID], d.pass(&h))
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (d *Data) pass(h *store.HistoryRow) pass {
	p := pass{at: h.At, weighted: math.NaN(), tripped: h.Kind == analyze.KindTrip && !h.Idle}
	if h.Area != nil {
		p.weighted = *h.Area * d.Lives.Weight(h.Grade)
	}
	return p
}

// blades is the fittings of each blade, in order of time.
func (d *Data) blades() map[string][]*store.FittingRow {
	all := map[string][]*store.FittingRow{}
	rows := d.Lives.Fittings()
	for i := range rows {
		all[rows[i].Serial] = append(all[rows[i].Serial], &rows[i])
	}
	for _, list := range all {
		slices.SortFunc(list, func(a, b *store.FittingRow) int { return cmp.Or(a.Start.Compare(b.Start), cmp.Compare(a.ID, b.ID)) })
	}
	return all
}

// costs are those of a change as configured.
func (d *Data) costs() planning.Costs { return planning.CostsOf(&d.Config.Plan) }
