package trend

import (
	"time"

	"gullet/cmd/gullet/internal/figures"
)

// Report is the answer. Every missing figure is null, and a member beside it
// whose name ends in why says why.
type Report struct {
	MadeAt *time.Time `json:"made_at,omitempty"` // of an answer from the store
	// Unit is of every deviation, limit and level: "in/in", over the height of the
	// cut, or "in" where nobody told heights.
	Unit string `json:"unit"`
	// AreaUnit is of every area: "in2", or "cuts" where nobody told areas.
	AreaUnit string `json:"area_unit"`
	// Clock is what areas a blade has cut are counted in: "area" as cut, or "weighted
	// area", in² of the reference class that wear a blade as much.
	Clock  string   `json:"clock"`
	Saws   []Answer `json:"saws"`
	Doubts []string `json:"doubts"`
}

// Answer is what the cuts of one saw say.
type Answer struct {
	Saw       string            `json:"saw"`
	Blade     string            `json:"blade"`
	Type      string            `json:"type"`
	Lot       string            `json:"lot"`
	Cuts      int               `json:"cuts"`     // of the blade that is on
	Readings  int               `json:"readings"` // of those, with a deviation
	Wild      int               `json:"wild"`     // of those, far off their forecast
	Area      float64           `json:"area"`     // the blade has cut, on the clock
	Limit     *float64          `json:"limit"`
	LimitNote string            `json:"limit_note,omitempty"`
	Level     *figures.Interval `json:"level"`
	WhyLevel  string            `json:"level_why,omitempty"`
	Slope     *Slope            `json:"slope"`
	WhySlope  string            `json:"slope_why,omitempty"`
	Reach     *Reach            `json:"reach_limit"`
	WhyReach  string            `json:"reach_limit_why,omitempty"`
	Path      *Path             `json:"path"` // of the readings themselves
	WhyPath   string            `json:"path_why,omitempty"`
	Change    *Change           `json:"change"`
	WhyChange string            `json:"change_why,omitempty"`
	Chart     *Chart            `json:"chart"`
	Pace      *Pace             `json:"pace"`
	WhyPace   string            `json:"pace_why,omitempty"`
	Trips     *Trips            `json:"trips"`
	WhyTrips  string            `json:"trips_why,omitempty"`
	Habits    *Habits           `json:"habits"` // what the forecasts rest on
	Findings  []Finding         `json:"findings"`
	Points    []Point           `json:"points"` // every cut of the blade that is on
}

