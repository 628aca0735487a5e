package shiftreport

import (
	"math"
	"time"

	"gullet/analyze/downtime"
	"gullet/cmd/gullet/internal/sheets"
	"gullet/cmd/gullet/internal/standing"
)

type column[T any] = sheets.Column[T]

// CSV writes one row for each saw, in the form of sheets.CSV.
func CSV(r *Report) ([]byte, error) {
	t := r.sawTable()
	return sheets.CSV(&t)
}

// XLSX writes the report as a workbook: saws, causes, stops, what each day or stretch of
// the time line was, over a week how often saws fail, and notes.
func XLSX(r *Report) ([]byte, error) {
	tables := []sheets.Table{r.sawTable(), r.causeTable(), r.stopTable()}
	if r.Kind == "week" {
		tables = append(tables, r.dayTable(), r.failTable())
	} else {
		tables = append(tables, r.lineTable())
	}
	return sheets.XLSX(r.Title(), r.Downtime.MadeAt, append(tables, r.notes()))
}

// minute is a moment in the shop's zone to the minute, as people are told it.
func (r *Report) minute(t time.Time) time.Time { return t.Truncate(time.Minute).In(r.style.Zone) }

func (r *Report) sawTable() sheets.Table {
	unit := map[bool]string{true: "cm2", false: "in2"}[r.style.Metric]
	list := make([]*Saw, len(r.Saws))
	for i := range r.Saws {
		list[i] = &r.Saws[i]
	}
	worked := func(value func(*Saw) any) func(*Saw) any {
		return func(s *Saw) any {
			if s.Off || s.silent() {
				return nil
			}
			return value(s)
		}
	}
	of := func(e downtime.Element) func(*Saw) any {
		return worked(func(s *Saw) any { return tenth(*s.Report.Minutes.Of(e)) })
	}
	percent := func(pick func(*downtime.Figure) *float64) func(*Saw) any {
		return worked(func(s *Saw) any {
			if x := pick(&s.Report.Model.Availability); x != nil {
				return math.Round(1e4**x) / 1e4
			}
			return nil
		})
	}
	return sheets.Tabled("Saws", []column[*Saw]{
		{"saw", "Saw", sheets.Text, func(s *Saw) any { return s.Saw }},
		{"shift", "Shift", sheets.Text, func(*Saw) any { return r.Shift }},
		{"from", "From", sheets.Moment, func(*Saw) any { return r.minute(r.Begins) }},
		{"to", "To", sheets.Moment, func(*Saw) any { return r.minute(r.Ends) }},
		{"produced_min", "Produced (min)", sheets.Tenth, of(downtime.Production)},
		{"setup_min", "Setup (min)", sheets.Tenth, of(downtime.Setup)},
		{"delay_min", "Delay (min)", sheets.Tenth, of(downtime.Delay)},
		{"down_min", "Down (min)", sheets.Tenth, of(downtime.Down)},
		{"planned_down_min", "Planned down (min)", sheets.Tenth, of(downtime.PlannedDown)},
		{"unknown_min", "Unknown (min)", sheets.Tenth, func(s *Saw) any {
			if s.Off {
				return nil
			}
			return tenth(s.Report.Minutes.Unknown)
		}},
		{"pieces", "Pieces", sheets.Whole, worked(func(s *Saw) any { return s.Pieces })},
		{"area_" + unit, "Area (" + r.style.AreaUnit() + ")", sheets.Whole, worked(func(s *Saw) any {
			if s.areaUnknown() {
				return nil
			}
			return r.style.Counted(s.Area)
		})},
		{"area_unknown_passes", "Area unknown (passes)", sheets.Whole, worked(func(s *Saw) any { return s.AreaUnknown })},
		{"trips", "Trips", sheets.Whole, worked(func(s *Saw) any { return s.Trips })},
		{"breaks", "Breaks", sheets.Whole, worked(func(s *Saw) any { return s.Breaks })},
		{"availability_0_to_1", "Availability", sheets.Share, percent(func(f *downtime.Figure) *float64 { return f.Value })},
		{"availability_at_least_0_to_1", "At least", sheets.Share, percent(func(f *downtime.Figure) *float64 { return f.Low })},
		{"availability_at_most_0_to_1", "At most", sheets.Share, percent(func(f *downtime.Figure) *float64 { return f.High })},
		{"planned_busy_min", "Planned busy time (min)", sheets.Tenth, worked(func(s *Saw) any { return tenth(s.Report.Model.PlannedBusy) })},
		{"why", "Why cells are empty", sheets.Text, func(s *Saw) any { return s.why() }},
		{"made_at", "Made at", sheets.Moment, func(*Saw) any { return r.minute(r.Downtime.MadeAt) }},
	}, list)
}

