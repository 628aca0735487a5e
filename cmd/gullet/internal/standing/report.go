package standing

import (
	"time"

	"gullet/analyze"
	"gullet/analyze/downtime"
)

// level is that of every interval of the report.
const level = 0.95

// Report is the answer of gullet downtime. Minutes are of elapsed time.
type Report struct {
	MadeAt time.Time `json:"made_at"`
	From   string    `json:"from"` // dates of shop days, both included
	To     string    `json:"to"`
	Zone   string    `json:"zone"`
	Only   Only      `json:"only"`

	Pareto      []Cause     `json:"pareto"`      // what the saws stood for unplanned, delay and down, by minutes
	Standing    Minutes     `json:"standing"`    // of those together, what the shares are of
	Planned     []Cause     `json:"planned"`     // setup without the handling between cuts, and planned downtime
	Unexplained Unexplained `json:"unexplained"` // of it
	By          *Grouping   `json:"by,omitempty"`
	Weeks       []Week      `json:"weeks"`             // this week and those before it, the latest first
	Long        []Stop      `json:"long"`              // the longest first
	LongFrom    float64     `json:"long_from_minutes"` // of working time
	LongMinutes float64     `json:"long_minutes"`      // to their ends
	LongInAll   int         `json:"long_in_all"`
	Blades      Blades      `json:"blades"`
	Saws        []SawReport `json:"saws"`
	All         SawReport   `json:"all"`        // of them together
	Contrasts   []Contrast  `json:"contrasts"`  // each saw beside all the others
	Recurrence  Recurrence  `json:"recurrence"` // of trips and breaks over the area of a blade
	Split       *Split      `json:"split,omitempty"`
	Lines       []Line      `json:"time_lines,omitempty"`
	Doubts      []string    `json:"doubts"`

	asides []string // of the doubts
}

// Only is what the report is narrowed to; "" is all.
type Only struct {
	Saw   string `json:"saw"`
	Shift string `json:"shift"`
}

// Minutes is a time with the events it is of.
type Minutes struct {
	Minutes float64 `json:"minutes"`
	Count   int     `json:"count"`
}

// Cause is one cause of standing.
type Cause struct {
	Cause   analyze.Cause    `json:"cause"`
	Element downtime.Element `json:"element"`
	Group   string           `json:"group"`
	Minutes float64          `json:"minutes"`
	Count   int              `json:"count"`    // stops that began in the time, those that belong to another not
	Share   *float64         `json:"share"`    // of the standing time; null where there is none
	ByCount int              `json:"by_count"` // rank by the number of stops, 1 the most
}

// Unexplained is what nobody has said the cause of.
type Unexplained struct {
	Minutes float64  `json:"minutes"`
	Count   int      `json:"count"`
	Share   *float64 `json:"share"`
}

// Grouping is the report's minutes by one thing.
type Grouping struct {
	By     string  `json:"by"` // saw, shift, weekday or grade
	Groups []Group `json:"groups"`
}

// Group is one saw, shift, weekday or grade.
type Group struct {
	Name        string           `json:"name"`
	Minutes     downtime.Minutes `json:"minutes"`
	Standing    Minutes          `json:"standing"`
	Unexplained float64          `json:"unexplained"` // minutes
	Top         []Cause          `json:"top"`         // the causes that take most, three at most
	Trips       int              `json:"trips"`
	Breaks      int              `json:"breaks"`
}

// Week is a week from Monday of shop days.
type Week struct {
	From        string                    `json:"from"`
	To          string                    `json:"to"`       // the last day of it that is in the report
	Complete    bool                      `json:"complete"` // all seven days are past, and of every saw that was heard of by then all of it
	Standing    Minutes                   `json:"standing"`
	Planned     float64                   `json:"planned_busy"`      // minutes, what Rate is per
	Rate        *float64                  `json:"standing_per_hour"` // minutes an hour of planned busy time
	Unexplained float64                   `json:"unexplained"`
	ByCause     map[analyze.Cause]float64 `json:"by_cause"` // minutes an hour of planned busy time
}

