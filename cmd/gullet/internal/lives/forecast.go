package lives

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/integrate/quad"
	"gullet/cmd/gullet/internal/figures"

	"gullet/store"
)

// mixDays is how far back the mix of materials is looked at in which what is
// left of a blade is told.
const mixDays = 30

// Forecast is what a blade is likely to have left.
type Forecast struct {
	Left     Window  // weighted in² more at which 10, 50 and 90 % of such blades are done
	Horizon  float64 // weighted in² until it is older than any of its type was seen
	Blades   int     // it rests on
	Ended    int     // of those
	Borrowed bool    // with the shape of all blades, its own ends being too few
	Severity float64 // weighted in² per in² of what its saw cuts

	fit          forecaster
	cut, counted float64
}

// Forecast tells what is left of the blade of an open fitting, or why nobody
// can know.
func (s *Shop) Forecast(row *store.FittingRow, now time.Time) (*Forecast, string) {
	b := s.Of(row)
	t := s.types[b.Type]
	switch {
	case s.hangs(row.Serial) > 1:
		return nil, "the saws say that blade " + row.Serial + " hangs on more than one of them: correct the ledger (gullet correct)"
	case row.Serial == "":
		return nil, "the blade has no known serial, so what it cut before is unknown"
	case t == nil:
		return nil, "no life can be fitted for its type"
	case t.Fit == nil:
		return nil, t.Why
	}
	f := &Forecast{fit: t.forecast, Blades: t.Blades, Ended: t.Ended, Borrowed: t.Fit.Borrowed, Horizon: math.Max(0, t.Longest-b.Weighted), Severity: s.mixSeverity(row.Saw, b, now), cut: b.Weighted}
	if s.counts(b) {
		f.counted = b.Weighted // the running blade is one of those fitted, as censored
	}
	r := t.forecast.Remaining(f.cut, f.counted)
	f.Left = Window{r.Q10, r.Q50, r.Q90}
	return f, ""
}

// Survives is the chance that the blade cuts area in² more of a material, the
// doubt of its weight folded in: an average over ln weight, normal, by
// Gauss-Hermite quadrature. That a heavier weight would also have left the blade
// with more cut behind it is left out.
func (f *Forecast) Survives(area float64, m Wear) float64 {
	points, weights := make([]float64, hermitePoints), make([]float64, hermitePoints)
	quad.Hermite{}.FixedLocations(points, weights, math.Inf(-1), math.Inf(1))
	odds := 0.0
	for i, x := range points {
		odds += weights[i] / math.SqrtPi * f.fit.Survives(f.cut, f.counted, area*m.Weight*math.Exp(math.Sqrt2*m.LogSE*x))
	}
	return odds
}

// hermitePoints is exact for polynomials of degree 13, and the chance is close
// to one over the spread of a weight.
const hermitePoints = 7

// Wear is how much faster a material wears a blade than the reference class, and
// the standard error of its logarithm.
type Wear struct{ Weight, LogSE float64 }

// Over is the window in in² of a material that counts severity per in².
func (w Window) Over(severity float64) Window {
	return Window{w.Q10 / severity, w.Q50 / severity, w.Q90 / severity}
}

// hangs is on how many saws a named blade is at once.
func (s *Shop) hangs(serial string) (n int) {
	for i := range s.fittings {
		if f := &s.fittings[i]; serial != "" && f.Serial == serial && f.Open() {
			n++
		}
	}
	return n
}

// mixSeverity is weighted in² per in² of what the saw cut in the fittings of the
// last days, else of what the blade cut; 1 for a saw that cut nothing.
func (s *Shop) mixSeverity(saw string, b *Blade, now time.Time) float64 {
	area, weighted := 0.0, 0.0
	for i := range s.fittings {
		f := &s.fittings[i]
		if f.Saw == saw && (f.Open() || f.End.After(now.AddDate(0, 0, -mixDays))) {
			for _, t := range f.Totals {
				area += t.Area
				weighted += t.Area * s.Weight(t.Grade)
			}
		}
	}
	if area == 0 {
		area, weighted = b.Area, b.Weighted
	}
	if area == 0 {
		return 1
	}
	return weighted / area
}

// Coming is work that a blade may or may not survive.
type Coming struct {
	Area  float64 // in²
	Class string
}

// Fitted is what hangs on the saws and is likely left of it; next may be nil.
func (s *Shop) Fitted(now time.Time, next *Coming) ([]Fitted, error) {
	var wear Wear
	if next != nil {
		var err error
		if wear, err = s.wear(next.Class); err != nil {
			return nil, err
		}
	}
	list := []Fitted{}
	for i := range s.fittings {
		row := &s.fittings[i]
		if !row.Open() {
			continue
		}
		b := s.Of(row)
		out := Fitted{Saw: row.Saw, Blade: row.Serial, Type: b.Type, Area: b.Area, Weighted: b.Weighted}
		f, why := s.Forecast(row, now)
		if out.Why = why; f == nil {
			list = append(list, out)
			continue
		}
		left, horizon := f.Left.Over(f.Severity), f.Horizon
		out.Remaining, out.InWeight, out.Horizon, out.Blades, out.Ended = &left, &f.Left, &horizon, f.Blades, f.Ended
		out.Basis = "its own type, each way of ending"
		if f.Borrowed {
			out.Basis = "its own type, shape borrowed"
		}
		if next != nil {
			out.Next = &Next{Area: next.Area, Class: next.Class, Odds: figures.Finite(f.Survives(next.Area, wear))}
		}
		list = append(list, out)
	}
	slices.SortStableFunc(list, func(a, b Fitted) int { return strings.Compare(a.Saw, b.Saw) })
	return list, nil
}

// wear is the weight of a class that was cut, or of a configured grade.
func (s *Shop) wear(name string) (Wear, error) {
	if class, ok := s.mix.index[name]; ok {
		return s.mix.wear(class, s.mix.classes[class].Severity), nil
	}
	if g, ok := s.cfg.GradeOf(name); ok {
		if class, ok := s.mix.index[g.Class]; ok {
			return s.mix.wear(class, g.Severity), nil
		}
		return Wear{g.Severity, severitySD}, nil
	}
	var known []string
	for _, c := range s.mix.classes {
		known = append(known, c.Name)
	}
	return Wear{}, fmt.Errorf("%q is no class or grade: allowed is a configured grade, or a class that was cut: %s", name, strings.Join(known, ", "))
}

func (m *materials) wear(class int, severity float64) Wear {
	if m.factor == nil {
		return Wear{severity, severitySD}
	}
	return Wear{severity * math.Exp(m.factor[class]), m.doubt[class]}
}
