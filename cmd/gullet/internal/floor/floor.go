// Package floor answers what a planner asks first thing: what every saw is
// doing, what blade hangs on it, how much that blade has cut and is likely to
// have left, and what Gullet does not know.
//
// It puts together what the store keeps and what analyze computes, and writes
// it as text. It computes no statistics of its own, and the daemon, the
// terminal, the metrics and the JSON all take their numbers from the one Floor
// it builds.
package floor

import (
	"time"

	"gullet/cmd/gullet/internal/figures"
)

// Floor is the state of the shop at one moment. Every missing figure is nil
// and says why.
type Floor struct {
	MadeAt time.Time `json:"made_at"`
	Unit   string    `json:"unit"` // of every area: in2
	Saws   []Saw     `json:"saws"`
	Types  []Life    `json:"blade_types"`
	// LivesSince is from when on blades count for the life of their type, by
	// when they were first hung.
	LivesSince time.Time `json:"lives_since"`
	Doubts     []string  `json:"doubts"` // what a person should know before trusting the figures
}

// AreaUnit is the unit of every area in a Floor.
const AreaUnit = "in2"

// Saw is one row of the floor.
type Saw struct {
	Saw         string     `json:"saw"`
	Configured  bool       `json:"configured"`
	State       string     `json:"state"` // as the saw said last; "unknown" when it never did
	Cause       string     `json:"cause,omitempty"`
	Since       *time.Time `json:"since"` // of the state
	Silent      bool       `json:"silent"`
	OnlineSince *time.Time `json:"online_since"` // or offline since
	Online      *bool      `json:"online"`       // nil when the saw never said
	Blade       *Blade     `json:"blade"`
	WhyBlade    string     `json:"blade_why,omitempty"`
	LastStop    *Stop      `json:"last_stop"`
	LastReading *LastHeard `json:"last_reading"`
	ClockSkew   *ClockSkew `json:"clock_skew"`
	Missing     int64      `json:"missing_readings"` // gaps in the saw's own numbering
	Trips       int64      `json:"trips_total"`
}

// Blade is what hangs on a saw.
type Blade struct {
	Serial       string    `json:"serial"` // "" when nobody named it
	Type         string    `json:"type"`
	Since        time.Time `json:"since"`
	Basis        string    `json:"basis"` // how Gullet knows: message, cut, correction, none
	Note         string    `json:"note,omitempty"`
	Area         float64   `json:"area"`          // in² cut in all its fittings
	WeightedArea float64   `json:"weighted_area"` // in² of the reference grade that wear as much
	AreaUnknown  int64     `json:"passes_without_area"`
	Cuts         int64     `json:"cuts"` // passes through metal, all fittings
	Seconds      float64   `json:"seconds_in_cut"`
	Travel       float64   `json:"band_travel_ft"`
	Trips        int64     `json:"trips"`
	Classes      []Class   `json:"classes"`
	Remaining    *Window   `json:"remaining"`    // in² of what the saw has been cutting
	ChangePoint  *Window   `json:"change_point"` // in² on the blade when it is done
	ChangeTime   *TimeSpan `json:"change_time"`  // the same at the pace of the last days
	WhyRemaining string    `json:"remaining_why,omitempty"`
	// Horizon is how much the blade may still cut, in in², before it is older
	// than any of its type was seen; nothing is known beyond.
	Horizon   *float64   `json:"horizon"`
	Deviation *Deviation `json:"last_deviation"`
	Slope     *Slope     `json:"deviation_slope"`
	WhySlope  string     `json:"deviation_slope_why,omitempty"`
}

// Class is what a blade has cut of one class of material.
type Class struct {
	Class    string  `json:"class"`
	Area     float64 `json:"area"`
	Severity float64 `json:"severity"`   // wear per in² as learned about the configured one; the mean over what was cut
	Known    bool    `json:"configured"` // false: no grade configured, severity 1 assumed
}

// Window is when a tenth, half and nine tenths of such blades are done.
type Window struct {
	Q10 float64 `json:"q10"`
	Q50 float64 `json:"q50"`
	Q90 float64 `json:"q90"`
}

// TimeSpan is a Window in time at a steady pace, ten years ahead at most.
type TimeSpan struct {
	Q10  time.Time `json:"q10"`
	Q50  time.Time `json:"q50"`
	Q90  time.Time `json:"q90"`
	Pace float64   `json:"pace_per_day"` // in² a calendar day
	Days float64   `json:"pace_days"`    // over which it was taken
}

// Deviation is the deviation of the newest pass that told one.
type Deviation struct {
	Value float64   `json:"value"` // in, signed
	At    time.Time `json:"at"`
}

// Slope is how the deviation, per inch of section height, moves with the weighted
// area cut.
type Slope struct {
	Value   float64 `json:"value"` // in per in of height
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	PerArea float64 `json:"per_area"` // weighted in²
	N       int     `json:"n"`
}

// Stop is the newest time a saw stood still, and why.
type Stop struct {
	At    time.Time `json:"at"`
	Cause string    `json:"cause"`
}

// LastHeard is the newest reading of a saw: by the saw's clock and by ours.
type LastHeard struct {
	At         time.Time `json:"at"`
	Received   time.Time `json:"received"`
	Happened   time.Time `json:"happened"` // At with the clock skew taken out
	AgeSeconds float64   `json:"age_seconds"`
}

// ClockSkew is how far a saw's clock is behind ours (positive) or ahead.
type ClockSkew struct {
	Seconds float64 `json:"seconds"`
	N       int     `json:"n"` // minutes of receipt it is the median of
	Warn    bool    `json:"warn"`
}

// Life is how long blades of one type last, in weighted in².
type Life struct {
	Type       string            `json:"type"` // "" for blades whose type nobody said
	Blades     int               `json:"blades"`
	Ended      int               `json:"ended"`
	Censored   int               `json:"censored"`        // pulled early, reason unknown, or still running
	Unknown    int               `json:"removed_unknown"` // of the censored, those pulled for an unknown reason
	Area       float64           `json:"area"`            // in², all blades
	Weighted   float64           `json:"weighted_area"`
	Median     *figures.Interval `json:"median"` // Kaplan-Meier
	WhyMedian  string            `json:"median_why,omitempty"`
	Weibull    *Weibull          `json:"weibull"`
	WhyWeibull string            `json:"weibull_why,omitempty"`
}

// Weibull is a fitted life distribution, in weighted in².
type Weibull struct {
	Shape figures.Interval `json:"shape"`
	Scale figures.Interval `json:"scale"`
	Mean  figures.Interval `json:"mean"`
	// Borrowed says that too few ended for a shape of their own: it is that of
	// the blades of all types.
	Borrowed bool `json:"shape_borrowed"`
}
