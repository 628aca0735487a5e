// Package jobs tells before a job is run how its teeth will fare: how many are
// in the cut along the stroke, how much each is fed, and whether the job strips
// teeth or fills their gullets. It reads a shop's list of jobs, counts each and
// writes the answer for people and for programs.
//
// A verdict goes by common practice, by the average width of cut, and advises; it
// knows nothing of how a job went. What is not known of a job is said in Why,
// and no verdict is given.
package jobs

import (
	"fmt"

	"gullet/analyze"
	"gullet/analyze/section"
	"gullet/cmd/gullet/internal/figures"
)

// Job is what is to be cut.
type Job struct {
	Name    string // as people call it, "" for its section
	Text    string // the section as it was given
	Section section.Section
	Pass    section.Pass
	Grade   *analyze.Grade // nil is not known
}

// Blade is what cuts it. Of Rate and Feed the one the saw holds is set; what is
// 0 is taken from the grade of the job, where that is known.
type Blade struct {
	TPI               string  // as given, "" is not known
	Low, High         float64 // teeth per inch at the coarse and at the fine end
	Rate, Feed, Speed float64 // in²/min, in/min, ft/min
}

// drive is how the blade goes through a job, at the middle of its pitch.
func (b Blade) drive(g *analyze.Grade) section.Drive {
	d := section.Drive{Rate: b.Rate, Feed: b.Feed, Speed: b.Speed, TPI: (b.Low + b.High) / 2}
	if g == nil {
		return d
	}
	if d.Rate == 0 && d.Feed == 0 {
		d.Rate = g.Rate
	}
	if d.Speed == 0 {
		d.Speed = g.BandSpeed
	}
	return d
}

// The verdicts.
const (
	Strips = "strips teeth"
	Fills  = "fills gullets"
	Sound  = "sound"
)

// Fewer teeth than fewest strip, more than greatest fill their gullets; from
// bestLow to bestHigh is best. Common practice (the project's domain reference,
// section 3), by the average width of cut.
const fewest, bestLow, bestHigh, greatest = 3.0, 6.0, 12.0, 24.0

// Answer is what Gullet counts for a job. Nil is unknown, and Why says why.
type Answer struct {
	Job         string    `json:"job,omitempty"`
	Section     string    `json:"section"`
	Area        float64   `json:"area"`
	CutArea     float64   `json:"cut_area"`
	ContactMin  *float64  `json:"contact_min"`
	ContactMean *float64  `json:"contact_mean"`
	ContactMax  *float64  `json:"contact_max"`
	TeethMin    *float64  `json:"teeth_min"` // of the least contact at the coarse end of the pitch
	TeethMax    *float64  `json:"teeth_max"` // of the most contact at the fine end
	TeethCoarse *float64  `json:"teeth_mean_coarse"`
	TeethFine   *float64  `json:"teeth_mean_fine"`
	BiteMin     *float64  `json:"feed_per_tooth_min"`
	BiteMean    *float64  `json:"feed_per_tooth_mean"`
	BiteMax     *float64  `json:"feed_per_tooth_max"`
	Verdict     string    `json:"verdict,omitempty"`
	Caution     string    `json:"caution,omitempty"` // what may go wrong with the teeth
	Note        string    `json:"note,omitempty"`    // what asks for care in part of the cut
	Thinnest    *Stretch  `json:"thinnest,omitempty"`
	Profile     []Stretch `json:"profile,omitempty"`      // through one bar
	Bars        int       `json:"bars_in_turn,omitempty"` // that repeat the profile, where the blade meets several in turn
	Shares      []Share   `json:"shares,omitempty"`
	Unit        string    `json:"unit"` // of the lengths; areas are its square
	Grade       string    `json:"grade,omitempty"`
	Mitre       float64   `json:"mitre"`
	Lay         string    `json:"lay,omitempty"` // as taken; a round has none
	SawKind     string    `json:"saw_kind"`      // as taken
	Why         string    `json:"why,omitempty"`
}

// Stretch is a part of the stroke: depths from where the blade touches, and
// bounds of what is in it. A bite is nil where it is not known, and BiteMax where
// it is beyond bounds since the contact starts from nothing.
type Stretch struct {
	From       float64  `json:"from"`
	To         float64  `json:"to"`
	ContactMin float64  `json:"contact_min"`
	ContactMax float64  `json:"contact_max"`
	TeethMin   float64  `json:"teeth_min"`
	TeethMax   float64  `json:"teeth_max"`
	BiteMin    *float64 `json:"feed_per_tooth_min"`
	BiteMax    *float64 `json:"feed_per_tooth_max"`
}

