package sim

import (
	"bytes"
	"encoding/json"
	"fmt"
	"time"

	"gullet/analyze"
)

// message is the payload of every kind; what a kind does not have is left out.
type message struct {
	ID    string `json:"id"`
	Seq   int64  `json:"seq,omitempty"`
	At    string `json:"at"`
	Units string `json:"units,omitempty"`

	Seconds   float64  `json:"seconds,omitempty"`
	Section   any      `json:"section,omitempty"`
	Count     int      `json:"count,omitempty"`
	Mitre     float64  `json:"mitre,omitempty"`
	Grade     string   `json:"grade,omitempty"`
	BandSpeed float64  `json:"band_speed,omitempty"`
	Feed      float64  `json:"feed,omitempty"`
	Pressure  float64  `json:"pressure,omitempty"`
	Deviation *float64 `json:"deviation,omitempty"`
	Limit     float64  `json:"limit,omitempty"`
	Job       string   `json:"job,omitempty"`
	Piece     string   `json:"piece,omitempty"`
	Purpose   string   `json:"purpose,omitempty"`
	From      float64  `json:"from,omitempty"`
	Done      *float64 `json:"done,omitempty"`
	Where     string   `json:"where,omitempty"`

	Action string `json:"action,omitempty"`
	Blade  string `json:"blade,omitempty"`
	Type   string `json:"type,omitempty"`
	Lot    string `json:"lot,omitempty"` // not in the contract: the coil lot, which Gullet keeps with the reading
	Reason string `json:"reason,omitempty"`

	State string `json:"state,omitempty"`
	Cause string `json:"cause,omitempty"`

	Online *bool `json:"online,omitempty"`
}

// timeLayout is RFC 3339 with milliseconds, the grain of the simulation.
const timeLayout = "2006-01-02T15:04:05.000Z07:00"

// latency is from the moment something happens to its publishing.
const latency = 50 * time.Millisecond

// inMM is the same cut told in mm, m/min and, for the feed, mm/min. A section
// that was a designation stays one.
func (m message) inMM() message {
	m.Units = "mm"
	if s, ok := m.Section.(shape); ok {
		m.Section = s.inMM()
	}
	m.BandSpeed = round(m.BandSpeed*.3048, 4)
	m.Feed = round(m.Feed*25.4, 1)
	m.Limit = round(m.Limit*25.4, 4)
	d := round(*m.Deviation*25.4, 4)
	m.Deviation = &d
	return m
}

// held is a line that waits until so many later ones of its saw have gone.
type held struct {
	line  Line
	after int
}

// send tells something that cuts no area.
func (w *saw) send(k analyze.Kind, m message) { w.sendArea(k, m, 0) }

// sendArea numbers a message and sends it, or has a mishap with it. It reports
// whether a reading that keeps the contract leaves the saw; area is what that
// reading tells, in in².
func (w *saw) sendArea(k analyze.Kind, m message, area float64) bool {
	w.seq++
	m.Seq = w.seq
	l := w.line(k, &m)
	f := w.shop.faults
	// One draw each, whatever is switched on, keeps the mishaps independent.
	lost, late, twice, spoil := w.mishap.Float64(), w.mishap.Float64(), w.mishap.Float64(), w.mishap.Float64()
	wait, again := 1+w.mishap.IntN(3), resendLeast+resendMay*w.mishap.Float64()
	// Losing a blade message would hide a fitting; that trouble is not for here.
	if f.gaps && k != analyze.KindBlade && lost < lostShare && w.lost < lostMost {
		w.lost++
		w.shop.truth.Missing = append(w.shop.truth.Missing, Missing{w.name, m.Seq, m.ID, k, w.now, area})
		return false
	}
	if f.spoiled && k == analyze.KindCut && spoil < spoilShare && w.spoilt < len(spoilers) {
		w.spoil(l, m)
	}
	kept := m.Mitre < 85
	if !kept {
		w.shop.truth.wrong(WrongMitre)
	} else {
		w.sum().Messages[k]++
	}
	if f.disorder && late < lateShare {
		w.shop.truth.Late++
		w.late = append(w.late, held{l, wait})
		return kept
	}
	w.deliver(l)
	if f.duplicates && twice < duplicateShare && kept {
		w.shop.truth.Duplicates++
		resent := l
		resent.At = l.At.Add(time.Duration(again * float64(time.Second)).Round(time.Millisecond))
		w.queue(resent)
	}
	w.release(l.At)
	return kept
}

