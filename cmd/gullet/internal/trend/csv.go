package trend

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"gullet/analyze/deviation"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/list"
)

// The columns of a list.
const (
	colSaw       = "saw"
	colBlade     = "blade"
	colArea      = "area"
	colAt        = "at"
	colDeviation = "deviation"
	colHeight    = "height"
	colLimit     = "limit"
	colGrade     = "grade"
	colMitre     = "mitre"
	colTrip      = "trip"
	colSeconds   = "seconds"
	colFace      = "cut_area"
	colType      = "type"
	colLot       = "lot"
	colSpeed     = "band_speed"
)

// perCut is the in² that a cut counts for where nobody told the area, so that the
// usual life of a blade is a usual number of cuts. It is about the mean of the demo
// shop.
const perCut = 12

// maxRows bounds a list.
const maxRows = 2_000_000

// Read reads a list in CSV with a header line, one cut a line, those of a saw in
// order of time, or in any order where all have a time. A change of the blade's
// name is a change of blade. The first thing that is wrong stops it with an error
// that says file, line, column and what is allowed.
func Read(in io.Reader, file string) (*Data, error) {
	l, err := list.Open(in, file, colSaw, colBlade, colDeviation)
	if err != nil {
		return nil, err
	}
	if !l.Has(colArea) && !l.Has(colAt) {
		return nil, fmt.Errorf("%s, line 1: one of the columns %s and %s is missing; found %s", file, colArea, colAt, l.Found())
	}
	b := builder{list: l, saws: map[string][]row{}}
	for {
		r, err := l.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		if err := b.row(r); err != nil {
			return nil, err
		}
	}
	if b.n == 0 {
		return nil, fmt.Errorf("%s: no cut stands below the header line", file)
	}
	return b.data()
}

// row is one line as it was read.
type row struct {
	blade, kind, lot string
	cut              deviation.Cut
	deviation, limit float64 // as told, NaN
	source           *list.Row
}

type builder struct {
	list    *list.List
	names   []string
	saws    map[string][]row
	n       int
	heights int
}

// row reads one line.
func (b *builder) row(r *list.Row) error {
	if b.n++; b.n > maxRows {
		return fmt.Errorf("%s: more than %d cuts", b.list.File, maxRows)
	}
	name := r.Text(colSaw)
	if name == "" {
		r.Wrong(colSaw, name, "the name of a saw")
	}
	out := row{blade: r.Text(colBlade), kind: r.Text(colType), lot: r.Text(colLot), source: r}
	number := func(column string, required bool, allowed string, ok func(float64) bool) float64 {
		if x, there := r.Number(column, required, allowed, ok); there {
			return x
		}
		return math.NaN()
	}
	positive := func(x float64) bool { return x > 0 }
	c := &out.cut
	c.Area = number(colArea, b.list.Has(colArea), "in² the blade had cut after this cut, 0 or more", func(x float64) bool { return x >= 0 })
	out.deviation = number(colDeviation, false, "a number, signed, or nothing", func(float64) bool { return true })
	out.limit = number(colLimit, false, "a number above 0, or nothing", positive)
	c.Height = number(colHeight, false, "in above 0, or nothing", positive)
	c.Mitre = number(colMitre, false, "degrees from square, more than -85 and less than 85, or nothing", func(x float64) bool { return math.Abs(x) < 85 })
	c.Seconds = number(colSeconds, false, "seconds above 0, or nothing", positive)
	c.Face = number(colFace, false, "in² above 0, or nothing", positive)
	c.Speed = number(colSpeed, false, "ft/min above 0, or nothing", positive)
	c.Grade = r.Text(colGrade)
	if math.IsNaN(c.Mitre) {
		c.Mitre = 0
	}
	if math.IsNaN(c.Height) {
		c.Height = 0
	} else {
		b.heights++
	}
	if b.list.Has(colTrip) {
		c.Tripped = r.OneOf(colTrip, "1", "0", "") == "1"
	} else {
		c.Tripped = math.Abs(out.deviation) >= out.limit
	}
	if text := r.Text(colAt); b.list.Has(colAt) {
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			r.Wrong(colAt, text, "a time with its offset, such as 2026-03-02T09:14:05-06:00")
		}
		c.At = at
	}
	if err := r.Err(); err != nil {
		return err
	}
	if _, known := b.saws[name]; !known {
		b.names = append(b.names, name)
	}
	b.saws[name] = append(b.saws[name], out)
	return nil
}

