package main

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"gullet/analyze"
	"gullet/analyze/section"
)

// sectionAnswer is what Gullet counts for a section. Nil is unknown, and Why
// says why.
type sectionAnswer struct {
	Section     string   `json:"section"`
	Area        float64  `json:"area"`
	CutArea     float64  `json:"cut_area"`
	ContactMin  *float64 `json:"contact_min"`
	ContactMean *float64 `json:"contact_mean"`
	ContactMax  *float64 `json:"contact_max"`
	TeethMin    *float64 `json:"teeth_min"`
	TeethMax    *float64 `json:"teeth_max"`
	BiteMin     *float64 `json:"feed_per_tooth_min"`
	BiteMean    *float64 `json:"feed_per_tooth_mean"`
	BiteMax     *float64 `json:"feed_per_tooth_max"`
	Caution     string   `json:"caution,omitempty"` // what may go wrong with the teeth
	Unit        string   `json:"unit"`              // of the lengths; areas are its square
	Lay         string   `json:"lay,omitempty"`     // as taken; a round has none
	SawKind     string   `json:"saw_kind"`          // as taken
	Why         string   `json:"why,omitempty"`
}

func (p *program) sectionCommand() *cobra.Command {
	var (
		pass       section.Pass
		kind, lay  string
		blade      blade
		asJSON     bool
		millimetre bool
	)
	c := &cobra.Command{
		Use:   "section DESIGNATION|JSON",
		Short: "What Gullet counts for a section: area, contact length, teeth in the cut",
		Long: "Takes a designation as the steel trade writes it (W12x26, C8x11.5, L4x4x1/2, HSS4x4x1/4, PIPE4STD,\n" +
			"RD6 …) or a section object as in a message ({\"shape\":\"round\",\"diameter\":6}). Lengths are in inches.",
		Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			pass.Saw = analyze.SawKind(kind)
			a, err := answerSection(args[0], lay, blade, millimetre, pass)
			if err != nil {
				return usageError{err}
			}
			if asJSON {
				return p.writeJSON(a)
			}
			return p.writeSection(a, blade.tpi)
		},
	}
	c.Flags().Float64Var(&pass.Mitre, "mitre", 0, "`DEGREES` from a square cut")
	c.Flags().IntVar(&pass.Count, "count", 1, "`BARS` cut together, side by side")
	c.Flags().StringVar(&lay, "lay", "", "`LAY`, which side the blade meets, e.g. web-vertical; a wrong one is told what its shape allows")
	c.Flags().StringVar(&kind, "saw-kind", string(analyze.FixedFrame), "`KIND` of saw: "+listed(analyze.SawKinds()))
	c.Flags().StringVar(&blade.tpi, "tpi", "", "`PITCH` in teeth per inch, 3 or 3/4")
	c.Flags().Float64Var(&blade.rate, "rate", 0, "`IN2` a minute that the saw holds; with --band-speed and --tpi gives the feed per tooth")
	c.Flags().Float64Var(&blade.speed, "band-speed", 0, "band speed in `FT` a minute")
	c.Flags().BoolVar(&millimetre, "mm", false, "lengths of a section object are in mm")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	return c
}

// blade is how the teeth go through the section. 0 is not told.
type blade struct {
	tpi         string
	rate, speed float64
}

func (b blade) check() error {
	switch {
	case !(b.rate >= 0 && b.rate <= 5000):
		return fmt.Errorf("--rate is %v, allowed is more than 0 and at most 5000 in²/min", b.rate)
	case !(b.speed >= 0 && b.speed <= 10000):
		return fmt.Errorf("--band-speed is %v, allowed is more than 0 and at most 10000 ft/min", b.speed)
	case (b.rate > 0) != (b.speed > 0) || b.rate > 0 && b.tpi == "":
		return fmt.Errorf("the feed per tooth needs --rate, --band-speed and --tpi together")
	}
	return nil
}

