package planning

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/store"
)

// NextShift is what is foretold of the shift that runs, or else of the next one.
type NextShift struct {
	Shift    string    `json:"shift"`
	Start    time.Time `json:"start"`
	End      time.Time `json:"end"`
	Weighted *float64  `json:"weighted_area"` // likely to be cut until its end; null is unknown
	Odds     *float64  `json:"odds_done"`     // that the blade is done until then; null is unknown
}

// What a kept forecast was made by says what it counts as done.
const (
	// ByEnds is made from the ways in which blades ended.
	ByEnds = "ends"
	// ByEndsAndTrip is made from those, less the pulls for crooked cuts, and from the
	// first trip of the deviation that is followed in their place.
	ByEndsAndTrip = "ends and first trip"
)

// shiftAhead is how far ahead the next shift is looked for.
const shiftAhead = 30

// fitting is the number of the blade's fitting, nil where none is known for sure.
func (in *Input) fitting(s *sawPlan) *int64 {
	rows := in.Data.Lives.On(s.name)
	if len(rows) != 1 {
		return nil
	}
	return &rows[0].ID
}

// nextShift is the first shift from now on in which the saw still works, nil where
// none is near.
func (in *Input) nextShift(s *sawPlan) *NextShift {
	turns := in.Calendar.Turns(s.name, in.Now, in.Now.AddDate(0, 0, shiftAhead))
	i := slices.IndexFunc(turns, func(t shift.Turn) bool {
		return t.Worked > 0 && in.Calendar.Worked(s.name, in.Now, t.End) > 0
	})
	if i < 0 {
		return nil
	}
	t := &turns[i]
	n := &NextShift{Shift: t.Name, Start: t.Start.UTC(), End: t.End.UTC()}
	n.Weighted = figures.Finite(s.work.AtHours(in.Calendar.Worked(s.name, in.Now, t.End).Hours()).Weighted)
	if s.left != nil && n.Weighted != nil {
		odds := math.Max(0, 1-s.left.Left(*n.Weighted))
		n.Odds = &odds
	}
	return n
}

// Forecasts are those of the plan that can be held against what comes: one for each
// saw that has a window and a shift before it.
func (r *Report) Forecasts() ([]store.ForecastRow, error) {
	var list []store.ForecastRow
	for i := range r.Saws {
		s := &r.Saws[i]
		if s.Window == nil || s.Next == nil || s.Fitting == nil || s.Area == nil || s.Weighted == nil {
			continue
		}
		drivers, err := json.Marshal(s.Drivers)
		if err != nil {
			return nil, fmt.Errorf("drivers of saw %s: %w", s.Saw, err)
		}
		w := &s.Window.Weighted
		list = append(list, store.ForecastRow{
			Saw: s.Saw, FittingID: *s.Fitting, Serial: s.Blade, Type: s.Type, MadeAt: r.MadeAt, Method: s.method(),
			Area: *s.Area, WeightedArea: *s.Weighted, Q10: w.Q10, Q50: w.Q50, Q90: w.Q90,
			ShiftStart: s.Next.Start, ShiftEnd: s.Next.End, Horizon: s.Next.Weighted, Odds: s.Next.Odds, Drivers: drivers,
		})
	}
	return list, nil
}

// Keep stores the forecasts of the plan. Of a fitting and a shift the first that was
// ever kept stays.
func (r *Report) Keep(ctx context.Context, db *store.Store) error {
	list, err := r.Forecasts()
	if err != nil {
		return err
	}
	_, err = db.AddForecasts(ctx, list)
	return err
}

// method is what the forecast of a saw was made by. A deviation that is followed is
// among the drivers even where nothing is driven by it.
func (s *Saw) method() string {
	if slices.ContainsFunc(s.Drivers, func(d Driver) bool { return d.Cause == causeDeviation }) {
		return ByEndsAndTrip
	}
	return ByEnds
}

// Changes is what so many planned and unplanned changes of a blade cost.
func (c *Costs) Changes(price float64, planned, unplanned int) float64 {
	early, late := c.of(price)
	return float64(planned)*early + float64(unplanned)*late
}
