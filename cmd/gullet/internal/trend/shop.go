package trend

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"gullet/analyze/deviation"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/lives"
	"gullet/config"
	"gullet/store"
)

const (
	// fittingsRead is how many fittings of a saw, the last ones, are read.
	fittingsRead = 24
	// passesRead is how many of their passes are, the last ones: blades make a few
	// hundred each, and one that nobody ever logged goes on for years.
	passesRead = 50_000
	// shiftDays is how far back the work of a shift is looked at.
	shiftDays = 30
)

// Gather reads the cuts of the saws from the store, those of one saw only with a
// name. It fails on a name that no saw has.
func Gather(ctx context.Context, db *store.Store, cfg *config.Config, name string, now time.Time) (*Data, error) {
	return gatherLast(ctx, db, cfg, name, now, passesRead)
}

// gatherLast reads the last passes of each saw, most at most.
func gatherLast(ctx context.Context, db *store.Store, cfg *config.Config, name string, now time.Time, most int) (*Data, error) {
	g := gatherer{ctx: ctx, cfg: cfg, now: now, most: most}
	d := &Data{Over: true, Unit: unitArea, Weigh: true}
	err := db.View(ctx, func(view *store.Store) (err error) {
		g.db = view
		d.Saws, err = g.saws()
		return err
	})
	if err != nil {
		return nil, err
	}
	d.Doubts, d.Lives = g.doubts, g.shop
	return d, d.Only(name)
}

type gatherer struct {
	ctx       context.Context
	db        *store.Store
	cfg       *config.Config
	now       time.Time
	most      int // passes of a saw that are read
	shop      *lives.Shop
	lots      map[string]string
	dismissed map[string][]time.Time
	doubts    []string
}

func (g *gatherer) saws() ([]Saw, error) {
	since := lives.Since(g.now)
	rows, err := g.db.Fittings(g.ctx, since)
	if err != nil {
		return nil, err
	}
	if g.lots, err = g.db.Lots(g.ctx); err != nil {
		return nil, err
	}
	if g.dismissed, err = g.db.Dismissed(g.ctx); err != nil {
		return nil, err
	}
	g.shop = lives.Gather(rows, g.lots, g.cfg, since)
	known, err := g.db.Saws(g.ctx)
	if err != nil {
		return nil, err
	}
	var saws []Saw
	for i := range known {
		s, err := g.saw(known[i].Name, rows)
		if err != nil {
			return nil, err
		}
		saws = append(saws, s)
	}
	alike(saws)
	return saws, nil
}

// alike gives each saw the past blades of the others that are of its type.
func alike(saws []Saw) {
	for i := range saws {
		on := saws[i].on()
		for k := range saws {
			if k == i || on == nil {
				continue
			}
			for f := len(saws[k].Fittings) - 2; f >= 0; f-- {
				if past := &saws[k].Fittings[f]; past.Type == on.Type {
					saws[i].Like = append(saws[i].Like, past.Cuts)
				}
			}
		}
	}
}

// saw reads the last fittings of one saw.
func (g *gatherer) saw(name string, all []store.FittingRow) (Saw, error) {
	r := reader{gatherer: g, Saw: Saw{Name: name, PerUnit: 1}, turns: turnsOf(g.cfg.Calendar(), name)}
	r.Limit, r.Shift = math.NaN(), math.NaN()
	row, _ := g.cfg.SawOf(name)
	r.Machine(row)
	var rows []store.FittingRow
	for i := range all {
		f := all[i]
		if f.Saw != name || f.Start.After(g.now) {
			continue
		}
		if f.End.After(g.now) {
			f.End, f.Reason = time.Time{}, ""
		}
		rows = append(rows, f)
	}
	rows = lastOf(rows, g.most)
	if len(rows) == 0 {
		r.WhyShift = "no blade is known to have been on the saw"
		return r.Saw, nil
	}
	for i := range rows {
		r.open(&rows[i], all)
	}
	if !rows[len(rows)-1].Open() {
		// Nothing is on the saw: there is no blade to tell of.
		g.doubts = append(g.doubts, fmt.Sprintf("saw %s: no blade is on it since %s; told is the last one that was", name, rows[len(rows)-1].End.Format(time.RFC3339)))
	}
	from, err := r.from(rows)
	if err != nil {
		return r.Saw, err
	}
	if err := g.db.History(g.ctx, name, from, g.now, r.pass); err != nil {
		return r.Saw, err
	}
	r.finish(row.TripLimit)
	return r.Saw, nil
}

// lastOf are the last fittings, with no more passes than are read, and one at least.
func lastOf(rows []store.FittingRow, most int) []store.FittingRow {
	passes := int64(0)
	for i := len(rows) - 1; i >= 0; i-- {
		if passes += rows[i].Cuts; len(rows)-i > fittingsRead || passes > int64(most) {
			return rows[min(i+1, len(rows)-1):]
		}
	}
	return rows
}

// from is when the passes of some fittings are read from: the start of the first, or
// later where it alone made more than are read. What it had cut until then is what the
// ledger counts less what is read.
func (r *reader) from(rows []store.FittingRow) (time.Time, error) {
	if rows[0].Cuts <= int64(r.most) {
		return rows[0].Start, nil
	}
	at, ok, err := r.db.PassBack(r.ctx, r.Name, r.now, r.most)
	if err != nil || !ok || !at.After(rows[0].Start) {
		return rows[0].Start, err
	}
	for _, t := range rows[0].Totals {
		r.unread += t.Area * r.shop.Weight(t.Grade)
	}
	r.cut = true
	r.doubts = append(r.doubts, fmt.Sprintf("saw %s: the fitting that is on made %s passes, more than a blade does: was a change of blade never logged? The last %s are looked at", r.Name, figures.Thousands(float64(rows[0].Cuts)), figures.Thousands(float64(r.most))))
	return at, nil
}