// Stop is one stop.
type Stop struct {
	Saw         string           `json:"saw"`
	From        time.Time        `json:"from"`
	To          time.Time        `json:"to"` // made_at while it is open
	Open        bool             `json:"open"`
	Minutes     float64          `json:"minutes"` // in working time
	Cause       analyze.Cause    `json:"cause"`
	Told        analyze.Cause    `json:"told"` // by the saw, "" for none
	Element     downtime.Element `json:"element"`
	Shift       string           `json:"shift"`
	Grade       string           `json:"grade"`
	Explained   int64            `json:"explained,omitempty"` // the record of the person who said so
	Suggestions []Suggestion     `json:"suggestions,omitempty"`
}

// Suggestion is a cause that an unexplained stop may have had.
type Suggestion struct {
	Cause   analyze.Cause `json:"cause"`
	Share   float64       `json:"share"` // its chance among stops like it
	Low     float64       `json:"low"`
	High    float64       `json:"high"`
	N       int           `json:"n"`       // explained stops that this is from
	Because []string      `json:"because"` // the circumstances that speak for it
}

// Blades is what blades cost in standing time.
type Blades struct {
	Changes Minutes  `json:"changes"` // planned
	Pulls   Minutes  `json:"pulls"`
	Breaks  Minutes  `json:"breaks"`
	Trips   Minutes  `json:"trips"`
	Area    float64  `json:"area"`                 // in² cut meanwhile
	Unknown int      `json:"area_unknown"`         // passes whose area is not known
	Per1000 *float64 `json:"minutes_per_1000_in2"` // of all four
	WhyPer  string   `json:"why,omitempty"`
}

// SawReport is one saw.
type SawReport struct {
	Saw      string           `json:"saw"`
	Calendar float64          `json:"calendar_minutes"`
	Since    *time.Time       `json:"since,omitempty"` // its first reading, where that lies within the time
	Minutes  downtime.Minutes `json:"minutes"`
	Model    downtime.Model   `json:"model"`
	MTBF     Between          `json:"mtbf"`
	MTTR     Between          `json:"mttr"`
	Repair   Repair           `json:"repair"`
	Trend    Trend            `json:"trend"` // of failures
	Trips    Trend            `json:"trips"` // of runs of trips: those within an hour of operating time of another belong to it
	Breaks   Trend            `json:"breaks"`
	Clashes  Minutes          `json:"clashes"` // in the metal while the saw was told to stand
}

// Figure is an estimate with its limits; nil is unknown, and Why says why.
type Figure struct {
	Value *float64 `json:"value"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
	N     int      `json:"n"`
	Why   string   `json:"why,omitempty"`
}

// Between is a mean time in minutes.
type Between struct {
	Figure
	Base string  `json:"base"`
	Over float64 `json:"over"` // minutes of the base
}

// Repair is within which time repairs are done, in minutes of working time.
type Repair struct {
	Half    Figure `json:"half"`
	Most    Figure `json:"most"` // 90 %
	Running int    `json:"running"`
}

// Trend is whether something gets more frequent over operating time.
type Trend struct {
	N       int                   `json:"n"`
	Laplace *float64              `json:"laplace"`
	P       *float64              `json:"p"`
	Shape   Figure                `json:"shape"` // of the power law: above 1 more and more frequent
	ShapeP  *float64              `json:"shape_p"`
	Change  Figure                `json:"change"` // second half over first, less 1
	Verdict downtime.TrendVerdict `json:"verdict"`
	Why     string                `json:"why,omitempty"`
}

// Line is the time line of one saw.
type Line struct {
	Saw       string    `json:"saw"`
	Stretches []Stretch `json:"stretches"`
}

// Stretch is time that counts as one element. Cuts and the handling between them are
// one stretch of production here.
type Stretch struct {
	From    time.Time        `json:"from"`
	To      time.Time        `json:"to"`
	Element downtime.Element `json:"element"`
	Cause   analyze.Cause    `json:"cause"`
	Part    bool             `json:"part_of_another"` // it belongs to a stop before it
}
