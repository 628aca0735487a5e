package channel

import (
	"context"

	"gullet/analyze/alert"
)

// Topic publishes messages to an MQTT topic, for a stack light or a screen. The newest
// stays with the broker, so that whoever subscribes sees what stands.
type Topic struct {
	Topic    string
	Template *Template
	Publish  func(ctx context.Context, topic string, payload []byte, retained bool) error
}

// Send publishes a message. A test is not kept by the broker: it would stand for the shop.
func (t *Topic) Send(ctx context.Context, m *alert.Message) error {
	text, err := t.Template.Text(m)
	if err != nil {
		return &Failure{Why: "write the message: " + err.Error(), Slow: true}
	}
	payload, err := generic(m, text, t.Template.shop.view(m).Caution)
	if err != nil {
		return &Failure{Why: "write the message: " + err.Error(), Slow: true}
	}
	return t.Publish(ctx, t.Topic, payload, !m.Test && m.Digest == nil)
}
