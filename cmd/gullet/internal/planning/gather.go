package planning

import (
	"context"
	"fmt"
	"time"

	"gullet/cmd/gullet/internal/jobs"
	"gullet/cmd/gullet/internal/lives"
	"gullet/cmd/gullet/internal/trend"
	"gullet/config"
	"gullet/store"
)

// Gather reads what a plan is made from: the saws' history, the coming work and the
// shelf as people keep them, the costs and shifts as configured.
func Gather(ctx context.Context, db *store.Store, cfg *config.Config, now time.Time, days int) (*Input, error) {
	in := &Input{Now: now, Days: days, Config: cfg, Calendar: cfg.Calendar(), Costs: CostsOf(&cfg.Plan)}
	var err error
	if in.Data, err = trend.Gather(ctx, db, cfg, "", now); err != nil {
		return nil, err
	}
	if err = in.doubts(ctx, db); err != nil {
		return nil, err
	}
	if in.Jobs, err = coming(ctx, db); err != nil {
		return nil, err
	}
	if in.OnHand, err = shelved(ctx, db, cfg); err != nil {
		return nil, err
	}
	return in, nil
}

// doubts adds to what people should know of the data what the floor tells of it, too:
// the plan rests on the same readings.
func (in *Input) doubts(ctx context.Context, db *store.Store) error {
	saws, err := db.Saws(ctx)
	if err != nil {
		return err
	}
	rejected, err := db.RejectedCount(ctx)
	if err != nil {
		return err
	}
	var names []string
	var missing []int64
	for i := range saws {
		names, missing = append(names, saws[i].Name), append(missing, saws[i].Missing)
		if rows := in.Data.Lives.On(saws[i].Name); len(rows) == 1 {
			if b := in.Data.Lives.Of(rows[0]); b.AreaUnknown > 0 {
				in.Data.Doubts = append(in.Data.Doubts, lives.Uncounted(saws[i].Name, BladeName(b.Serial), b.AreaUnknown))
			}
		}
	}
	in.Data.Doubts = append(in.Data.Doubts, in.Data.Lives.Grades()...)
	in.Data.Doubts = append(in.Data.Doubts, lives.Unread(names, missing, rejected)...)
	return nil
}

// coming is the work that is still to be cut.
func coming(ctx context.Context, db *store.Store) (list []Coming, err error) {
	rows, err := db.Jobs(ctx)
	if err != nil {
		return nil, err
	}
	for i := range rows {
		j := &rows[i]
		if j.Left() == 0 {
			continue
		}
		s, err := jobs.ReadSection(j.Section, false)
		if err != nil {
			return nil, fmt.Errorf("job %s: %w", j.Name, err)
		}
		list = append(list, Coming{Job: j.Name, Saw: j.Saw, Grade: j.Grade, Section: s, Mitre: j.Mitre, Bars: j.Bars, Pieces: j.Left(), Due: j.Due})
	}
	return list, nil
}

// shelved is how many blades of a type are on hand, without those never counted.
func shelved(ctx context.Context, db *store.Store, cfg *config.Config) (map[string]int, error) {
	shelf, err := db.Stock(ctx, cfg.TypeName)
	if err != nil {
		return nil, err
	}
	onHand := map[string]int{}
	for i := range shelf {
		if n := shelf[i].OnHand; n != nil {
			onHand[shelf[i].Type] = *n
		}
	}
	return onHand, nil
}

// CostsOf are the costs that the shop configured.
func CostsOf(c *config.Plan) Costs {
	return Costs{
		SawHour: c.SawHour, Planned: c.PlannedChange.Minutes(), Unplanned: c.UnplannedChange.Minutes(),
		Scrap: c.Scrap, Late: c.Late, Risk: c.Risk, Service: c.Service, Lead: c.Lead, Fitter: c.Fitter,
	}
}
