package downtime

import "gullet/analyze"

// Element is what a stretch of a saw's time counts as. They add up to the calendar.
type Element string

// The elements, after ISO 22400-2:2014.
const (
	Production  Element = "production"   // APT: the blade is in the metal
	Setup       Element = "setup"        // AUST: loading, indexing, a job change, a planned blade change
	Delay       Element = "delay"        // ADET: an order is under way and something interrupts it
	Down        Element = "down"         // ADOT: available, and no order is worked on
	PlannedDown Element = "planned-down" // PDOT: planned maintenance
	Unscheduled Element = "unscheduled"  // outside the planned operation time: no shift, or a break
	NoData      Element = "unknown"      // no reading tells
)

// Elements lists every element, in the order people are shown them.
func Elements() []Element {
	return []Element{Production, Setup, Delay, Down, PlannedDown, Unscheduled, NoData}
}

// Causes that no saw sends.
const (
	// Unexplained is a stop for which nobody gave a cause.
	Unexplained analyze.Cause = "unexplained"
	// BetweenCuts is the time from one cut to the next within an order: load, index, clamp.
	BetweenCuts analyze.Cause = "between-cuts"
	// BladePull is a blade changed before its time: it cut crooked, lost teeth or was damaged.
	BladePull analyze.Cause = "blade-pull"
)

// Causes that saws send and this package knows the meaning of.
const (
	deviationTrip analyze.Cause = "deviation-trip"
	bladeBreak    analyze.Cause = "blade-break"
	bladeChange   analyze.Cause = "blade-change"
	setUp         analyze.Cause = "setup"
	fault         analyze.Cause = "fault"
	maintenance   analyze.Cause = "maintenance"
	lockout       analyze.Cause = "lockout"
	emergencyStop analyze.Cause = "emergency-stop"
	chips         analyze.Cause = "chips"
	unknownCause  analyze.Cause = "unknown"
)

// Meaning is what a cause counts as.
type Meaning struct {
	Cause   analyze.Cause
	Element Element // Setup, Delay, Down or PlannedDown
	Group   string  // who can do something about it: "blade", "logistics", ...
	Failure bool    // the saw or its blade failed: counted for the mean time between failures
}

// Meanings is what the causes of a shop count as, by cause. A cause that is not in
// it counts as Unexplained does.
type Meanings map[analyze.Cause]Meaning

// Defaults is what causes count as in a shop that has said nothing: common practice
// in the terms of ISO 22400-2. A planned blade change within a shift is setup, one
// that was not planned a delay.
func Defaults() []Meaning {
	return []Meaning{
		{"blade-break", Delay, "blade", true},
		{"blade-pull", Delay, "blade", false},
		{"blade-change", Setup, "blade", false},
		{"deviation-trip", Delay, "quality", false},
		{"between-cuts", Setup, "setup", false},
		{"setup", Setup, "setup", false},
		{"count-done", Setup, "setup", false},
		{"out-of-stock", Down, "logistics", false},
		{"waiting-material", Down, "logistics", false},
		{"waiting-crane", Down, "logistics", false},
		{"no-operator", Down, "staffing", false},
		{"break-time", Down, "staffing", false},
		{"fault", Down, "machine", true},
		{"coolant", Down, "machine", false},
		{"chips", Delay, "machine", false},
		{"maintenance", PlannedDown, "maintenance", false},
		{"lockout", Down, "maintenance", false},
		{"emergency-stop", Delay, "safety", false},
		{"unexplained", Down, "unexplained", false},
	}
}

// NewMeanings is Defaults with what the shop says put in place of it, or added.
func NewMeanings(shop []Meaning) Meanings {
	m := Meanings{}
	for _, list := range [][]Meaning{Defaults(), shop} {
		for _, meaning := range list {
			m[meaning.Cause] = meaning
		}
	}
	return m
}

// Of is what a cause counts as.
func (m Meanings) Of(c analyze.Cause) Meaning {
	if meaning, ok := m[c]; ok {
		return meaning
	}
	meaning := m[Unexplained]
	meaning.Cause = c
	return meaning
}
