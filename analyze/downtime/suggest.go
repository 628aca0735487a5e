package downtime

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"sort"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"gullet/analyze"
)

// Circumstance is what surrounds a stop. A text that is empty is a value as any other:
// of Shift it means outside of shifts, of Grade that nothing was cut before.
type Circumstance struct {
	Saw, Shift, Grade string
	Minute            int           // of the day on the shop's wall when it began, 0 to 1439
	Worked            time.Duration // its length in working time
	After             analyze.Cause // of the saw's stop before it that was an event of its own, "" for none
	Since             time.Duration // from the end of that stop to the beginning of this one
	Trip              bool          // a deviation trip or a break ended the cut before it
	BladeOn           bool          // a blade was fitted within 30 minutes before it
}

// Explained is a stop whose cause the saw or a person told.
type Explained struct {
	Circumstance
	Cause analyze.Cause
}

// Suggestion is a cause that a stop may have had, for a person to accept or not.
type Suggestion struct {
	Cause     analyze.Cause
	Share     float64 // its chance among stops like it, 0 to 1
	Low, High float64 // limits of Share, meant to hold it at 95 %: see Suggest
	N         int     // explained stops that share the rarest of Because, neighbours counting half; all when that is empty

	// Because is the circumstances that speak for the cause, in this order: "saw",
	// "shift", "grade", "time of day", "length", "after " and the cause of the stop
	// before, "trip or break before", "blade just fitted".
	Because []string
}

// The words of Because.
const (
	becauseSaw    = "saw"
	becauseShift  = "shift"
	becauseGrade  = "grade"
	becauseTime   = "time of day"
	becauseLength = "length"
	becauseAfter  = "after " // and the cause of the stop before
	becauseTrip   = "trip or break before"
	becauseBlade  = "blade just fitted"
)

// What Suggest decides by. The figures were settled with the simulated shops of the
// test, which measures what they do but does not look for better ones.
const (
	// leastExplained is the fewest explained stops to learn from. With 20 the shares were
	// up to 15 points too high: most causes had been seen once or twice.
	leastExplained = 40
	// standsOut is how many times its usual odds the likeliest cause must have. Below it
	// the stop is as any other, and to suggest the commonest cause would only make it
	// commoner.
	standsOut = 2
	// speaks is how many times its usual odds a circumstance must give a cause to be
	// named for it.
	speaks = 1.5
	// leastShare is the smallest chance worth a person's look.
	leastShare = 0.1
	// smoothing is how many stops of the usual kind are added to those of each cause.
	smoothing = 4
	// damping is the power that each circumstance's word is raised to. At 1 they would
	// count as independent; but the shift goes with the hour and the grade with the saw,
	// and what is said twice would count twice.
	damping = 0.8
	// mistrust is how far off a circumstance's word may be, as a part of its logarithm
	// (standard deviation): nobody knows what part of it the others have said, and what
	// two of them mean only together.
	mistrust = 0.7
)

// Adviser knows how the explained stops of a shop were surrounded.
type Adviser struct {
	causes []analyze.Cause   // by name
	stops  []float64         // of each cause
	n      float64           // stops of all causes
	shared map[trait][]int32 // stops that have the trait, of each cause
	heard  [aspects]float64  // the part of what each aspect says that is not chance, 0 to 1

	damping, smoothing float64
}

// NewAdviser learns from explained stops in any order. It leaves out those of causes
// that a stop without a cause does not have, for the readings tell them by themselves:
// a trip or break ends its cut, a blade that came off (blade change, blade pull) has a
// reading, and the time between cuts is seen from the cuts. Nor does it learn
// Unexplained or unknown: they are no cause.
func NewAdviser(explained []Explained) *Adviser {
	return newAdviser(explained, damping, smoothing)
}

