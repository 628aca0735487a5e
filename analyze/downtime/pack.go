package downtime

import (
	"encoding/binary"
	"errors"
	"math"
	"time"

	"gullet/analyze"
)

// A day is kept as two strings of bytes, sums and events, so that whoever needs only
// the sums of a year reads only them. Numbers are variable-length integers of
// encoding/binary; a text stands where it occurs first and is a number after that.

// Version is that of the time line and of packed days, their first byte: days that
// were summed up by another are summed up anew.
const Version = 1

// ErrPacked says that bytes are no day, or one of another version.
var ErrPacked = errors.New("the bytes are no packed day of this version")

// Pack writes a day's sums and its events. Date, From and To are not in them.
func (d *Day) Pack() (sums, events []byte) {
	p := newPacker()
	p.count(len(d.Times))
	for i := range d.Times {
		p.time(&d.Times[i])
	}
	p.count(len(d.Work))
	for i := range d.Work {
		p.work(&d.Work[i])
	}
	sums = p.out
	p = newPacker()
	p.count(len(d.Stops))
	for i := range d.Stops {
		p.stop(&d.Stops[i], d.From)
	}
	p.count(len(d.Marks))
	for i := range d.Marks {
		p.mark(&d.Marks[i], d.From)
	}
	return sums, p.out
}

type packer struct {
	out   []byte
	texts map[string]uint64
}

func newPacker() *packer {
	return &packer{out: []byte{Version}, texts: map[string]uint64{}}
}

func (p *packer) number(n int64) { p.out = binary.AppendVarint(p.out, n) }
func (p *packer) count(n int)    { p.out = binary.AppendUvarint(p.out, uint64(n)) }
func (p *packer) took(d time.Duration) {
	p.number(d.Microseconds())
}

func (p *packer) float(f float64) {
	p.out = binary.LittleEndian.AppendUint64(p.out, math.Float64bits(f))
}

func (p *packer) text(s string) {
	if n, ok := p.texts[s]; ok {
		p.out = binary.AppendUvarint(p.out, n)
		return
	}
	n := uint64(len(p.texts))
	p.texts[s] = n
	p.out = binary.AppendUvarint(p.out, n)
	p.count(len(s))
	p.out = append(p.out, s...)
}

func (p *packer) time(t *Time) {
	p.text(t.Shift)
	p.text(string(t.Element))
	p.text(string(t.Cause))
	p.text(t.Grade)
	p.took(t.Took)
}

func (p *packer) work(w *Work) {
	p.text(w.Shift)
	p.text(w.Grade)
	for _, n := range []int{w.Pieces, w.Good, w.StandardUnknown, w.AreaUnknown, w.Trips, w.Breaks, w.Clashes} {
		p.count(n)
	}
	p.float(w.Standard)
	p.float(w.Area)
	p.took(w.ClashTime)
}

func (p *packer) stop(s *DayStop, from Moment) {
	p.number(int64(s.From - from))
	p.number(int64(s.To - s.From))
	p.number(int64(s.Parent - s.From))
	p.number(s.Explained)
	p.text(string(s.Told))
	p.text(string(s.Cause))
	p.text(string(s.State))
	p.text(s.Grade)
	p.text(s.Shift)
	p.took(s.Worked)
	p.took(s.Operated)
	flags := 0
	if s.Minor {
		flags |= 1
	}
	if s.Open {
		flags |= 2
	}
	p.count(flags)
}

func (p *packer) mark(m *Mark, from Moment) {
	p.number(int64(m.At - from))
	p.count(int(m.Kind))
	p.took(m.Operated)
	p.float(m.Area)
}

