// Package figures writes numbers, areas, lengths and times the way a shop reads
// them: in its units and its time zone, to no more digits than they are good
// for. It knows no saw and no blade.
package figures

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Style is how a shop wants to read figures.
type Style struct {
	Zone   *time.Location
	Metric bool // areas in cm², lengths in mm
}

// Interval is an estimate with its 95 % limits; a limit that the data do not
// reach is nil.
type Interval struct {
	Value float64  `json:"value"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
}

// Interval writes an estimate with its limits; a limit that the data do not
// reach is said so.
func (s Style) Interval(i Interval, number func(float64) string) string {
	if i.Low == nil && i.High == nil {
		return number(i.Value) + " (no limits)"
	}
	limit := func(x *float64) string {
		if x == nil {
			return "not reached"
		}
		return number(*x)
	}
	return fmt.Sprintf("%s (%s to %s)", number(i.Value), limit(i.Low), limit(i.High))
}

// Limits is an estimate whose limits may be infinite or not numbers: the data do
// not set those.
func Limits(value, low, high float64) Interval {
	return Interval{Value: value, Low: Finite(low), High: Finite(high)}
}

// Finite is nil for what is infinite or not a number.
func Finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

const (
	cm2PerIn2 = 6.4516
	mmPerInch = 25.4
)

// Areas is a number of in² in the shop's unit.
func (s Style) Areas(in2 float64) float64 {
	if s.Metric {
		return in2 * cm2PerIn2
	}
	return in2
}

// AreaUnit is the unit areas are written in.
func (s Style) AreaUnit() string {
	if s.Metric {
		return "cm²"
	}
	return "in²"
}

// LengthUnit is the unit lengths are written in.
func (s Style) LengthUnit() string {
	if s.Metric {
		return "mm"
	}
	return "in"
}

// Area writes an estimated area.
func (s Style) Area(in2 float64) string { return Thousands(s.Estimated(in2)) }

// Estimated is an area in the shop's unit to three figures: neither the bar's mill
// tolerance nor the estimate is better than that.
func (s Style) Estimated(in2 float64) float64 { return threeFigures(s.Areas(in2)) }

// Whole writes a counted area.
func (s Style) Whole(in2 float64) string { return Thousands(s.Counted(in2)) }

// Counted is an area in the shop's unit, to the unit.
func (s Style) Counted(in2 float64) float64 { return math.Round(s.Areas(in2)) }

// Length writes a signed length.
func (s Style) Length(in float64) string {
	if s.Metric {
		return Signed(in*mmPerInch, 2)
	}
	return Signed(in, 4)
}

// Signed writes a number with its sign, and a zero without one.
func Signed(x float64, decimals int) string {
	text := fmt.Sprintf("%+.*f", decimals, x)
	if strings.Trim(text, "+-0.") == "" {
		return text[1:]
	}
	return text
}

func threeFigures(x float64) float64 {
	if x < 1 {
		return math.Round(x)
	}
	step := math.Pow(10, math.Max(0, math.Floor(math.Log10(x))-2))
	return math.Round(x/step) * step
}

// Thousands writes a whole number with commas.
func Thousands(x float64) string {
	digits := strconv.FormatFloat(math.Abs(x), 'f', 0, 64)
	groups := []string{}
	for len(digits) > 3 {
		groups = append(groups, digits[len(digits)-3:])
		digits = digits[:len(digits)-3]
	}
	groups = append(groups, digits)
	slices.Reverse(groups)
	out := strings.Join(groups, ",")
	if x < 0 {
		out = "-" + out
	}
	return out
}

// Moment writes a time of day, with its day when that is not today.
func (s Style) Moment(t, now time.Time) string {
	t, now = t.In(s.Zone), now.In(s.Zone)
	switch {
	case t.Format(time.DateOnly) == now.Format(time.DateOnly):
		return t.Format("15:04")
	case now.Sub(t) < 6*24*time.Hour:
		return t.Format("Mon 15:04")
	default:
		return t.Format("2 Jan 2006 15:04")
	}
}

// Day writes a forecast day, with its year when that is not this year: the pace
// is too rough for an hour.
func (s Style) Day(t, now time.Time) string {
	t = t.In(s.Zone)
	if t.Year() != now.In(s.Zone).Year() {
		return t.Format("2 Jan 2006")
	}
	return t.Format("Mon 2 Jan")
}

// Age writes a time span in its largest fitting unit.
func Age(d time.Duration) string {
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%d s", max(0, int(d.Seconds())))
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h", int(d.Hours()))
	default:
		return fmt.Sprintf("%d d", int(d.Hours()/24))
	}
}
