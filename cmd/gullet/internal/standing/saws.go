package standing

import (
	"time"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
)

// record is what the statistics of one saw are made of, on the clock of its operating
// time in minutes.
type record struct {
	minutes  downtime.Minutes
	output   downtime.Output
	clashes  Minutes
	operated float64
	area     float64

	failures []float64
	trips    []float64
	breaks   []float64
	repairs  []downtime.Repair

	failed  downtime.Moment // when the last failure began
	mending bool            // it has its repair
}

// record collects the days of one saw; with other shifts than the one asked for the
// operating time runs on, but nothing of them is counted.
func (b *builder) record(saw string) *record {
	r := &record{}
	b.days(b.options.From, b.options.To, func(name string, day *downtime.Day) {
		if name == saw {
			b.recordDay(r, day)
		}
	})
	return r
}

func (b *builder) recordDay(r *record, day *downtime.Day) {
	before := r.operated
	for i := range day.Times {
		t := &day.Times[i]
		if t.Element == downtime.Production || t.Element == downtime.Setup {
			r.operated += t.Took.Minutes()
		}
		if b.of(t.Shift) {
			*r.minutes.Of(t.Element) += t.Took.Minutes()
		}
	}
	for i := range day.Work {
		if w := &day.Work[i]; b.of(w.Shift) {
			r.output.Pieces += w.Pieces
			r.output.Good += w.Good
			r.output.Standard += w.Standard
			r.output.StandardUnknown += w.StandardUnknown
			r.clashes.Count += w.Clashes
			r.clashes.Minutes += w.ClashTime.Minutes()
		}
		r.area += day.Work[i].Area
	}
	for i := range day.Stops {
		b.recordStop(r, &day.Stops[i], before)
	}
	for i := range day.Marks {
		at := before + day.Marks[i].Operated.Minutes()
		switch day.Marks[i].Kind {
		case downtime.MarkTrip:
			r.trips = append(r.trips, at)
		case downtime.MarkBreak:
			r.breaks = append(r.breaks, at)
		}
	}
}

// recordStop notes a failure, and adds a stop that belongs to one to its repair. A
// failure may have no working time before that: it broke in overtime.
func (b *builder) recordStop(r *record, s *downtime.DayStop, before float64) {
	if !b.data.Rules.Meanings.Of(s.Cause).Failure {
		return
	}
	if s.Own() {
		r.failures = append(r.failures, before+s.Operated.Minutes())
		r.failed, r.mending = s.From, false
	}
	if s.Parent != r.failed || s.Worked <= 0 {
		return // of a failure before the time
	}
	if !r.mending {
		r.repairs, r.mending = append(r.repairs, downtime.Repair{}), true
	}
	repair := &r.repairs[len(r.repairs)-1]
	repair.Took += s.Worked.Minutes()
	repair.Running = s.Open
}

func (b *builder) saws() {
	all := &record{}
	var names []string
	var records []*record
	var failures, trips, breaks []downtime.Watched
	b.report.Saws = []SawReport{}
	for i := range b.data.Saws {
		name := b.data.Saws[i].Name
		if b.options.Only.Saw != "" && b.options.Only.Saw != name {
			continue
		}
		r := b.record(name)
		watched := func(at []float64) downtime.Watched { return downtime.Watched{At: at, Until: r.operated} }
		failures, trips, breaks = append(failures, watched(r.failures)), append(trips, watched(runs(r.trips))), append(breaks, watched(r.breaks))
		s := r.report(name)
		s.Since = b.since(&b.data.Saws[i])
		s.Trend, s.Trips, s.Breaks = trendOf(watched(r.failures)), trendOf(watched(runs(r.trips))), trendOf(watched(r.breaks))
		b.report.Saws = append(b.report.Saws, s)
		all.add(r)
		names, records = append(names, name), append(records, r)
	}
	b.contrasts(names, records)
	b.report.All = all.report("all")
	b.report.All.Trend, b.report.All.Trips, b.report.All.Breaks = trendOf(failures...), trendOf(trips...), trendOf(breaks...)
}

// since is the first reading of a saw that was not heard of for all of the time, nil
// of one that was.
func (b *builder) since(s *Saw) *time.Time {
	if len(s.Days) == 0 || s.Days[0].From <= b.begin(s, b.options.From) {
		return nil
	}
	at := s.Days[0].From.Time().In(b.data.zone())
	return &at
}

// begin is when a shop day of a saw begins.
func (b *builder) begin(s *Saw, date shift.Date) downtime.Moment {
	cal := downtime.NewCalendar(b.data.Calendar, s.Name, b.data.midnight(date), b.data.midnight(date.Add(1)))
	begin, _ := cal.Between(date, date)
	return begin
}

// add puts another saw's record to it.
func (r *record) add(other *record) {
	r.minutes.Add(other.minutes)
	r.output.Pieces += other.output.Pieces
	r.output.Good += other.output.Good
	r.output.Standard += other.output.Standard
	r.output.StandardUnknown += other.output.StandardUnknown
	r.clashes.Count += other.clashes.Count
	r.clashes.Minutes += other.clashes.Minutes
	r.operated += other.operated
	r.area += other.area
	r.failures = append(r.failures, other.failures...)
	r.repairs = append(r.repairs, other.repairs...)
}

func (r *record) report(name string) SawReport {
	s := SawReport{Saw: name, Calendar: r.minutes.Calendar(), Minutes: r.minutes, Model: downtime.NewModel(r.minutes, r.output), Clashes: r.clashes}
	if m, err := downtime.MTBF(r.operated, len(r.failures), downtime.OperatingTime, level); err == nil {
		s.MTBF = between(m.Estimate, m.Formula(), r.operated)
	} else {
		s.MTBF = Between{Figure: Figure{Why: err.Error()}}
	}
	repairs, err := downtime.MTTR(r.repairs, level)
	if err != nil {
		s.MTTR = Between{Figure: Figure{Why: err.Error()}}
		return s
	}
	s.MTTR = between(repairs.Mean, "working time of repairs / repairs done", repairs.Total)
	s.Repair = Repair{Half: figure(repairs.Half), Most: figure(repairs.Most), Running: repairs.Running}
	return s
}

func between(e downtime.Estimate, base string, over float64) Between {
	return Between{Figure: figure(e), Base: base, Over: over}
}

func figure(e downtime.Estimate) Figure {
	return Figure{Value: figures.Finite(e.Value), Low: figures.Finite(e.Low), High: figures.Finite(e.High), N: e.N, Why: e.Why}
}

// trendOf is whether events get more frequent, of one saw or of several together.
func trendOf(saws ...downtime.Watched) Trend {
	t, err := downtime.TrendOf(level, saws...)
	if err != nil {
		return Trend{Verdict: downtime.TooFewEvents, Why: err.Error()}
	}
	return Trend{
		N: t.N, Laplace: figures.Finite(t.Laplace), P: figures.Finite(t.LaplaceP), ShapeP: figures.Finite(t.ShapeP),
		Shape: figure(t.Shape), Change: figure(t.Change), Verdict: t.Verdict, Why: t.Why,
	}
}
