package ingest

import (
	"math"
	"strings"
	"time"

	"github.com/go-json-experiment/json/jsontext"

	"gullet/analyze"
)

// numbered keeps a reading and its running number in one allocation.
type numbered struct {
	reading analyze.Reading
	seq     int64
}

// reading turns the message's members into a reading, or says what is wrong.
func (m *message) reading(received time.Time) (*analyze.Reading, *refusal) {
	if missing := m.missing(); missing != "" {
		return nil, refuse(analyze.RejectMissing, "%s: missing: %s", m.kind, missing)
	}
	m.mm = word(m, memUnits, unitWords, "in") == "mm"
	n := &numbered{}
	r := &n.reading
	r.Saw, r.Kind, r.At = m.saw, m.kind, m.time(received)
	r.ID = m.id()
	if m.values[memSeq] != "" {
		n.seq = m.whole(memSeq, 0)
		r.Seq = &n.seq
	}
	switch m.kind {
	case analyze.KindBlade:
		r.Blade = m.blade()
	case analyze.KindState:
		r.State = &analyze.StateChange{
			State: word(m, memState, stateWords, ""),
			Cause: word(m, memCause, causeWords, ""),
		}
	case analyze.KindAlive:
		r.Alive = &analyze.Alive{Online: m.truth(memOnline)}
	default:
		r.Cut = m.cut()
	}
	r.Extra = m.others()
	if m.refusal != nil {
		return nil, m.refusal
	}
	return r, nil
}

// missing names the required members that are not there.
func (m *message) missing() string {
	body := bodies[m.kind]
	var names []string
	if m.values[memID] == "" && m.values[memSeq] == "" {
		names = append(names, "id or seq")
	}
	if m.values[memAt] == "" {
		names = append(names, "at")
	}
	for _, i := range body.required {
		if m.values[i] == "" {
			names = append(names, i.String())
		}
	}
	if body.sized && m.values[memSection] == "" && m.values[memArea] == "" {
		names = append(names, "section or area")
	}
	return strings.Join(names, ", ")
}

// id reads the message's own name, which no sender can mean to be empty.
func (m *message) id() string {
	id := m.text(memID, maxID)
	if m.values[memID] != "" && id == "" {
		m.refuse(analyze.RejectRange, "id is empty, must have 1 to %d characters", maxID)
	}
	return id
}

// others is what the contract does not name, as one compact object; nil when
// there is none.
func (m *message) others() []byte {
	if m.extra == nil {
		return nil
	}
	extra := jsontext.Value(append(m.extra, '}'))
	if err := extra.Compact(); err != nil {
		m.refuse(analyze.RejectJSON, "unknown members: %s", printable(err.Error(), longWords))
	}
	return extra
}

// cutBody keeps a cut and the numbers it points to in one allocation.
type cutBody struct {
	cut analyze.Cut
	seconds, square, height, bandSpeed,
	feed, pressure, deviation, limit, done float64
}

// cut reads a pass through metal: a cut, a trip or a break. A member that the
// kind does not know has no value here.
func (m *message) cut() *analyze.Cut {
	b := &cutBody{}
	c := &b.cut
	c.Seconds = m.measure(memSeconds, &b.seconds)
	m.size(b)
	c.Count = int(m.whole(memCount, 1))
	c.Mitre, c.FromAxis = m.mitre()
	c.Grade = m.label(memGrade, maxText)
	c.BandSpeed = m.measure(memBandSpeed, &b.bandSpeed)
	c.Feed = m.measure(memFeed, &b.feed)
	c.Pressure = m.measure(memPressure, &b.pressure)
	c.Deviation = m.measure(memDeviation, &b.deviation)
	c.Limit = m.measure(memLimit, &b.limit)
	c.Serial = m.label(memBlade, maxSerial)
	c.Job = m.label(memJob, maxText)
	c.Piece = m.label(memPiece, maxText)
	c.Purpose = word(m, memPurpose, purposeWords, analyze.PurposePart)
	c.From, _ = m.number(memFrom, limits[memFrom])
	c.Done = m.measure(memDone, &b.done)
	if c.Done != nil && *c.Done < c.From {
		m.refuse(analyze.RejectRange, "done is %s, must be at least from, which is %s", show(m.values[memDone]), show(m.values[memFrom]))
	}
	m.plausible(c)
	if m.kind == analyze.KindBreak {
		c.Where = word(m, memWhere, placeWords, analyze.PlaceUnknown)
	}
	return c
}

// plausible refuses what no saw cuts though each member alone could be: too
// large a face, or metal faster than any band goes through it.
func (m *message) plausible(c *analyze.Cut) {
	if m.refusal != nil || c.Square == nil {
		return
	}
	if face := c.Face(); face > maxFace {
		m.refuse(analyze.RejectRange, "section, count and mitre make a cut of %s in2, must be at most %d in2", plainNumber(face), int(maxFace))
		return
	}
	area := c.Area(m.kind)
	if area == nil || c.Seconds == nil {
		return
	}
	if rate := *area / *c.Seconds * 60; rate > maxRate {
		m.refuse(analyze.RejectRange, "area and seconds make %s in2/min, must be at most %d in2/min", plainNumber(rate), int(maxRate))
	}
}

// maxFace and maxRate keep out slips, in in² and in²/min. Free-cutting
// aluminium goes at 15 to 30 in²/min (common practice, from memory), and a
// bundle of a hundred bars is cut as one.
const (
	maxFace = 20_000
	maxRate = 5_000
)

// size reads the section and the area. The section counts where both are sent,
// since it also tells the height and the contact; an area that tells of
// another bar is an error somebody must see.
func (m *message) size(b *cutBody) {
	b.cut.Square = m.measure(memArea, &b.square)
	s := m.section()
	if s == nil {
		return
	}
	if b.cut.Square != nil && math.Abs(b.square-s.square) > maxDisagreement*s.square {
		m.refuse(analyze.RejectSection, "area is %s%s, but section %s has %s%s; they may differ by at most %g %%",
			show(m.values[memArea]), m.unit(areas), show(s.name), plainNumber(s.square*m.scale(areas)), m.unit(areas), maxDisagreement*100)
		return
	}
	b.square, b.cut.Square = s.square, &b.square
	b.cut.Section = s.name
	if s.height > 0 {
		b.height, b.cut.Height = s.height, &b.height
	}
}

// mitre reads the angle in degrees from square, and whether it was sent as
// counted from the bar's axis. No angle is a square cut on any saw.
func (m *message) mitre() (degrees float64, fromAxis bool) {
	if m.values[memMitre] == "" || !m.decoder.options.FromAxis(m.saw) {
		degrees, _ = m.number(memMitre, limits[memMitre])
		return degrees, false
	}
	v, sent := m.number(memMitre, limit{onScale, onAxis - maxMitre, onAxis + maxMitre, true, true})
	if !sent {
		return 0, true
	}
	return onAxis - v, true
}

// blade reads a blade fitted or removed.
func (m *message) blade() *analyze.BladeChange {
	b := &analyze.BladeChange{
		Action: word(m, memAction, actionWords, ""),
		Serial: m.label(memBlade, maxSerial),
		Type:   m.label(memType, maxText),
	}
	if b.Serial == "" {
		m.refuse(analyze.RejectRange, "blade is empty, must have 1 to %d characters", maxSerial)
	}
	switch {
	case b.Action == analyze.ActionRemove:
		b.Reason = word(m, memReason, reasonWords, analyze.ReasonUnknown)
	case m.values[memReason] != "":
		m.refuse(analyze.RejectType, "reason is given with action fit, it belongs to remove")
	}
	return b
}
