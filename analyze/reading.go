package analyze

import "time"

// Kind says what a saw told us.
type Kind string

// The kinds of reading, as the last level of the topic spells them.
const (
	KindCut   Kind = "cut"
	KindTrip  Kind = "trip"
	KindBreak Kind = "break"
	KindBlade Kind = "blade"
	KindState Kind = "state"
	KindAlive Kind = "alive"
)

// Kinds lists every kind in the order people are shown them.
func Kinds() []Kind {
	return []Kind{KindCut, KindTrip, KindBreak, KindBlade, KindState, KindAlive}
}

// Reading is one message of a saw after its checks: exactly one of Cut, Blade,
// State and Alive is set, as Kind says (cut, trip and break all fill Cut).
//
// Saw, At, Seq and ID are its identity: a resend repeats all four.
type Reading struct {
	Saw      string // full name, see SawName
	Kind     Kind
	ID       string    // the sender's own, "" when it sends only Seq
	Seq      *int64    // the sender's running number, nil when it sends only ID
	At       time.Time // when it happened by the saw's clock; for a cut, breakthrough
	Received time.Time // when Gullet received it
	Retained bool      // the broker's last value, seen at subscribe: state, not an event

	Cut   *Cut
	Blade *BladeChange
	State *StateChange
	Alive *Alive

	Extra []byte // members the contract does not name, one JSON object, nil when none
}

// DefaultSite is the site of a shop that has only one: its saws are known by
// their bare names.
const DefaultSite = "saws"

// SawName is the full name of a saw: its own name at the default site, and the
// site before it elsewhere ("plant-2/saws/s3").
func SawName(site, saw string) string {
	if site == DefaultSite || site == "" {
		return saw
	}
	return site + "/" + saw
}

// State is what the saw's controller says it is doing.
type State string

// The states of a saw.
const (
	StateCutting State = "cutting"
	StateIdle    State = "idle"
	StateStopped State = "stopped"
	StateOff     State = "off"
)

// States lists every state.
func States() []State { return []State{StateCutting, StateIdle, StateStopped, StateOff} }

// Cause is why a saw is not cutting, as its controller or operator gave it.
type Cause string

// Causes lists every cause a saw may send.
func Causes() []Cause {
	return []Cause{
		"out-of-stock", "count-done", "deviation-trip", "blade-break", "blade-change", "setup",
		"waiting-material", "waiting-crane", "no-operator", "fault", "coolant", "chips",
		"maintenance", "lockout", "emergency-stop", "break-time", "unknown",
	}
}

// StateChange is the body of a state reading. Cause is "" when none was given.
type StateChange struct {
	State State
	Cause Cause
}

// Alive is the body of an alive reading: the saw's own birth or last will.
type Alive struct {
	Online bool
}

// RejectCode groups the reasons for which a message could not be stored as
// meant; the set is closed, so that it can label a metric.
type RejectCode string

// The reject codes.
const (
	RejectTopic    RejectCode = "topic"        // the topic does not name a saw and a kind
	RejectOversize RejectCode = "oversize"     // longer than the limit; only the head is kept
	RejectJSON     RejectCode = "not-json"     // not one JSON object in UTF-8
	RejectMissing  RejectCode = "missing"      // a required member is not there
	RejectType     RejectCode = "wrong-type"   // a member is of another type or not an allowed word
	RejectRange    RejectCode = "out-of-range" // a number or time no saw can have meant
	RejectSection  RejectCode = "section"      // the section cannot be read or cannot exist
	RejectRetained RejectCode = "retained"     // an event seen only as the broker's last value
	RejectReused   RejectCode = "reused-id"    // same saw, time, id and seq as another reading, other content
)

// RejectCodes lists every code.
func RejectCodes() []RejectCode {
	return []RejectCode{
		RejectTopic, RejectOversize, RejectJSON, RejectMissing, RejectType,
		RejectRange, RejectSection, RejectRetained, RejectReused,
	}
}

// Rejection is a message kept as it came because it could not be stored as
// meant.
type Rejection struct {
	Topic    string
	Payload  []byte // the head only when Size is larger
	Size     int    // bytes the message had
	Retained bool
	Received time.Time
	Code     RejectCode
	Reason   string // one line for a person: what, where, what is allowed
}

// Outcome says what became of one message.
type Outcome string

// The outcomes of a message.
const (
	Stored    Outcome = "stored"
	Duplicate Outcome = "duplicate"
	Rejected  Outcome = "rejected"
)

// Arrival is one message and what it became: a Reading that passed its checks,
// or a Rejection. Exactly one is set.
type Arrival struct {
	Topic     string // as received
	Payload   []byte // as received, so that a Reading the store must refuse is kept as it came
	Reading   *Reading
	Rejection *Rejection
}
