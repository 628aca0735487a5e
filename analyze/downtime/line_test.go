package downtime

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/shift"
)

// day0 is a Monday.
var day0 = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// clock reads "14:05", "14:05:30" or "1d 06:00" as a moment of day0 or of a day after.
func clock(t testing.TB, s string) Moment {
	t.Helper()
	days := 0
	if d, rest, ok := strings.Cut(s, "d "); ok {
		if _, err := fmt.Sscan(d, &days); err != nil {
			t.Fatal(err)
		}
		s = rest
	}
	if len(s) == len("14:05") {
		s += ":00"
	}
	at, err := time.Parse(time.TimeOnly, s)
	if err != nil {
		t.Fatal(err)
	}
	return MomentOf(day0.AddDate(0, 0, days).Add(time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute + time.Duration(at.Second())*time.Second))
}

// told reads one saw's words, one a line:
//
//	06:10 cut 5m, 06:20 trip 3m, 06:20 break 1m (0m: not known how long)
//	06:30 remove dull, 06:40 fit, 06:00 online, 06:00 gone
//	06:45 stopped fault, 06:50 cutting
func told(t testing.TB, text string) Readings {
	t.Helper()
	r := Readings{TellsCuts: true}
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		f := strings.Fields(line)
		if strings.HasSuffix(f[0], "d") {
			f = append([]string{f[0] + " " + f[1]}, f[2:]...)
		}
		f = append(f, "", "")
		at := clock(t, f[0])
		switch f[1] {
		case "cut", "trip", "break":
			long, err := time.ParseDuration(f[2])
			if err != nil {
				t.Fatal(err)
			}
			r.Passes = append(r.Passes, Pass{From: at.add(-long), To: at, Kind: analyze.Kind(f[1]), Grade: f[3], Piece: true})
		case "fit", "remove":
			r.Blades = append(r.Blades, Blade{At: at, Action: analyze.BladeAction(f[1]), Reason: analyze.EndReason(f[2])})
		case "missing":
			r.Missing = append(r.Missing, Missing{at, clock(t, f[2])})
		case "states-only":
			r.TellsCuts = false
		case "online", "gone":
			r.Online = append(r.Online, Online{At: at, Online: f[1] == "online"})
		default:
			r.States = append(r.States, State{At: at, State: analyze.State(f[1]), Cause: analyze.Cause(f[2]), Seq: int64(len(r.States))})
		}
	}
	return r
}

// shop works from 06:00 to 14:00 with a break, and from 14:00 to 22:00.
func shop(t testing.TB, closed ...shift.Closure) *shift.Calendar {
	t.Helper()
	return &shift.Calendar{
		Zone: time.UTC, Rules: []shift.Rule{rule(t, "early", "06:00-14:00", "10:00-10:30"), rule(t, "late", "14:00-22:00")}, Closed: closed,
	}
}

func someRules() *Rules {
	return &Rules{Meanings: NewMeanings(nil), Minor: 3 * time.Minute, BetweenCuts: 10 * time.Minute, Restart: 10 * time.Minute, ToldFor: 12 * time.Hour}
}

func (m Moment) short() string {
	days := int(m.Time().Sub(day0) / (24 * time.Hour))
	text := strings.TrimSuffix(m.Time().Format(time.TimeOnly), ":00")
	if days > 0 {
		text = fmt.Sprintf("%dd %s", days, text)
	}
	return text
}

// lineText is a time line as a person would write it.
func lineText(l *Line) string {
	var b strings.Builder
	for _, s := range l.Stretches {
		fmt.Fprintf(&b, "%s %s", s.From.short(), s.Element)
		if s.Cause != "" {
			fmt.Fprintf(&b, " %s", s.Cause)
		}
		if s.Clash {
			b.WriteString(" clash")
		}
		if s.Stop >= 0 {
			stop := l.Stops[s.Stop]
			if !stop.Own() {
				fmt.Fprintf(&b, " of %s", stop.Parent.short())
			}
			if stop.Minor {
				b.WriteString(" minor")
			}
		}
		b.WriteString("\n")
	}
	fmt.Fprintf(&b, "%s\n", l.Stretches[len(l.Stretches)-1].To.short())
	return b.String()
}