func newAdviser(explained []Explained, damping, smoothing float64) *Adviser {
	a := &Adviser{shared: map[trait][]int32{}, damping: damping, smoothing: smoothing}
	place := map[analyze.Cause]int{}
	for i := range explained {
		if c := explained[i].Cause; suggestible(c) {
			place[c] = 0
		}
	}
	a.causes = slices.Sorted(maps.Keys(place))
	for i, c := range a.causes {
		place[c] = i
	}
	a.stops = make([]float64, len(a.causes))
	for i := range explained {
		if at, ok := place[explained[i].Cause]; ok {
			a.add(&explained[i].Circumstance, at)
		}
	}
	a.listen()
	return a
}

func (a *Adviser) add(c *Circumstance, cause int) {
	a.n++
	a.stops[cause]++
	for _, t := range c.traits() {
		of := a.shared[t]
		if of == nil {
			of = make([]int32, len(a.causes))
			a.shared[t] = of
		}
		of[cause]++
	}
}

// listen finds how far the causes differ in each aspect by more than chance: the part
// of chi-square that is above its degrees of freedom. It goes in order, so that the sums
// are the same for the same stops.
func (a *Adviser) listen() {
	var sum, traits [aspects]float64
	for _, t := range slices.SortedFunc(maps.Keys(a.shared), trait.compare) {
		n := 0.0
		for _, m := range a.shared[t] {
			n += float64(m)
		}
		for i, m := range a.shared[t] {
			sum[t.of] += float64(m) * float64(m) / (n * a.stops[i])
		}
		traits[t.of]++
	}
	for of := range a.heard {
		chi2 := a.n * (sum[of] - 1)
		free := (traits[of] - 1) * float64(len(a.causes)-1)
		if chi2 > free {
			a.heard[of] = 1 - free/chi2
		}
	}
}

func suggestible(c analyze.Cause) bool {
	switch c {
	case "", Unexplained, unknownCause, BetweenCuts, deviationTrip, bladeBreak, bladeChange, BladePull:
		return false
	}
	return true
}

// Suggest is the likeliest causes of a stop, at most that many, the likeliest first and
// of two the same by name. It is nothing when nothing stands out: when fewer than 40
// explained stops were learned, when the likeliest cause has less than twice the odds
// that it has among all of them, or when no circumstance can be named for it. The causes
// after it need not stand out, but one with a chance below 10 % is not named.
//
// The chance is that of naive Bayes in which each circumstance's word is damped:
//
//	Share ∝ p·Π r^(0.8·h),  r = (m + 4·q)/((n + 4)·q),  h = max(0, 1 - f/χ²),
//
// where p is the cause's share of all explained stops, q the part of them that share the
// circumstance, n the stops of the cause and m those of them that share it; h is the
// part of what circumstances of its kind say that is not chance, from chi-square with f
// degrees of freedom of causes against circumstances. Lengths are taken in steps of √2
// and times of day in hours, the neighbours counting half; the stop before by its cause
// and by whether it ended up to 30 minutes, up to 4 hours or longer before. Half a stop
// is added to each cause and to one never seen, so that the shares of all causes add up
// to less than 1.
//
// In simulated shops that had explained 40 to 2000 stops, of the causes given 60 to 80 %
// (69 % in the mean) 70 % were right: up to 77 % where circumstances matter much, down to
// 63 % where besides two of them tell the same.
//
// The limits are normal on the log odds, from the scatter of the counts and from words
// that may be off by 0.7 of their logarithm. In simulated shops they held the chance by
// all that surrounds the stop in 97 to 99 % where circumstances matter little, in 85 to
// 92 % where they matter much and are entangled; what they missed was mostly higher.
// They know of no other doubt: an explained stop is taken to be explained rightly, and
// the stops that nobody explained to be like those that somebody did. Where saws tell
// some causes always and others never, only stops that people explained are like them:
// learn from those.
//
// Source: naive Bayes with additive smoothing, as in Manning, Raghavan and Schütze,
// Introduction to Information Retrieval, chapter 13; h is the heuristic shrinkage of van
// Houwelingen and le Cessie, Statistics in Medicine 1990; the scatter of the logarithm
// of a count by the delta method [all from memory]. The steps are common sense.
func (a *Adviser) Suggest(c Circumstance, most int) []Suggestion {
	if a.n < leastExplained || most < 1 {
		return nil
	}
	e := a.weigh(&c)
	order := make([]int, len(a.causes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(e.share[j], e.share[i]) })
	var list []Suggestion
	for _, i := range order[:min(most, len(order))] {
		s := a.suggestion(&c, e, i)
		if s.Share < leastShare || list == nil && !s.standsOut(a.usual(i)) {
			break
		}
		list = append(list, s)
	}
	return list
}

