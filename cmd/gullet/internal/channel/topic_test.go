package channel

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"gullet/cmd/gullet/internal/mosquittotest"
	"gullet/cmd/gullet/internal/publish"
)

// A screen that connects later sees what stands, through a real Mosquitto.
func TestTopicIsKeptByTheBroker(t *testing.T) {
	broker := mosquittotest.Start(t)
	topic := &Topic{Topic: "shop/light", Template: plain(t), Publish: func(ctx context.Context, topic string, payload []byte, retained bool) error {
		p, err := publish.Connect(ctx, publish.Options{Broker: broker.URL, ClientID: "gullet-topic", Window: 1})
		if err != nil {
			return err
		}
		if err := p.Send(ctx, topic, payload, retained); err != nil {
			return err
		}
		return p.Close(ctx)
	}}
	samples := Samples()
	for _, m := range []int{3, len(samples) - 1} { // a condition, then a test that is not kept
		if err := topic.Send(t.Context(), &samples[m]); err != nil {
			t.Fatal(err)
		}
	}
	got := make(chan mqtt.Message, 2)
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(broker.URL).SetClientID("screen"))
	if token := c.Connect(); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	defer c.Disconnect(0)
	if token := c.Subscribe("shop/#", 1, func(_ mqtt.Client, m mqtt.Message) { got <- m }); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	select {
	case m := <-got:
		var body struct {
			Severity string         `json:"severity"`
			Standing map[string]int `json:"standing"`
			Test     bool           `json:"test"`
		}
		if err := json.Unmarshal(m.Payload(), &body); err != nil || !m.Retained() || body.Test || body.Severity != "warning" || body.Standing["warning"] != 2 {
			t.Errorf("kept: %s, %v", m.Payload(), err)
		}
	case <-time.After(10 * time.Second):
		t.Error("nothing is kept")
	}
}
