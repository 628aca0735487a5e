package alert

import "time"

// Channel is where messages go, as far as what it is told is concerned.
type Channel struct {
	Name     string
	Severity Severity // the least that it is told of
	Kinds    []Kind   // that it is told of, nil for all
	Saws     []string // nil for all; conditions of no saw always count as one of these
	Digest   bool     // it is told what awaits each shift
	// After tells it only of what nobody has acknowledged so long after it was raised: a
	// channel to escalate to. 0 tells it at once.
	After time.Duration
	Quiet *Quiet        // nil for none
	Wait  time.Duration // a message that is not severe waits so long for others
	Flood int           // so many at once become one message, at least 2
	Cap   int           // messages in Per, of which the last is kept for the severe
	Per   time.Duration
	Keep  time.Duration // a message not delivered by then is dropped
}

// Message is one message to one channel, as it waits to be delivered.
type Message struct {
	ID       int64          `json:"id"` // given by the store
	Channel  string         `json:"channel"`
	Key      string         `json:"key"`    // of one channel and key there is one message
	Thread   string         `json:"thread"` // the same for all messages of one condition; "" for several
	At       time.Time      `json:"at"`
	Expires  time.Time      `json:"expires"`
	Severity Severity       `json:"severity"` // the worst of its items
	Items    []Item         `json:"items,omitempty"`
	Digest   *Digest        `json:"digest,omitempty"`
	Test     bool           `json:"test,omitempty"` // somebody tries the channel
	Standing map[string]int `json:"standing"`       // conditions that stand and the channel knows of, by severity
}

// Item is what a message says of one condition.
type Item struct {
	Condition int64     `json:"condition"`
	Version   int       `json:"version"`
	Phase     Phase     `json:"phase"`
	Key       Key       `json:"key"`
	Severity  Severity  `json:"severity"`
	Since     time.Time `json:"since"`
	Raised    time.Time `json:"raised"`
	Cleared   time.Time `json:"cleared,omitzero"`
	Level     float64   `json:"level"` // never NaN
	Unit      string    `json:"unit"`
	Words     Words     `json:"words"`
	Reason    string    `json:"reason"`
	Escalated bool      `json:"escalated,omitempty"`
}

// Digest is what awaits a shift.
type Digest struct {
	Shift    string    `json:"shift"`
	Start    time.Time `json:"start"`
	End      time.Time `json:"end"`
	Changes  []string  `json:"changes"`  // advised in it, one line each
	Spares   []string  `json:"spares"`   // of the types they need
	Findings []string  `json:"findings"` // that stand
	Downtime []string  `json:"downtime"` // yesterday in three lines
	Open     []string  `json:"open"`     // conditions that stand
	Doubts   []string  `json:"doubts"`
	Risky    bool      `json:"risky"` // a change is advised: the caution goes with it
}
