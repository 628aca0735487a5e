package downtime

import (
	"slices"
	"time"

	"gullet/analyze"
)

// Rules are what a shop decides about its time line.
type Rules struct {
	Meanings Meanings
	// Minor is the length in working time under which a delay or downtime is pooled
	// as a minor stop. A failure, and a stop that a person explained, never is.
	Minor time.Duration
	// BetweenCuts is the longest working time from one cut to the next that is taken
	// for handling while the saw says that it is cutting.
	BetweenCuts time.Duration
	// Restart is how soon after a broken or pulled blade a stop belongs to it.
	Restart time.Duration
	// ToldFor is how long a standstill is believed when nothing more is heard of a saw
	// that is not known to be online.
	ToldFor time.Duration
}

// absorbed is which causes belong to another when they follow it in one standstill:
// a blade break, and the change of the blade and the restart stops that it brings.
var absorbed = map[analyze.Cause][]analyze.Cause{
	bladeBreak:    {bladeChange, BladePull, deviationTrip, lockout, setUp, chips, Unexplained},
	BladePull:     {bladeChange, deviationTrip, lockout, setUp, chips, Unexplained},
	bladeChange:   {lockout, Unexplained},
	deviationTrip: {lockout, Unexplained},
	fault:         {lockout, Unexplained},
	emergencyStop: {lockout, Unexplained},
	maintenance:   {lockout},
}

// absorbs reports whether a cause belongs to the one before it.
func absorbs(parent, child analyze.Cause) bool {
	return parent == child || slices.Contains(absorbed[parent], child)
}

// leadsTo reports whether a standstill that was told for one cause turned out to be
// of another: a trip after which the blade was pulled, a lock for maintenance. A stop
// without a cause takes the one that is told while the saw's state stays the same.
func leadsTo(first, then analyze.Cause, sameState bool) bool {
	switch first {
	case Unexplained:
		return sameState
	case deviationTrip:
		return then == BladePull || then == bladeBreak
	case lockout:
		return then == maintenance || then == bladeChange || then == BladePull || then == fault
	}
	return false
}

// ofRemoval is the cause of a blade change by what was wrong with the blade that
// came off. A dull blade is changed as planned, unless it is found out by a trip.
func ofRemoval(r analyze.EndReason, tripped bool) analyze.Cause {
	switch r {
	case analyze.ReasonDull:
		if tripped {
			return BladePull
		}
	case analyze.ReasonBrokeWeld, analyze.ReasonBrokeBody, analyze.ReasonBroke:
		return bladeBreak
	case analyze.ReasonCrooked, analyze.ReasonStripped, analyze.ReasonDamaged:
		return BladePull
	}
	return bladeChange
}