func TestLine(t *testing.T) {
	for _, c := range []struct{ name, from, to, told, want string }{
		{"nothing is told", "08:00", "09:00", "", `
			08:00 unknown
			09:00`},
		{"cuts with handling between them, and one that is running", "08:00", "08:30", `
			07:55 cutting
			08:05 cut 4m
			08:12 cut 5m
			08:20 cut 5m`, `
			08:00 setup between-cuts
			08:01 production
			08:05 setup between-cuts
			08:07 production
			08:12 setup between-cuts
			08:15 production
			08:20 unknown
			08:30`},
		{"a stop with its cause", "08:00", "08:30", `
			08:00 cut 5m
			08:02 stopped waiting-crane
			08:20 cutting
			08:25 cut 4m
			08:30 cut 4m`, `
			08:00 setup between-cuts
			08:02 down waiting-crane
			08:20 setup between-cuts
			08:21 production
			08:25 setup between-cuts
			08:26 production
			08:30`},
		{"a cause that is told later", "08:00", "08:30", `
			08:00 cut 5m
			08:00 stopped
			08:05 stopped fault
			08:25 cutting
			08:30 cut 5m`, `
			08:00 down fault
			08:25 production
			08:30`},
		{"a short stop", "08:00", "08:10", `
			08:00 cut 5m
			08:00 stopped
			08:02 cutting
			08:10 cut 8m`, `
			08:00 down unexplained minor
			08:02 production
			08:10`},
		{"a break, the change and the restart are one", "08:00", "09:00", `
			08:00 break 5m
			08:01 stopped
			08:05 remove broke-weld
			08:30 fit
			08:30 stopped setup
			08:35 cutting
			08:40 cut 5m
			08:42 stopped chips
			08:46 cutting
			08:50 cut 4m
			08:52 stopped fault
			09:00 cutting`, `
			08:00 delay blade-break
			08:35 production
			08:40 setup between-cuts
			08:42 delay blade-break of 08:00
			08:46 production
			08:50 setup between-cuts
			08:52 down fault
			09:00`},
		{"a trip that ends in a pull", "08:00", "08:40", `
			08:00 trip 5m
			08:02 stopped blade-change
			08:05 remove crooked
			08:20 fit
			08:30 cutting
			08:40 cut 10m`, `
			08:00 delay blade-pull
			08:30 production
			08:40`},
		{"a trip, cleared", "08:00", "08:20", `
			08:00 trip 5m
			08:05 cutting
			08:20 cut 14m`, `
			08:00 delay deviation-trip
			08:05 setup between-cuts
			08:06 production
			08:20`},
		{"a planned change without a word of the state", "08:00", "08:30", `
			07:59 cutting
			08:00 cut 1m
			08:01 remove planned
			08:15 fit
			08:30 cut 10m`, `
			08:00 setup between-cuts
			08:01 setup blade-change
			08:15 setup between-cuts
			08:20 production
			08:30`},
		{"a cut runs while the saw is told to be idle", "08:00", "08:30", `
			08:00 cut 5m
			08:00 idle
			08:20 cut 10m
			08:30 cut 8m`, `
			08:00 down unexplained
			08:10 production clash
			08:20 setup between-cuts
			08:22 production
			08:30`},
		{"no cut for long, of a saw that is there", "08:00", "09:00", `
			06:00 online
			08:00 cut 5m
			08:30 cut 5m
			09:00 stopped`, `
			08:00 down unexplained
			08:25 production
			08:30 down unexplained
			09:00`},
		{"no cut for long, of a saw of which nobody knows", "08:00", "08:30", `
			08:00 cut 5m
			08:30 cut 5m`, `
			08:00 unknown
			08:25 production
			08:30`},
		{"no cut for long, of a saw whose readings are missing", "08:00", "09:00", `
			06:00 online
			08:00 cut 5m
			08:00 missing 08:30
			08:30 cut 5m
			09:00 stopped`, `
			08:00 unknown
			08:25 production
			08:30 down unexplained
			09:00`},
		{"gone, and back with its state as it was", "08:00", "09:00", `
			06:00 online
			08:00 cut 5m
			08:10 stopped fault
			08:20 gone
			08:40 online
			09:00 cutting`, `
			08:00 setup between-cuts
			08:10 down fault
			08:20 unknown
			08:40 down fault of 08:10
			09:00`},
		{"a replay of what was cut while it was gone", "08:00", "08:40", `
			06:00 online
			08:00 cut 5m
			08:01 gone
			08:10 cut 5m
			08:18 cut 5m
			08:20 online
			08:40 cut 19m`, `
			08:00 setup between-cuts
			08:01 unknown
			08:05 production
			08:10 setup between-cuts
			08:13 production
			08:18 setup between-cuts
			08:21 production
			08:40`},
		{"a standstill is not believed for ever", "08:00", "23:00", `
			08:00 stopped fault`, `
			08:00 down fault
			10:00 unscheduled fault
			10:30 down fault
			14:00 down fault
			20:00 unknown
			22:00 unscheduled
			23:00`},
		{"a saw that tells its states alone", "08:00", "08:30", `
			07:00 states-only
			08:00 cutting
			08:10 stopped chips
			08:20 cutting
			08:30 stopped`, `
			08:00 production
			08:10 delay chips
			08:20 production
			08:30`},
		{"lunch is no stop", "09:50", "10:50", `
			06:00 online
			09:56 cut 6m
			10:34 cut 2m
			10:50 cut 15m`, `
			09:50 production
			09:56 setup between-cuts
			10:00 unscheduled
			10:30 setup between-cuts
			10:32 production
			10:34 setup between-cuts
			10:35 production
			10:50`},
		{"a cut over the end of the shift, overtime and home", "21:50", "1d 06:10", `
			21:40 cutting
			22:20 cut 30m
			22:40 cut 15m
			22:41 off
			1d 06:00 idle setup
			1d 06:10 cutting`, `
			21:50 production
			22:00 production
			22:20 setup between-cuts
			22:25 production
			22:40 setup between-cuts
			22:41 unscheduled unexplained
			1d 00:00 unscheduled unexplained
			1d 06:00 setup setup
			1d 06:10`},
		{"lockout before maintenance", "08:00", "09:00", `
			08:00 cut 5m
			08:01 stopped lockout
			08:10 stopped maintenance
			08:50 cutting
			09:00 cut 9m`, `
			08:00 setup between-cuts
			08:01 planned-down maintenance
			08:50 setup between-cuts
			08:51 production
			09:00`},
		{"an emergency stop, then a lock", "08:00", "08:30", `
			08:00 cut 5m
			08:00 stopped emergency-stop
			08:01 stopped lockout
			08:10 idle
			08:20 cutting
			08:30 cut 9m`, `
			08:00 delay emergency-stop
			08:20 setup between-cuts
			08:21 production
			08:30`},
		{"off in a shift, and gone", "08:00", "10:00", `
			06:00 online
			08:00 cut 5m
			08:05 off
			08:06 gone
			09:30 online
			09:30 idle setup
			10:00 cut 10m`, `
			08:00 setup between-cuts
			08:05 down unexplained minor
			08:06 unknown
			09:30 setup setup
			09:50 production clash
			10:00`},
		{"a trip whose state comes a second before it", "08:00", "08:10", `
			08:00:00 trip 5m
			07:59:59 stopped deviation-trip
			08:05 cutting
			08:10 cut 5m`, `
			08:00 delay deviation-trip
			08:05 production
			08:10`},
		{"a trip whose state comes a second after it", "08:00", "08:10", `
			08:00:00 trip 5m
			08:00:01 stopped
			08:05 cutting
			08:10 cut 5m`, `
			08:00 delay deviation-trip
			08:05 production
			08:10`},
		{"a trip whose state and cause come a second after it", "08:00", "08:10", `
			08:00:00 trip 5m
			08:00:01 stopped deviation-trip
			08:05 cutting
			08:10 cut 5m`, `
			08:00 delay deviation-trip
			08:05 production
			08:10`},
		{"the count is done, then setup, then waiting: three stops", "08:00", "08:40", `
			08:00 cut 5m
			08:00 idle count-done
			08:02 idle setup
			08:10 idle waiting-crane
			08:30 cutting
			08:40 cut 9m`, `
			08:00 setup count-done
			08:02 setup setup
			08:10 down waiting-crane
			08:30 setup between-cuts
			08:31 production
			08:40`},
		{"a blade removed before the end of the shift, fitted the next day", "21:40", "1d 06:30", `
			06:00 online
			21:40 cut 5m
			21:45 remove planned
			21:50 off
			1d 06:00 idle
			1d 06:10 fit
			1d 06:20 cut 5m
			1d 06:30 cut 9m`, `
			21:40 setup between-cuts
			21:45 setup blade-change
			22:00 unscheduled blade-change
			1d 00:00 unscheduled blade-change
			1d 06:00 setup blade-change
			1d 06:15 production clash
			1d 06:20 setup between-cuts
			1d 06:21 production
			1d 06:30`},
		{"told to be there every minute", "08:00", "08:30", `
			08:00 cut 5m
			08:01 online
			08:02 online
			08:03 online
			08:09 cut 5m
			08:10 online
			08:11 online
			08:15 gone
			08:15 online
			08:16 online
			08:30 cut 5m`, `
			08:00 setup between-cuts
			08:04 production
			08:09 down unexplained
			08:25 production
			08:30`},
		{"a break in overtime", "22:00", "23:30", `
			21:55 cutting
			22:10 break 12m
			22:15 remove broke-weld
			22:40 fit
			22:45 cutting
			23:00 cut 14m
			23:01 off`, `
			22:00 production
			22:10 unscheduled blade-break
			22:45 setup between-cuts
			22:46 production
			23:00 setup between-cuts
			23:01 unscheduled unexplained
			23:30`},
		{"a break in overtime, mended in the next shift", "22:00", "1d 06:30", `
			21:55 cutting
			22:10 break 12m
			22:15 off
			1d 06:00 stopped blade-change
			1d 06:20 cutting
			1d 06:30 cut 9m`, `
			22:00 production
			22:10 unscheduled blade-break
			1d 00:00 unscheduled blade-break
			1d 06:00 delay blade-break
			1d 06:20 setup between-cuts
			1d 06:21 production
			1d 06:30`},
		{"states a few seconds beside their cuts are no conflict", "08:00", "08:20", `
			08:00 cutting
			08:04:57 idle
			08:05 cut 4m
			08:12:02 cutting
			08:20 cut 8m`, `
			08:00 setup between-cuts
			08:01 production
			08:05 down unexplained
			08:12 production
			08:20`},
		{"cuts after a trip and a change of which nothing else is told", "08:00", "08:40", `
			08:00 trip 5m
			08:10 cut 5m
			08:12 remove planned
			08:30 trip 10m
			08:40 cut 9m`, `
			08:00 delay deviation-trip
			08:05 production
			08:10 setup between-cuts
			08:12 setup blade-change
			08:20 production
			08:30 delay deviation-trip minor
			08:31 production
			08:40`},
		{"a dull blade found out by a trip", "08:00", "08:40", `
			08:00 trip 5m
			08:02 stopped
			08:05 remove dull
			08:20 fit
			08:30 cutting
			08:40 cut 10m`, `
			08:00 delay blade-pull
			08:30 production
			08:40`},
		{"a crooked blade found out by a trip, and no state told", "08:00", "08:40", `
			08:00 trip 5m
			08:05 remove crooked
			08:20 fit
			08:40 cut 15m`, `
			08:00 delay blade-pull
			08:20 setup between-cuts
			08:25 production
			08:40`},
		{"a planned change after a trip", "08:00", "08:40", `
			08:00 trip 5m
			08:02 stopped
			08:05 remove planned
			08:20 fit
			08:30 cutting
			08:40 cut 10m`, `
			08:00 delay deviation-trip
			08:05 setup blade-change
			08:30 production
			08:40`},
		{"a break after a cut of which it is not known how long it took", "08:00", "09:00", `
			06:00 online
			08:00 cut 5m
			08:25 break 0m
			08:50 cutting
			09:00 cut 10m`, `
			08:00 unknown
			08:25 delay blade-break
			08:50 production
			09:00`},
		{"a break told once more in the same standstill is one", "08:00", "09:00", `
			08:00 break 5m
			08:05 stopped fault
			08:20 stopped blade-break
			08:30 remove stripped
			08:50 cutting
			09:00 cut 10m`, `
			08:00 delay blade-break
			08:05 down fault
			08:20 delay blade-break of 08:00
			08:50 production
			09:00`},
		{"a second break soon after the first is another", "08:00", "08:30", `
			08:00 break 5m
			08:10 cutting
			08:15 break 2m
			08:25 cutting
			08:30 cut 5m`, `
			08:00 delay blade-break
			08:10 setup between-cuts
			08:13 production
			08:15 delay blade-break
			08:25 production
			08:30`},
		{"handling in overtime, the saw found to be there meanwhile", "22:00", "22:40", `
			21:59 cutting
			22:05 cut 4m
			22:10 online
			22:20 cut 4m
			22:25 online
			22:40 cut 4m`, `
			22:00 setup between-cuts
			22:01 production
			22:05 unscheduled
			22:16 production
			22:20 unscheduled
			22:36 production
			22:40`},
		{"a blade that came off as the cut ended, by another clock", "08:00", "08:30", `
			07:59 cutting
			07:59:58 remove planned
			08:00 cut 1m
			08:15 fit
			08:30 cut 10m`, `
			08:00 setup blade-change
			08:15 setup between-cuts
			08:20 production
			08:30`},
		{"a short stop after a pull is part of it", "08:00", "08:30", `
			08:00 cut 5m
			08:00 stopped blade-change
			08:05 remove stripped
			08:10 cutting
			08:20 cut 5m
			08:20 stopped chips
			08:22 cutting
			08:30 cut 8m`, `
			08:00 delay blade-pull
			08:10 setup between-cuts
			08:15 production
			08:20 delay blade-pull of 08:00
			08:22 production
			08:30`},
	} {
		t.Run(c.name, func(t *testing.T) {
			checkLine(t, shop(t), c.from, c.to, c.told, nil, c.want)
		})
	}
}

