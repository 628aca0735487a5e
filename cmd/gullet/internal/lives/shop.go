package lives

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"sync"
	"time"

	"gullet/analyze"
	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
	"gullet/config"
	"gullet/store"
)

// SinceYears is how far back blades count for the life of their kind. What a
// shop bought and cut longer ago says little of today's blades. A blade counts
// by when it was first hung and not by when it ended: choosing by the end would
// prefer long lives.
const SinceYears = 3

// Since is from when on a blade must have been first hung to count.
func Since(now time.Time) time.Time { return now.AddDate(-SinceYears, 0, 0) }

// Shop is every blade of the store put together, and how its materials wear
// them.
type Shop struct {
	Blades map[string]*Blade  // by serial, without those nobody named
	Odd    map[string]float64 // in² by the name of a grade that nobody configured

	cfg      *config.Config
	since    time.Time
	fittings []store.FittingRow
	mix      materials
	types    map[string]*TypeLife
}

// Blade is everything the store keeps of one blade, over all its fittings.
type Blade struct {
	Serial, Type, Lot string
	Area              float64 // in²
	Weighted          float64 // in² of the reference class that wear it as much
	Seconds, Travel   float64 // s and ft of band in the cut
	AreaUnknown       int64   // passes whose area is missing from Area
	TravelUnknown     int64   // passes whose band travel is missing from Travel
	Cuts, Trips       int64
	First, Last       time.Time // start of the oldest and of the newest fitting
	Running           bool
	Reason            analyze.EndReason // of the newest fitting

	grades map[string]float64 // in² by grade as the saw sent it
	saws   map[string]float64 // in² by saw
	bends  *float64           // of the band; nil where travel or band length is not known
	last   *string            // grade of its last pass; nil where not known
	bent   *float64           // bends per in² in that grade
}

// Gather puts the fittings of each serial together and weighs the materials.
// Blades first hung before since are there, but no life is learned from them.
func Gather(fittings []store.FittingRow, lots map[string]string, cfg *config.Config, since time.Time) *Shop {
	s := &Shop{Blades: map[string]*Blade{}, Odd: map[string]float64{}, cfg: cfg, since: since, fittings: fittings}
	cut := map[string]float64{} // in² by grade
	for i := range fittings {
		f := &fittings[i]
		for _, t := range f.Totals {
			cut[t.Grade] += t.Area
		}
		if f.Serial == "" {
			continue
		}
		b := s.Blades[f.Serial]
		if b == nil {
			b = newBlade(f.Serial)
			b.Lot = lots[f.Serial]
			s.Blades[f.Serial] = b
		}
		s.add(b, f)
	}
	for grade, area := range cut {
		if _, ok := cfg.GradeOf(grade); !ok {
			s.Odd[grade] = area
		}
	}
	s.weigh()
	for _, b := range s.Blades {
		b.Weighted = s.weighted(b)
	}
	s.learn()
	return s
}

// Of is the whole blade of a fitting; one that nobody named stands for itself.
func (s *Shop) Of(f *store.FittingRow) *Blade {
	if b, ok := s.Blades[f.Serial]; ok {
		return b
	}
	b := newBlade("")
	s.add(b, f)
	b.Weighted = s.weighted(b)
	return b
}

func newBlade(serial string) *Blade {
	none := 0.0
	return &Blade{Serial: serial, grades: map[string]float64{}, saws: map[string]float64{}, bends: &none}
}

// add counts one fitting.
func (s *Shop) add(b *Blade, f *store.FittingRow) {
	b.Cuts += f.Cuts
	b.Trips += f.Trips
	perTravel := s.bendsPerTravel(f.Saw)
	newest := !f.Start.Before(b.Last)
	for _, t := range f.Totals {
		b.Area += t.Area
		b.AreaUnknown += t.AreaUnknown
		b.Seconds += t.Seconds
		b.Travel += t.Travel
		b.TravelUnknown += t.TravelUnknown
		b.grades[t.Grade] += t.Area
		b.saws[f.Saw] += t.Area
		b.bend(t, perTravel)
		if newest && t.Grade == f.LastGrade {
			b.bent = quotient(t, perTravel)
		}
	}
	if b.First.IsZero() || f.Start.Before(b.First) {
		b.First = f.Start
	}
	if newest {
		b.Last, b.Reason, b.Type = f.Start, f.Reason, cmp.Or(f.Type, b.Type)
		b.last = nil
		if f.Cuts > 0 {
			b.last = &f.LastGrade
		}
	}
	b.Running = b.Running || f.Open()
}

// bend counts the bends of one total; one that is not known makes the sum so.
func (b *Blade) bend(t analyze.GradeTotal, perTravel float64) {
	if b.bends == nil || t.TravelUnknown > 0 || perTravel == 0 {
		b.bends = nil
		return
	}
	sum := *b.bends + t.Travel*perTravel
	b.bends = &sum
}