func (r *Report) causeTable() sheets.Table {
	type cause struct {
		standing.Cause
		of string
	}
	var list []cause
	for _, c := range r.Downtime.Pareto {
		list = append(list, cause{c, "unplanned"})
	}
	for _, c := range r.Downtime.Planned {
		list = append(list, cause{c, "setup and planned"})
	}
	return sheets.Tabled("Causes", []column[cause]{
		{"", "Cause", sheets.Text, func(c cause) any { return string(c.Cause.Cause) }},
		{"", "Kind", sheets.Text, func(c cause) any { return c.of }},
		{"", "Minutes", sheets.Tenth, func(c cause) any { return tenth(c.Minutes) }},
		{"", "Share of its kind", sheets.Share, func(c cause) any { return sheets.Known(c.Share) }},
		{"", "Stops", sheets.Whole, func(c cause) any { return c.Count }},
		{"", "Rank by stops", sheets.Whole, func(c cause) any { return c.ByCount }},
		{"", "Counts as", sheets.Text, func(c cause) any { return string(c.Element) }},
		{"", "Whose", sheets.Text, func(c cause) any { return c.Group }},
	}, list)
}

// stopTable is the long stops, those taken and handed over and those not explained.
func (r *Report) stopTable() sheets.Table {
	list := r.stops()
	for i := range r.Open {
		if !among(list, &r.Open[i]) {
			list = append(list, r.Open[i])
		}
	}
	return sheets.Tabled("Stops", []column[standing.Stop]{
		{"", "Saw", sheets.Text, func(s standing.Stop) any { return s.Saw }},
		{"", "From", sheets.Moment, func(s standing.Stop) any { return r.minute(s.From) }},
		{"", "To", sheets.Moment, func(s standing.Stop) any {
			if s.Open {
				return nil
			}
			return r.minute(s.To)
		}},
		{"", "Minutes of working time", sheets.Tenth, func(s standing.Stop) any { return tenth(s.Minutes) }},
		{"", "Cause", sheets.Text, func(s standing.Stop) any { return string(s.Cause) }},
		{"", "Told by the saw", sheets.Text, func(s standing.Stop) any { return string(s.Told) }},
		{"", "Counts as", sheets.Text, func(s standing.Stop) any { return string(s.Element) }},
		{"", "Grade", sheets.Text, func(s standing.Stop) any { return s.Grade }},
		{"", "Note", sheets.Text, func(s standing.Stop) any { return r.fate(&s) }},
		{"", "Say what it was for", sheets.Text, func(s standing.Stop) any {
			if s.Cause != downtime.Unexplained {
				return nil
			}
			return r.explain(&s)
		}},
	}, list)
}

