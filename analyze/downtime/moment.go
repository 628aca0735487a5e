package downtime

import "time"

// Moment is a time in microseconds since 1970 UTC, as the store keeps them. A year
// of a saw has some hundred thousand stretches, which are compared a lot.
type Moment int64

// MomentOf is a time to the microsecond.
func MomentOf(t time.Time) Moment { return Moment(t.UnixMicro()) }

// Time is the moment in UTC.
func (m Moment) Time() time.Time { return time.UnixMicro(int64(m)).UTC() }

// add is a duration later.
func (m Moment) add(d time.Duration) Moment { return m + Moment(d.Microseconds()) }

// to is the time from one moment to another.
func (m Moment) to(other Moment) time.Duration { return time.Duration(other-m) * time.Microsecond }
