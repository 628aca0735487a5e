package alert

import "time"

// Condition is one that stands, or stood.
type Condition struct {
	ID int64 `json:"id"` // given when it is raised, never twice
	Key
	Severity Severity  `json:"severity"`
	Since    time.Time `json:"since"`   // when what it is about began
	First    time.Time `json:"first"`   // since when its level has held
	Raised   time.Time `json:"raised"`  // zero while it waits
	Better   time.Time `json:"better"`  // since when it has been better, zero while it is not
	Cleared  time.Time `json:"cleared"` // zero while it stands
	Level    float64   `json:"level"`   // at the last look that knew it
	Mark     string    `json:"mark"`    // of its version
	Version  int       `json:"version"` // 1 when raised, and one more with each update worth telling
	Changed  time.Time `json:"changed"` // when that version began
	Words    Words     `json:"words"`
	Reason   string    `json:"reason"` // why it was raised, updated or closed last

	Acknowledged *Note           `json:"acknowledged,omitempty"`
	Snoozed      *Note           `json:"snoozed,omitempty"`
	Told         map[string]Told `json:"told,omitempty"` // by channel
}

// Told is what a channel was told of a condition last.
type Told struct {
	Version int       `json:"version"` // 0: it never was, and need not be
	Cleared bool      `json:"cleared"`
	At      time.Time `json:"at"`
}

// Open reports whether the condition is raised and stands.
func (c *Condition) Open() bool { return !c.Raised.IsZero() && c.Cleared.IsZero() }

// Note is what a person did about a condition.
type Note struct {
	ID        int64      `json:"id"` // given by the store, in the order of the records
	Condition int64      `json:"condition"`
	Action    NoteAction `json:"action"`
	Until     time.Time  `json:"until"` // of a snooze
	Who       string     `json:"who"`
	Why       string     `json:"why"`
	At        time.Time  `json:"at"`
}

// NoteAction is what a person can do.
type NoteAction string

// The actions.
const (
	Acknowledge NoteAction = "acknowledge" // somebody sees to it: no more updates, no escalation
	Snooze      NoteAction = "snooze"      // nobody wants to hear of it until a time
)

// Change is what became of a condition at a look, for the record.
type Change struct {
	ID     int64     `json:"condition"`
	What   Phase     `json:"what"`
	At     time.Time `json:"at"`
	Level  float64   `json:"level"`
	Reason string    `json:"reason"`
}

// Phase is what a message or a record says of a condition.
type Phase string

// The phases.
const (
	PhaseRaised       Phase = "raised"
	PhaseUpdated      Phase = "updated"
	PhaseCleared      Phase = "cleared"
	PhaseAcknowledged Phase = "acknowledged" // of a record only
	PhaseSnoozed      Phase = "snoozed"      // of a record only
)
