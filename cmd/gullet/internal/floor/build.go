package floor

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gullet/analyze"
	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/lives"
	"gullet/config"
	"gullet/store"
)

const (
	// paceDays is how far back a saw's pace is taken.
	paceDays = 7
	// farthestDays is as far as a change is dated. At a pace of next to nothing
	// it would lie centuries away, more than a time can hold.
	farthestDays = 3650
	// slopePasses bounds the passes a slope is taken over; a blade makes a few
	// hundred.
	slopePasses = 2000
	// skewMinutes is how many minutes of receipt a skew must stand on before
	// it is worth a warning: one late reading is no wrong clock.
	skewMinutes = 5
	day         = 24 * time.Hour
)

// Build puts the floor together from what is stored, as of now.
func Build(ctx context.Context, db *store.Store, cfg *config.Config, now time.Time) (*Floor, error) {
	b := builder{ctx: ctx, db: db, cfg: cfg, now: now}
	var f *Floor
	err := db.View(ctx, func(view *store.Store) (err error) {
		b.db = view
		f, err = b.build()
		return err
	})
	return f, err
}

func (b *builder) build() (*Floor, error) {
	saws, err := b.db.Saws(b.ctx)
	if err != nil {
		return nil, err
	}
	since := lives.Since(b.now)
	if b.fittings, err = b.db.Fittings(b.ctx, since); err != nil {
		return nil, err
	}
	b.shop = lives.Gather(b.fittings, nil, b.cfg, since)
	f := &Floor{MadeAt: b.now.UTC(), Unit: AreaUnit, LivesSince: since.UTC(), Saws: []Saw{}, Types: b.lives(), Doubts: []string{}}
	for i := range saws {
		saw, err := b.saw(&saws[i])
		if err != nil {
			return nil, err
		}
		f.Saws = append(f.Saws, saw)
	}
	b.addUnheard(f)
	rejected, err := b.db.RejectedCount(b.ctx)
	if err != nil {
		return nil, err
	}
	f.Doubts = b.doubts(f, rejected)
	return f, nil
}

type builder struct {
	ctx      context.Context
	db       *store.Store
	cfg      *config.Config
	now      time.Time
	fittings []store.FittingRow
	shop     *lives.Shop
}

func (b *builder) saw(row *store.SawRow) (Saw, error) {
	_, configured := b.cfg.SawOf(row.Name)
	s := Saw{
		Saw: row.Name, Configured: configured, State: string(row.State.State), Cause: string(row.State.Cause),
		Since: known(row.StateSince), Online: row.Online, OnlineSince: known(row.OnlineSince), Missing: row.Missing, Trips: row.Counts[analyze.KindTrip],
	}
	if s.State == "" {
		s.State = unknown
	}
	if row.Stop != nil {
		s.LastStop = &Stop{At: row.Stop.At, Cause: row.Stop.Cause}
	}
	if row.SkewMinutes >= skewMinutes {
		s.ClockSkew = &ClockSkew{
			Seconds: row.Skew.Seconds(), N: row.SkewMinutes, Warn: row.Skew.Abs() > b.cfg.Shop.SkewWarning,
		}
	}
	s.hear(row, b.now, b.cfg.Shop.SilentAfter)
	if row.Fitting == nil {
		s.WhyBlade = "no blade is known to be on the saw"
		return s, nil
	}
	var err error
	s.Blade, err = b.fitted(row.Fitting)
	return s, err
}

// hear fills in the newest reading and whether the saw is silent. What counts
// is when it happened, by the saw's clock put right by its skew, so that a
// backlog delivered just now does not make a dead saw look alive.
func (saw *Saw) hear(row *store.SawRow, now time.Time, silentAfter time.Duration) {
	if row.LastAt.IsZero() {
		saw.Silent = true
		return
	}
	happened := row.LastAt
	if row.SkewMinutes >= skewMinutes { // or a first late reading would excuse itself
		happened = happened.Add(row.Skew)
	}
	if happened.After(row.LastReceived) {
		happened = row.LastReceived
	}
	age := now.Sub(happened)
	saw.LastReading = &LastHeard{At: row.LastAt, Received: row.LastReceived, Happened: happened, AgeSeconds: age.Seconds()}
	saw.Silent = age > silentAfter
}

// addUnheard adds the saws that are configured and never spoke.
func (b *builder) addUnheard(f *Floor) {
	for _, c := range b.cfg.Saws {
		if !slices.ContainsFunc(f.Saws, func(s Saw) bool { return s.Saw == c.Name }) {
			f.Saws = append(f.Saws, Saw{Saw: c.Name, Configured: true, State: unknown, Silent: true,
				WhyBlade: "the saw has never sent a reading"})
		}
	}
	slices.SortFunc(f.Saws, func(a, b Saw) int { return strings.Compare(a.Saw, b.Saw) })
}

// fitted is the blade on a saw, with everything it did in its other fittings.
func (b *builder) fitted(row *store.FittingRow) (*Blade, error) {
	whole := b.shop.Of(row)
	out := &Blade{
		Serial: row.Serial, Type: whole.Type, Since: row.Start, Basis: string(row.Basis), Note: row.Note,
		Area: whole.Area, WeightedArea: whole.Weighted, AreaUnknown: whole.AreaUnknown, Cuts: whole.Cuts,
		Seconds: whole.Seconds, Travel: whole.Travel, Trips: whole.Trips, Classes: b.classes(whole),
	}
	if err := b.forecast(out, row); err != nil {
		return nil, err
	}
	return out, b.deviation(out, row)
}

