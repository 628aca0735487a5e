package main

import (
	"errors"
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"gullet/analyze"
	"gullet/analyze/section"
	"gullet/cmd/gullet/internal/jobs"
	"gullet/config"
)

func (p *program) sectionCommand() *cobra.Command {
	f := sectionFlags{pass: section.Pass{Count: 1}}
	c := &cobra.Command{
		Use:   "section DESIGNATION|JSON",
		Short: "What Gullet counts for a section: area, contact length, teeth in the cut",
		Long: "Takes a designation as the steel trade writes it (W12x26, C8x11.5, L4x4x1/2, HSS4x4x1/4, PIPE4STD,\n" +
			"RD6 …) or a section object as in a message ({\"shape\":\"round\",\"diameter\":6}). Lengths are in inches.\n" +
			"With a pitch it says along the stroke how many teeth are in the cut, and whether the job strips them.\n\n" +
			"--from FILE takes a list of jobs instead, CSV with a header line and one job a line, and tells first\n" +
			"those that strip teeth. Its columns, in any order; others are left alone:\n\n" +
			"  section      designation or section object; required\n" +
			"  job          what the job is called; nothing for its line\n" +
			"  mitre        degrees as on the saw's scale; nothing for a square cut\n" +
			"  count        bars cut together; nothing for 1\n" +
			"  lay          which side the blade meets; nothing for the usual one\n" +
			"  grade        a configured grade, for its usual rate and band speed\n\n" + caution,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if f.from != "" {
				return p.sectionList(c, &f, args)
			}
			if len(args) == 0 {
				return misused(c, "needs DESIGNATION|JSON")
			}
			return p.sectionOne(c, &f, args[0])
		},
	}
	f.add(c)
	return c
}

// sectionFlags is what the command line says of a job and its blade.
type sectionFlags struct {
	from             string
	pass             section.Pass
	lay, kind        string
	saw, blade       string // names in the configuration
	grade            string
	cut              jobs.Blade
	asJSON, metric   bool
	scaleFromTheAxis bool // the saw's scale reads 90 for a square cut
}

func (f *sectionFlags) add(c *cobra.Command) {
	flags := c.Flags()
	flags.StringVar(&f.from, "from", "", "CSV `FILE` of jobs, - for standard input")
	flags.Float64Var(&f.pass.Mitre, "mitre", 0, "`DEGREES` from a square cut; with --saw as its scale reads")
	flags.IntVar(&f.pass.Count, "count", 1, "`BARS` cut together, side by side")
	flags.StringVar(&f.lay, "lay", "", "`LAY`, which side the blade meets, e.g. web-vertical; a wrong one is told what its shape allows")
	flags.StringVar(&f.kind, "saw-kind", string(analyze.FixedFrame), "`KIND` of saw: "+listed(analyze.SawKinds()))
	flags.StringVar(&f.saw, "saw", "", "`NAME` of a configured saw, for its kind and its mitre scale")
	flags.StringVar(&f.cut.TPI, "tpi", "", "`PITCH` in teeth per inch, 3 or 3/4")
	flags.StringVar(&f.blade, "blade", "", "configured blade `TYPE`, for its pitch")
	flags.Float64Var(&f.cut.Rate, "rate", 0, "`IN2` a minute that the saw holds; with --band-speed and --tpi gives the feed per tooth")
	flags.Float64Var(&f.cut.Feed, "feed", 0, "`IN` a minute that the saw holds, instead of --rate")
	flags.Float64Var(&f.cut.Speed, "band-speed", 0, "band speed in `FT` a minute")
	flags.StringVar(&f.grade, "grade", "", "configured `GRADE`, for its usual rate and band speed")
	flags.BoolVar(&f.metric, "mm", false, "lengths of a section object are in mm")
	flags.BoolVar(&f.asJSON, "json", false, "one JSON object")
}

// sectionOne answers for one section.
func (p *program) sectionOne(c *cobra.Command, f *sectionFlags, text string) error {
	j := jobs.Job{Text: text}
	_, grade, err := p.configured(c, f)
	if err != nil {
		return err
	}
	j.Grade, j.Pass = grade, f.pass
	if f.scaleFromTheAxis && c.Flags().Changed("mitre") {
		j.Pass.Mitre = jobs.FromAxis(j.Pass.Mitre)
	}
	if err := errors.Join(f.checkPass(j.Pass), f.check(j.Grade)); err != nil {
		return usageError{err}
	}
	if j.Section, err = f.section(text); err != nil {
		return usageError{err}
	}
	if err := f.readPitch(); err != nil {
		return usageError{err}
	}
	a := jobs.Study(j, f.cut)
	if f.asJSON {
		return p.writeJSON(a)
	}
	err = a.Write(p.out, f.cut)
	if err == nil && a.Advises() {
		_, err = fmt.Fprintf(p.out, "\n%s\n", caution)
	}
	return err
}