// standsOut reports whether the likeliest cause is worth more than its usual share.
func (s *Suggestion) standsOut(usual float64) bool {
	return odds(s.Share) >= standsOut*odds(usual) && len(s.Because) > 0
}

// usual is the share of a cause in all stops, with half a stop added to each and to one
// never seen.
func (a *Adviser) usual(cause int) float64 { return (a.stops[cause] + 0.5) / a.all() }

func (a *Adviser) all() float64 { return a.n + 0.5*float64(len(a.causes)+1) }

// evidence is what the circumstances of a stop say of each cause.
type evidence struct {
	word  [aspects][]float64 // logarithm of how much likelier each circumstance is with the cause
	alike [aspects]float64   // explained stops that share it
	share []float64
	other float64   // share of causes never seen
	doubt []float64 // variance of the logarithm of what share is in proportion to
}

func (a *Adviser) weigh(c *Circumstance) *evidence {
	k := len(a.causes)
	e := &evidence{share: make([]float64, k), doubt: make([]float64, k)}
	for i := range e.share {
		e.share[i] = math.Log(a.usual(i))
		e.doubt[i] = 1 / (a.stops[i] + 0.5)
	}
	for _, t := range c.traits() {
		a.hear(e, t)
	}
	// Nothing speaks for or against a cause never seen.
	e.other = 0.5 / a.all()
	sum := e.other
	for i, x := range e.share {
		e.share[i] = math.Exp(x)
		sum += e.share[i]
	}
	for i := range e.share {
		e.share[i] /= sum
	}
	e.other /= sum
	return e
}

// hear adds what one trait says. One that no explained stop has says nothing.
func (a *Adviser) hear(e *evidence, t trait) {
	with := make([]float64, len(a.causes))
	for _, near := range t.near() {
		for i, m := range a.shared[near.trait] {
			with[i] += near.weight * float64(m)
			e.alike[t.of] += near.weight * float64(m)
		}
	}
	word := make([]float64, len(a.causes))
	e.word[t.of] = word
	part := e.alike[t.of] / a.n
	if part == 0 {
		return
	}
	for i, m := range with {
		m, n := m+a.smoothing*part, a.stops[i]+a.smoothing
		word[i] = a.heard[t.of] * math.Log(m/(n*part))
		e.share[i] += a.damping * word[i]
		scatter := max(1/m-1/n, 0) // below 0 by rounding only
		e.doubt[i] += scatter + mistrust*mistrust*word[i]*word[i]
	}
}

// suggestion is one cause with its doubt and what speaks for it.
func (a *Adviser) suggestion(c *Circumstance, e *evidence, cause int) Suggestion {
	s := Suggestion{Cause: a.causes[cause], Share: e.share[cause]}
	s.Low, s.High = e.limits(cause)
	n := a.n
	usual := a.usual(cause)
	for of, reason := range c.reasons() {
		among := usual * math.Exp(e.word[of][cause])
		if reason != "" && odds(among) >= speaks*odds(usual) {
			s.Because = append(s.Because, reason)
			n = min(n, e.alike[of])
		}
	}
	s.N = int(math.Ceil(n))
	return s
}

