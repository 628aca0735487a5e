package backtest

import (
	"math"
	"runtime"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"gullet/analyze/plan"
	"gullet/store"
)

// MostFollowed is of how many blades, the newest, the deviation is followed: that takes
// most of the time there is.
const MostFollowed = 2000

// fittingsBefore is how many fittings before the first that is judged on a saw are read
// to learn how its blades go, as many as a study reads.
const fittingsBefore = 24

// ruling is what the plan decided of a blade while its deviation was followed.
type ruling struct {
	followed bool        // an outlook was told at the end of some shift
	changed  bool        // the plan changed it
	age      float64     // weighted in² then
	at       time.Time   // when
	seen     float64     // weighted in² at the end of the first shift past half its median life; 0: not seen
	left     plan.Window // as told there
	tripped  float64     // weighted in² at the first trip after, in the same fitting; 0: none
}

// mark marks the blades that are to be followed, and returns how many there are of
// which that is so or could be.
func (in *Input) mark(list []*blade) (marked, all int) {
	for i := len(list) - 1; i >= 0 && !list[i].hung.Before(in.From); i-- {
		b := list[i]
		if _, _, why := in.Costs.Of(in.Config, b.kind); why != "" {
			continue
		}
		all++
		if b.follow = all <= in.Most; b.follow {
			marked++
		}
	}
	return marked, all
}

// followAll follows the blades marked, saw by saw.
func (in *Input) followAll(list []*blade, weights map[string]float64) error {
	bySerial := map[string]*blade{}
	for _, b := range list {
		bySerial[b.serial] = b
	}
	tracks, calendar := map[string]*track{}, in.Config.Calendar()
	var order []*stay
	rows := slices.Clone(in.Fittings)
	slices.SortStableFunc(rows, func(a, b store.FittingRow) int { return a.Start.Compare(b.Start) })
	cut := map[string][]*store.FittingRow{} // fittings of a blade before
	for i := range rows {
		f := &rows[i]
		s := &stay{row: f, kind: f.Type, earlier: cut[f.Serial]}
		if b := bySerial[f.Serial]; b != nil {
			s.kind = b.kind
			if b.told != nil && b.told.weigher != nil {
				s.blade = b
				order = append(order, s)
			}
			cut[f.Serial] = append(cut[f.Serial], f)
		}
		t := tracks[f.Saw]
		if t == nil {
			t = &track{Input: in, saw: f.Saw, weights: weights, calendar: calendar}
			tracks[f.Saw] = t
		}
		t.stays = append(t.stays, s)
	}
	var work errgroup.Group
	work.SetLimit(runtime.GOMAXPROCS(0))
	for _, t := range tracks {
		work.Go(t.run)
	}
	if err := work.Wait(); err != nil {
		return err
	}
	for _, s := range order {
		s.blade.ruling.then(s.ruling)
	}
	return nil
}

// then goes on from one fitting of a blade to the next.
func (r *ruling) then(next ruling) {
	if r.changed {
		return
	}
	if r.seen > 0 {
		next.seen, next.left, next.tripped = r.seen, r.left, r.tripped
	}
	next.followed = next.followed || r.followed
	*r = next
}

// planned is the age at which the plan changes a blade, if it has not ended before. One
// that came off before the end of the shift at which the plan would have changed it goes
// on as far as anybody knows.
func (b *blade) planned() float64 {
	switch r := &b.ruling; {
	case r.changed:
		return math.Min(r.age, b.life)
	case r.followed:
		return math.Inf(1)
	}
	return b.told.plan
}
