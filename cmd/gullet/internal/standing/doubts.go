package standing

import (
	"fmt"
	"slices"

	"gullet/analyze/downtime"
	"gullet/cmd/gullet/internal/figures"
)

// doubts says what a person must know before trusting the figures.
func (b *builder) doubts() {
	note := func(format string, args ...any) {
		b.report.Doubts = append(b.report.Doubts, fmt.Sprintf(format, args...))
	}
	aside := func(format string, args ...any) { // of figures that not every report shows
		note(format, args...)
		b.report.asides = append(b.report.asides, fmt.Sprintf(format, args...))
	}
	if text := b.data.Calendar.Note(); text != "" {
		note("shifts: %s; hours in which nobody works count as standing", text)
	}
	b.unheard(note)
	if len(b.report.Saws) == 0 {
		note("no saw has told anything yet")
		return
	}
	all := &b.report.All
	if all.Minutes.Unknown > 0 {
		note("no reading tells what happened in %s of the shifts: it counts neither as standing nor as producing, and brackets show what it leaves open",
			hours(all.Minutes.Unknown))
	}
	if all.Clashes.Count > 0 {
		note("a blade was in the metal %s, %s in all, while the saw's state said that it stood: the cut was believed",
			figures.Plural(all.Clashes.Count, "time", "times"), hours(all.Clashes.Minutes))
	}
	if n := all.Model.Output.StandardUnknown; n > 0 {
		aside("%s of grades without a configured rate: effectiveness, OEE and NEE are at least what is told", figures.Plural(n, "piece was", "pieces were"))
	}
	if b.options.Only.Shift != "" {
		aside("MTBF, MTTR, trends and the comparisons of failures, trips and breaks are of all shifts: a failure does not keep to one")
	}
	b.silent(note, aside)
	b.unknownCauses(note)
}

// silent names the saws that were not heard of for all of the time.
func (b *builder) silent(note, aside func(string, ...any)) {
	for i := range b.report.Saws {
		switch s := &b.report.Saws[i]; {
		case s.Calendar == 0 && b.works(s.Saw):
			note("%s has told nothing of these days", s.Saw)
		case s.Calendar == 0:
			aside("%s has no shift %s", s.Saw, b.options.Only.Shift)
		case s.Since != nil:
			note("%s is told of from its first reading on, %s", s.Saw, s.Since.Format("Mon 2 Jan 15:04"))
		}
	}
}

// unheard names the configured saws that no reading was ever of.
func (b *builder) unheard(note func(string, ...any)) {
	for i := range b.data.Config.Saws {
		name := b.data.Config.Saws[i].Name
		asked := b.options.Only.Saw == "" || b.options.Only.Saw == name
		if asked && !slices.ContainsFunc(b.data.Saws, func(s Saw) bool { return s.Name == name }) {
			note("%s has told nothing yet, and is not in the figures", name)
		}
	}
}

// DoubtsOfTime are the doubts that bear on minutes, stops and pieces: not those of
// effectiveness and of how often saws fail alone.
func (r *Report) DoubtsOfTime() []string {
	return slices.DeleteFunc(slices.Clone(r.Doubts), func(d string) bool { return slices.Contains(r.asides, d) })
}

// unknownCauses names causes that the configuration gives no meaning.
func (b *builder) unknownCauses(note func(string, ...any)) {
	for _, c := range b.report.Pareto {
		if _, ok := b.data.Rules.Meanings[c.Cause]; !ok && c.Cause != downtime.Minor {
			note("cause %q has no [[cause]] and counts as %s", c.Cause, downtime.Unexplained)
		}
	}
}

// hours writes minutes in the largest fitting unit.
func hours(minutes float64) string {
	switch {
	case minutes < 120:
		return fmt.Sprintf("%.0f min", minutes)
	case minutes < 600:
		return fmt.Sprintf("%.1f h", minutes/60)
	}
	return fmt.Sprintf("%s h", figures.Thousands(minutes/60))
}
