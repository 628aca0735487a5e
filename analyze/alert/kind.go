package alert

import (
	"fmt"
	"slices"
	"strings"
)

// Kind is a condition that a shop can be told of. The set is closed, so that it can
// label a metric and be a key of the configuration.
type Kind string

// The kinds. What the level of each is measured in is told by Spec.
const (
	ChangeWindow    Kind = "change-window"    // the change window of a blade opens soon
	TripLikely      Kind = "trip-likely"      // its deviation likely reaches the trip limit before the shift ends
	LimitReached    Kind = "limit-reached"    // its deviation has reached the limit
	RepeatedTrips   Kind = "repeated-trips"   // of its last ten cuts several ended in a deviation trip
	BladeBreak      Kind = "blade-break"      // it broke, and the saw has no other yet
	EarlyEnd        Kind = "early-end"        // it ended far below the life that nine in ten of its type reach
	SawFinding      Kind = "saw-finding"      // the cut wanders and the saw is to blame, also after a blade change
	CutTime         Kind = "cut-time"         // cuts take longer and longer
	UnexplainedStop Kind = "unexplained-stop" // a saw stands and nobody said why
	OutOfStock      Kind = "out-of-stock"     // a saw stands for want of material
	Silent          Kind = "silent"           // a saw has sent nothing in its shift
	ClockSkew       Kind = "clock-skew"       // a saw's clock is off
	Missing         Kind = "missing-readings" // running numbers of a saw that never came
	Rejected        Kind = "rejected"         // messages that could not be stored as meant
	Reorder         Kind = "reorder"          // blades of a type are at or below the reorder point
	BrokerLost      Kind = "broker-lost"      // Gullet hears no saw
	DiskFull        Kind = "disk-nearly-full" // the disk of the database
	DatabaseError   Kind = "database-error"   // readings cannot be stored, or the file is damaged
	DeliveryFailing Kind = "delivery-failing" // a channel does not take messages
)

// Spec says what the level of a kind is and from which one on it is a condition, when
// the shop says nothing.
type Spec struct {
	Kind  Kind
	Unit  string // of the level, raise and clear
	Falls bool   // the smaller the level, the worse
	Saw   bool   // it is of one saw, and may be set for it
	Rule  Rule   // by default
	Least float64
	Most  float64 // that raise and clear may be
}

// Severity is how much a condition matters.
type Severity int

// The severities. Quiet hours hold back all but the severe.
const (
	Notice Severity = iota
	Warning
	Severe
)

var severities = [...]string{"notice", "warning", "severe"}

// Severities lists them by their names, the least first.
func Severities() []string { return severities[:] }

func (s Severity) String() string { return severities[s] }

// MarshalText writes the name.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads a name; any other text is an error.
func (s *Severity) UnmarshalText(text []byte) error {
	i := slices.Index(severities[:], string(text))
	if i < 0 {
		return fmt.Errorf("found severity %q; allowed is %s", text, strings.Join(severities[:], ", "))
	}
	*s = Severity(i)
	return nil
}
