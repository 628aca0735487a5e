package vigil

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/figures"
)

// OwnState is what Gullet knows of itself.
type OwnState struct {
	BrokerLost time.Time // since when no broker is there; zero while one is
	// Free is how much of the database's disk is free, in per cent.
	Free     func() (float64, error)
	Database error                // why readings cannot be stored, or what is damaged; nil for nothing
	Failing  map[string]time.Time // channels that take no messages, and since when
}

// ownKinds are those of a look at Gullet itself.
var ownKinds = []alert.Kind{alert.BrokerLost, alert.DiskFull, alert.DatabaseError, alert.DeliveryFailing}

// Own is what is wrong with Gullet itself.
func (l *Looker) Own(state OwnState, now time.Time) alert.Look {
	style, look := l.style(), alert.Look{Kinds: ownKinds}
	add := func(f alert.Fact) { look.Facts = append(look.Facts, f) }
	if since := state.BrokerLost; !since.IsZero() {
		minutes := math.Max(0, now.Sub(since).Minutes())
		add(alert.Fact{Key: alert.Key{Kind: alert.BrokerLost}, Level: minutes, Since: since, Words: alert.Words{
			What: fmt.Sprintf("Gullet hears no saw: no connection to the broker since %s, %.0f min", style.Moment(since, now), minutes),
			Sure: "saws that keep their readings meanwhile lose none", Check: []string{"is the broker running", "the network between Gullet and it", "user, password and certificates (gullet check)"}, Path: "readings",
		}})
	}
	add(disk(state.Free))
	if err := state.Database; err != nil {
		add(alert.Fact{Key: alert.Key{Kind: alert.DatabaseError}, Level: 1, Words: alert.Words{
			What: "the database is in trouble: " + oneLine(err.Error()), Sure: "told by the database; what is not stored is not acknowledged, so the broker keeps it",
			Check: []string{"space and rights in the folder of the database", "the disk", "the last good copy, before anything is repaired"}, Path: "readings",
		}})
	}
	for _, channel := range slices.Sorted(maps.Keys(state.Failing)) {
		since := state.Failing[channel]
		minutes := math.Max(0, now.Sub(since).Minutes())
		add(alert.Fact{Key: alert.Key{Kind: alert.DeliveryFailing, Of: channel}, Level: minutes, Since: since, Words: alert.Words{
			What: fmt.Sprintf("channel %s takes no messages since %s, %.0f min", channel, style.Moment(since, now), minutes),
			Sure: "each message is tried again until it expires", Check: []string{"its address and secret", "the network from Gullet to it"},
		}})
	}
	return look
}

// disk tells how much is free.
func disk(free func() (float64, error)) alert.Fact {
	f := alert.Fact{Key: alert.Key{Kind: alert.DiskFull}, Level: unknown, Words: alert.Words{
		What: "how full the disk of the database is, is not known", Check: []string{"what else fills that disk", "old copies of the database"}, Path: "readings",
	}}
	percent, err := free()
	if err != nil {
		f.Words.Sure = oneLine(err.Error())
		return f
	}
	f.Level = percent
	f.Words.What = fmt.Sprintf("%s of the disk of the database is free", figures.Percent(percent/100))
	f.Words.Sure = "as the operating system tells it; with none left no reading can be stored"
	return f
}

// oneLine is a text without its line breaks.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