// Slope is the change of deviation with area on the clock.
type Slope struct {
	Value   float64 `json:"value"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	PerArea float64 `json:"per_area"`
	N       int     `json:"n"`
}

// Reach is when the saw is likely to trip first, as area that it has still to cut
// from now, of what it cuts; null where the chance is never so great.
type Reach struct {
	Q10      *float64 `json:"q10"`
	Q50      *float64 `json:"q50"`
	Q90      *float64 `json:"q90"`
	Unit     string   `json:"unit"`
	Weighted *Window  `json:"weighted,omitempty"` // the same on the clock
	Odds     *float64 `json:"odds_next_shift"`
	Shift    *float64 `json:"shift_area,omitempty"` // what a shift cuts
	WhyOdds  string   `json:"odds_why,omitempty"`
}

// Window is three areas.
type Window struct {
	Q10 *float64 `json:"q10"`
	Q50 *float64 `json:"q50"`
	Q90 *float64 `json:"q90"`
}

// Path is how the readings of the blade move, as if each were the level: drift and
// diffusion per in² on the clock. The scatter of readings is in the diffusion, so
// that such a path reaches the limit far sooner than the saw trips: plan by
// reach_limit.
type Path struct {
	Drift     float64 `json:"drift"`
	DriftSE   float64 `json:"drift_se"`
	Diffusion float64 `json:"diffusion"`
	Steps     int     `json:"steps"`
	Reach     *Window `json:"reach_limit"` // area still to cut, on the clock, until such a path is at the limit
}

// Change is a sudden change of level on the blade that is on, beside its wear
// line.
type Change struct {
	At   *time.Time `json:"at"`
	Area float64    `json:"area"` // of the blade just before
	Size float64    `json:"size"`
	P    float64    `json:"p"` // chance of one as large without any
}

// Chart is where the control charts of what wear leaves stand: readings less their
// forecasts, in standard deviations of those. The baseline of level, sigma and
// limits of single values is that of the blade before, once it was run in.
type Chart struct {
	Settled  string  `json:"baseline_from"` // blade; "" where none was settled enough: level 0 and sigma 1 then
	Level    float64 `json:"baseline_level"`
	Sigma    float64 `json:"baseline_sigma"`
	Low      float64 `json:"single_low"`
	High     float64 `json:"single_high"`
	Beyond   int     `json:"single_beyond"` // readings beyond those limits
	Readings int     `json:"readings"`
	EWMA     float64 `json:"ewma"`
	EWMALow  float64 `json:"ewma_low"`
	EWMAHigh float64 `json:"ewma_high"`
	Upper    float64 `json:"cusum_upper"`
	Lower    float64 `json:"cusum_lower"`
	Limit    float64 `json:"cusum_limit"`
	Out      bool    `json:"out"`
	Since    *int    `json:"out_since_cuts"` // by the sums
}

// Pace is how fast the blade cuts beside others in the same grade and size on this
// saw, as ratios to them.
type Pace struct {
	Ratio   figures.Interval `json:"ratio"`   // wear allowed for
	Slowing float64          `json:"slowing"` // what wear has made of the pace by now, by the habit of the saw's blades
	Cuts    int              `json:"cuts"`
}

// Trips is how often the saw tripped over the blades that were looked at.
type Trips struct {
	Count    int     `json:"count"`
	Area     float64 `json:"area"`
	Rate     float64 `json:"rate"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	PerArea  float64 `json:"per_area"`
	Minus    int     `json:"minus"` // by the sign of the deviation
	Plus     int     `json:"plus"`
	Ratio    *Ratio  `json:"later_half_ratio"` // rate in the later half of that area over the earlier
	WhyRatio string  `json:"later_half_ratio_why,omitempty"`
	// Odds is the chance of a trip within the next shift at that rate, null where
	// nobody knows what a shift cuts. reach_limit knows more where there are
	// deviations.
	Odds *figures.Interval `json:"odds_next_shift"`
}

// Ratio is a ratio of two rates.
type Ratio struct {
	Value *float64 `json:"value"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
	P     float64  `json:"p"`
}

// Habits is how the blades of this kind behave on this saw.
type Habits struct {
	Blades  int     `json:"blades"` // learned from; 0: only what is usual
	Cuts    int     `json:"cuts"`
	Cut     float64 `json:"noise_cut"`   // standard deviation of one cut
	Probe   float64 `json:"noise_probe"` // in, of one reading of the probe
	Power   float64 `json:"wear_power"`  // wear goes with this power of the area
	NewSD   float64 `json:"new_blade_sd"`
	DriftSD float64 `json:"drift_sd"` // per 1,000 in² to that power
}

// Finding is what the deviations speak for.
type Finding struct {
	Kind       string     `json:"kind"`
	Since      *time.Time `json:"since"`
	Area       *float64   `json:"since_area"` // of the blade that is on
	Last       *time.Time `json:"last"`       // of the last cut that shows it; null: it stands
	Confidence float64    `json:"confidence"`
	Sentence   string     `json:"sentence"`
	Evidence   []string   `json:"evidence"`
	CheckFirst []string   `json:"check_first"`
}

// Point is one cut of the blade that is on.
type Point struct {
	At        *time.Time `json:"at,omitempty"`
	Area      float64    `json:"area"`
	Deviation *float64   `json:"deviation"`
	Height    *float64   `json:"height"`
	Trip      bool       `json:"trip,omitempty"`
}
