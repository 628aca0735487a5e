package vigil

import (
	"fmt"
	"math"
	"time"

	"gullet/analyze"
	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/floor"
)

const (
	// forgotten is how long a saw may be silent before nobody waits for it.
	forgotten = 7 * 24 * time.Hour
	// gapsLooked is how far back running numbers are looked for.
	gapsLooked = 24 * time.Hour
	// overtaken is how long a reading may be overtaken by later ones.
	overtaken = 5 * time.Minute
	// rejectedOver is the time over which rejected messages are counted.
	rejectedOver = time.Hour
)

// heard looks at whether each saw is heard and what its clock says.
func (q *quick) heard() error {
	for i := range q.floor.Saws {
		if s := &q.floor.Saws[i]; s.LastReading != nil {
			q.silent(s)
			q.clock(s)
		}
	}
	return nil
}

// silent tells for how much of its shifts a saw has sent nothing. One that said that it
// was switched off is not waited for, nor is one that said that it stands while the broker
// still has it: it has nothing to tell. One whose last will came is.
func (q *quick) silent(s *floor.Saw) {
	last := newest(s)
	if q.now.Sub(last) > forgotten || switchedOff(s) || standsOnline(s) && !drains(s, q.now) {
		return
	}
	c, known := q.calendar()
	if _, in := c.At(s.Saw, q.now); known && !in {
		return
	}
	f := alert.Fact{Key: alert.Key{Kind: alert.Silent, Saw: s.Saw}, Level: unknown, At: present(s), Since: last}
	f.Words = alert.Words{Path: path(s.Saw), Check: []string{"is the saw on", "its network cable or radio link", "the program on it that sends the readings"}}
	switch {
	case drains(s, q.now):
		f.Words.What, f.Words.Sure = "whether the saw is silent is not known", "its history is coming in"
	case !known:
		f.Words.What, f.Words.Sure = "whether the saw is silent is not known", "no [[shift]] is configured, and in which it works was not looked at yet"
	default:
		f.Level = math.Max(0, c.Worked(s.Saw, last, q.now).Minutes())
		f.Words.What = fmt.Sprintf("no reading since %s, %.0f min of its shifts", q.style().Moment(last, q.now), f.Level)
		f.Words.Sure = "by the time of its newest reading"
		if s.Online != nil && !*s.Online && s.OnlineSince != nil {
			f.Words.Sure = "the broker lost it at " + q.style().Moment(*s.OnlineSince, q.now)
		}
	}
	q.add(f)
}

// switchedOff reports whether the last that a saw said is that it is off.
func switchedOff(s *floor.Saw) bool {
	return s.State == string(analyze.StateOff) && s.Since != nil && !s.LastReading.At.After(*s.Since)
}

// standsOnline reports whether the last that a saw said is that it does not cut, and the
// broker has it still.
func standsOnline(s *floor.Saw) bool {
	return s.Online != nil && *s.Online && s.State != string(analyze.StateCutting) && s.Since != nil && !s.LastReading.At.After(*s.Since)
}

func (q *quick) clock(s *floor.Saw) {
	f := alert.Fact{Key: alert.Key{Kind: alert.ClockSkew, Saw: s.Saw}, Level: unknown, At: newest(s)}
	f.Words = alert.Words{
		What: "how far its clock is off is not known", Sure: "too few minutes with readings", Path: path(s.Saw),
		Check: []string{"time server of the saw's controller", "its time zone and the change to summer time"},
	}
	if c := s.ClockSkew; c != nil {
		f.Level = math.Abs(c.Seconds)
		f.Words.What = "its clock is " + clockOff(c.Seconds)
		f.Words.Sure = fmt.Sprintf("running median, n=%d minutes with readings", c.N)
	}
	q.add(f)
}

// clockOff writes how far a clock is behind.
func clockOff(seconds float64) string {
	switch {
	case math.Abs(seconds) < 0.5:
		return "right to the second"
	case seconds < 0:
		return fmt.Sprintf("%.0f s ahead", -seconds)
	}
	return fmt.Sprintf("%.0f s behind", seconds)
}

// gaps counts the running numbers of the last day that never came.
func (q *quick) gaps() error {
	list, err := q.Store.Gaps(q.ctx)
	if err != nil {
		return err
	}
	missing, since := map[string]int64{}, map[string]time.Time{}
	for i := range list {
		g := &list[i]
		s := q.saw(g.Saw)
		before := shopTime(s, g.Before)
		if before.Before(q.now.Add(-gapsLooked)) || before.After(q.now.Add(-overtaken)) {
			continue
		}
		missing[g.Saw] += g.Last - g.First + 1
		if after := shopTime(s, g.After); since[g.Saw].IsZero() || after.Before(since[g.Saw]) {
			since[g.Saw] = after
		}
	}
	for i := range q.floor.Saws {
		s := &q.floor.Saws[i]
		n := missing[s.Saw]
		if n == 0 {
			continue
		}
		q.add(alert.Fact{
			Key: alert.Key{Kind: alert.Missing, Saw: s.Saw}, Level: float64(n), At: newest(s), Since: since[s.Saw],
			Words: alert.Words{
				What:  fmt.Sprintf("%s missing from its numbering in the last 24 h, the first after %s", figures.Plural(n, "reading is", "readings are"), q.style().Moment(since[s.Saw], q.now)),
				Sure:  "counted; they never came, or were kept as rejected: the area of the blade may be too small",
				Check: []string{"rejected messages (gullet rejected list)", "its network at that time"}, Path: "readings",
			},
		})
	}
	return nil
}

// rejected counts the messages of the last hour that could not be stored as meant. In the
// first hour those before the first look are left out, and that there was none yet says
// nothing of a condition that stood before.
func (q *quick) rejected() error {
	since, over := q.now.Add(-rejectedOver), "in the last hour"
	if q.Began.After(since) {
		since, over = q.Began, "since "+q.style().Moment(q.Began, q.now)
	}
	n, err := q.RejectedSince(q.ctx, since)
	if err != nil {
		return err
	}
	level := float64(n)
	switch {
	case n > 0:
	case since.Equal(q.Began):
		level = unknown
	default:
		return nil
	}
	q.add(alert.Fact{
		Key: alert.Key{Kind: alert.Rejected}, Level: level,
		Words: alert.Words{
			What:  figures.Plural(n, "message was", "messages were") + " rejected " + over,
			Sure:  "counted by receipt; each is kept with its reason",
			Check: []string{"the reasons (gullet rejected list)", "what sends them, and whether it was changed"}, Path: "readings",
		},
	})
	return nil
}
