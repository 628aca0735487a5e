package score

import (
	"time"

	"gullet/cmd/gullet/internal/figures"
)

// Report is how the forecasts did. Every missing figure is null, and a member beside
// it whose name ends in why says why. Intervals are at 95 %, over blades.
type Report struct {
	MadeAt    time.Time `json:"made_at"`
	Since     time.Time `json:"since"`
	Days      int       `json:"days"`
	Unit      string    `json:"unit"`   // of every area: weighted in2
	Limits    string    `json:"limits"` // how the intervals were made
	Currency  string    `json:"currency"`
	Forecasts int       `json:"forecasts"`
	Blades    int       `json:"blades"`
	LeftOut   int       `json:"left_out"` // of those kept, whose blade the ledger has since been corrected on
	Why       string    `json:"why,omitempty"`

	Coverage   *Coverage `json:"coverage"`
	Pinball    *Pinball  `json:"pinball"`
	WhyPinball string    `json:"pinball_why,omitempty"`
	Shift      *Shift    `json:"shift"`
	WhyShift   string    `json:"shift_why,omitempty"`
	Ends       *Ends     `json:"ends"`
	Early      *Early    `json:"early"`
	Money      *Money    `json:"money"`
	Doubts     []string  `json:"doubts"`
}

// Coverage is how often the windows from 10 to 90 % held.
type Coverage struct {
	Inside    int               `json:"inside"`
	Below     int               `json:"below"` // the blade was done sooner
	Above     int               `json:"above"` // it lasted longer
	Undecided int               `json:"undecided"`
	Blades    int               `json:"blades"`  // of those decided
	Share     *figures.Interval `json:"share"`   // inside, of the decided; null without any
	Allowed   *figures.Interval `json:"allowed"` // inside, of all, the undecided taken to be as the others are; null: too few got so far
	Worst     float64           `json:"worst"`   // the share of all if no undecided one falls inside
	Best      float64           `json:"best"`    // if all do
}

// Pinball is the mean loss of the forecasts beside that of two rivals, from the same
// outcomes: the less the better.
type Pinball struct {
	Forecasts    int              `json:"forecasts"`
	Blades       int              `json:"blades"`
	Unended      int              `json:"not_ended"` // left out: nobody saw the end
	NoRival      int              `json:"no_rival"`  // left out: a rival, or the forecast itself, had no number
	Levels       []Level          `json:"levels"`
	OverMean     figures.Interval `json:"less_than_mean_life"`      // mean over the levels of what the rival loses more
	OverInterval figures.Interval `json:"less_than_fixed_interval"` // the same
}

// Level is the loss of one quantile.
type Level struct {
	Level    float64          `json:"level"`
	Gullet   figures.Interval `json:"gullet"`
	MeanLife figures.Interval `json:"mean_life"`
	Interval figures.Interval `json:"fixed_interval"`
}

// Shift is how the chances did that a blade is done by the end of a shift.
type Shift struct {
	Forecasts int               `json:"forecasts"`
	Blades    int               `json:"blades"`
	LeftOut   int               `json:"left_out"` // changed early or corrected within the shift, or without odds
	Brier     figures.Interval  `json:"brier"`
	BaseRate  figures.Interval  `json:"base_rate"` // how often it was done
	Reference float64           `json:"brier_of_base_rate"`
	Warned    int               `json:"warned"` // with odds at the level of ends or above
	CameTrue  int               `json:"came_true"`
	TrueShare *figures.Interval `json:"came_true_share"` // null without a warning
}

// Ends is whether the ends of blades were foreseen.
type Ends struct {
	Level      float64           `json:"level"` // odds from which on an end counts as foreseen
	Ended      int               `json:"ended"`
	Foreseen   int               `json:"foreseen"`
	Unforeseen int               `json:"unforeseen"`
	Untold     int               `json:"without_forecast"` // for the shift in which it ended
	Share      *figures.Interval `json:"share"`            // foreseen, of those with a forecast; null without any
	Reasons    []Reason          `json:"reasons"`
}

// Reason is the same for the ends of one reason.
type Reason struct {
	Reason     string `json:"reason"`
	Ended      int    `json:"ended"`
	Foreseen   int    `json:"foreseen"`
	Unforeseen int    `json:"unforeseen"`
	Untold     int    `json:"without_forecast"`
}

// Early is what blades that were changed early likely had left.
type Early struct {
	Changes []EarlyChange `json:"changes"`
	Told    int           `json:"told"` // with a median
	Area    *float64      `json:"area"` // the medians of those together, less what was cut since; null without any
	Seen    *float64      `json:"cut"`  // what those cut in their lives
}

// EarlyChange is one of them. The window is that of the last forecast before.
type EarlyChange struct {
	Saw    string     `json:"saw"`
	Blade  string     `json:"blade"`
	Type   string     `json:"type"`
	At     time.Time  `json:"at"`
	Reason string     `json:"reason"`
	Cut    float64    `json:"cut"` // in its life
	MadeAt *time.Time `json:"forecast_made_at"`
	Since  *float64   `json:"cut_since"`
	Q10    *float64   `json:"q10"`
	Q50    *float64   `json:"q50"`
	Q90    *float64   `json:"q90"`
	Left   *float64   `json:"left"` // the median less what was cut since
	Why    string     `json:"left_why,omitempty"`
}

// Money is what the changes cost as configured.
type Money struct {
	Planned   int         `json:"planned"`
	Unplanned int         `json:"unplanned"` // after an end
	Cost      *float64    `json:"cost"`
	Why       string      `json:"cost_why,omitempty"`
	Types     []TypeMoney `json:"types"`
}

// TypeMoney is that of one blade type.
type TypeMoney struct {
	Type      string   `json:"type"`
	Planned   int      `json:"planned"`
	Unplanned int      `json:"unplanned"`
	Cost      *float64 `json:"cost"`
	Why       string   `json:"cost_why,omitempty"`
}
