package downtime
import ("testing";"fmt";"strings";"time";"gullet/analyze/shift";"gullet/analyze")
func TestScratch(t *testing.T) {
	for _, c := range []struct{name, from,to, told, said, closed string}{
		{"lockout before maintenance","08:00","09:00",`
			08:00 cut 5m
			08:01 stopped lockout
			08:10 stopped maintenance
			08:50 cutting
			09:00 cut 9m`,"",""},
		{"an emergency stop, then a lock","08:00","08:30",`
			08:00 cut 5m
			08:00 stopped emergency-stop
			08:01 stopped lockout
			08:10 idle
			08:20 cutting
			08:30 cut 9m`,"",""},
		{"off in a shift, and gone","08:00","10:00",`
			06:00 online
			08:00 cut 5m
			08:05 off
			08:06 gone
			09:30 online
			09:30 idle setup
			10:00 cut 10m`,"",""},
		{"a trip whose state comes a second before it","08:00","08:10",`
			08:00:00 trip 5m
			07:59:59 stopped deviation-trip
			08:05 cutting
			08:10 cut 5m`,"",""},
		{"a trip whose state comes a second after it","08:00","08:10",`
			08:00:00 trip 5m
			08:00:01 stopped
			08:05 cutting
			08:10 cut 5m`,"",""},
		{"a trip whose state and cause come a second after it","08:00","08:10",`
			08:00:00 trip 5m
			08:00:01 stopped deviation-trip
			08:05 cutting
			08:10 cut 5m`,"",""},
		{"the count is done, then setup, then waiting: three stops","08:00","08:40",`
			08:00 cut 5m
			08:00 idle count-done
			08:02 idle setup
			08:10 idle waiting-crane
			08:30 cutting
			08:40 cut 9m`,"",""},
		{"a blade removed before the end of the shift, fitted the next day","21:40","1d 06:30",`
			06:00 online
			21:40 cut 5m
			21:45 remove planned
			21:50 off
			1d 06:00 idle
			1d 06:10 fit
			1d 06:20 cut 5m
			1d 06:30 cut 9m`,"",""},
		{"told to be there every minute","08:00","08:30",`
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
			08:30 cut 5m`,"",""},
		{"a break in overtime","22:00","23:30",`
			21:55 cutting
			22:10 break 12m
			22:15 remove broke-weld
			22:40 fit
			22:45 cutting
			23:00 cut 14m
			23:01 off`,"",""},
		{"a break in overtime, mended in the next shift","22:00","1d 06:30",`
			21:55 cutting
			22:10 break 12m
			22:15 off
			1d 06:00 stopped blade-change
			1d 06:20 cutting
			1d 06:30 cut 9m`,"",""},
		{"work in a closure","08:00","10:30",`
			07:55 cutting
			08:05 cut 8m
			08:10 stopped maintenance
			09:10 cutting
			09:20 cut 9m
			09:24 cut 3m
			09:30 off
			10:30 idle`,"","08:08-09:40"},
		{"a stop that begins in a closure","08:00","09:00",`
			06:00 online
			08:10 idle
			08:40 stopped fault
			09:00 cutting`,"","08:00-08:30"},
		{"of a stop","08:00","08:40",`
			08:00 cut 5m
			08:00 stopped
			08:20 cutting
			08:40 cut 19m`,"08:10 no-operator",""},
		{"of production: of no stop","08:00","08:40",`
			08:00 cut 5m
			08:00 stopped
			08:20 cutting
			08:40 cut 19m`,"08:30 no-operator",""},
		{"two of one stop: the last record","08:00","08:40",`
			08:00 cut 5m
			08:00 stopped
			08:20 cutting
			08:40 cut 19m`,"08:10 no-operator\n08:15 coolant",""},
		{"of a part of a break: it is one no longer","08:00","09:00",`
			08:00 break 5m
			08:30 cutting
			08:40 cut 5m
			08:42 stopped chips
			08:46 cutting
			08:50 cut 4m`,"08:44 coolant",""},
		{"of a break: what followed it is no part of it","08:00","09:00",`
			08:00 break 5m
			08:30 cutting
			08:40 cut 5m
			08:42 stopped chips
			08:46 cutting
			08:50 cut 4m`,"08:04 fault",""},
		{"of a stop that a late cut has split","08:00","09:00",`
			08:00 cut 5m
			08:00 stopped
			08:20 cut 5m
			08:20:01 stopped
			08:40 cutting
			09:00 cut 19m`,"08:10 coolant",""},
		{"of a pull: what follows it is part of it","08:00","09:00",`
			08:00 cut 5m
			08:00 stopped
			08:20 cutting
			08:30 cut 9m
			08:31 stopped setup
			08:40 cutting
			09:00 cut 19m`,"08:10 blade-pull",""},
		{"a fault over an outage of the network is one", "08:00","09:30",`
			06:00 online
			08:10 stopped fault
			08:20 gone
			08:40 online
			08:50 gone
			09:00 stopped fault
			09:20 cutting
			09:30 cut 9m`,"",""},
		{"states a few seconds beside their cuts are no conflict","08:00","08:20",`
			08:00 cutting
			08:04:57 idle
			08:05 cut 4m
			08:12:02 cutting
			08:20 cut 8m`,"",""},
		{"cuts after a trip and a change of which nothing else is told","08:00","08:40",`
			08:00 trip 5m
			08:10 cut 5m
			08:12 remove planned
			08:30 trip 10m
			08:40 cut 9m`,"",""},
		{"a dull blade found out by a trip","08:00","08:40",`
			08:00 trip 5m
			08:02 stopped
			08:05 remove dull
			08:20 fit
			08:30 cutting
			08:40 cut 10m`,"",""},
		{"a crooked blade found out by a trip, and no state told","08:00","08:40",`
			08:00 trip 5m
			08:05 remove crooked
			08:20 fit
			08:40 cut 15m`,"",""},
		{"a planned change after a trip","08:00","08:40",`
			08:00 trip 5m
			08:02 stopped
			08:05 remove planned
			08:20 fit
			08:30 cutting
			08:40 cut 10m`,"",""},
		{"a break after a cut of which it is not known how long it took","08:00","09:00",`
			06:00 online
			08:00 cut 5m
			08:25 break 0m
			08:50 cutting
			09:00 cut 10m`,"",""},
		{"a break told once more in the same standstill is one","08:00","09:00",`
			08:00 break 5m
			08:05 stopped fault
			08:20 stopped blade-break
			08:30 remove stripped
			08:50 cutting
			09:00 cut 10m`,"",""},
		{"a second break soon after the first is another","08:00","08:30",`
			08:00 break 5m
			08:10 cutting
			08:15 break 2m
			08:25 cutting
			08:30 cut 5m`,"",""},
		{"handling in overtime, the saw found to be there meanwhile","22:00","22:40",`
			21:59 cutting
			22:05 cut 4m
			22:10 online
			22:20 cut 4m
			22:25 online
			22:40 cut 4m`,"",""},
		{"of the first part of a fault over an outage: of all of it","08:00","09:00",`
			08:10 stopped fault
			08:20 gone
			08:40 stopped fault
			09:00 cutting`,"08:15 coolant",""},
		{"of the second part of a fault over an outage: of that alone","08:00","09:00",`
			08:10 stopped fault
			08:20 gone
			08:40 stopped fault
			09:00 cutting`,"08:45 coolant",""},
		{"of a time without data: of no stop","08:00","09:00",`
			08:10 stopped fault
			08:20 gone
			08:40 stopped fault
			09:00 cutting`,"08:30 coolant",""},
		{"of a stop after the time asked for, which it began before","08:00","08:30",`
			08:10 stopped`,"08:45 coolant",""},
	} {
		from, to := clock(t, c.from), clock(t, c.to)
		var cl []shift.Closure
		if c.closed != "" { s := spanOf(t, c.closed); cl = append(cl, shift.Closure{From: day0.Add(time.Duration(s.From)*time.Minute), To: day0.Add(time.Duration(s.To)*time.Minute)}) }
		cal := NewCalendar(shop(t, cl...), "s1", from.Time(), to.Time())
		var said []Explanation
		for i, l := range strings.Split(c.said, "\n") { if f := strings.Fields(l); len(f) == 2 { said = append(said, Explanation{int64(i+1), clock(t,f[0]), analyze.Cause(f[1])}) } }
		l := Build(told(t, c.told), cal, someRules(), said, from, to)
		fmt.Println("##", c.name); fmt.Print(lineText(l))
		for _, s := range l.Stops { fmt.Println("   stop", s.From.short(), s.To.short(), "told", s.Told, "cause", s.Cause, s.Worked, s.Explained, s.Open, s.State) }
	}
}
