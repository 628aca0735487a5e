package standing

import (
	"time"

	"gullet/analyze/downtime"
)

const (
	// suggestions are how many causes are suggested for one stop.
	suggestions = 2
	// justBefore is how long before a stop a trip or break may be that ended the cut
	// before it: the saw's clock may tell the stop a little later.
	justBefore = time.Minute
	// freshBlade is how long before a stop a blade may have been fitted to matter.
	freshBlade = 30 * time.Minute
)

// suggest gives unexplained stops the causes that stops like them had, of all the days
// gathered.
func (b *builder) suggest(list []Stop) {
	var known []downtime.Explained
	open := map[string]map[downtime.Moment]downtime.Circumstance{}
	for i := range b.data.Saws {
		s := &b.data.Saws[i]
		open[s.Name] = map[downtime.Moment]downtime.Circumstance{}
		b.surroundings(s, func(stop *downtime.DayStop, c downtime.Circumstance) {
			if stop.Cause == downtime.Unexplained {
				open[s.Name][stop.From] = c
				return
			}
			known = append(known, downtime.Explained{Circumstance: c, Cause: stop.Cause})
		})
	}
	adviser := downtime.NewAdviser(known)
	for i := range list {
		c, ok := open[list[i].Saw][downtime.MomentOf(list[i].From)]
		if !ok {
			continue
		}
		for _, s := range adviser.Suggest(c, suggestions) {
			list[i].Suggestions = append(list[i].Suggestions, Suggestion{
				Cause: s.Cause, Share: s.Share, Low: s.Low, High: s.High, N: s.N, Because: s.Because,
			})
		}
	}
}

// surroundings goes through a saw's stops that are events of their own, with what
// surrounds each.
func (b *builder) surroundings(s *Saw, f func(*downtime.DayStop, downtime.Circumstance)) {
	var before *downtime.DayStop
	var tripped, fitted downtime.Moment
	for i := range s.Days {
		day := &s.Days[i]
		mark := 0
		for k := range day.Stops {
			stop := &day.Stops[k]
			if !stop.Own() || stop.Worked <= 0 {
				continue
			}
			for ; mark < len(day.Marks) && day.Marks[mark].At <= stop.From; mark++ {
				switch m := &day.Marks[mark]; m.Kind {
				case downtime.MarkTrip, downtime.MarkBreak:
					tripped = m.At
				case downtime.MarkFit:
					fitted = m.At
				}
			}
			at := stop.From.Time().In(b.data.zone())
			c := downtime.Circumstance{
				Saw: s.Name, Shift: stop.Shift, Grade: stop.Grade, Minute: at.Hour()*60 + at.Minute(), Worked: stop.Worked,
				Trip:    tripped != 0 && at.Sub(tripped.Time()) <= justBefore,
				BladeOn: fitted != 0 && at.Sub(fitted.Time()) <= freshBlade,
			}
			if before != nil {
				c.After, c.Since = before.Cause, at.Sub(before.To.Time())
			}
			f(stop, c)
			before = stop
		}
	}
}