// limits are those of a share at 95 %.
func (e *evidence) limits(cause int) (low, high float64) {
	rest := e.other // not 1 less the share, which may round to 0
	for i, share := range e.share {
		if i != cause {
			rest += share
		}
	}
	scatter := e.doubt[cause]
	for i, share := range e.share {
		if i != cause {
			scatter += share / rest * share / rest * e.doubt[i]
		}
	}
	wide := distuv.UnitNormal.Quantile(0.975) * math.Sqrt(scatter)
	logOdds := math.Log(e.share[cause] / rest)
	return chance(logOdds - wide), chance(logOdds + wide)
}

func odds(chance float64) float64 { return chance / (1 - chance) }

// chance is what has the logarithm of its odds.
func chance(logOdds float64) float64 { return 1 / (1 + math.Exp(-logOdds)) }

// The aspects of a circumstance.
const (
	ofSaw = iota
	ofShift
	ofGrade
	ofTime
	ofLength
	ofAfter
	ofTrip
	ofBlade
	aspects
)

// trait is one aspect of a circumstance as a value that stops have or have not. Its
// numbers are small and side by side: most of learning is to hash it.
type trait struct {
	name string
	of   int32
	step int32 // of time, of length, of how long ago; 1 for yes
}

func (t trait) compare(other trait) int {
	return cmp.Or(cmp.Compare(t.of, other.of), cmp.Compare(t.name, other.name), cmp.Compare(t.step, other.step))
}

func (c *Circumstance) traits() [aspects]trait {
	return [aspects]trait{
		ofSaw:    {c.Saw, ofSaw, 0},
		ofShift:  {c.Shift, ofShift, 0},
		ofGrade:  {c.Grade, ofGrade, 0},
		ofTime:   {"", ofTime, int32(c.Minute / 60)},
		ofLength: {"", ofLength, lengthStep(c.Worked)},
		ofAfter:  {string(c.After), ofAfter, c.recency()},
		ofTrip:   {"", ofTrip, step(c.Trip)},
		ofBlade:  {"", ofBlade, step(c.BladeOn)},
	}
}

// reasons is each aspect in the words of Because, "" for one that is no reason.
func (c *Circumstance) reasons() [aspects]string {
	r := [aspects]string{ofShift: becauseShift, ofTime: becauseTime, ofLength: becauseLength}
	if c.Saw != "" {
		r[ofSaw] = becauseSaw
	}
	if c.Grade != "" {
		r[ofGrade] = becauseGrade
	}
	if c.After != "" {
		r[ofAfter] = becauseAfter + string(c.After)
	}
	if c.Trip {
		r[ofTrip] = becauseTrip
	}
	if c.BladeOn {
		r[ofBlade] = becauseBlade
	}
	return r
}

// lengthStep is the length in steps of √2 from 1 minute to 17 hours.
func lengthStep(worked time.Duration) int32 {
	return int32(math.Round(2 * math.Log2(min(max(worked.Minutes(), 1), 1024))))
}

// recency is how long ago the stop before was.
func (c *Circumstance) recency() int32 {
	agos := []time.Duration{30 * time.Minute, 4 * time.Hour}
	if c.After == "" {
		return 0
	}
	return int32(sort.Search(len(agos), func(i int) bool { return c.Since <= agos[i] }))
}

func step(yes bool) int32 {
	if yes {
		return 1
	}
	return 0
}

// neighbour is a trait that is near to another.
type neighbour struct {
	trait
	weight float64 // a power of 2, so that sums are the same in any order
}

// near is the trait and its neighbours.
func (t trait) near() []neighbour {
	before, after := t, t
	switch t.of {
	case ofTime:
		before.step, after.step = (t.step+23)%24, (t.step+1)%24
	case ofLength:
		before.step, after.step = t.step-1, t.step+1
	default:
		return []neighbour{{t, 1}}
	}
	return []neighbour{{t, 1}, {before, 0.5}, {after, 0.5}}
}