func (b *builder) classes(whole *lives.Blade) []Class {
	list := []Class{}
	for _, c := range b.shop.Classes(whole) {
		list = append(list, Class{Class: c.Name, Area: c.Area, Severity: c.Weight, Known: c.Configured})
	}
	return list
}

// forecast tells what is left of the blade, in in² of what the saw has been
// cutting, and when that will be cut at the saw's pace.
func (b *builder) forecast(out *Blade, row *store.FittingRow) error {
	f, why := b.shop.Forecast(row, b.now)
	if f == nil {
		out.WhyRemaining = why
		return nil
	}
	left := f.Left.Over(f.Severity)
	r := Window{Q10: left.Q10, Q50: left.Q50, Q90: left.Q90}
	out.Remaining = &r
	horizon := f.Horizon / f.Severity
	out.Horizon = &horizon
	out.ChangePoint = &Window{Q10: out.Area + r.Q10, Q50: out.Area + r.Q50, Q90: out.Area + r.Q90}
	return b.date(out, row.Saw)
}

// date tells when what is left will be cut at the saw's pace of the last days.
// A saw that is newer than that is paced from its first blade, or its change
// would be dated too late.
func (b *builder) date(out *Blade, saw string) error {
	span := min(paceDays*day, max(day, b.now.Sub(b.firstHung(saw))))
	pace, err := b.db.Pace(b.ctx, saw, b.now.Add(-span))
	if err != nil {
		return err
	}
	days := span.Hours() / 24
	perDay := pace.Area / days
	if perDay <= 0 {
		return nil
	}
	at := func(area float64) time.Time {
		return b.now.Add(time.Duration(math.Min(area/perDay, farthestDays) * float64(day))).UTC()
	}
	r := out.Remaining
	out.ChangeTime = &TimeSpan{Q10: at(r.Q10), Q50: at(r.Q50), Q90: at(r.Q90), Pace: perDay, Days: days}
	return nil
}

// firstHung is when the first blade known on a saw was hung.
func (b *builder) firstHung(saw string) time.Time {
	first := b.now
	for i := range b.fittings {
		if f := &b.fittings[i]; f.Saw == saw && f.Start.Before(first) {
			first = f.Start
		}
	}
	return first
}

// deviation fills in the newest deviation and the slope of this fitting, per inch of
// section height and over weighted area, as package trend tells it.
func (b *builder) deviation(out *Blade, row *store.FittingRow) error {
	passes, err := b.db.Deviations(b.ctx, row.ID, slopePasses)
	if err != nil {
		return err
	}
	var points []deviation.Point
	area := 0.0
	for _, p := range passes {
		if p.Area != nil {
			area += *p.Area * b.shop.Weight(p.Grade)
		}
		if p.Deviation == nil {
			continue
		}
		out.Deviation = &Deviation{Value: *p.Deviation, At: p.At}
		if p.Height != nil && *p.Height > 0 {
			points = append(points, deviation.Point{Area: area, Deviation: *p.Deviation / *p.Height})
		}
	}
	slope, err := deviation.TheilSen(points)
	if err != nil {
		out.WhySlope = err.Error()
		return nil
	}
	out.Slope = &Slope{Value: slope.Value, Low: slope.Low, High: slope.High, PerArea: deviation.PerArea, N: slope.N}
	return nil
}

// known is nil for the zero time.
func known(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// doubts are what a person should know before trusting the figures.
func (b *builder) doubts(f *Floor, rejected int64) []string {
	list := []string{}
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	for _, s := range f.Saws {
		if !s.Configured {
			say("saw %s is not in the configuration", s.Saw)
		}
		list = append(list, lives.Unread([]string{s.Saw}, []int64{s.Missing}, 0)...)
		if c := s.ClockSkew; c != nil && c.Warn {
			say("saw %s: its clock differs from ours by %+.0f s (running median over %d minutes with readings)", s.Saw, -c.Seconds, c.N)
		}
		b.doubtBlade(s, say)
	}
	for _, l := range f.Types {
		if l.Unknown > 0 {
			say("%s: %s left the saw for a reason nobody told, counted as pulled early", typeName(l.Type), figures.Plural(l.Unknown, "blade", "blades"))
		}
	}
	list = append(list, b.shop.Grades()...)
	return append(list, lives.Unread(nil, nil, rejected)...)
}

func (b *builder) doubtBlade(s Saw, say func(string, ...any)) {
	if s.Blade == nil {
		say("saw %s: %s", s.Saw, s.WhyBlade)
		return
	}
	if s.Blade.WhyRemaining != "" {
		say("saw %s: what is left is unknown: %s", s.Saw, s.Blade.WhyRemaining)
	}
	if s.Blade.WhySlope != "" {
		say("saw %s: no slope: %s", s.Saw, s.Blade.WhySlope)
	}
	if s.Blade.AreaUnknown > 0 {
		say("%s", lives.Uncounted(s.Saw, bladeName(s.Blade), s.Blade.AreaUnknown))
	}
	for i := range b.fittings {
		if f := &b.fittings[i]; f.Saw == s.Saw && f.Open() && f.Disagree > 0 {
			say("saw %s: %s named another blade than %s, which the blade messages say is on; it gets the area", s.Saw, figures.Plural(f.Disagree, "pass", "passes"), bladeName(s.Blade))
		}
	}
	if s.Blade.Note != "" {
		say("saw %s: blade %s: %s", s.Saw, bladeName(s.Blade), s.Blade.Note)
	}
}