func (r *Report) lineTable() sheets.Table {
	type stretch struct {
		standing.Stretch
		saw string
	}
	var list []stretch
	for i := range r.Saws {
		for _, s := range r.Saws[i].Line {
			list = append(list, stretch{s, r.Saws[i].Saw})
		}
	}
	return sheets.Tabled("Time line", []column[stretch]{
		{"", "Saw", sheets.Text, func(s stretch) any { return s.saw }},
		{"", "From", sheets.Moment, func(s stretch) any { return r.minute(s.From) }},
		{"", "Minutes", sheets.Tenth, func(s stretch) any { return tenth(s.To.Sub(s.From).Minutes()) }},
		{"", "Counts as", sheets.Text, func(s stretch) any { return string(s.Element) }},
		{"", "Cause", sheets.Text, func(s stretch) any { return string(s.Cause) }},
	}, list)
}

func (r *Report) dayTable() sheets.Table {
	type day struct {
		standing.DayMinutes
		saw string
	}
	var list []day
	for i := range r.Saws {
		for _, d := range r.Saws[i].Days {
			list = append(list, day{d, r.Saws[i].Saw})
		}
	}
	columns := []column[day]{
		{"", "Saw", sheets.Text, func(d day) any { return d.saw }},
		{"", "Date", sheets.Text, func(d day) any { return d.Date }},
	}
	for _, e := range downtime.Elements() {
		columns = append(columns, column[day]{"", string(e) + " (min)", sheets.Tenth, func(d day) any { return tenth(*d.Minutes.Of(e)) }})
	}
	return sheets.Tabled("Days", columns, list)
}

func (r *Report) failTable() sheets.Table {
	list := r.reports()
	limits := func(f func(*standing.SawReport) *float64, unit float64) func(*standing.SawReport) any {
		return func(s *standing.SawReport) any {
			if x := f(s); x != nil {
				return tenth(*x / unit)
			}
			return nil
		}
	}
	return sheets.Tabled("Failures", []column[*standing.SawReport]{
		{"", "Saw", sheets.Text, func(s *standing.SawReport) any { return s.Saw }},
		{"", "Failures", sheets.Whole, func(s *standing.SawReport) any { return s.MTBF.N }},
		{"", "MTBF (h)", sheets.Tenth, limits(func(s *standing.SawReport) *float64 { return s.MTBF.Value }, 60)},
		{"", "95 % from (h)", sheets.Tenth, limits(func(s *standing.SawReport) *float64 { return s.MTBF.Low }, 60)},
		{"", "95 % to (h)", sheets.Tenth, limits(func(s *standing.SawReport) *float64 { return s.MTBF.High }, 60)},
		{"", "Operating time (h)", sheets.Tenth, func(s *standing.SawReport) any { return tenth(s.MTBF.Over / 60) }},
		{"", "Repairs", sheets.Whole, func(s *standing.SawReport) any { return s.MTTR.N }},
		{"", "MTTR (min)", sheets.Tenth, limits(func(s *standing.SawReport) *float64 { return s.MTTR.Value }, 1)},
		{"", "95 % from (min)", sheets.Tenth, limits(func(s *standing.SawReport) *float64 { return s.MTTR.Low }, 1)},
		{"", "95 % to (min)", sheets.Tenth, limits(func(s *standing.SawReport) *float64 { return s.MTTR.High }, 1)},
		{"", "Failures get", sheets.Text, func(s *standing.SawReport) any { return string(s.Trend.Verdict) }},
		{"", "Why cells are empty", sheets.Text, func(s *standing.SawReport) any { return whyNoMean(s) }},
	}, list)
}

// notes are what must be known of the report.
func (r *Report) notes() sheets.Table {
	first, more := r.lead()
	list := [][2]string{{"Report", r.Title()}, {"In short", first}}
	for _, line := range more {
		list = append(list, [2]string{"", line})
	}
	list = append(list, [2]string{"Times", r.made()},
		[2]string{"Availability", "production / planned busy time, of known time; at least and at most: however the unknown time was used"},
		[2]string{"Empty", "unknown, or there is none; the reason stands in the row"})
	for _, d := range r.Doubts {
		list = append(list, [2]string{"To bear in mind", d})
	}
	return sheets.Notes(list)
}