// data puts the lines into saws and fittings.
func (b *builder) data() (*Data, error) {
	d := &Data{Over: b.heights > 0, Unit: unitArea}
	if !b.list.Has(colArea) && !b.list.Has(colFace) {
		d.Unit = unitCuts
		d.Doubts = append(d.Doubts, "the list has no column area: each cut counts as one, however much it cut")
	}
	slices.Sort(b.names)
	for _, name := range b.names {
		s, err := b.saw(name, d)
		if err != nil {
			return nil, err
		}
		d.Saws = append(d.Saws, s)
	}
	alike(d.Saws)
	return d, nil
}

func (b *builder) saw(name string, d *Data) (Saw, error) {
	s := Saw{Name: name, PerUnit: 1}
	if d.Unit == unitCuts {
		s.PerUnit = perCut
	}
	s.Limit, s.Shift = math.NaN(), math.NaN()
	rows := b.saws[name]
	if b.list.Has(colAt) {
		slices.SortStableFunc(rows, func(x, y row) int { return x.cut.At.Compare(y.cut.At) })
	}
	var told limits
	var heights []float64
	shifts, untold := turnsOf(shift.Default(time.UTC), name), 0
	for i := range rows {
		if err := s.add(&rows[i], b.list.Has(colArea)); err != nil {
			return s, err
		}
		f := s.on()
		c := &f.Cuts[len(f.Cuts)-1]
		height := 1.0
		if d.Over {
			height = c.Height
		}
		c.Deviation = rows[i].deviation / height
		if height == 0 {
			if !math.IsNaN(rows[i].deviation) {
				untold++
			}
			c.Deviation = math.NaN()
		}
		if rows[i].limit > 0 && height > 0 {
			told.add(rows[i].limit, height)
		}
		if height > 0 {
			heights = append(heights, height)
		}
		if !c.At.IsZero() {
			shifts.add(c.At)
		}
	}
	s.Limit, s.Limits, s.Note = told.over(heights)
	s.Tripless = math.IsNaN(s.Limit) && !b.list.Has(colTrip)
	if s.WhyShift = "the list has no column at"; shifts.count() > 0 {
		s.WhyShift = ""
		s.Shift = worked(s.Fittings) / float64(shifts.count())
	}
	if untold > 0 {
		d.Doubts = append(d.Doubts, fmt.Sprintf("saw %s: %s told without the height of the cut and left out", name, figures.Plural(untold, "deviation was", "deviations were")))
	}
	return s, nil
}

// worked is all that was cut in some fittings.
func worked(fittings []deviation.Fitting) (sum float64) {
	for _, f := range fittings {
		sum += f.Cuts[len(f.Cuts)-1].Area - f.Cuts[0].From
	}
	return sum
}

// add puts a cut on the blade that is on, or on the next.
func (s *Saw) add(r *row, told bool) error {
	f := s.on()
	if f == nil || f.Blade != r.blade {
		s.Fittings = append(s.Fittings, deviation.Fitting{Blade: r.blade, Type: r.kind, Lot: r.lot, Start: r.cut.At})
		f = s.on()
	}
	c := r.cut
	before, first := 0.0, len(f.Cuts) == 0
	if !first {
		before = f.Cuts[len(f.Cuts)-1].Area
	} else {
		before = s.earlier(r.blade)
	}
	switch {
	case told && first:
		// What the blade had cut before its first line is known from that line only.
		c.From = c.Area
		if c.Face > 0 && c.Face <= c.Area {
			c.From = c.Area - c.Face
		}
	case told:
		c.From = before
		if c.Area < before {
			r.source.Fail("column %s: found %v after %v on the same blade, allowed is no less: another blade needs another name", colArea, c.Area, before)
			return r.source.Err()
		}
	case c.Face > 0:
		c.From, c.Area = before, before+c.Face
	default:
		c.From, c.Area = before, before+perCut
	}
	if !(c.Face > 0) && c.Area > c.From {
		c.Face = c.Area - c.From
	}
	f.Cuts = append(f.Cuts, c)
	return nil
}

// earlier is what a blade of that name had cut in its last fitting here, 0 where
// there is none, or no name.
func (s *Saw) earlier(blade string) float64 {
	for i := len(s.Fittings) - 2; i >= 0 && strings.TrimSpace(blade) != ""; i-- {
		if f := &s.Fittings[i]; f.Blade == blade && len(f.Cuts) > 0 {
			return f.Cuts[len(f.Cuts)-1].Area
		}
	}
	return 0
}
