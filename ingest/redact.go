package ingest

import "net/url"

// redact hides a password inside a broker URL.
func redact(broker string) string {
	u, err := url.Parse(broker)
	if err != nil {
		return "(unreadable URL)"
	}
	return u.Redacted()
}
