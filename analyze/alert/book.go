package alert

import (
	"maps"
	"slices"
	"time"
)

// Book is what stands, and what channels are still to be told is over. It is changed by
// Step, Note, Post and Untell, and kept by its owner from Unsaved; when that fails, the
// owner opens a new one from what was kept last.
//
// It is for one goroutine.
type Book struct {
	stands  map[Key]*entry   // waiting and raised
	leaving map[int64]*entry // over, and perhaps a channel is to be told
	byID    map[int64]*entry // all that were raised
	gone    []int64          // nothing more will be told of these
	last    int64            // the highest number given
	looks   int64
	sent    map[string][]time.Time // by channel, when messages were made
}

// entry is a condition with what need not be kept.
type entry struct {
	Condition
	seen    int64 // the look that found it last
	unsaved bool  // it must be kept
	newer   bool  // its level or words are newer than those kept
	kept    time.Time
	gone    bool // nothing more will be told of it
}

// Open is a book of the conditions kept last, not waiting ones: those that stand, and
// those that are over of which a channel is perhaps still to be told. Last is the
// highest number ever given to a condition; sent tells by channel when messages were
// made of late, for their caps.
func Open(kept []Condition, last int64, sent map[string][]time.Time) *Book {
	b := &Book{stands: map[Key]*entry{}, leaving: map[int64]*entry{}, byID: map[int64]*entry{}, last: last, sent: map[string][]time.Time{}}
	for i := range kept {
		e := &entry{Condition: kept[i]}
		e.Told = maps.Clone(e.Told)
		b.byID[e.ID] = e
		if e.Cleared.IsZero() {
			b.stands[e.Key] = e
		} else {
			b.leaving[e.ID] = e
		}
		b.last = max(b.last, e.ID)
	}
	for name, times := range sent {
		b.sent[name] = slices.Clone(times)
	}
	return b
}

// refreshEvery is how often the level and words of a condition are kept anew when
// nothing else of it changes, for whoever lists them.
const refreshEvery = time.Minute

// Unsaved is what must be kept since it was called last, by number: conditions, and the
// numbers of those of which nothing more will be told.
func (b *Book) Unsaved(now time.Time) (list []Condition, closed []int64) {
	for _, e := range b.byID {
		if !e.unsaved && (!e.newer || now.Sub(e.kept) < refreshEvery) {
			continue
		}
		e.unsaved, e.newer, e.kept = false, false, now
		c := e.Condition
		c.Told = maps.Clone(c.Told)
		list = append(list, c)
	}
	for _, id := range b.gone {
		delete(b.byID, id)
		delete(b.leaving, id)
	}
	closed, b.gone = b.gone, nil
	slices.SortFunc(list, func(a, b Condition) int { return int(a.ID - b.ID) })
	slices.Sort(closed)
	return list, closed
}

// Standing are the conditions that are raised and stand, the worst first, then by number.
func (b *Book) Standing() []Condition {
	var list []Condition
	for _, e := range b.stands {
		if e.Open() {
			list = append(list, e.Condition)
		}
	}
	slices.SortFunc(list, func(a, b Condition) int {
		if a.Severity != b.Severity {
			return int(b.Severity - a.Severity)
		}
		return int(a.ID - b.ID)
	})
	return list
}

// Note takes what a person did about a condition. It is false, and nothing changes, of a
// condition that does not stand, and of a note that was taken before.
func (b *Book) Note(n *Note) (Change, bool) {
	e, ok := b.byID[n.Condition]
	if !ok || !e.Open() {
		return Change{}, false
	}
	kept := &e.Acknowledged
	what := PhaseAcknowledged
	if n.Action == Snooze {
		kept, what = &e.Snoozed, PhaseSnoozed
	}
	if *kept != nil && (*kept).ID >= n.ID {
		return Change{}, false
	}
	note := *n
	*kept, e.unsaved = &note, true
	return Change{ID: e.ID, What: what, At: n.At, Level: e.Level, Reason: n.Who + ": " + n.Why}, true
}