// check checks the flags of the blade. What a grade tells need not be said.
func (f *sectionFlags) check(g *analyze.Grade) error {
	b := f.cut
	switch {
	case !(b.Rate >= 0 && b.Rate <= 5000):
		return fmt.Errorf("--rate is %v, allowed is more than 0 and at most 5000 in²/min", b.Rate)
	case !(b.Feed >= 0 && b.Feed <= 5000):
		return fmt.Errorf("--feed is %v, allowed is more than 0 and at most 5000 in/min", b.Feed)
	case !(b.Speed >= 0 && b.Speed <= 10000):
		return fmt.Errorf("--band-speed is %v, allowed is more than 0 and at most 10000 ft/min", b.Speed)
	case b.Rate > 0 && b.Feed > 0:
		return fmt.Errorf("--rate and --feed: a saw holds one of them, allowed is one")
	case g != nil && b.TPI == "":
		return fmt.Errorf("--grade is for the feed per tooth, which needs --tpi or --blade too")
	case g != nil || f.from != "":
		return nil
	}
	held := b.Rate > 0 || b.Feed > 0
	if held != (b.Speed > 0) || held && b.TPI == "" {
		return fmt.Errorf("the feed per tooth needs --rate, --band-speed and --tpi together")
	}
	return nil
}

func (f *sectionFlags) checkPass(p section.Pass) error {
	switch {
	case !(math.Abs(p.Mitre) < 85) && f.scaleFromTheAxis:
		return fmt.Errorf("--mitre is %v, allowed is more than 5 and less than 175 degrees on the scale of %s, 90 for a square cut", jobs.FromAxis(p.Mitre), f.saw)
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

// section reads the section as it is to lie.
func (f *sectionFlags) section(text string) (section.Section, error) {
	if f.metric && !jobs.IsObject(text) {
		return section.Section{}, fmt.Errorf("--mm is for a section object, and %.40q is a designation, which is always in inches", text)
	}
	s, err := jobs.ReadSection(text, f.metric)
	if err != nil || f.lay == "" {
		return s, err
	}
	s.Lay = section.Lay(f.lay)
	if err := s.Check(); err != nil {
		return s, fmt.Errorf("--lay: %w", err)
	}
	return s, nil
}

// readPitch reads the pitch where one is told.
func (f *sectionFlags) readPitch() (err error) {
	if f.cut.TPI == "" {
		return nil
	}
	if f.cut.Low, f.cut.High, err = section.ParseTPI(f.cut.TPI); err != nil {
		return fmt.Errorf("--%w", err)
	}
	return nil
}

// configured fills in what --saw, --blade and --grade name. The configuration is
// read, and not nil, only when one of them or a list asks for it.
func (p *program) configured(c *cobra.Command, f *sectionFlags) (*config.Config, *analyze.Grade, error) {
	f.pass.Saw = analyze.SawKind(f.kind)
	if f.saw == "" && f.blade == "" && f.grade == "" && f.from == "" {
		return nil, nil, nil
	}
	cfg, err := p.config(c)
	if err != nil {
		return nil, nil, err
	}
	if err := errors.Join(f.takeSaw(&cfg.Config, c.Flags().Changed("saw-kind")), f.takeBlade(&cfg.Config)); err != nil {
		return nil, nil, usageError{err}
	}
	if f.grade == "" {
		return &cfg.Config, nil, nil
	}
	g, ok := cfg.GradeOf(f.grade)
	if !ok {
		return nil, nil, usageError{fmt.Errorf("--grade %s: no such grade is configured, allowed is one that gullet check --print lists", f.grade)}
	}
	return &cfg.Config, &g, nil
}

// takeSaw takes the kind, unless the command line tells it, and the mitre scale
// of the saw.
func (f *sectionFlags) takeSaw(cfg *config.Config, told bool) error {
	if f.saw == "" {
		return nil
	}
	saw, ok := cfg.SawOf(f.saw)
	switch {
	case !ok:
		return notConfigured("--saw", f.saw, "saw", namesOf(cfg.Saws, func(s analyze.Saw) string { return s.Name }))
	case told:
	case saw.Kind == "":
		return fmt.Errorf("--saw %s: its kind is not configured, allowed is one with a kind, or --saw-kind beside it", f.saw)
	default:
		f.pass.Saw = saw.Kind
	}
	f.scaleFromTheAxis = saw.MitreFromAxis
	return nil
}

// takeBlade takes the pitch of the blade type, unless the command line tells it.
func (f *sectionFlags) takeBlade(cfg *config.Config) error {
	if f.blade == "" {
		return nil
	}
	blade, ok := cfg.BladeTypeOf(f.blade)
	switch {
	case !ok:
		return notConfigured("--blade", f.blade, "blade type", namesOf(cfg.BladeTypes, func(b analyze.BladeType) string { return b.Name }))
	case f.cut.TPI != "":
	case blade.TPI == "":
		return fmt.Errorf("--blade %s: its pitch is not configured, allowed is one with a tpi, or --tpi beside it", f.blade)
	default:
		f.cut.TPI = blade.TPI
	}
	return nil
}

func namesOf[T any](rows []T, name func(T) string) []string {
	names := make([]string, len(rows))
	for i, r := range rows {
		names[i] = name(r)
	}
	return names
}

// notConfigured says of a name what it was for and which there are.
func notConfigured(flag, name, what string, allowed []string) error {
	if len(allowed) == 0 {
		return fmt.Errorf("%s %s: no %s is configured (gullet.toml, or --config FILE)", flag, name, what)
	}
	return fmt.Errorf("%s %s: no such %s is configured, allowed is %s", flag, name, what, listed(allowed))
}
