package alert

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Post makes the messages that are due by holding what stands against what each channel
// was told last, and notes them as told: book and messages must be kept together.
//
// A channel's severe conditions go at once, even in its quiet hours; others when the
// oldest has waited for Wait and no quiet hour holds them. So many as Flood, or more than
// the cap has room for, become one message. Where there is no room at all they wait: the
// last message of the cap is kept for the severe (at most about ten in ten minutes for
// one person, common practice after ISA-18.2 and IEC 62682).
func (b *Book) Post(channels []Channel, now time.Time) []Message {
	var messages []Message
	for i := range channels {
		c := &channels[i]
		urgent, rest := b.due(c, now)
		messages = b.send(messages, c, urgent, c.Cap-b.used(c, now), now)
		if len(rest) > 0 && !c.Quiet.Holds(now) && now.Sub(oldest(rest)) >= c.Wait {
			messages = b.send(messages, c, rest, c.Cap-1-b.used(c, now), now)
		}
	}
	b.close(channels)
	return messages
}

// news is a condition that a channel is to be told of.
type news struct {
	*entry
	phase Phase
	due   time.Time // since when
}

// due is what a channel is to be told, by number: the severe that is new, and the rest.
func (b *Book) due(c *Channel, now time.Time) (urgent, rest []news) {
	for _, e := range b.byID {
		n, ok := c.news(e, now)
		switch {
		case !ok:
		case n.phase != PhaseCleared && e.Severity == Severe:
			urgent = append(urgent, n)
		default:
			rest = append(rest, n)
		}
	}
	for _, list := range [][]news{urgent, rest} {
		slices.SortFunc(list, func(a, b news) int { return int(a.ID - b.ID) })
	}
	return urgent, rest
}

// news is what a channel is to be told of a condition, if anything.
func (c *Channel) news(e *entry, now time.Time) (news, bool) {
	told, known := e.Told[c.Name]
	switch {
	case known && told.Cleared:
	case !e.Cleared.IsZero():
		return news{e, PhaseCleared, e.Cleared}, known
	case e.Acknowledged != nil, e.Snoozed != nil && now.Before(e.Snoozed.Until), !c.takes(e):
	case known:
		return news{e, PhaseUpdated, e.Changed}, told.Version < e.Version
	case now.Sub(e.Raised) >= c.After:
		return news{e, PhaseRaised, e.Raised.Add(c.After)}, true
	}
	return news{}, false
}

// takes reports whether a channel is to hear of a condition.
func (c *Channel) takes(e *entry) bool {
	return e.Severity >= c.Severity &&
		(c.Kinds == nil || slices.Contains(c.Kinds, e.Kind)) &&
		(c.Saws == nil || e.Saw == "" || slices.Contains(c.Saws, e.Saw)) &&
		(e.Kind != DeliveryFailing || e.Of != c.Name)
}

func oldest(list []news) time.Time {
	return slices.MinFunc(list, func(a, b news) int { return a.due.Compare(b.due) }).due
}

// used is how many messages a channel was given within its Per.
func (b *Book) used(c *Channel, now time.Time) int {
	b.sent[c.Name] = slices.DeleteFunc(b.sent[c.Name], func(t time.Time) bool { return now.Sub(t) >= c.Per })
	return len(b.sent[c.Name])
}

// send makes one message of each, or one of all where they are many or room is short.
func (b *Book) send(messages []Message, c *Channel, list []news, room int, now time.Time) []Message {
	if len(list) == 0 || room <= 0 {
		return messages
	}
	each := 1
	if len(list) >= max(c.Flood, 2) || len(list) > room {
		each = len(list)
	}
	for some := range slices.Chunk(list, each) {
		m := Message{Channel: c.Name, At: now, Expires: now.Add(c.Keep)}
		for _, n := range some {
			m.Items = append(m.Items, c.item(n))
			m.Severity = max(m.Severity, n.Severity)
			n.told(c.Name, now)
		}
		first := &m.Items[0]
		m.Key = fmt.Sprintf("%d.%d.%s.%d", first.Condition, first.Version, first.Phase, now.UnixMicro())
		if len(m.Items) == 1 {
			m.Thread = fmt.Sprint(first.Condition)
		}
		messages = append(messages, m)
		b.sent[c.Name] = append(b.sent[c.Name], now)
	}
	counts := b.counts(c)
	for i := range messages {
		if messages[i].Channel == c.Name {
			messages[i].Standing = counts
		}
	}
	return messages
}

// item is what a message says of a condition.
func (c *Channel) item(n news) Item {
	return Item{
		Condition: n.ID, Version: n.Version, Phase: n.phase, Key: n.Key, Severity: n.Severity,
		Since: n.Since, Raised: n.Raised, Cleared: n.Cleared, Level: n.Level, Unit: SpecOf(n.Kind).Unit,
		Words: n.Words, Reason: n.Reason, Escalated: c.After > 0 && n.phase == PhaseRaised,
	}
}

func (e *entry) told(channel string, now time.Time) {
	if e.Told == nil {
		e.Told = map[string]Told{}
	}
	e.Told[channel] = Told{Version: e.Version, Cleared: !e.Cleared.IsZero(), At: now}
	e.unsaved = true
}

// counts is how many conditions that a channel knows of stand, by severity.
func (b *Book) counts(c *Channel) map[string]int {
	counts := map[string]int{}
	for _, s := range Severities() {
		counts[s] = 0
	}
	for _, e := range b.stands {
		if _, known := e.Told[c.Name]; known && e.Open() {
			counts[e.Severity.String()]++
		}
	}
	return counts
}

// close notes conditions that are over and of which no channel is still to be told.
func (b *Book) close(channels []Channel) {
	for id, e := range b.leaving {
		if !slices.ContainsFunc(channels, func(c Channel) bool {
			told, known := e.Told[c.Name]
			return known && !told.Cleared
		}) && !e.gone {
			e.gone = true
			b.gone = append(b.gone, id)
		}
	}
}

// Untell takes back a message that was given up: what stands of it will be told anew.
func (b *Book) Untell(m *Message) {
	for i := range m.Items {
		e, ok := b.byID[m.Items[i].Condition]
		if !ok || e.Told[m.Channel].At.After(m.At) {
			continue
		}
		delete(e.Told, m.Channel)
		e.unsaved = true
	}
}

// PostDigest makes the messages that tell what awaits a shift, one for each channel that
// is told so and is not in its quiet hours.
func PostDigest(channels []Channel, d *Digest, now time.Time) []Message {
	var messages []Message
	for i := range channels {
		c := &channels[i]
		if !c.Digest || c.Quiet.Holds(now) {
			continue
		}
		messages = append(messages, Message{
			Channel: c.Name, Key: strings.Join([]string{"digest", d.Shift, d.Start.UTC().Format(time.RFC3339)}, "/"),
			At: now, Expires: d.End, Severity: Notice, Digest: d,
		})
	}
	return messages
}
