package alert

import (
	"slices"
	"time"
)

// specs are the kinds in the order people are shown them. All thresholds are common
// practice or the project's own judgement, for a shop to change.
var specs = []Spec{
	{ChangeWindow, "h", true, true, Rule{Raise: 8, Clear: 24, Again: 4 * time.Hour, Severity: Notice}, 0, 720},
	{TripLikely, "chance", false, true, Rule{Raise: 0.2, Clear: 0.1, Hold: time.Minute, Severity: Warning}, 0.01, 1},
	{LimitReached, "share of the limit", false, true, Rule{Raise: 1, Clear: 0.9, Severity: Warning}, 0.1, 5},
	{RepeatedTrips, "trips in 10 cuts", false, true, Rule{Raise: 3, Clear: 2, Severity: Severe}, 1, 10},
	{BladeBreak, "breaks", false, true, Rule{Raise: 1, Clear: 1, Lasts: 24 * time.Hour, Severity: Severe}, 1, 1},
	{EarlyEnd, "share of B10", true, true, Rule{Raise: 0.5, Clear: 0.5, Lasts: 24 * time.Hour, Severity: Warning}, 0.01, 1},
	{SawFinding, "confidence", false, true, Rule{Raise: 0.9, Clear: 0.7, Hold: 10 * time.Minute, Rest: time.Hour, Severity: Warning}, 0.5, 1},
	{CutTime, "confidence", false, true, Rule{Raise: 0.9, Clear: 0.7, Hold: 10 * time.Minute, Rest: time.Hour, Severity: Warning}, 0.5, 1},
	{UnexplainedStop, "min", false, true, Rule{Raise: 30, Clear: 30, Severity: Warning}, 1, 10_080},
	{OutOfStock, "min", false, true, Rule{Raise: 30, Clear: 30, Severity: Warning}, 1, 10_080},
	{Silent, "min", false, true, Rule{Raise: 15, Clear: 15, Hold: 10 * time.Minute, Rest: time.Minute, Severity: Warning}, 1, 10_080},
	{ClockSkew, "s", false, true, Rule{Raise: 30, Clear: 15, Hold: 10 * time.Minute, Rest: 30 * time.Minute, Severity: Notice}, 1, 86_400},
	{Missing, "readings", false, true, Rule{Raise: 1, Clear: 1, Hold: 15 * time.Minute, Severity: Notice}, 1, 1_000_000},
	{Rejected, "messages an hour", false, false, Rule{Raise: 5, Clear: 1, Severity: Notice}, 1, 1_000_000},
	{Reorder, "blades above the point", true, false, Rule{Raise: 0, Clear: 0, Hold: 10 * time.Minute, Again: 24 * time.Hour, Severity: Notice}, 0, 1000},
	{BrokerLost, "min", false, false, Rule{Raise: 2, Clear: 2, Rest: time.Minute, Severity: Severe}, 0.1, 1440},
	{DiskFull, "% free", true, false, Rule{Raise: 5, Clear: 7, Rest: 10 * time.Minute, Severity: Severe}, 0.1, 90},
	{DatabaseError, "errors", false, false, Rule{Raise: 1, Clear: 1, Rest: 10 * time.Minute, Severity: Severe}, 1, 1},
	{DeliveryFailing, "min", false, false, Rule{Raise: 15, Clear: 15, Severity: Warning}, 1, 10_080},
}

// What a rule has where its spec leaves it out.
const (
	fresh = time.Hour
	again = time.Hour
)

// byKind are the specs by their kinds.
var byKind = func() map[Kind]Spec {
	m := map[Kind]Spec{}
	for i := range specs {
		s := &specs[i]
		s.Rule.Fresh = fresh
		if s.Rule.Again == 0 {
			s.Rule.Again = again
		}
		m[s.Kind] = *s
	}
	return m
}()

// Specs lists the kinds, in the order people are shown them.
func Specs() []Spec { return slices.Clone(specs) }

// SpecOf is that of a kind, the zero Spec of one that there is not.
func SpecOf(k Kind) Spec { return byKind[k] }

// Kinds lists their names in the same order.
func Kinds() []string {
	names := make([]string, len(specs))
	for i, s := range specs {
		names[i] = string(s.Kind)
	}
	return names
}
