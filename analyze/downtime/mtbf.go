package downtime

import (
	"fmt"
	"math"

	"gullet/analyze/internal/poisson"
)

// Estimate is a figure with its doubt. What is not known is NaN and never 0; a limit
// that the data do not set is 0 below and +Inf above. Why says so in words, and is
// empty where there is nothing to say.
type Estimate struct {
	Value, Low, High float64
	N                int     // events or durations it rests on
	Level            float64 // at which Low and High hold it, within [0.5, 0.9999]
	Why              string
}

// unknownEstimate is an estimate that says nothing.
func unknownEstimate(n int, level float64, why string) Estimate {
	return Estimate{math.NaN(), 0, math.Inf(1), n, level, why}
}

func checkLevel(level float64) error {
	if !(0.5 <= level && level <= 0.9999) {
		return fmt.Errorf("a level of %v: want one from 0.5 to 0.9999", level)
	}
	return nil
}

// greatestMeasure is beyond any time or area; squares and sums of less do not overflow.
const greatestMeasure = 1e100

// checkExposure refuses a time or an area that none can be.
func checkExposure(exposure float64) error {
	if !(0 <= exposure && exposure <= greatestMeasure) {
		return fmt.Errorf("%v watched: want a number from 0 to %v", exposure, greatestMeasure)
	}
	return nil
}

// TimeBase is the time that counts between failures. On calendar time a saw that
// stands idle looks reliable.
type TimeBase string

// The bases of a mean time between failures.
const (
	OperatingTime TimeBase = "operating time"
	BusyTime      TimeBase = "busy time"
	CalendarTime  TimeBase = "calendar time"
)

// TimeBases lists every base.
func TimeBases() []TimeBase { return []TimeBase{OperatingTime, BusyTime, CalendarTime} }

// DivisorNote is to stand where an MTBF is compared with one from elsewhere: the 2014
// text of ISO 22400-2 is remembered as dividing by one more, most practice divides by
// the failures [domain reference, section 6; from memory].
const DivisorNote = "divided by the failures; ISO 22400-2:2014 is remembered as dividing by the failures + 1"

// TimeBetween is a mean time between failures in the unit of Total, with what it was
// made from.
type TimeBetween struct {
	Estimate
	Total float64
	Base  TimeBase
}

// Formula is the figure's base and divisor in words.
func (m TimeBetween) Formula() string { return fmt.Sprintf("%s / failures", m.Base) }

// MTBF is the mean time between n failures over a total of time that was watched: the
// total over n, with two-sided limits
//
//	2·total/χ²((1+level)/2; 2n+2)   and   2·total/χ²((1-level)/2; 2n),
//
// those of a watch that stops at a given time. Without a failure the value is unknown
// and there is no upper limit; the lower one is then MTBFAtLeast, one-sided at the same
// level, and Why says so. Without time nothing is known.
//
// The limits take failures to come by chance alone at one rate: see TrendOf for whether
// they do, and count a failure with the restarts it brought as one.
//
// It fails on a total that is no time, a count below 0, a base that is none of
// TimeBases, and a level outside [0.5, 0.9999].
//
// Source: MIL-HDBK-338B, confidence limits of a mean life [from memory]; the domain
// reference, sections 5.1 and 6.
func MTBF(total float64, n int, base TimeBase, level float64) (TimeBetween, error) {
	m := TimeBetween{unknownEstimate(n, level, ""), total, base}
	if err := checkMTBF(total, n, level); err != nil {
		return TimeBetween{}, fmt.Errorf("MTBF: %w", err)
	}
	if base != OperatingTime && base != BusyTime && base != CalendarTime {
		return TimeBetween{}, fmt.Errorf("MTBF: base %q: want one of %q", base, TimeBases())
	}
	switch {
	case total == 0:
		m.Why = fmt.Sprintf("no %s was watched", base)
	case n == 0:
		m.Low = total / poisson.AtMost(0, level)
		m.Why = "no failure yet: only a lower limit, one-sided"
	default:
		few, many := poisson.Limits(n, level)
		m.Value, m.Low, m.High = total/float64(n), total/many, total/few
	}
	return m, nil
}

// MTBFAtLeast is the lower limit of a mean time between failures, one-sided at its
// level: 2·total/χ²(level; 2n+2), which is -total/ln(1-level) without a failure. It
// fails where MTBF does.
func MTBFAtLeast(total float64, n int, level float64) (float64, error) {
	if err := checkMTBF(total, n, level); err != nil {
		return 0, fmt.Errorf("lower limit of MTBF: %w", err)
	}
	return total / poisson.AtMost(n, level), nil
}

func checkMTBF(total float64, n int, level float64) error {
	if err := checkLevel(level); err != nil {
		return err
	}
	if n < 0 {
		return fmt.Errorf("%d failures: want 0 or more", n)
	}
	return checkExposure(total)
}