// checkLine builds the line of a saw by what it told and what a person said of it.
func checkLine(t *testing.T, shop *shift.Calendar, from, to, words string, said []Explanation, want string) {
	t.Helper()
	begin, end := clock(t, from), clock(t, to)
	cal := NewCalendar(shop, "s1", begin.Time(), end.Time())
	line := Build(told(t, words), cal, someRules(), said, begin, end)
	checkSums(t, line, begin, end)
	if got, want := lineText(line), strings.ReplaceAll(strings.TrimPrefix(want, "\n"), "\t", "")+"\n"; got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

// A closure is planned downtime but for what is produced in it.
func TestClosures(t *testing.T) {
	for _, c := range []struct{ name, from, to, closed, told, want string }{
		{"work in a closure", "08:00", "10:30", "08:08-09:40", `
			07:55 cutting
			08:05 cut 8m
			08:10 stopped maintenance
			09:10 cutting
			09:20 cut 9m
			09:24 cut 3m
			09:30 off
			10:30 idle`, `
			08:00 production
			08:05 setup between-cuts
			08:08 setup between-cuts
			08:10 planned-down closed
			09:10 setup between-cuts
			09:11 production
			09:20 setup between-cuts
			09:21 production
			09:24 setup between-cuts
			09:30 planned-down closed
			09:40 down unexplained
			10:00 unscheduled unexplained
			10:30`},
		{"a stop that begins in a closure", "08:00", "09:00", "08:00-08:30", `
			06:00 online
			08:10 idle
			08:40 stopped fault
			09:00 cutting`, `
			08:00 planned-down closed
			08:10 planned-down closed
			08:30 down unexplained
			08:40 down fault
			09:00`},
	} {
		t.Run(c.name, func(t *testing.T) {
			from, to, _ := strings.Cut(c.closed, "-")
			closed := shift.Closure{From: clock(t, from).Time(), To: clock(t, to).Time()}
			checkLine(t, shop(t, closed), c.from, c.to, c.told, nil, c.want)
		})
	}
}

// What persons say is laid over the stop at that moment; said is the moment and the
// cause, one a line.
func TestExplanations(t *testing.T) {
	for _, c := range []struct{ name, from, to, said, told, want string }{
		{"of a stop", "08:00", "08:40", "08:10 no-operator", `
			08:00 cut 5m
			08:00 stopped
			08:20 cutting
			08:40 cut 19m`, `
			08:00 down no-operator
			08:20 setup between-cuts
			08:21 production
			08:40`},
		{"of production: of no stop", "08:00", "08:40", "08:30 no-operator", `
			08:00 cut 5m
			08:00 stopped
			08:20 cutting
			08:40 cut 19m`, `
			08:00 down unexplained
			08:20 setup between-cuts
			08:21 production
			08:40`},
		{"two of one stop: the last record", "08:00", "08:40", "08:10 no-operator\n08:15 coolant", `
			08:00 cut 5m
			08:00 stopped
			08:20 cutting
			08:40 cut 19m`, `
			08:00 down coolant
			08:20 setup between-cuts
			08:21 production
			08:40`},
		{"of a part of a break: it is one no longer", "08:00", "09:00", "08:44 coolant", `
			08:00 break 5m
			08:30 cutting
			08:40 cut 5m
			08:42 stopped chips
			08:46 cutting
			08:50 cut 4m`, `
			08:00 delay blade-break
			08:30 setup between-cuts
			08:35 production
			08:40 setup between-cuts
			08:42 down coolant
			08:46 production
			08:50 unknown
			09:00`},
		{"of a break: what followed it is no part of it", "08:00", "09:00", "08:04 fault", `
			08:00 break 5m
			08:30 cutting
			08:40 cut 5m
			08:42 stopped chips
			08:46 cutting
			08:50 cut 4m`, `
			08:00 down fault
			08:30 setup between-cuts
			08:35 production
			08:40 setup between-cuts
			08:42 delay chips
			08:46 production
			08:50 unknown
			09:00`},
		{"of a stop that a late cut has split", "08:00", "09:00", "08:10 coolant", `
			08:00 cut 5m
			08:00 stopped
			08:20 cut 5m
			08:20:01 stopped
			08:40 cutting
			09:00 cut 19m`, `
			08:00 down coolant
			08:15 production clash
			08:20 setup between-cuts
			08:20:01 down unexplained
			08:40 setup between-cuts
			08:41 production
			09:00`},
		{"of a pull: what follows it is part of it", "08:00", "09:00", "08:10 blade-pull", `
			08:00 cut 5m
			08:00 stopped
			08:20 cutting
			08:30 cut 9m
			08:31 stopped setup
			08:40 cutting
			09:00 cut 19m`, `
			08:00 delay blade-pull
			08:20 setup between-cuts
			08:21 production
			08:30 setup between-cuts
			08:31 setup setup
			08:40 setup between-cuts
			08:41 production
			09:00`},
		{"of the first part of a fault over an outage: of all of it", "08:00", "09:00", "08:15 coolant", `
			08:10 stopped fault
			08:20 gone
			08:40 stopped fault
			09:00 cutting`, `
			08:00 unknown
			08:10 down coolant
			08:20 unknown
			08:40 down coolant of 08:10
			09:00`},
		{"of the second part of a fault over an outage: of that alone", "08:00", "09:00", "08:45 coolant", `
			08:10 stopped fault
			08:20 gone
			08:40 stopped fault
			09:00 cutting`, `
			08:00 unknown
			08:10 down fault
			08:20 unknown
			08:40 down coolant
			09:00`},
		{"of a time without data: of no stop", "08:00", "09:00", "08:30 coolant", `
			08:10 stopped fault
			08:20 gone
			08:40 stopped fault
			09:00 cutting`, `
			08:00 unknown
			08:10 down fault
			08:20 unknown
			08:40 down fault of 08:10
			09:00`},
		{"of a stop after the time asked for, which it began before", "08:00", "08:30", "08:45 coolant", `
			08:10 stopped`, `
			08:00 unknown
			08:10 down coolant
			08:30`},
	} {
		t.Run(c.name, func(t *testing.T) {
			var said []Explanation
			for i, line := range strings.Split(c.said, "\n") {
				at, cause, _ := strings.Cut(line, " ")
				said = append(said, Explanation{ID: int64(i + 1), At: clock(t, at), Cause: analyze.Cause(cause)})
			}
			checkLine(t, shop(t), c.from, c.to, c.told, said, c.want)
		})
	}
}

// A stop is open while nothing tells that it is over: then it lasts as long as the line,
// and nobody knows whether it is a short one.
func TestOpenStop(t *testing.T) {
	for _, c := range []struct {
		name, told, until, to string
		open, minor           bool
	}{
		{"goes on", "08:00 stopped", "08:02", "08:02", true, false},
		{"goes on when the readings end with the line", "08:00 stopped\n08:02 online", "08:02", "08:02", true, false},
		{"goes on behind the line", "08:00 stopped\n08:10 online", "08:02", "08:10", true, false},
		{"over as the line ends", "08:00 stopped\n08:02 cutting", "08:02", "08:02", false, true},
		{"over, and another begins as the line ends", "08:00 stopped\n08:02 idle setup", "08:02", "08:02", false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			from, until := clock(t, "08:00"), clock(t, c.until)
			cal := NewCalendar(shop(t), "s1", from.Time(), until.Time())
			stops := Build(told(t, c.told), cal, someRules(), nil, from, until).Stops
			if len(stops) != 1 {
				t.Fatalf("stops %+v, want one", stops)
			}
			s := stops[0]
			if to := clock(t, c.to); s.To != to || s.Worked != from.to(to) || s.Open != c.open || s.Minor != c.minor {
				t.Errorf("stop %+v, worked %s, want it to %s, open %v, minor %v", s, s.Worked, c.to, c.open, c.minor)
			}
		})
	}
}

// A shop that said nothing of its shifts is not told that its saws stood at night.
func TestSwitchedOffWithoutShifts(t *testing.T) {
	from, to := clock(t, "20:00"), clock(t, "1d 06:00")
	cal := NewCalendar(shift.Default(time.UTC), "s1", from.Time(), to.Time())
	in := told(t, `
		20:00 cut 5m
		20:00 stopped no-operator
		21:00 off
		1d 05:00 idle
		1d 06:00 cutting`)
	line := Build(in, cal, someRules(), nil, from, to)
	want := "20:00 down no-operator\n21:00 unscheduled unexplained\n22:00 unscheduled unexplained\n1d 05:00 down unexplained\n1d 06:00\n"
	if got := lineText(line); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	if line.Stops[1].Worked != 0 {
		t.Errorf("off for %s of working time", line.Stops[1].Worked)
	}
}
