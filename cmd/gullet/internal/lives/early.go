package lives

import (
	"fmt"
	"slices"

	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
	"gullet/store"
)

// AtEnd is what a blade had cut at its end beside the life of others of its type.
type AtEnd struct {
	Weighted      float64           // weighted in², in all its fittings
	B10           *figures.Interval // weighted in² that nine in ten of the others reach; nil is not known
	Why           string            // why not
	Type          string
	Blades, Ended int // others of its type
	Borrowed      bool
}

// EndOf holds the blade of a fitting that ended it against the others of its type: in a
// life of which it were a part, an early end would make itself look less early.
func (s *Shop) EndOf(row *store.FittingRow) AtEnd {
	whole := s.Of(row)
	others := slices.DeleteFunc(slices.Clone(s.fittings), func(f store.FittingRow) bool { return f.Serial == row.Serial })
	rest := Gather(others, nil, s.cfg, s.since)
	e := AtEnd{Type: whole.Type, Weighted: rest.weighted(whole)}
	switch t := rest.types[whole.Type]; {
	case row.Serial == "":
		e.Why = "the blade has no known serial, so what it cut before is unknown"
	case whole.AreaUnknown > 0:
		e.Why = fmt.Sprintf("the area of %s of it is unknown", figures.Plural(whole.AreaUnknown, "pass", "passes"))
	case t == nil:
		e.Why = "no other blade of its type is known"
	case t.Fit == nil:
		e.Blades, e.Ended, e.Why = t.Blades, t.Ended, t.Why
	default:
		e.Blades, e.Ended, e.Borrowed = t.Blades, t.Ended, t.Fit.Borrowed
		b10 := t.tenth()
		e.B10 = &b10
	}
	return e
}

// tenth is the age by which a tenth of the blades of a type have ended. Limits of one
// curve through several ways of ending do not hold and are left out.
func (t *TypeLife) tenth() figures.Interval {
	const share = 0.1
	if ways, ok := t.forecast.(life.Ways); ok {
		return figures.Interval{Value: ways.RemainingQuantiles(0, 0, share)[0]}
	}
	b10 := t.Fit.QuantileEstimate(share)
	if t.Mixed() {
		return figures.Interval{Value: b10.Value}
	}
	return figures.Limits(b10.Value, b10.Low, b10.High)
}