func answerSection(text, lay string, b blade, millimetre bool, pass section.Pass) (sectionAnswer, error) {
	a := sectionAnswer{Section: text, Unit: "in"}
	if err := errors.Join(checkPass(pass), b.check()); err != nil {
		return a, err
	}
	s, err := readSection(text, millimetre)
	if err != nil {
		return a, err
	}
	var low, high float64
	if b.tpi != "" {
		if low, high, err = section.ParseTPI(b.tpi); err != nil {
			return a, fmt.Errorf("--%w", err)
		}
	}
	if lay != "" {
		s.Lay = section.Lay(lay)
		if err := s.Check(); err != nil {
			return a, fmt.Errorf("--lay: %w", err)
		}
	}
	if s.Designation != "" {
		a.Section = s.Designation
	}
	a.Lay, a.SawKind = string(s.Lay), string(pass.Saw)
	if lays := section.Lays(s.Shape); a.Lay == "" && len(lays) > 0 {
		a.Lay = string(lays[0])
	}
	a.Area = s.Area()
	a.CutArea = section.CutArea(a.Area, pass.Count, pass.Mitre)
	if pass.Mitre != 0 && pass.Saw == analyze.FixedFrame {
		a.Why = fmt.Sprintf("contact at an angle depends on the saw: give --saw-kind %s or %s", analyze.TiltingColumn, analyze.SwivelFrame)
		return a, nil
	}
	contact, err := s.Contact(pass)
	if err != nil {
		a.Why = err.Error()
		return a, nil
	}
	a.ContactMin, a.ContactMean, a.ContactMax = &contact.Min, &contact.Mean, &contact.Max
	if b.tpi == "" {
		a.Why = "teeth in the cut need --tpi"
		return a, nil
	}
	least, most := contact.Teeth(low, high)
	a.TeethMin, a.TeethMax = &least, &most
	a.Caution = teethCaution(contact.Mean*low, contact.Mean*high)
	if b.rate > 0 {
		small, mean, large := contact.FeedPerTooth(b.rate, b.speed, (low+high)/2)
		a.BiteMin, a.BiteMean, a.BiteMax = &small, &mean, &large
	}
	return a, nil
}

// teethCaution says what too few or too many teeth in the average width of cut
// do: by common practice that width, and not the web or the flange alone, picks
// the pitch. It is "" where neither threatens.
func teethCaution(coarse, fine float64) string {
	switch {
	case coarse < 3:
		return "fewer than 3 teeth are in the average width and may strip: a finer pitch"
	case fine > 24:
		return "more than 24 teeth are in the average width and their gullets may fill: a coarser pitch"
	}
	return ""
}

func checkPass(p section.Pass) error {
	switch {
	case !(math.Abs(p.Mitre) < 85):
		return fmt.Errorf("--mitre is %v, allowed is more than -85 and less than 85 degrees from square", p.Mitre)
	case p.Count < 1 || p.Count > 1000:
		return fmt.Errorf("--count is %d, allowed is 1 to 1000", p.Count)
	}
	for _, k := range analyze.SawKinds() {
		if p.Saw == k {
			return nil
		}
	}
	return fmt.Errorf("--saw-kind is %q, allowed is %s", p.Saw, listed(analyze.SawKinds()))
}

func readSection(text string, millimetre bool) (section.Section, error) {
	if !strings.HasPrefix(strings.TrimSpace(text), "{") {
		if millimetre {
			return section.Section{}, fmt.Errorf("--mm is for a section object, and %.40q is a designation, which is always in inches", text)
		}
		return section.Parse(text)
	}
	perUnit := 1.0
	if millimetre {
		perUnit = 1 / 25.4
	}
	return section.FromJSON([]byte(text), perUnit)
}

func (p *program) writeSection(a sectionAnswer, tpi string) error {
	figure := func(x *float64, unit string) string {
		if x == nil {
			return "unknown"
		}
		return fmt.Sprintf("%.3f %s", *x, unit)
	}
	taken := a.SawKind + " saw"
	if a.Lay != "" {
		taken += ", " + a.Lay
	}
	_, err := fmt.Fprintf(p.out, "%s, taken as %s\n  square area  %.3f in²\n  cut area     %.3f in²\n  contact      least %s, mean %s, most %s\n",
		a.Section, taken, a.Area, a.CutArea, figure(a.ContactMin, "in"), figure(a.ContactMean, "in"), figure(a.ContactMax, "in"))
	if err == nil && a.ContactMin != nil {
		_, err = fmt.Fprintln(p.out, "               least leaves out the first and last twentieth of the stroke where contact starts from nothing")
	}
	if err == nil && a.TeethMin != nil {
		_, err = fmt.Fprintf(p.out, "  teeth in cut %.1f to %.1f at %s TPI; common practice: 3 at least, 6 to 12 best, 24 at most\n", *a.TeethMin, *a.TeethMax, tpi)
	}
	if err == nil && a.BiteMean != nil {
		_, err = fmt.Fprintf(p.out, "  feed a tooth least %.6f in, mean %.6f in, most %.6f in, at a held cutting rate and the mean pitch\n", *a.BiteMin, *a.BiteMean, *a.BiteMax)
	}
	if err == nil && a.Caution != "" {
		_, err = fmt.Fprintf(p.out, "  caution      %s (common practice)\n", a.Caution)
	}
	if err == nil && a.Why != "" {
		_, err = fmt.Fprintf(p.out, "  %s\n", a.Why)
	}
	return err
}
