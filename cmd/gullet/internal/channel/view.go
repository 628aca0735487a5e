package channel

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"gullet/analyze/alert"
)

// Shop is what every message of a shop has in common.
type Shop struct {
	Zone    *time.Location
	Link    string // before the path of a page, "" for no links
	Caution string // goes with every advice on which somebody reaches for the band
}

// advice goes with every other message.
const advice = "Advice only: Gullet is no safety function."

// View is what a template is given.
type View struct {
	Channel  string
	Test     bool
	At       time.Time // in the shop's zone
	Severity alert.Severity
	Count    string        // how many conditions the message is about, by severity
	Lines    []Line        // the worst first, at most mostLines
	More     int           // beyond those
	Digest   *alert.Digest // nil for none
	Begins   string        // of the digest's shift
	Ends     string
	Standing map[string]int // conditions that stand and the channel knows of, by severity
	Caution  string
}

// Line is what a template is given of one condition.
type Line struct {
	alert.Item
	Lead      string // "", or what has become of it: "Over: ", "Changed: ", "Nobody sees to it: "
	Where     string // saw and blade, with a separator at the end
	SinceText string
	Over      string // how long it stood and why it is over, "" while it stands
	Link      string // "" for none
}

const mostLines = 20

// view lays a message out.
func (s *Shop) view(m *alert.Message) *View {
	v := &View{Channel: m.Channel, Test: m.Test, At: m.At.In(s.Zone), Severity: m.Severity, Digest: m.Digest, Standing: m.Standing, Caution: advice}
	items := slices.Clone(m.Items)
	slices.SortStableFunc(items, func(a, b alert.Item) int { return int(b.Severity - a.Severity) })
	counts := map[alert.Severity]int{}
	for i := range items {
		counts[items[i].Severity]++
		if items[i].Words.Risky && items[i].Phase != alert.PhaseCleared {
			v.Caution = s.Caution
		}
		if i < mostLines {
			v.Lines = append(v.Lines, s.line(&items[i], m.At))
		}
	}
	v.More = len(items) - len(v.Lines)
	v.Count = fmt.Sprintf("%d conditions at once: %d severe, %d warning, %d notice", len(items), counts[alert.Severe], counts[alert.Warning], counts[alert.Notice])
	if d := m.Digest; d != nil {
		v.Begins, v.Ends = s.clock(d.Start, m.At), s.clock(d.End, d.Start)
		if d.Risky {
			v.Caution = s.Caution
		}
	}
	return v
}

func (s *Shop) line(item *alert.Item, now time.Time) Line {
	l := Line{Item: *item, SinceText: s.clock(item.Since, now)}
	if item.Key.Saw != "" {
		l.Where = item.Key.Saw + " · "
	}
	if item.Words.Blade != "" {
		l.Where += "blade " + item.Words.Blade + " · "
	}
	if s.Link != "" && item.Words.Path != "" {
		l.Link = strings.TrimRight(s.Link, "/") + "/" + item.Words.Path
	}
	switch {
	case item.Phase == alert.PhaseCleared:
		l.Lead = "Over: "
		l.Over = fmt.Sprintf("It stood from %s to %s. %s.", s.clock(item.Raised, now), s.clock(item.Cleared, item.Raised), item.Reason)
	case item.Phase == alert.PhaseUpdated:
		l.Lead = "Changed: "
	case item.Escalated:
		l.Lead = "Nobody sees to it: "
	}
	return l
}

// clock is a time on the shop's wall with its zone, and with its day where that is not
// the day of another time.
func (s *Shop) clock(t, beside time.Time) string {
	t, beside = t.In(s.Zone), beside.In(s.Zone)
	if t.Format(time.DateOnly) == beside.Format(time.DateOnly) {
		return t.Format("15:04 MST")
	}
	return t.Format("Mon 2 Jan 15:04 MST")
}

// oneLine makes one line of a text, fit for a header.
func oneLine(text string) string {
	return strings.Join(strings.FieldsFunc(text, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }), " ")
}