// reader puts the passes of one saw into its fittings as they come.
type reader struct {
	*gatherer
	Saw
	rows   []*store.FittingRow
	areas  []float64 // weighted in² of the blade so far, by fitting
	at     int       // fitting of the last pass
	limits Limits
	raw    float64 // in² of the last days
	worn   float64 // weighted in² of those
	untold int
	cut    bool    // the first fitting is not read from its start
	unread float64 // weighted in² it cut before what is read, where it is not
	turns  turns   // of the last days
}

// open begins a fitting with what its blade had cut elsewhere before.
func (r *reader) open(row *store.FittingRow, all []store.FittingRow) {
	area := 0.0
	for i := range all {
		f := &all[i]
		if row.Serial == "" || f.Serial != row.Serial || !f.Start.Before(row.Start) {
			continue
		}
		for _, t := range f.Totals {
			area += t.Area * r.shop.Weight(t.Grade)
		}
	}
	same := slices.ContainsFunc(r.dismissed[r.Name], func(t time.Time) bool {
		return t.After(row.Start) && (row.Open() || !t.After(row.End))
	})
	r.Fittings = append(r.Fittings, deviation.Fitting{
		Blade: row.Serial, Type: r.shop.Of(row).Type, Lot: r.lots[row.Serial], Start: row.Start, Same: same,
	})
	r.rows, r.areas = append(r.rows, row), append(r.areas, area)
}

// pass counts one pass to the fitting it was made in.
func (r *reader) pass(h store.HistoryRow) error {
	for r.at < len(r.rows) && !r.rows[r.at].Open() && h.At.After(r.rows[r.at].End) {
		r.at++
	}
	if r.at == len(r.rows) || !h.At.After(r.rows[r.at].Start) {
		return nil // between two blades
	}
	c := CutOf(&h, r.areas[r.at], r.shop.Weight(h.Grade))
	c.Grade = r.shop.Grade(h.Grade)
	if h.Area != nil {
		r.areas[r.at] = c.Area
		r.unread -= c.Area - c.From
		r.work(h.At, *h.Area, c.Area-c.From)
	}
	r.limits.Add(&h)
	if h.Deviation != nil && math.IsNaN(c.Deviation) {
		r.untold++
	}
	f := &r.Fittings[r.at]
	f.Cuts = append(f.Cuts, c)
	return nil
}

// settle puts the passes of a fitting that was not read from its start to where the
// ledger has them.
func (r *reader) settle() {
	if !r.cut {
		return
	}
	for i := range r.Fittings[0].Cuts {
		c := &r.Fittings[0].Cuts[i]
		c.From, c.Area = c.From+math.Max(0, r.unread), c.Area+math.Max(0, r.unread)
	}
}

// work adds to the turn a pass was made in.
func (r *reader) work(at time.Time, area, weighted float64) {
	if at.Before(r.now.AddDate(0, 0, -shiftDays)) {
		return
	}
	r.raw += area
	r.worn += weighted
	r.turns.add(at)
}

// turns are those in which a saw cut: shifts of its calendar, and the dates on
// which it cut outside every shift.
type turns struct {
	calendar *shift.Calendar
	saw      string
	last     shift.Turn // the shift of the last cut that was in one
	worked   map[turn]bool
}

type turn struct {
	start   int64      // s, Unix; of a shift
	outside shift.Date // of what is in none
}

func turnsOf(calendar *shift.Calendar, saw string) turns {
	return turns{calendar: calendar, saw: saw, worked: map[turn]bool{}}
}

func (t *turns) add(at time.Time) {
	if at.Before(t.last.Start) || !at.Before(t.last.End) {
		in, ok := t.calendar.At(t.saw, at)
		if !ok {
			t.worked[turn{outside: shift.DateOf(at.In(t.calendar.Zone))}] = true
			return
		}
		t.last = in
	}
	t.worked[turn{start: t.last.Start.Unix()}] = true
}

func (t *turns) count() int { return len(t.worked) }

// finish settles the limit and the work of a shift, and drops fittings in which
// nothing was cut but the last.
func (r *reader) finish(configured *float64) {
	r.settle()
	r.Limit, r.Limits, r.Note = r.limits.Over(configured)
	if r.raw > 0 {
		r.PerUnit = r.worn / r.raw
	}
	if n := r.turns.count(); n > 0 {
		r.Shift = r.worn / float64(n)
	} else {
		r.WhyShift = fmt.Sprintf("the saw cut nothing in the last %d days", shiftDays)
	}
	if r.untold > 0 {
		r.doubts = append(r.doubts, fmt.Sprintf("saw %s: %s told without the height of the cut and left out", r.Name, figures.Plural(r.untold, "deviation was", "deviations were")))
	}
	last := len(r.Fittings) - 1
	kept := r.Fittings[:0]
	for i, f := range r.Fittings {
		if len(f.Cuts) > 0 || i == last {
			kept = append(kept, f)
		}
	}
	r.Fittings = kept
}