// bendsPerTravel is the bends of a band per foot that it runs: one at each of
// two wheels in a turn. It is 0 where the length of the band is not known.
func (s *Shop) bendsPerTravel(saw string) float64 {
	row, _ := s.cfg.SawOf(saw)
	if row.BandLength == nil || *row.BandLength <= 0 {
		return 0
	}
	return 2 / *row.BandLength
}

// quotient is the bends per in² of one total, nil where not known.
func quotient(t analyze.GradeTotal, perTravel float64) *float64 {
	if t.TravelUnknown > 0 || t.AreaUnknown > 0 || !(t.Area > 0) || !(t.Travel*perTravel > 0) {
		return nil
	}
	q := t.Travel * perTravel / t.Area
	return &q
}

// Ended reports whether the blade's life is over, as against pulled early, of
// unknown fate or still running.
func (b *Blade) Ended() bool { return !b.Running && b.Reason.Ends() }

// counts reports whether a life can be learned from a blade. One that ended
// before anything was counted has no age at its end.
func (s *Shop) counts(b *Blade) bool {
	return !b.First.Before(s.since) && !(b.Ended() && b.Area == 0)
}

// saw is the saw a blade did most of its cutting on.
func (b *Blade) saw() string { return most(b.saws) }

// lastGrade is the grade a blade ended in. One that ended on a saw before it cut
// there is taken to have ended in what it cut most.
func (b *Blade) lastGrade() string {
	if b.last != nil {
		return *b.last
	}
	return most(b.grades)
}

// most is the key of the greatest value, the first by name of equals, "" of
// none.
func most(sums map[string]float64) (best string) {
	for _, name := range slices.Sorted(maps.Keys(sums)) {
		if best == "" || sums[name] > sums[best] {
			best = name
		}
	}
	return best
}

// The ways of grouping the blades of a shop.
const (
	ByType  = "type"
	BySaw   = "saw"
	ByClass = "class"
	ByLot   = "lot"
	ByNone  = "none"
)

// Groupings lists the ways of grouping.
func Groupings() []string { return []string{ByType, BySaw, ByClass, ByLot, ByNone} }

// Data is the shop's blades as a study takes them, grouped by one or two ways.
func (s *Shop) Data(by []string) *Data {
	d := &Data{Classes: s.mix.list(), Reference: s.mix.reference, Rows: make([]Row, 0, len(s.Blades))}
	unaged, unknown := 0, 0
	prices := map[string]*float64{} // by type: names are compared letter by letter
	for _, serial := range slices.Sorted(maps.Keys(s.Blades)) {
		b := s.Blades[serial]
		if b.First.Before(s.since) {
			continue
		}
		if b.Ended() && b.Area == 0 {
			unaged++
			continue
		}
		if !b.Running && b.Reason == analyze.ReasonUnknown {
			unknown++
		}
		row := s.row(b, by)
		price, looked := prices[b.Type]
		if !looked {
			price = s.price(b.Type)
			prices[b.Type] = price
		}
		row.Price = price
		d.Rows = append(d.Rows, row)
	}
	if unaged > 0 {
		d.Doubts = append(d.Doubts, figures.Plural(unaged, "blade", "blades")+" ended with nothing counted and left out: the age at the end is not known")
	}
	if unknown > 0 {
		d.Doubts = append(d.Doubts, figures.Plural(unknown, "blade", "blades")+" left a saw for a reason nobody told, counted as pulled early")
	}
	return d
}

func (s *Shop) row(b *Blade, by []string) Row {
	r := Row{
		Name: b.Serial, Kind: b.Type, Group: s.groupOf(b, by), Area: b.Area, Ended: b.Ended(), Off: !b.Running && b.Reason != analyze.ReasonMoved,
		Cut: s.mix.cut(b.grades), Last: -1, Bends: b.bends, BendsPerArea: b.bent,
	}
	if r.Ended {
		r.Cause = string(b.Reason)
		r.Last, r.LastWear = s.mix.of(b.lastGrade())
	}
	return r
}

// price is that of a blade type, nil where it is not configured.
func (s *Shop) price(kind string) *float64 {
	if t, ok := s.cfg.BladeTypeOf(kind); ok && t.Price != nil && *t.Price > 0 {
		return t.Price
	}
	return nil
}

func (s *Shop) groupOf(b *Blade, by []string) string {
	name := ""
	for i, way := range by {
		if i > 0 {
			name += " · "
		}
		switch way {
		case ByType:
			name += cmp.Or(b.Type, "(type not said)")
		case BySaw:
			name += cmp.Or(b.saw(), "(no cuts)")
		case ByClass:
			name += cmp.Or(most(s.mix.byClass(b.grades)), "(no cuts)")
		case ByLot:
			name += cmp.Or(b.Lot, "(lot not said)")
		default:
			return all
		}
	}
	if name == all {
		return "(named all)" // all stands for every blade together
	}
	return name
}

