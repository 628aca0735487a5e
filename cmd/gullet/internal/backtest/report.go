package backtest

import (
	"time"

	"gullet/cmd/gullet/internal/figures"
)

// Report is what a backtest found. Areas are in in² weighted by all of the history, rates
// by area too. Every missing figure is null, and a member beside it says why.
type Report struct {
	MadeAt   time.Time  `json:"made_at"`
	From     *time.Time `json:"from"` // when the first blade that is judged was hung; null: none is
	To       *time.Time `json:"to"`   // the last
	Zone     string     `json:"zone"`
	Unit     string     `json:"unit"` // in2
	Currency string     `json:"currency"`
	Blades   int        `json:"blades"`          // hung from the date asked for on
	Told     int        `json:"foretold"`        // of those, whose life could be told when they were hung
	Earlier  int        `json:"learned_only"`    // hung before
	Asked    int        `json:"asked_to_follow"` // foretold, and new enough for their deviation to be followed
	Followed int        `json:"followed"`        // of those, whose deviation could be
	Learned  int        `json:"times_learned"`
	Risk     float64    `json:"risk,omitempty"` // the plan's target chance of an end before the change
	Types    []Type     `json:"types"`          // those whose changes can be weighed; more than one: all of them last
	Newest   []Type     `json:"newest"`         // the same of those asked to follow, where they are not all; the plan is judged there only
	LeftOut  []string   `json:"left_out"`       // types whose changes cannot be
	Windows  []Windows  `json:"windows"`
	Basis    []string   `json:"basis"` // how it is reckoned
	Doubts   []string   `json:"doubts"`
}

// AllTypes is the name of all types together.
const AllTypes = "all types"

// Type is what the policies would have come to for the blades of a type. All types
// together are each policy's costs of the same work: what the blades of each type really
// cut.
type Type struct {
	Type     string   `json:"type"`
	Blades   int      `json:"blades"`
	Ended    int      `json:"ended"`
	Pulled   int      `json:"pulled_early"`
	On       int      `json:"not_off"`  // still on a saw, or moved and not yet hung again
	Furthest *float64 `json:"furthest"` // weighted in² up to which policies can be judged; null: all the way
	Policies []Policy `json:"policies"`
}

// Policy is one way of changing blades.
type Policy struct {
	Policy    string            `json:"policy"`
	Age       *float64          `json:"age"`       // median age at which it changes a blade; null: never
	Never     int               `json:"never"`     // blades it runs to their end; of the plan those that came off before
	Known     int               `json:"known"`     // blades whose outcome under it is known
	Ends      int               `json:"ends"`      // of those in an unplanned change
	Beyond    *float64          `json:"beyond"`    // share of blades it runs further than can be judged
	Planned   *figures.Interval `json:"planned"`   // changes per 100,000 weighted in²
	Unplanned *figures.Interval `json:"unplanned"` // changes per 100,000 weighted in²
	Cost      *figures.Interval `json:"cost"`      // per 1,000 weighted in²
	More      *figures.Interval `json:"more"`      // cost less that of the first policy; null of that itself
	Why       string            `json:"why,omitempty"`
	Seen      int               `json:"ends_seen"` // blades that really ended
	Ahead     int               `json:"ends_ahead"`
	Given     *float64          `json:"given_away"` // mean weighted in² that those ahead still cut after the policy's change
}

// Windows is how what was foretold of the blades at one point of their lives held.
type Windows struct {
	Stage     string            `json:"stage"`
	Blades    int               `json:"blades"`
	Inside    int               `json:"inside"`
	Below     int               `json:"below"`
	Above     int               `json:"above"`
	Undecided int               `json:"undecided"`
	Decided   *figures.Interval `json:"inside_of_decided"` // no fair sample: long lives stay undecided
	Shares    []Share           `json:"shares"`
	Losses    []Loss            `json:"pinball"`
}

// Share is how often blades were done by a point of their window, against how often
// they were to be.
type Share struct {
	What   string            `json:"what"`
	Want   float64           `json:"want"`
	Blades int               `json:"blades"` // whose point lies no further than can be judged
	Known  int               `json:"known"`  // of those, whose outcome is known
	Share  *figures.Interval `json:"share"`
	Why    string            `json:"why,omitempty"`
}

// Loss is the mean pinball loss of a forecast in weighted in², at 10, 50 and 90 %, and
// the plan's of the same blades.
type Loss struct {
	Forecast string   `json:"forecast"`
	Blades   int      `json:"blades"`
	Loss     *Pinball `json:"loss"`
	Plan     *Pinball `json:"plan"`
}

// Pinball is a loss at three quantiles.
type Pinball struct {
	Q10 float64 `json:"q10"`
	Q50 float64 `json:"q50"`
	Q90 float64 `json:"q90"`
}
