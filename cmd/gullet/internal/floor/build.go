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
	"gullet/config"
	"gullet/store"
)

const (
	// mixDays is how far back the mix of materials is looked at in which what
	// is left of a blade is told.
	mixDays = 30
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
	// lifeYears is how far back blades count for the life of their type. What a
	// shop bought and cut longer ago says little of today's blades. A blade
	// counts by when it was first hung and not by when it ended: choosing by
	// the end would prefer long lives.
	lifeYears = 3
	day       = 24 * time.Hour
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
	b.since = b.now.AddDate(-lifeYears, 0, 0)
	if b.fittings, err = b.db.Fittings(b.ctx, b.since); err != nil {
		return nil, err
	}
	b.gatherBlades()
	b.fitTypes()
	f := &Floor{MadeAt: b.now.UTC(), Unit: AreaUnit, LivesSince: b.since.UTC(), Saws: []Saw{}, Types: b.lifeOrder(), Doubts: []string{}}
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
	since    time.Time // blades first hung from here on count for the life of their type
	fittings []store.FittingRow
	blades   map[string]*blade // by serial, without the unnamed
	types    map[string]*kind
	strange  map[string]float64 // in² by grade name that nobody configured
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
	whole := b.bladeOf(row)
	out := &Blade{
		Serial: row.Serial, Type: whole.kind, Since: row.Start, Basis: string(row.Basis), Note: row.Note,
		Area: whole.area, WeightedArea: whole.weighted, AreaUnknown: whole.areaUnknown, Cuts: whole.cuts,
		Seconds: whole.seconds, Travel: whole.travel, Trips: whole.trips, Classes: whole.classList(),
	}
	if err := b.forecast(out, row); err != nil {
		return nil, err
	}
	return out, b.deviation(out, row)
}

// forecast tells what is left of the blade, in in² of what the saw has been
// cutting, and when that will be cut at the saw's pace.
func (b *builder) forecast(out *Blade, row *store.FittingRow) error {
	k := b.types[out.Type]
	switch {
	case b.hangs(row.Serial) > 1:
		out.WhyRemaining = "the saws say that blade " + row.Serial + " hangs on more than one of them: correct the ledger (gullet correct)"
		return nil
	case row.Serial == "":
		out.WhyRemaining = "the blade has no known serial, so what it cut before is unknown"
		return nil
	case k == nil || k.fit == nil:
		out.WhyRemaining = "no life can be fitted for its type"
		if k != nil {
			out.WhyRemaining = k.life.WhyWeibull
		}
		return nil
	}
	counted := out.WeightedArea // the running blade is one of those fitted, as censored
	if b.bladeOf(row).first.Before(b.since) {
		counted = 0
	}
	weighted := k.fit.Remaining(out.WeightedArea, counted)
	severity := b.mixSeverity(row.Saw, out)
	r := Window{Q10: weighted.Q10 / severity, Q50: weighted.Q50 / severity, Q90: weighted.Q90 / severity}
	out.Remaining = &r
	horizon := max(0, k.longest-out.WeightedArea) / severity
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

// hangs is on how many saws a named blade is at once.
func (b *builder) hangs(serial string) (n int) {
	for i := range b.fittings {
		if f := &b.fittings[i]; serial != "" && f.Serial == serial && f.Open() {
			n++
		}
	}
	return n
}

// mixSeverity is the mean severity of what the saw cut in the fittings of the
// last days; 1 for a saw that cut nothing.
func (b *builder) mixSeverity(saw string, on *Blade) float64 {
	area, weighted := 0.0, 0.0
	for i := range b.fittings {
		f := &b.fittings[i]
		if f.Saw == saw && (f.Open() || f.End.After(b.now.Add(-mixDays*day))) {
			for _, t := range f.Totals {
				area += t.Area
				weighted += t.Area * b.class(t.Grade).Severity
			}
		}
	}
	if area == 0 {
		area, weighted = on.Area, on.WeightedArea
	}
	if area == 0 {
		return 1
	}
	return weighted / area
}

// deviation fills in the newest deviation and the slope of this fitting, per
// inch of section height, so that big and small sections can be compared.
func (b *builder) deviation(out *Blade, row *store.FittingRow) error {
	passes, err := b.db.Deviations(b.ctx, row.ID, slopePasses)
	if err != nil {
		return err
	}
	var points []deviation.Point
	area := 0.0
	for _, p := range passes {
		if p.Area != nil {
			area += *p.Area
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
		if s.Missing > 0 {
			say("saw %s: %s missing from its numbering (gullet export gaps): never came, or among the rejected", s.Saw, count(s.Missing, "reading is", "readings are"))
		}
		if c := s.ClockSkew; c != nil && c.Warn {
			say("saw %s: its clock differs from ours by %+.0f s (running median over %d minutes with readings)", s.Saw, -c.Seconds, c.N)
		}
		b.doubtBlade(s, say)
	}
	for _, l := range f.Types {
		if l.Unknown > 0 {
			say("%s: %s left the saw for a reason nobody told, counted as pulled early", typeName(l.Type), count(int64(l.Unknown), "blade", "blades"))
		}
	}
	for _, grade := range sortedKeys(b.strange) {
		if grade == "" {
			say("%s in² were cut in passes that named no grade; they count as the reference grade (severity 1)", figures.Thousands(b.strange[grade]))
			continue
		}
		say("grade %q is not in the configuration: %s in² of it count as the reference grade (severity 1)", grade, figures.Thousands(b.strange[grade]))
	}
	if rejected > 0 {
		say("%s kept as rejected (gullet rejected list): no figure contains what they say", count(rejected, "message is", "messages are"))
	}
	return list
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
		say("saw %s: the area of %s of blade %s is unknown and missing from its total", s.Saw, count(s.Blade.AreaUnknown, "pass", "passes"), bladeName(s.Blade))
	}
	for i := range b.fittings {
		if f := &b.fittings[i]; f.Saw == s.Saw && f.Open() && f.Disagree > 0 {
			say("saw %s: %s named another blade than %s, which the blade messages say is on; it gets the area", s.Saw, count(f.Disagree, "pass", "passes"), bladeName(s.Blade))
		}
	}
	if s.Blade.Note != "" {
		say("saw %s: blade %s: %s", s.Saw, bladeName(s.Blade), s.Blade.Note)
	}
}

// count writes a number with its noun.
func count(n int64, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%s %s", figures.Thousands(float64(n)), many)
}
