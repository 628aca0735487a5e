package downtime

import (
	"fmt"
	"math"
	"strconv"
)

// Minutes is how long a saw was in each element, in minutes of elapsed time. None is
// below 0.
type Minutes struct {
	Production  float64 `json:"production"`
	Setup       float64 `json:"setup"`
	Delay       float64 `json:"delay"`
	Down        float64 `json:"down"`
	PlannedDown float64 `json:"planned_down"`
	Unscheduled float64 `json:"unscheduled"`
	Unknown     float64 `json:"unknown"` // within shifts
}

// Of is where the minutes of an element are kept. What is no element is unknown.
func (m *Minutes) Of(e Element) *float64 {
	switch e {
	case Production:
		return &m.Production
	case Setup:
		return &m.Setup
	case Delay:
		return &m.Delay
	case Down:
		return &m.Down
	case PlannedDown:
		return &m.PlannedDown
	case Unscheduled:
		return &m.Unscheduled
	}
	return &m.Unknown
}

// Add puts other time to it, of another day or another saw.
func (m *Minutes) Add(other Minutes) {
	for _, e := range Elements() {
		*m.Of(e) += *other.Of(e)
	}
}

// Calendar is all of the time, whatever it was used for.
func (m Minutes) Calendar() float64 {
	total := 0.0
	for _, e := range Elements() {
		total += *m.Of(e)
	}
	return total
}

// Output is what came of the production. Only pieces that were finished count.
type Output struct {
	Pieces          int     `json:"pieces"`           // PQ
	Good            int     `json:"good"`             // GQ, finished without a trip or a break: saws tell no scrap
	Standard        float64 `json:"standard"`         // min that the pieces would have taken at the standard rate, PRI × PQ
	StandardUnknown int     `json:"standard_unknown"` // pieces without a known standard, which are not in it
}

