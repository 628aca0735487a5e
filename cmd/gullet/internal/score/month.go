package score

import (
	"fmt"

	"gullet/cmd/gullet/internal/figures"
)

// MonthDays is how far back the end of a plan looks.
const MonthDays = 30

const undecided = "no window is decided yet"

// Month is how the forecasts of the last month did, in short.
type Month struct {
	Days       int               `json:"days"`
	Forecasts  int               `json:"forecasts"`
	Blades     int               `json:"blades"`
	Inside     int               `json:"inside"`
	Decided    int               `json:"decided"`
	Share      *figures.Interval `json:"share"` // inside, of the decided; null without any
	WhyShare   string            `json:"share_why,omitempty"`
	Ended      int               `json:"ended"`
	Foreseen   int               `json:"foreseen"`
	Unforeseen int               `json:"unforeseen"`
	Untold     int               `json:"without_forecast"`
	Level      float64           `json:"level"` // odds from which on an end counts as foreseen
}

// LastMonth is the forecasts in short, nil where none was kept, and why. It is from
// the same figures as the report.
func LastMonth(d *Data) (*Month, string, error) {
	if len(d.Forecasts) == 0 {
		return nil, nothingKept(d.Days), nil
	}
	s := newStudy(d)
	c, err := s.coverage()
	if err != nil {
		return nil, "", err
	}
	e := s.ends(s.changes())
	why := ""
	if c.Share == nil {
		why = undecided
	}
	return &Month{
		Days: d.Days, Forecasts: len(s.scored), Blades: s.foretold(), Inside: c.Inside, Decided: c.Inside + c.Below + c.Above, Share: c.Share, WhyShare: why,
		Ended: e.Ended, Foreseen: e.Foreseen, Unforeseen: e.Unforeseen, Untold: e.Untold, Level: e.Level,
	}, "", nil
}

// String is the month in two lines.
func (m *Month) String() string {
	held := undecided
	if m.Share != nil {
		held = fmt.Sprintf("of the %d decided windows, which are to hold 80 %%, %s held", m.Decided, limited(*m.Share, figures.Percent))
		if m.Share.Low == nil {
			held += "; " + fewBlades
		}
	}
	return fmt.Sprintf("Last %d days: %s of %s; %s.\n%s; foreseen (odds for the shift of %s or more) %d, not foreseen %d, without a forecast %d.",
		m.Days, figures.Plural(m.Forecasts, "forecast", "forecasts"), figures.Plural(m.Blades, "blade", "blades"), held,
		figures.Plural(m.Ended, "blade ended", "blades ended"), figures.Percent(m.Level), m.Foreseen, m.Unforeseen, m.Untold)
}
