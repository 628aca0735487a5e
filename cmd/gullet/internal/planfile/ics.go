package planfile

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/sheets"
)

// ICS writes one event for each advised change, by RFC 5545: at the moment of the
// change, for as long as it takes, in UTC, tentative and without an alarm.
//
// The event of a fitting has the same UID in every plan, and in a later plan a higher
// SEQUENCE, so that one taken in again moves and does not stand there twice. The
// events of two shops that name their saws alike are not told apart.
func ICS(p *Plan) []byte {
	c := calendar{}
	c.line("BEGIN", "VCALENDAR")
	c.line("VERSION", "2.0")
	c.line("PRODID", "-//Gullet//Change plan//EN")
	c.line("METHOD", "PUBLISH")
	changes := p.Changes()
	needs := needs(changes)
	for i, s := range changes {
		c.event(p, s, needs[i])
	}
	if len(changes) == 0 {
		c.zone()
	}
	c.line("END", "VCALENDAR")
	return []byte(c.b.String())
}

// calendar is an iCalendar in the making.
type calendar struct{ b strings.Builder }

func (c *calendar) event(p *Plan, s *planning.Saw, n need) {
	a := s.Advise
	c.line("BEGIN", "VEVENT")
	c.line("UID", uid(s))
	c.line("DTSTAMP", utc(p.MadeAt))
	c.line("SEQUENCE", strconv.FormatInt(p.MadeAt.Unix()/60, 10)) // in minutes, which fit its 31 bits until the year 6053
	c.line("DTSTART", utc(p.minute(*a.At)))
	c.line("DTEND", utc(p.minute(*a.At).Add(p.Change)))
	c.line("STATUS", "TENTATIVE")
	c.line("SUMMARY", escape("Change blade on "+s.Saw+", "+a.Where()))
	c.line("LOCATION", escape(s.Saw))
	c.line("DESCRIPTION", escape(strings.Join(p.description(s, n), "\n")))
	c.line("END", "VEVENT")
}

// description tells all that is known of a change.
func (p *Plan) description(s *planning.Saw, n need) []string {
	a := s.Advise
	window := "unknown: " + s.Why
	if s.Window != nil {
		window = s.Window.Words(p.Style)
	}
	list := []string{
		"Change " + a.Where() + ", " + p.moment(a.At) + ": " + s.Because(),
		fmt.Sprintf("Blade on the saw: %s, %s; cut %s", planning.BladeName(s.Blade), planning.BladeName(s.Type), s.Cut(p.Style)),
		"Window: " + window,
	}
	if len(s.Drivers) > 0 {
		list = append(list, "Driven by: "+s.DrivenBy())
	}
	if s.Basis != "" {
		list = append(list, "From: "+s.Basis)
	}
	return append(list,
		"Odds that it is done before then: "+figures.Odds(a.Odds),
		"Cost: "+a.Waiting(p.Currency),
		"Have on hand: "+n.words(),
		"Plan of "+p.made()+", times in "+p.Zone+"; the next plan may move this.",
		"",
		p.caution(),
	)
}

// zone stands in a calendar without events, which must have one part at least.
func (c *calendar) zone() {
	c.line("BEGIN", "VTIMEZONE")
	c.line("TZID", "Etc/UTC")
	c.line("BEGIN", "STANDARD")
	c.line("DTSTART", "19700101T000000")
	c.line("TZOFFSETFROM", "+0000")
	c.line("TZOFFSETTO", "+0000")
	c.line("END", "STANDARD")
	c.line("END", "VTIMEZONE")
}

func (c *calendar) line(name, value string) { c.b.WriteString(fold(name + ":" + value)) }

// uid names the change of one fitting. It is a hash, as saws may have any name.
func uid(s *planning.Saw) string {
	fitting := "blade " + s.Blade
	if s.Fitting != nil {
		fitting = "fitting " + strconv.FormatInt(*s.Fitting, 10)
	}
	sum := sha256.Sum256([]byte(s.Saw + "\x00" + fitting))
	return "change-" + hex.EncodeToString(sum[:16]) + "@gullet"
}

// utc writes a moment as RFC 5545 wants it, section 3.3.5, form 2.
func utc(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// escape makes any text a value of type TEXT, section 3.3.11.
func escape(text string) string {
	return strings.NewReplacer(`\`, `\\`, `;`, `\;`, `,`, `\,`, "\n", `\n`).Replace(sheets.Readable(text))
}

// widest is how many bytes a line may have, section 3.1.
const widest = 75

// fold ends a line, and continues one that is too long on the next behind a space,
// without cutting a letter. The line is valid UTF-8.
func fold(line string) string {
	var b strings.Builder
	for room := widest; len(line) > room; room = widest - 1 {
		cut := room
		for !utf8.RuneStart(line[cut]) {
			cut--
		}
		b.WriteString(line[:cut])
		b.WriteString("\r\n ")
		line = line[cut:]
	}
	b.WriteString(line)
	b.WriteString("\r\n")
	return b.String()
}
