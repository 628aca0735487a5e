package standing

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"gullet/analyze"
	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/config"
	"gullet/store"
)

// Data is what the saws did over some shop days.
type Data struct {
	Now      time.Time
	From, To shift.Date // both included
	Config   *config.Config
	Calendar *shift.Calendar
	Rules    *downtime.Rules
	Saws     []Saw // by name
}

// Saw is one saw's days in order. Those before its first reading are not there.
type Saw struct {
	Name string
	Days []downtime.Day
}

// Gather reads the days whose dates are in [from, to] up to now. Without events the
// days have no stops and no marks.
func Gather(ctx context.Context, db *store.Store, cfg *config.Config, now time.Time, from, to shift.Date, events bool) (*Data, error) {
	d := NewData(cfg, now, from, to)
	kept, err := db.Days(ctx, d.digest(), from, to, events)
	if err != nil {
		return nil, err
	}
	d.Saws = make([]Saw, len(kept))
	err = each(len(kept), func(i int) error {
		d.Saws[i] = Saw{Name: kept[i].Saw, Days: kept[i].Days}
		return d.complete(ctx, db, &d.Saws[i], &kept[i])
	})
	if err != nil {
		return nil, err
	}
	return d, nil
}

// NewData has no saws yet.
func NewData(cfg *config.Config, now time.Time, from, to shift.Date) *Data {
	return &Data{
		Now: now, From: from, To: to, Config: cfg, Calendar: cfg.Calendar(),
		Rules: &downtime.Rules{
			Meanings: cfg.Meanings(), Minor: cfg.Downtime.Minor, BetweenCuts: cfg.Downtime.BetweenCuts,
			Restart: cfg.Downtime.Restart, ToldFor: cfg.Downtime.ToldFor,
		},
	}
}

// readers is how many saws are read at once.
const readers = 2

// each does a piece of work for each of n, some at once, and joins what failed.
func each(n int, do func(i int) error) error {
	errs := make([]error, n)
	next := make(chan int, n)
	for i := range n {
		next <- i
	}
	close(next)
	var all sync.WaitGroup
	for range readers {
		all.Go(func() {
			for i := range next {
				errs[i] = do(i)
			}
		})
	}
	all.Wait()
	return errors.Join(errs...)
}

// digest tells apart the rules under which days were summed up.
func (d *Data) digest() string {
	sum := sha256.New()
	_, _ = fmt.Fprintln(sum, downtime.Version, d.Rules.Minor, d.Rules.BetweenCuts, d.Rules.Restart, d.Rules.ToldFor,
		d.Rules.Meanings, d.Calendar.Zone, d.Calendar.Rules, d.Calendar.Holidays, d.Calendar.Closed)
	for _, g := range d.Config.Grades {
		_, _ = fmt.Fprintln(sum, g.Name, g.Others, g.Rate)
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// complete sums up what is not kept of the days asked for.
func (d *Data) complete(ctx context.Context, db *store.Store, saw *Saw, kept *store.SawDays) error {
	from, until := d.bounds(saw.Name)
	if n := len(saw.Days); n > 0 {
		from = saw.Days[n-1].To
	}
	from, until = max(from, downtime.MomentOf(kept.First)), min(until, downtime.MomentOf(d.Now))
	if from >= until {
		return nil
	}
	line, err := d.line(ctx, db, saw.Name, from, until)
	if err != nil {
		return err
	}
	saw.Days = append(saw.Days, line.Days()...)
	return nil
}

// Line is the time line of one saw over the shop days asked for, up to now; nil where
// there is none of them yet.
func (d *Data) Line(ctx context.Context, db *store.Store, saw string) (*downtime.Line, error) {
	from, until := d.bounds(saw)
	if until = min(until, downtime.MomentOf(d.Now)); from >= until {
		return nil, nil
	}
	return d.line(ctx, db, saw, from, until)
}

// bounds is the time of the shop days asked for. Of a year only both ends are laid out.
func (d *Data) bounds(saw string) (from, until downtime.Moment) {
	from, _ = downtime.NewCalendar(d.Calendar, saw, d.midnight(d.From), d.midnight(d.From.Add(1))).Between(d.From, d.From.Add(1))
	_, until = downtime.NewCalendar(d.Calendar, saw, d.midnight(d.To.Add(-1)), d.midnight(d.To.Add(1))).Between(d.To.Add(-1), d.To)
	return from, until
}

func (d *Data) midnight(date shift.Date) time.Time { return shift.Wall(d.zone(), date, 0) }

func (d *Data) zone() *time.Location {
	if d.Calendar.Zone == nil {
		return time.UTC
	}
	return d.Calendar.Zone
}

func (d *Data) line(ctx context.Context, db *store.Store, saw string, from, until downtime.Moment) (*downtime.Line, error) {
	in, err := db.Doings(ctx, saw, from.Time(), until.Time(), d.Rules.Restart, d.standard)
	if err != nil {
		return nil, err
	}
	// What a person says now may be of a stop that began long ago.
	first, last := in.Bounds(from, downtime.MomentOf(d.Now)+1)
	list, err := db.Explanations(ctx, saw, first.Time(), last.Time())
	if err != nil {
		return nil, err
	}
	var said []downtime.Explanation
	for _, e := range list {
		said = append(said, downtime.Explanation{ID: e.ID, At: downtime.MomentOf(e.At), Cause: analyze.Cause(e.Cause)})
	}
	cal := downtime.NewCalendar(d.Calendar, saw, first.Time(), last.Time())
	return downtime.Build(in, cal, d.Rules, said, from, until), nil
}

// standard is the configured rate of a grade in in²/min, 0 where none is.
func (d *Data) standard(grade string) float64 {
	if g, ok := d.Config.GradeOf(grade); ok && g.Rate > 0 && !math.IsInf(g.Rate, 0) {
		return g.Rate
	}
	return 0
}
