package planning

import "time"

// Report is the change plan. Every missing figure is null, and a member beside it
// whose name ends in why says why.
type Report struct {
	MadeAt   time.Time `json:"made_at"`
	Days     int       `json:"days"`
	Zone     string    `json:"zone"`
	Unit     string    `json:"unit"` // of every area: in2
	Currency string    `json:"currency"`
	Saws     []Saw     `json:"saws"`
	Shifts   []Load    `json:"shifts"` // in which changes fall
	Shelf    []Shelf   `json:"shelf"`
	Service  float64   `json:"service_level"`   // chance with which a number of blades is enough
	Lead     float64   `json:"lead_hours"`      // over which the reorder point is enough
	Loose    []string  `json:"jobs_not_placed"` // open jobs that no saw was found for
	Doubts   []string  `json:"doubts"`
}

// Saw is the plan of one saw.
type Saw struct {
	Saw      string     `json:"saw"`
	Fitting  *int64     `json:"fitting"` // its number in the ledger
	Blade    string     `json:"blade"`
	Type     string     `json:"type"`
	Area     *float64   `json:"area"` // null where no blade is known
	Weighted *float64   `json:"weighted_area"`
	Window   *Windows   `json:"window"`
	Why      string     `json:"window_why,omitempty"`
	Next     *NextShift `json:"next_shift"`
	Basis    string     `json:"basis,omitempty"` // blades and ends the window rests on, and whether the deviation counts
	Drivers  []Driver   `json:"drivers"`
	Jobs     []Job      `json:"jobs"`
	Findings []Finding  `json:"findings"` // that a new blade may not clear, which gullet trend tells more of
	Advise   *Advice    `json:"advise"`
	WhyNone  string     `json:"advise_why,omitempty"`
}

// Windows is when a tenth, half and nine tenths of such blades are done.
type Windows struct {
	Weighted Window     `json:"weighted"` // weighted in² still to cut
	Area     Window     `json:"area"`     // in² of the coming work
	Time     TimeWindow `json:"time"`
}

// Window is three areas; null is beyond what is looked at.
type Window struct {
	Q10 *float64 `json:"q10"`
	Q50 *float64 `json:"q50"`
	Q90 *float64 `json:"q90"`
}

// TimeWindow is three moments by the shop's calendar; null is beyond it.
type TimeWindow struct {
	Q10 *time.Time `json:"q10"`
	Q50 *time.Time `json:"q50"`
	Q90 *time.Time `json:"q90"`
}

// Driver is one way in which the blade may end, and its part of the ends.
type Driver struct {
	Cause string  `json:"cause"`
	Share float64 `json:"share"`
}

// Finding is what the deviations of a saw speak for and stands.
type Finding struct {
	Kind       string     `json:"kind"` // as gullet trend names it
	Since      *time.Time `json:"since"`
	Confidence float64    `json:"confidence"`
}

// Job is one coming job.
type Job struct {
	Job      string     `json:"job"`
	Area     float64    `json:"area"`
	Weighted float64    `json:"weighted_area"`
	Hours    float64    `json:"hours"`
	Odds     *float64   `json:"odds_finished"` // by the blade that is on
	Ends     *time.Time `json:"ends"`
	Due      *time.Time `json:"due"`
	Tight    bool       `json:"late_if_the_blade_ends"` // in time only without an end in the cut before it is done
	Teeth    string     `json:"teeth,omitempty"`        // what may go wrong with the teeth of the blade type that is on
}

// Advice is when to change; with Change false the blade is best run on beyond the plan
// or to its end, and no moment is named.
type Advice struct {
	Change     bool       `json:"change"`
	At         *time.Time `json:"at"`
	BeforeJob  *string    `json:"before_job"`
	AfterJob   *string    `json:"after_job"` // the last of them
	Shift      *string    `json:"shift"`
	Reason     string     `json:"reason"`
	Moved      *string    `json:"moved"`            // out of a shift with more changes than one fitter can do; null: it was not
	Odds       float64    `json:"odds_done_before"` // that the blade is done by then all the same, or by the end of the plan
	CostNow    float64    `json:"cost_now"`
	CostLater  *float64   `json:"cost_one_shift_later"` // than now: at the end of the shift that runs or comes first
	CostThen   float64    `json:"cost_as_advised"`      // or run on
	CostAfter  *float64   `json:"cost_one_shift_after"` // the advised change; null where it is run on or no shift of the plan ends after it
	OnHand     *int       `json:"on_hand"`              // blades of its type on the shelf; null is unknown
	Rate       *float64   `json:"cost_per_1000"`
	HabitRate  *float64   `json:"habit_cost_per_1000"`
	RunToEnd   *float64   `json:"run_to_end_cost_per_1000"`
	ReplaceAge *float64   `json:"best_age"` // weighted in² at which a new blade is best changed; null: changing early does not help
}

// Shelf is what must be on hand of one type.
type Shelf struct {
	Type    string         `json:"type"`
	OnHand  *int           `json:"on_hand"`
	Needed  map[string]Use `json:"needed"` // 7d, 14d, 28d
	Reorder *int           `json:"reorder_point"`
	OrderBy *time.Time     `json:"order_by"`
	Why     string         `json:"why,omitempty"`
}

// Use is how many blades are used up over some days.
type Use struct {
	Mean float64 `json:"mean"`
	Q50  int     `json:"q50"`
	Safe int     `json:"at_service_level"`
}