// line stamps a message with its id and the saw's own clock.
func (w *saw) line(k analyze.Kind, m *message) Line {
	if m.ID == "" {
		w.sent++
		m.ID = fmt.Sprintf("%s-%06d", w.name, w.sent)
	}
	m.At = w.now.Add(w.clockError()).In(w.shop.zone).Format(timeLayout)
	return Line{Topic: topic(w.name, k), Payload: encode(*m), At: w.now.Add(latency)}
}

// encode is the message as JSON. A message always marshals: it holds nothing
// but text and finite numbers.
func encode(m message) json.RawMessage {
	b, err := json.Marshal(m)
	if err != nil {
		panic(err)
	}
	return b
}

// alive tells that the saw's controller is there, or its Will that it is not.
// It carries no seq.
func (w *saw) alive(online bool) {
	w.births++
	m := message{ID: fmt.Sprintf("%s-alive-%d", w.name, w.births), Online: &online}
	l := w.line(analyze.KindAlive, &m)
	l.Retain = true
	w.sum().Messages[analyze.KindAlive]++
	w.queue(l)
}

// deliver queues a line and counts it against those that are held.
func (w *saw) deliver(l Line) {
	w.queue(l)
	for i := range w.late {
		w.late[i].after--
	}
}

// release lets go the held lines whose turn has come, just after a moment.
func (w *saw) release(at time.Time) {
	kept := w.late[:0]
	for _, h := range w.late {
		if h.after > 0 {
			kept = append(kept, h)
			continue
		}
		h.line.At = at.Add(10 * time.Millisecond)
		w.queue(h.line)
	}
	w.late = kept
}

// finish ends the saw's work; what is still held goes out.
func (w *saw) finish() {
	for i := range w.late {
		w.late[i].after = 0
	}
	w.release(w.now.Add(latency))
	w.done = true
}

// queue publishes a line, or after the outage if it falls into it: in the order
// in which the lines were to go.
func (w *saw) queue(l Line) {
	if from, to := w.shop.outage(); w.shop.faults.outage && !l.At.Before(from) && l.At.Before(to) {
		// A part of the distance keeps the order, all within 15 ms.
		l.At = to.Add(l.At.Sub(from) / 100_000)
	}
	w.shop.publish(l)
}

// spoilers make a bad copy of a cut, and say what is wrong with it.
var spoilers = []struct {
	wrong string
	spoil func(p json.RawMessage, m message) json.RawMessage
}{
	{WrongJSON, func(p json.RawMessage, _ message) json.RawMessage { return bytes.Clone(p[:len(p)/2]) }},
	{WrongMissing, func(_ json.RawMessage, m message) json.RawMessage { m.Seconds = 0; return encode(m) }},
	{WrongDeviation, func(_ json.RawMessage, m message) json.RawMessage {
		ten := 10.0
		if m.Units == "mm" {
			ten = 254
		}
		m.Deviation = &ten
		return encode(m)
	}},
}

// spoil sends a bad copy of a cut just before the good one, as a controller
// does that sends again what went wrong: nothing is lost by it.
func (w *saw) spoil(l Line, m message) {
	s := spoilers[w.spoilt]
	w.spoilt++
	w.shop.truth.wrong(s.wrong)
	l.Payload = s.spoil(l.Payload, m)
	l.At = l.At.Add(-latency / 2)
	w.queue(l)
}

// leaveStale publishes a cut of three days ago as the broker's retained value:
// what a controller leaves behind that retains everything. It is state, not a
// new cut.
func (w *saw) leaveStale() {
	m := message{
		ID: w.name + "-stale", At: w.now.AddDate(0, 0, -3).Format(timeLayout),
		Seconds: 95.5, Section: "W12x26", Grade: "A992", BandSpeed: 270,
	}
	w.shop.truth.wrong(WrongRetained)
	w.happened("stale", "a cut of three days ago is the broker's retained value")
	w.queue(Line{Topic: topic(w.name, analyze.KindCut), Payload: encode(m), Retain: true, At: w.now})
}
