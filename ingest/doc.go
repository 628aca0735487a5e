// Package ingest brings the saws' messages in: it holds the MQTT session,
// decodes each message by the contract in messages.md or rejects it with a
// reason, hands batches to a Sink and acknowledges a message only after the
// Sink has committed it.
//
// It knows MQTT and the message contract. It refuses to know where readings
// are kept, what they mean for a blade, and how the shop is configured.
//
// The one invariant: a message is acknowledged if and only if the Sink holds
// it. Whatever dies in between, the broker delivers again, and the Sink drops
// what it already has. Nothing is lost and nothing counts twice.
package ingest