// UnpackSums reads what Pack wrote first into the day.
func (d *Day) UnpackSums(sums []byte) error {
	u := unpacker{in: sums}
	u.begin()
	d.Times = make([]Time, u.count(5))
	for i := range d.Times {
		t := &d.Times[i]
		t.Shift, t.Element, t.Cause, t.Grade, t.Took = u.text(), Element(u.text()), analyze.Cause(u.text()), u.text(), u.took()
	}
	d.Work = make([]Work, u.count(26))
	for i := range d.Work {
		u.work(&d.Work[i])
	}
	return u.end()
}

// UnpackEvents reads what Pack wrote second. The day's From must be as it was.
func (d *Day) UnpackEvents(events []byte) error {
	u := unpacker{in: events}
	u.begin()
	d.Stops = make([]DayStop, u.count(12))
	for i := range d.Stops {
		u.stop(&d.Stops[i], d.From)
	}
	d.Marks = make([]Mark, u.count(11))
	for i := range d.Marks {
		m := &d.Marks[i]
		m.At = d.From + Moment(u.number())
		m.Kind, m.Operated, m.Area = MarkKind(u.whole()), u.took(), u.float()
	}
	return u.end()
}

// unpacker reads; after the first mistake everything it reads is zero.
type unpacker struct {
	in    []byte
	texts []string
	bad   bool
}

func (u *unpacker) begin() {
	if len(u.in) == 0 || u.in[0] != Version {
		u.fail()
		return
	}
	u.in = u.in[1:]
}

func (u *unpacker) fail() { u.bad, u.in = true, nil }

func (u *unpacker) end() error {
	if u.bad || len(u.in) > 0 {
		return ErrPacked
	}
	return nil
}

func (u *unpacker) number() int64 {
	n, size := binary.Varint(u.in)
	if size <= 0 {
		u.fail()
		return 0
	}
	u.in = u.in[size:]
	return n
}

func (u *unpacker) whole() uint64 {
	n, size := binary.Uvarint(u.in)
	if size <= 0 {
		u.fail()
		return 0
	}
	u.in = u.in[size:]
	return n
}

// count is how many things follow that take so many bytes at least: no more than
// there can be, so that damaged bytes claim no memory.
func (u *unpacker) count(least int) int {
	n := u.whole()
	if n > uint64(len(u.in)/least) {
		u.fail()
		return 0
	}
	return int(n)
}

func (u *unpacker) took() time.Duration { return time.Duration(u.number()) * time.Microsecond }

func (u *unpacker) float() float64 {
	if len(u.in) < 8 {
		u.fail()
		return 0
	}
	f := math.Float64frombits(binary.LittleEndian.Uint64(u.in))
	u.in = u.in[8:]
	return f
}

func (u *unpacker) text() string {
	n := u.whole()
	switch {
	case n < uint64(len(u.texts)):
		return u.texts[n]
	case n > uint64(len(u.texts)) || u.bad:
		u.fail()
		return ""
	}
	size := u.whole()
	if size > uint64(len(u.in)) {
		u.fail()
		return ""
	}
	s := string(u.in[:size])
	u.in = u.in[size:]
	u.texts = append(u.texts, s)
	return s
}

func (u *unpacker) work(w *Work) {
	w.Shift, w.Grade = u.text(), u.text()
	for _, n := range []*int{&w.Pieces, &w.Good, &w.StandardUnknown, &w.AreaUnknown, &w.Trips, &w.Breaks, &w.Clashes} {
		*n = int(u.whole())
	}
	w.Standard, w.Area, w.ClashTime = u.float(), u.float(), u.took()
}

func (u *unpacker) stop(s *DayStop, from Moment) {
	s.From = from + Moment(u.number())
	s.To = s.From + Moment(u.number())
	s.Parent = s.From + Moment(u.number())
	s.Explained = u.number()
	s.Told, s.Cause, s.State = analyze.Cause(u.text()), analyze.Cause(u.text()), analyze.State(u.text())
	s.Grade, s.Shift, s.Worked, s.Operated = u.text(), u.text(), u.took(), u.took()
	flags := u.whole()
	s.Minor, s.Open = flags&1 != 0, flags&2 != 0
}
