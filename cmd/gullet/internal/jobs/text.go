package jobs

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"gullet/analyze"
)

// Write writes the answer for one job for a terminal.
func (a *Answer) Write(w io.Writer, b Blade) error {
	var t strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&t, format+"\n", args...) }
	say("%s, taken as %s", a.Section, a.taken())
	say("  square area  %.3f in²", a.Area)
	say("  cut area     %.3f in²", a.CutArea)
	say("  contact      least %s, mean %s, most %s", inches(a.ContactMin), inches(a.ContactMean), inches(a.ContactMax))
	if a.ContactMin != nil {
		say("               least leaves out the first and last twentieth of the stroke where contact starts from nothing")
	}
	if a.TeethMin != nil {
		say("  teeth in cut %.1f to %.1f at %s TPI; common practice: 3 at least, 6 to 12 best, 24 at most", *a.TeethMin, *a.TeethMax, b.TPI)
	}
	if a.BiteMean != nil && a.BiteMax != nil {
		say("  feed a tooth least %.6f in, mean %.6f in, most %.6f in, at a held %s and the mean pitch", *a.BiteMin, *a.BiteMean, *a.BiteMax, held(b))
	}
	if a.Thinnest != nil {
		say("  on average   %s in %s", teeth(*a.TeethCoarse, *a.TeethFine), inches(a.ContactMean))
		say("  fewest       %s %s%s", teeth(a.Thinnest.TeethMin, a.Thinnest.ContactMin*b.High), a.where(*a.Thinnest), fed(a.Thinnest.BiteMax))
	}
	if a.Verdict != "" {
		say("  verdict      %s", a.sentence())
	}
	if a.Note != "" {
		say("  note         %s", a.Note)
	}
	if a.Why != "" {
		say("  %s", a.Why)
	}
	a.profile(&t)
	a.shares(&t)
	_, err := io.WriteString(w, t.String())
	return err
}

// Advises says whether the answer advises a change.
func (a *Answer) Advises() bool { return a.Caution != "" || a.Note != "" }

func (a *Answer) taken() string {
	taken := a.SawKind + " saw"
	if a.Lay != "" {
		taken += ", " + a.Lay
	}
	return taken
}

// sentence names the job and says what will become of its teeth.
func (a *Answer) sentence() string {
	if a.Caution == "" {
		return a.name() + " is sound: no fewer than 3 and no more than 24 teeth are in the average width"
	}
	return fmt.Sprintf("%s %s: %s, %s (common practice)", a.name(), a.Verdict, a.Caution, a.pitch())
}

// pitch is what fits the average width by common practice.
func (a *Answer) pitch() string {
	per := func(teeth float64) string {
		switch x := teeth / *a.ContactMean; {
		case x >= 10:
			return fmt.Sprintf("%.0f", x)
		case x >= 1:
			return fmt.Sprintf("%.1f", x)
		default:
			return fmt.Sprintf("%.2f", x)
		}
	}
	return fmt.Sprintf("%s to %s TPI, best %s to %s", per(fewest), per(greatest), per(bestLow), per(bestHigh))
}

// where is the place of a stretch as one finds it on the bar.
func (a *Answer) where(s Stretch) string {
	side := "the top"
	if a.SawKind == string(analyze.TiltingColumn) {
		side = "the left"
	}
	if a.Bars > 1 {
		side += " of each bar"
	}
	if s.From == s.To {
		return fmt.Sprintf("at %.3f in from %s", s.From, side)
	}
	return fmt.Sprintf("at %.3f to %.3f in from %s", s.From, s.To, side)
}

func (a *Answer) profile(w io.Writer) {
	if len(a.Profile) == 0 {
		return
	}
	if a.Bars > 1 {
		fmt.Fprintf(w, "\nAlong the stroke, through each of %d bars in turn\n", a.Bars)
	} else {
		fmt.Fprint(w, "\nAlong the stroke\n")
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	known := a.Profile[0].BiteMin != nil
	heading := "DEPTH in\tCONTACT in\tTEETH"
	if known {
		heading += "\tFEED A TOOTH in"
	}
	fmt.Fprintln(t, heading)
	for _, s := range a.Profile {
		line := fmt.Sprintf("%.3f to %.3f\t%s\t%s", s.From, s.To, between(s.ContactMin, s.ContactMax, 3), between(s.TeethMin, s.TeethMax, 1))
		switch {
		case s.BiteMax != nil:
			line += "\t" + between(*s.BiteMin, *s.BiteMax, 6)
		case known:
			line += fmt.Sprintf("\t%.6f and more", *s.BiteMin)
		}
		fmt.Fprintln(t, line)
	}
	_ = t.Flush() // a strings.Builder does not fail
}

func (a *Answer) shares(w io.Writer) {
	if len(a.Shares) == 0 {
		return
	}
	fmt.Fprint(w, "\nHow much of the cut goes with how many teeth, at the mean pitch\n")
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	heading, stroke, area := "TEETH", "of the stroke", "of the area"
	for i, s := range a.Shares {
		switch {
		case i == 0:
			heading += fmt.Sprintf("\tFEWER THAN %.0f", *s.To)
		case s.To == nil:
			heading += fmt.Sprintf("\tMORE THAN %.0f", s.From)
		default:
			heading += fmt.Sprintf("\t%.0f TO %.0f", s.From, *s.To)
		}
		stroke += fmt.Sprintf("\t%.0f %%", 100*s.Stroke)
		area += fmt.Sprintf("\t%.0f %%", 100*s.Area)
	}
	fmt.Fprintf(t, "%s\n%s\n%s\n", heading, stroke, area)
	_ = t.Flush() // a strings.Builder does not fail
}

// inches is a length, or that it is not known.
func inches(x *float64) string {
	if x == nil {
		return "unknown"
	}
	return fmt.Sprintf("%.3f in", *x)
}

// between is a number, or two where they differ as written.
func between(low, high float64, decimals int) string {
	from, to := fmt.Sprintf("%.*f", decimals, low), fmt.Sprintf("%.*f", decimals, high)
	if from == to {
		return to
	}
	return from + " to " + to
}

// teeth is a number of teeth, of a variable pitch two.
func teeth(coarse, fine float64) string { return between(coarse, fine, 1) + " teeth" }

func fed(bite *float64) string {
	if bite == nil {
		return ""
	}
	return fmt.Sprintf(", each fed %.6f in", *bite)
}

func held(b Blade) string {
	if b.Feed > 0 {
		return "feed"
	}
	return "cutting rate"
}