// Share is how much of a cut goes with a number of teeth, at the middle of the
// pitch. To is nil in the last.
type Share struct {
	From   float64  `json:"teeth_from"`
	To     *float64 `json:"teeth_to"`
	Stroke float64  `json:"stroke"`
	Area   float64  `json:"area"`
}

// rows is how many lines a profile has at most.
const rows = 8

// Study counts one job.
func Study(j Job, b Blade) Answer {
	s := j.Section
	a := Answer{Job: j.Name, Section: j.Text, Unit: "in", Mitre: j.Pass.Mitre, Lay: string(s.Lay), SawKind: string(j.Pass.Saw)}
	if s.Designation != "" {
		a.Section = s.Designation
	}
	if lays := section.Lays(s.Shape); a.Lay == "" && len(lays) > 0 {
		a.Lay = string(lays[0])
	}
	if j.Grade != nil {
		a.Grade = j.Grade.Name
	}
	a.Area = s.Area()
	a.CutArea = section.CutArea(a.Area, j.Pass.Count, j.Pass.Mitre)
	if j.Pass.Mitre != 0 && j.Pass.Saw == analyze.FixedFrame {
		a.Why = fmt.Sprintf("contact at an angle depends on the saw: give --saw-kind %s or %s", analyze.TiltingColumn, analyze.SwivelFrame)
		return a
	}
	contact, err := s.Contact(j.Pass)
	if err != nil {
		a.Why = err.Error()
		return a
	}
	a.ContactMin, a.ContactMean, a.ContactMax = &contact.Min, &contact.Mean, &contact.Max
	if b.Low == 0 {
		a.Why = "teeth in the cut need --tpi"
		return a
	}
	if err := a.teeth(j, b, contact); err != nil {
		a.Why = err.Error()
	}
	return a
}

// teeth adds what the teeth of a blade do.
func (a *Answer) teeth(j Job, b Blade, contact section.Contact) error {
	least, most := contact.Teeth(b.Low, b.High)
	coarse, fine := contact.Mean*b.Low, contact.Mean*b.High
	a.TeethMin, a.TeethMax, a.TeethCoarse, a.TeethFine = &least, &most, &coarse, &fine
	drive := b.drive(j.Grade)
	a.BiteMin, a.BiteMean, a.BiteMax = bite(drive, contact.Max), bite(drive, contact.Mean), bite(drive, contact.Min)
	a.Verdict, a.Caution = verdict(coarse, fine)

	profile, err := j.Section.Stretches(j.Pass, rows)
	if err != nil {
		return err
	}
	thinnest, err := j.Section.Thinnest(j.Pass)
	if err != nil {
		return err
	}
	shares, err := j.Section.Shares(j.Pass, drive.TPI)
	if err != nil {
		return err
	}
	for _, st := range profile {
		a.Profile = append(a.Profile, stretch(st, b, drive))
	}
	if j.Pass.Saw == analyze.TiltingColumn && j.Pass.Count > 1 {
		a.Bars = j.Pass.Count
	}
	for _, sh := range shares {
		a.Shares = append(a.Shares, Share{From: sh.From, To: figures.Finite(sh.To), Stroke: sh.Stroke, Area: sh.Area})
	}
	thin := stretch(thinnest, b, drive)
	a.Thinnest = &thin
	if a.Verdict != Strips && thin.TeethMin < fewest {
		a.Note = fmt.Sprintf("%s only %s are in the cut: clamp firmly and feed gently there", a.where(thin), teeth(thin.TeethMin, thin.ContactMin*b.High))
	}
	return nil
}

func stretch(s section.Stretch, b Blade, d section.Drive) Stretch {
	least, most := s.Least(), s.Most()
	return Stretch{
		From: s.From, To: s.To, ContactMin: least, ContactMax: most,
		TeethMin: least * b.Low, TeethMax: most * b.High,
		BiteMin: bite(d, most), BiteMax: bite(d, least),
	}
}

func bite(d section.Drive, contact float64) *float64 { return figures.Finite(d.Bite(contact)) }

// verdict says what too few or too many teeth in the average width of cut do: by
// common practice that width, and not the web or the flange alone, picks the
// pitch. The caution is "" where neither threatens.
func verdict(coarse, fine float64) (verdict, caution string) {
	switch {
	case coarse < fewest*(1-1e-9): // 3 by rounding are 3
		return Strips, "fewer than 3 teeth are in the average width and may strip: take a finer pitch"
	case fine > greatest*(1+1e-9):
		return Fills, "more than 24 teeth are in the average width and their gullets may fill: take a coarser pitch"
	}
	return Sound, ""
}

// name is what the job is called.
func (a *Answer) name() string {
	if a.Job != "" {
		return a.Job
	}
	return a.Section
}
