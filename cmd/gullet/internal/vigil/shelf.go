package vigil

import (
	"fmt"
	"time"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/planning"
)

// shelf tells of each type that hangs on a saw how many blades lie above the point at
// which new ones are ordered.
func (s *slow) shelf() {
	at := map[string]time.Time{} // of the newest reading of a saw that uses the type
	for i := range s.report.Saws {
		p := &s.report.Saws[i]
		if t := s.newest(p.Saw); t.After(at[p.Type]) {
			at[p.Type] = t
		}
	}
	for i := range s.report.Shelf {
		e := &s.report.Shelf[i]
		f := alert.Fact{Key: alert.Key{Kind: alert.Reorder, Of: e.Type}, Level: unknown, At: at[e.Type]}
		f.Words = s.shelfWords(e)
		if e.OnHand != nil && e.Reorder != nil {
			f.Level = float64(*e.OnHand - *e.Reorder)
		}
		s.add(f)
	}
}

func (s *slow) shelfWords(e *planning.Shelf) alert.Words {
	name := planning.BladeName(e.Type)
	w := alert.Words{Path: "shelf", Check: []string{"count the shelf (gullet stock count)", "what is on order"}}
	switch {
	case e.Reorder == nil:
		w.What, w.Sure = "when to order "+name+" is not known", e.Why
	case e.OnHand == nil:
		w.What = fmt.Sprintf("whether to order %s is not known: reorder at %d", name, *e.Reorder)
		w.Sure = "the shelf was never counted"
	default:
		w.What = fmt.Sprintf("%s: %d on the shelf, reorder at %d", name, *e.OnHand, *e.Reorder)
		w.Sure = fmt.Sprintf("%d are enough over the %.0f days until new ones come with a chance of %.4g %%", *e.Reorder, s.report.Lead/24, 100*s.report.Service)
		w.Advice = "Order by: " + e.Order(s.style().Zone) + "."
	}
	return w
}
