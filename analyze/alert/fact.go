package alert

import (
	"strings"
	"time"
)

// Key tells conditions apart: of one key at most one stands.
type Key struct {
	Kind Kind   `json:"kind"`
	Saw  string `json:"saw,omitempty"` // "" where it is of no saw
	// Of is what else it is of: the serial of a blade ("" too when nobody named it), a
	// type of blade, a finding, a channel.
	Of string `json:"of,omitempty"`
}

// String writes the key with slashes, for logs and for ordering by eye.
func (k Key) String() string {
	parts := []string{string(k.Kind)}
	for _, p := range []string{k.Saw, k.Of} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	return strings.Join(parts, "/")
}

// Words is what a person is told of a condition, in the shop's units and zone, each a
// sentence or a clause with its figures, their units, n and interval.
type Words struct {
	What   string   `json:"what"`             // one clause: what is the matter
	Sure   string   `json:"sure,omitempty"`   // how sure that is, or why nobody knows
	Check  []string `json:"check,omitempty"`  // what to look at first, in order
	Advice string   `json:"advice,omitempty"` // what Gullet would do, with spares
	Blade  string   `json:"blade,omitempty"`  // serial, where it is of one
	Path   string   `json:"path,omitempty"`   // of the page that shows it, joined to the link of the shop
	// Risky marks an advice on which somebody will reach for the band: the caution of
	// lock-out and gloves goes with it.
	Risky bool `json:"risky,omitempty"`
}

// Fact is what was found of one key at a look.
type Fact struct {
	Key
	Level float64 // in the unit of the kind; NaN is not known, which changes nothing
	// At is the time of the newest reading that it rests on, by the shop's clock. A fact
	// whose At lies back longer than the rule's Fresh raises nothing: it is history. The
	// zero time is that of the look.
	At    time.Time
	Since time.Time // when what it is about began; zero for the time of the look
	Mark  string    // what of it must be told anew when it changes
	Words Words
}

// Look is everything found at one time. A condition of a kind looked at of which there
// is no fact is over; all others stay as they are.
type Look struct {
	Kinds []Kind
	// Saws limits the look to these; nil is the whole shop. Conditions of no saw are
	// looked at only by a look at the whole shop.
	Saws  []string
	Facts []Fact
}