// Figure is a ratio of times or pieces. Value divides by known time only, and is nil
// where there is nothing to divide by; Why says so then.
//
// Low and High are what it would be at the least and at the most, however the unknown
// time was really used; they equal Value where nothing is unknown or where unknown
// time does not bear on it. A figure that is known to be at least so much has a Low
// without Value and High.
type Figure struct {
	Value *float64 `json:"value"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
	Base  string   `json:"base"` // what it divides by, "planned busy time, 440 min"
	Why   string   `json:"why,omitempty"`
}

// Model is the time model of ISO 22400-2:2014 (as remembered: the text was not at
// hand) of the known time. Unscheduled time is outside of all of it.
//
// Effectiveness and quality are those of the cuts that are known. Pieces that may have
// been cut in unknown time are taken to be as fast and as good, so that the limits of
// OEE and NEE come from the time alone.
type Model struct {
	Minutes Minutes `json:"minutes"`
	Output  Output  `json:"output"`

	// Known time in minutes.
	PlannedOperation float64 `json:"planned_operation"` // POT = PDOT + ADOT + ADET + AUST + APT
	PlannedBusy      float64 `json:"planned_busy"`      // PBT = POT − PDOT
	Busy             float64 `json:"busy"`              // AUBT = PBT − ADOT
	Processing       float64 `json:"processing"`        // AUPT = AUBT − ADET

	Availability          Figure `json:"availability"`           // A = APT/PBT: setup counts as lost
	AllocationEfficiency  Figure `json:"allocation_efficiency"`  // AE = AUBT/PBT
	UtilisationEfficiency Figure `json:"utilisation_efficiency"` // UE = APT/AUBT
	TechnicalEfficiency   Figure `json:"technical_efficiency"`   // TE = APT/(APT + ADET)
	SetupRatio            Figure `json:"setup_ratio"`            // AUST/AUPT
	Effectiveness         Figure `json:"effectiveness"`          // E = PRI × PQ/APT, above 1 when faster than the standard
	QualityRatio          Figure `json:"quality_ratio"`          // Q = GQ/PQ
	OEE                   Figure `json:"oee"`                    // A × E × Q
	NEE                   Figure `json:"nee"`                    // AUPT/PBT × E × Q
	// Uptime = (PBT − ADOT − ADET)/PBT is none of the standard's: the trade's loose word
	// for a saw that was not stopped, in which setup counts as used.
	Uptime Figure `json:"uptime_production_and_setup"`
}

// NewModel works out the figures. Sums are built up from production, so that no part
// exceeds its whole by rounding.
func NewModel(m Minutes, o Output) Model {
	r := Model{Minutes: m, Output: o}
	r.Processing = m.Setup + m.Production
	r.Busy = m.Delay + r.Processing
	r.PlannedBusy = m.Down + r.Busy
	r.PlannedOperation = m.PlannedDown + r.PlannedBusy

	const plannedBusy = "planned busy time"
	r.Availability = shareOf(m.Production, plannedBusy, r.PlannedBusy, m.Unknown)
	r.AllocationEfficiency = shareOf(r.Busy, plannedBusy, r.PlannedBusy, m.Unknown)
	r.UtilisationEfficiency = shareOf(m.Production, "busy time", r.Busy, m.Unknown)
	r.TechnicalEfficiency = shareOf(m.Production, "time in production and delay", m.Delay+m.Production, m.Unknown)
	r.SetupRatio = shareOf(m.Setup, "time in production and setup", r.Processing, m.Unknown)
	r.Uptime = shareOf(r.Processing, plannedBusy, r.PlannedBusy, m.Unknown)
	r.Effectiveness = effectiveness(m, o)
	r.QualityRatio = quality(o)
	r.OEE = product(r.Availability, r.Effectiveness, r.QualityRatio)
	r.NEE = product(r.Uptime, r.Effectiveness, r.QualityRatio)
	return r
}

// Named is a figure with what people call it and how it is made.
type Named struct {
	Name    string
	Formula string
	Figure
}

// Figures lists the figures in the order people are shown them.
func (m *Model) Figures() []Named {
	return []Named{
		{"availability (A)", "production / planned busy time", m.Availability},
		{"allocation efficiency (AE)", "busy time / planned busy time", m.AllocationEfficiency},
		{"utilisation efficiency (UE)", "production / busy time", m.UtilisationEfficiency},
		{"technical efficiency (TE)", "production / (production + delay)", m.TechnicalEfficiency},
		{"setup ratio", "setup / (production + setup)", m.SetupRatio},
		{"effectiveness (E)", "standard time of the pieces / production", m.Effectiveness},
		{"quality ratio (Q)", "good pieces / pieces", m.QualityRatio},
		{"OEE", "A × E × Q", m.OEE},
		{"NEE", "(production + setup) / planned busy time × E × Q", m.NEE},
		{"uptime (production and setup)", "(production + setup) / planned busy time", m.Uptime},
	}
}

// shareOf is a part of a whole that it lies in. Of x minutes of the unknown time that
// were in the part and y in the rest of the whole, where x + y is at most the unknown
// time, (part + x)/(whole + x + y) rises with x and falls with y: it is least where
// all of it was in the rest, and most where all of it was in the part.
func shareOf(part float64, divisor string, whole, unknown float64) Figure {
	f := Figure{Base: timeBase(divisor, whole, unknown)}
	if !(whole > 0) {
		f.Why = noTime(divisor, unknown)
		return f
	}
	value, low, high := part/whole, part/(whole+unknown), (part+unknown)/(whole+unknown)
	f.Value, f.Low, f.High = &value, &low, &high
	return f
}

// effectiveness is the pace of the cuts that are known. Pieces without a standard may
// have taken any part of the production, so that it is then known only at the least.
func effectiveness(m Minutes, o Output) Figure {
	const divisor = "production time"
	f := Figure{Base: timeBase(divisor, m.Production, m.Unknown)}
	if !(m.Production > 0) {
		f.Why = noTime(divisor, m.Unknown)
		return f
	}
	pace := o.Standard / m.Production
	f.Low = &pace
	if o.StandardUnknown > 0 {
		f.Why = fmt.Sprintf("no standard rate is known for %d of %s", o.StandardUnknown, pieces(o.Pieces))
		return f
	}
	f.Value, f.High = &pace, &pace
	return f
}

func quality(o Output) Figure {
	f := Figure{Base: pieces(o.Pieces) + " finished; good are those without a trip or a break, as saws tell no scrap"}
	if o.Pieces <= 0 {
		f.Why = "no piece is known to be finished"
		return f
	}
	q := float64(o.Good) / float64(o.Pieces)
	f.Value, f.Low, f.High = &q, &q, &q
	return f
}

// product is a share of time with the pace and the quality in it. No factor is below
// 0, so the limits of the factors make those of the product.
func product(time, pace, good Figure) Figure {
	f := Figure{
		Value: times(time.Value, pace.Value, good.Value),
		Low:   times(time.Low, pace.Low, good.Low),
		High:  times(time.High, pace.High, good.High),
		Base:  time.Base,
	}
	for _, factor := range []Figure{good, pace, time} {
		if factor.Why != "" {
			f.Why = factor.Why
		}
	}
	return f
}

// times is nil where a factor is.
func times(factors ...*float64) *float64 {
	product := 1.0
	for _, x := range factors {
		if x == nil {
			return nil
		}
		product *= *x
	}
	return &product
}

// timeBase is a divisor in words. Where some time is unknown it says that the minutes
// are those known.
func timeBase(divisor string, minutes, unknown float64) string {
	base := divisor + ", " + inMinutes(minutes)
	if unknown > 0 {
		base += " known"
	}
	return base
}

// noTime says why there is nothing to divide by.
func noTime(divisor string, unknown float64) string {
	if unknown > 0 {
		return fmt.Sprintf("no %s is known, and %s are unknown", divisor, inMinutes(unknown))
	}
	return "there was no " + divisor
}

// inMinutes writes minutes to a tenth, which is finer than saws tell their states.
func inMinutes(minutes float64) string {
	return strconv.FormatFloat(math.Round(minutes*10)/10, 'f', -1, 64) + " min"
}

func pieces(n int) string {
	if n == 1 {
		return "1 piece"
	}
	return fmt.Sprintf("%d pieces", n)
}