// TypeLife is how long the blades of one type last, in weighted in².
type TypeLife struct {
	Type           string // "" for blades whose type nobody said
	Blades, Ended  int
	Unknown        int // of those that did not end, off for a reason nobody told
	Area, Weighted float64
	Longest        float64 // weighted in² of the blade that cut most
	Lives          []life.Observation
	Fit            *life.Weibull // one curve over all ways of ending; where nil, Why says why
	Why            string

	caused   []life.Caused
	forecast forecaster         // nil where Fit is
	bends    []life.Observation // of the band, and whether its body broke
	unbent   bool               // the bends of some blade are not known
	fatigue  func() *life.Weibull
}

// forecaster is a fit that tells what is left of a blade.
type forecaster interface {
	Remaining(cut, counted float64) life.Remaining
	Survives(cut, counted, next float64) float64
}

// Types lists the life of each type by name.
func (s *Shop) Types() []*TypeLife {
	var list []*TypeLife
	for _, name := range slices.Sorted(maps.Keys(s.types)) {
		list = append(list, s.types[name])
	}
	return list
}

// learn fits the life of each type.
func (s *Shop) learn() {
	s.types = map[string]*TypeLife{}
	var pooled []life.Observation
	for _, serial := range slices.Sorted(maps.Keys(s.Blades)) {
		b := s.Blades[serial]
		if !s.counts(b) {
			continue
		}
		t := s.types[b.Type]
		if t == nil {
			t = &TypeLife{Type: b.Type}
			t.fatigue = sync.OnceValue(t.fitFatigue) // few ask for it
			s.types[b.Type] = t
		}
		t.count(b)
		pooled = append(pooled, t.Lives[len(t.Lives)-1])
	}
	var pool *life.Weibull
	if s.anyFew() {
		if w, err := life.FitWeibull(pooled); err == nil && w.Ended >= life.FewEnds {
			pool = &w
		}
	}
	var all sync.WaitGroup
	for _, t := range s.types {
		all.Go(func() { t.fit(pool) })
	}
	all.Wait()
}

// anyFew reports whether a type has too few ends for a shape of its own.
func (s *Shop) anyFew() bool {
	for _, t := range s.types {
		if t.Ended < life.FewEnds {
			return true
		}
	}
	return false
}

func (t *TypeLife) count(b *Blade) {
	o := life.Observation{Area: b.Weighted, Ended: b.Ended()}
	t.Lives = append(t.Lives, o)
	// Reasons that are none a saw may send, "broke" with no place, go last.
	cause := slices.Index(analyze.EndReasons(), b.Reason)
	if cause < 0 {
		cause = len(analyze.EndReasons())
	}
	t.caused = append(t.caused, life.Caused{Observation: o, Cause: cause})
	switch {
	case b.bends == nil:
		t.unbent = true
	case *b.bends > 0:
		t.bends = append(t.bends, life.Observation{Area: *b.bends, Ended: b.Ended() && b.Reason == analyze.ReasonBrokeBody})
	}
	t.Blades++
	t.Area += b.Area
	t.Weighted += b.Weighted
	t.Longest = math.Max(t.Longest, b.Weighted)
	switch {
	case b.Ended():
		t.Ended++
	case !b.Running && b.Reason == analyze.ReasonUnknown:
		t.Unknown++
	}
}

// fit finds what the forecasts of the type are made from: from FewEnds ends on a
// curve for each way of ending, below that one with the shape of all blades, and where
// there is none to borrow from, its own from MinForecastEnds on.
func (t *TypeLife) fit(pool *life.Weibull) {
	own, err := life.FitWeibull(t.Lives)
	if t.Ended < life.FewEnds && pool != nil && pool.Ended > t.Ended {
		if w, err := life.Borrow(t.Lives, *pool); err == nil {
			t.Fit, t.forecast = &w, w
			return
		}
	}
	switch {
	case err != nil:
		t.Why = err.Error()
		return
	case t.Ended < life.MinForecastEnds:
		t.Why = fmt.Sprintf("%d of %d blades have ended: at least %d ends are needed", t.Ended, t.Blades, life.MinForecastEnds)
		return
	}
	t.Fit, t.forecast = &own, own
	if !t.Mixed() {
		return
	}
	if ways, err := life.FitWays(t.caused, len(analyze.EndReasons())+1); err == nil {
		t.forecast = ways
	}
}

// Mixed reports whether blades of the type ended in several ways, through which one
// curve is the wrong one.
func (t *TypeLife) Mixed() bool {
	_, one := t.onlyWay()
	return !one
}

// onlyWay is the way in which all that ended did so, "" where none has or nobody
// told it; false where they ended in several.
func (t *TypeLife) onlyWay() (cause analyze.EndReason, one bool) {
	first := -1
	for _, o := range t.caused {
		switch {
		case !o.Ended:
		case first < 0:
			first = o.Cause
		case o.Cause != first:
			return "", false
		}
	}
	return reasonOf(first), true
}

// reasonOf is the reason of a number of a cause, "" for one that is none.
func reasonOf(cause int) analyze.EndReason {
	if cause < 0 || cause >= len(analyze.EndReasons()) {
		return ""
	}
	return analyze.EndReasons()[cause]
}
