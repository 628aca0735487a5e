package vigil

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gullet/analyze"
	"gullet/analyze/alert"
	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/floor"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/trend"
	"gullet/store"
)

const (
	passesLooked = 10 // of the blade that is on, for trips
	nearest      = 3  // of those, for the limit
)

// passes looks at the newest passes of each blade that is on.
func (q *quick) passes() error {
	for i := range q.floor.Saws {
		s := &q.floor.Saws[i]
		if s.Blade == nil || s.Blade.Cuts == 0 {
			continue
		}
		list, err := q.Store.NewestPasses(q.ctx, s.Saw, passesLooked)
		if err != nil {
			return err
		}
		if len(list) > 0 {
			q.limit(s, list[:min(nearest, len(list))])
			q.trips(s, list)
		}
	}
	return nil
}

// limitOf is the trip limit of a pass: its own, else that of the configuration, else, for
// its height, the one that past trips told.
func (q *quick) limitOf(s *floor.Saw, p *store.NewestPass) *float64 {
	if p.Limit != nil && *p.Limit > 0 {
		return p.Limit
	}
	if saw, _ := q.Config.SawOf(s.Saw); saw.TripLimit != nil {
		return saw.TripLimit
	}
	if told := q.limits.Load(); told != nil && p.Height != nil {
		if limit := (*told)[s.Saw] * *p.Height; limit > 0 {
			return &limit
		}
	}
	return nil
}

// reached is the part of its limit that a pass came to, at least all of it in a trip; NaN
// is not known.
func (q *quick) reached(s *floor.Saw, p *store.NewestPass) float64 {
	share := unknown
	if limit := q.limitOf(s, p); p.Deviation != nil && limit != nil && *limit > 0 {
		share = math.Abs(*p.Deviation) / *limit
	}
	if p.Kind == analyze.KindTrip && !(share > 1) {
		return 1
	}
	return share
}

func (q *quick) limit(s *floor.Saw, list []store.NewestPass) {
	top, share := &list[0], unknown
	for i := range list {
		if r := q.reached(s, &list[i]); !math.IsNaN(r) && !(r <= share) {
			top, share = &list[i], r
		}
	}
	f := alert.Fact{
		Key: alert.Key{Kind: alert.LimitReached, Saw: s.Saw}, Level: share, At: shopTime(s, list[0].At), Since: shopTime(s, top.At),
		Words: alert.Words{
			What: q.limitWords(s, top, share), Sure: q.limitSure(s, list, share), Check: trend.CheckFirst(deviation.BladeWear),
			Blade: s.Blade.Serial, Path: path(s.Saw), Risky: true,
		},
	}
	if !math.IsNaN(share) {
		f.Words.Advice = "Look at the blade before the next cut."
	}
	q.add(f)
}

func (q *quick) limitWords(s *floor.Saw, p *store.NewestPass, share float64) string {
	if math.IsNaN(share) {
		return "how near the cut comes to the trip limit is not known"
	}
	style := q.style()
	told := ""
	if limit := q.limitOf(s, p); p.Deviation != nil && limit != nil {
		told = fmt.Sprintf(" (%s %s off, limit %s %s)", style.Length(*p.Deviation), style.LengthUnit(), unsigned(style, *limit), style.LengthUnit())
	}
	if p.Kind == analyze.KindTrip {
		return "the saw tripped on deviation at " + q.when(s, p.At) + told
	}
	return fmt.Sprintf("the deviation came to %s of the trip limit at %s%s", figures.Percent(share), q.when(s, p.At), told)
}

func unsigned(style figures.Style, in float64) string {
	return strings.TrimPrefix(style.Length(in), "+")
}

func (q *quick) limitSure(s *floor.Saw, list []store.NewestPass, share float64) string {
	if !math.IsNaN(share) {
		return "the most of the last " + figures.Plural(len(list), "cut", "cuts") + " of this blade; one reading, so no interval"
	}
	for i := range list {
		if q.limitOf(s, &list[i]) != nil {
			return "of its last " + figures.Plural(len(list), "cut", "cuts") + " none told a deviation"
		}
	}
	return "no cut and no past trip told a limit, and none is configured (saw.trip_limit)"
}

func (q *quick) trips(s *floor.Saw, list []store.NewestPass) {
	n, first, last := 0, 0, -1
	for i := range list {
		if list[i].Kind == analyze.KindTrip {
			if n++; last < 0 {
				last = i
			}
			first = i
		}
	}
	if n == 0 {
		return
	}
	q.add(alert.Fact{
		Key: alert.Key{Kind: alert.RepeatedTrips, Saw: s.Saw}, Level: float64(n),
		At: shopTime(s, list[0].At), Since: shopTime(s, list[first].At), Mark: strconv.Itoa(n),
		Words: alert.Words{
			What: fmt.Sprintf("%d of the last %s ended in a deviation trip, the last at %s", n, figures.Plural(len(list), "cut", "cuts"), q.when(s, list[last].At)),
			Sure: fmt.Sprintf("counted: n=%d, the newest of blade %s", len(list), planning.BladeName(s.Blade.Serial)), Check: trend.CheckFirst(deviation.BladeWear),
			Advice: "Stop and look at the blade before it trips again.", Blade: s.Blade.Serial, Path: path(s.Saw), Risky: true,
		},
	})
}
