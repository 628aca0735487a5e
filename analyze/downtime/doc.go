// Package downtime says what a saw did with its time: when it produced, was set
// up, was delayed, stood, was planned to stand, or was not heard of; what it stood
// for; how often it fails and how long it takes to mend.
//
// The time line of a saw (Build) is a pure function of the set of its readings:
// order, repetition and lateness change nothing. It cuts all of the time asked for
// into half-open stretches that neither overlap nor leave a gap, so that whatever
// is summed from them sums to the calendar. A blade in the metal is production,
// whatever the saw's state said meanwhile. What no reading tells is unknown: it
// counts neither as downtime nor as uptime; a standstill that is lost from sight and
// found again for the same cause stays one event.
//
// Elements of time and figures made of them follow ISO 22400-2:2014 as remembered
// (the text was not at hand); each figure says what it divides by.
//
// The package refuses to know where readings come from, how a shop names its
// causes, and who is to blame: a cause that nobody gave stays unexplained until a
// person explains it.
package downtime
