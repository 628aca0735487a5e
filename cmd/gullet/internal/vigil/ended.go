package vigil

import (
	"fmt"
	"time"

	"gullet/analyze"
	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/floor"
	"gullet/cmd/gullet/internal/lives"
	"gullet/cmd/gullet/internal/planning"
	"gullet/store"
)

// endsLooked is how long the end of a blade is looked at.
const endsLooked = 24 * time.Hour

// ended is how early a blade ended, as judged of what the ledger said of it then.
type ended struct {
	end    time.Time
	reason analyze.EndReason
	serial string
	area   float64
	judged lives.AtEnd
}

// ended looks at the blades that ended of late.
func (q *quick) ended() error {
	since, ahead := q.now.Add(-endsLooked), time.Duration(0)
	for i := range q.floor.Saws {
		ahead = max(ahead, skew(&q.floor.Saws[i])) // such a saw dates an end before it was
	}
	list, err := q.Store.Ended(q.ctx, since.Add(-ahead))
	if err != nil {
		return err
	}
	known := map[int64]ended{}
	for i := range list {
		row := &list[i]
		s := q.saw(row.Saw)
		if shopTime(s, row.End).Before(since) {
			continue
		}
		if err := q.early(s, row, known); err != nil {
			return err
		}
		if row.Bare && broke(row.Reason) {
			q.broken(s, row)
		}
	}
	q.ends = known // what is no longer looked at is forgotten
	return nil
}

func broke(r analyze.EndReason) bool {
	return r == analyze.ReasonBroke || r == analyze.ReasonBrokeWeld || r == analyze.ReasonBrokeBody
}

func (q *quick) broken(s *floor.Saw, row *store.EndedRow) {
	at := shopTime(s, row.End)
	where := "nobody said where"
	switch row.Reason {
	case analyze.ReasonBrokeWeld:
		where = "at the weld"
	case analyze.ReasonBrokeBody:
		where = "in the body of the band, not at the weld"
	}
	q.add(alert.Fact{
		Key: alert.Key{Kind: alert.BladeBreak, Saw: row.Saw, Of: row.Serial}, Level: 1, At: at, Since: at,
		Words: alert.Words{
			What:  fmt.Sprintf("blade %s broke at %s, and the saw has no other yet", planning.BladeName(row.Serial), q.style().Moment(at, q.now)),
			Sure:  "told by the saw or the ledger; where it broke: " + where,
			Check: []string{"the piece and the ends of the band in the saw", "guides and wheels: what bent or pinched it", "band tension before the next blade runs"},
			Blade: row.Serial, Path: path(row.Saw), Risky: true,
		},
	})
}

// early tells how much of the B10 of its type a blade had cut at its end. That takes the
// lives of all blades, so it is judged once, and anew when the ledger says something else.
func (q *quick) early(s *floor.Saw, row *store.EndedRow, known map[int64]ended) error {
	e, ok := q.ends[row.ID]
	if !ok || !e.end.Equal(row.End) || e.reason != row.Reason || e.serial != row.Serial || e.area != row.Area {
		since := lives.Since(q.now)
		rows, err := q.Store.Fittings(q.ctx, since)
		if err != nil {
			return err
		}
		shop := lives.Gather(rows, nil, q.Config, since)
		e = ended{row.End, row.Reason, row.Serial, row.Area, shop.EndOf(&row.FittingRow)}
	}
	known[row.ID] = e
	at, j := shopTime(s, row.End), &e.judged
	level := unknown
	if j.B10 != nil && j.B10.Value > 0 {
		level = j.Weighted / j.B10.Value
	}
	q.add(alert.Fact{
		Key: alert.Key{Kind: alert.EarlyEnd, Saw: row.Saw, Of: row.Serial}, Level: level, At: at, Since: at,
		Words: alert.Words{
			What: q.earlyWords(row, j), Sure: q.earlySure(j),
			Check: []string{"the teeth: stripped, worn to one side or dull all round", "break-in of the blade, and of the next one", "feed and chip load for what it cut (gullet section)", "other blades of its lot (gullet blades --by lot)"},
			Blade: row.Serial, Path: path(row.Saw),
		},
	})
	return nil
}

func (q *quick) earlyWords(row *store.EndedRow, j *lives.AtEnd) string {
	style := q.style()
	head := fmt.Sprintf("blade %s ended (%s) after %s weighted %s", planning.BladeName(row.Serial), row.Reason, style.Whole(j.Weighted), style.AreaUnit())
	if j.B10 == nil {
		return head + "; whether that is early is not known"
	}
	return fmt.Sprintf("%s, %s of the %s that nine in ten of its type reach", head, figures.Percent(j.Weighted/j.B10.Value), style.Area(j.B10.Value))
}

func (q *quick) earlySure(j *lives.AtEnd) string {
	if j.B10 == nil {
		return j.Why
	}
	style := q.style()
	b10 := style.Interval(*j.B10, style.Area) + " " + style.AreaUnit()
	if j.B10.Low == nil && j.B10.High == nil {
		b10 = style.Area(j.B10.Value) + " " + style.AreaUnit() + " (no interval: they end in several ways)"
	}
	of := fmt.Sprintf("B10 %s, n=%d other blades of %s, %d ended", b10, j.Blades, planning.BladeName(j.Type), j.Ended)
	if j.Borrowed {
		of += " (too few: the shape is that of blades of all types)"
	}
	return of
}
