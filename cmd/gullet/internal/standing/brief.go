package standing

import (
	"fmt"
	"strings"

	"gullet/cmd/gullet/internal/figures"
)

// Brief is the report in three lines at most: how long the saws stood, how much of it
// nobody explained, and the longest stop with what is not known.
func (r *Report) Brief(style figures.Style) []string {
	p := printer{Report: r, style: style}
	p.head()
	lines := strings.Split(strings.TrimSpace(p.b.String()), "\n")
	if !p.tells() {
		return lines
	}
	last := fmt.Sprintf("No unplanned stop was of %.0f min or more", r.LongFrom)
	if len(r.Long) > 0 {
		s := &r.Long[0]
		last = fmt.Sprintf("The longest: %s from %s, %s, %s", s.Saw, s.From.In(style.Zone).Format("15:04"), hours(s.Minutes), s.Cause)
	}
	if unknown := r.All.Minutes.Unknown; unknown > 0 {
		last += "; no reading tells of " + hours(unknown) + " of the shifts"
	}
	return append(lines, last+".")
}
