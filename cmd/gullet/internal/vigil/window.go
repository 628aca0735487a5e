package vigil

import (
	"fmt"
	"math"
	"time"

	"gullet/analyze/alert"
	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/trend"
)

// window tells how many hours it is until a tenth of blades like the one on a saw are
// done. One that opens beyond what the plan tells is no fact.
func (s *slow) window(p *planning.Saw) {
	if p.Fitting == nil {
		return
	}
	f := alert.Fact{Key: alert.Key{Kind: alert.ChangeWindow, Saw: p.Saw, Of: p.Blade}, Level: unknown, At: s.newest(p.Saw), Words: alert.Words{
		What: "when the blade is done is not known", Sure: p.Why, Blade: p.Blade, Path: "plan", Risky: true,
	}}
	if w := p.Window; w != nil {
		opens := w.Time.Q10
		if opens == nil {
			return
		}
		f.Level = opens.Sub(s.now).Hours()
		f.Words.What, f.Words.Sure = s.windowWords(p), p.Basis
		f.Words.Check = trend.CheckFirst(deviation.BladeWear)
		f.Words.Advice = s.advice(p)
		if p.Advise != nil {
			f.Mark = p.Advise.Where()
		}
	}
	s.add(f)
}

// windowWords tells the window in shop time.
func (s *slow) windowWords(p *planning.Saw) string {
	style, t := s.style(), &p.Window.Time
	return fmt.Sprintf("change window of blade %s: of such blades 10 %% are done %s, 50 %% %s, 90 %% %s",
		planning.BladeName(p.Blade), by(style, t.Q10), by(style, t.Q50), by(style, t.Q90))
}

// by writes the end of a window.
func by(style figures.Style, t *time.Time) string {
	if t == nil {
		return "later than the plan tells"
	}
	return "by " + planning.Moment(t, style.Zone)
}

// advice is what the plan advises for a saw, with the spares on the shelf.
func (s *slow) advice(p *planning.Saw) string {
	a := p.Advise
	if a == nil {
		return "No advice: " + p.WhyNone + "."
	}
	text := "Advised: run on."
	if a.Change {
		text = "Advised change: " + a.Where() + "."
	}
	if look := p.LookFirst(); look != "" {
		text += " But " + look + "."
	}
	return text + " " + spares(a.OnHand)
}

// spares says how many blades of a type the shelf has.
func spares(n *int) string {
	if n == nil {
		return "Spares of this type: not known, the shelf was never counted."
	}
	return fmt.Sprintf("Spare of this type on the shelf: %d.", *n)
}

// steps are the chances of a trip at which it is told anew.
var steps = []float64{0.2, 0.4, 0.6, 0.8}

// step is the last of them that a chance has come to.
func step(chance float64) string {
	mark := ""
	for _, at := range steps {
		if chance >= at {
			mark = figures.Percent(at)
		}
	}
	return mark
}

// tripSure says what the chance of a trip rests on.
func (s *slow) tripSure(saw *trend.Saw, t *deviation.Trend) string {
	text := fmt.Sprintf("forecast of its deviation, n=%d readings of this blade", t.Readings)
	if t.Pool != nil {
		text += fmt.Sprintf(" and the habits of %s before it", figures.Plural(t.Pool.Blades, "blade", "blades"))
	}
	if l := t.Level; l != nil && saw.Limit > 0 && !math.IsNaN(l.Low) {
		text += fmt.Sprintf("; level now at %.0f %% of the limit (%.0f to %.0f %%, 95 %%)", 100*l.Value/saw.Limit, 100*l.Low/saw.Limit, 100*l.High/saw.Limit)
	}
	return text
}
