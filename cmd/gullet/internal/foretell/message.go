package foretell

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"
	"unicode"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/planning"
	"gullet/config"
)

// Message is the part of a plan that is published of one saw.
type Message struct {
	MadeAt   time.Time `json:"made_at"`
	Zone     string    `json:"zone"`
	Unit     string    `json:"unit"` // of every area: in2
	Currency string    `json:"currency"`
	planning.Saw
	Caution string `json:"caution"`
}

// Payload is the message of a saw of the plan.
func Payload(r *planning.Report, s *planning.Saw, caution string) ([]byte, error) {
	b, err := json.Marshal(Message{MadeAt: r.MadeAt, Zone: r.Zone, Unit: r.Unit, Currency: r.Currency, Saw: *s, Caution: strings.ReplaceAll(caution, "\n", " ")})
	if err != nil {
		return nil, fmt.Errorf("forecast of saw %s: %w", s.Saw, err)
	}
	return b, nil
}

// onlySite stands for the site of saws that are known by their bare names. Theirs is
// "saws", and a topic with that in it could be taken for one of their readings.
const onlySite = "shop"

// Topic is where the forecast of a saw is published. Site and saw are one level each:
// in them a slash, the wildcards, % and spaces are written as in a URL.
func Topic(saw string) string {
	site := onlySite
	if i := strings.LastIndexByte(saw, '/'); i >= 0 {
		site, saw = level(saw[:i]), saw[i+1:]
		if site == onlySite || site == analyze.DefaultSite {
			site = fmt.Sprintf("%%%02X%s", site[0], site[1:]) // another site of that name
		}
	}
	return strings.Join([]string{config.ForecastPrefix, site, level(saw), config.ForecastKind}, "/")
}

// level is a name as one level of a topic.
func level(name string) string {
	var b strings.Builder
	for _, r := range name {
		if !strings.ContainsRune("/+#%", r) && !unicode.IsSpace(r) && !unicode.IsControl(r) {
			b.WriteRune(r)
			continue
		}
		for _, c := range []byte(string(r)) {
			fmt.Fprintf(&b, "%%%02X", c)
		}
	}
	return b.String()
}
