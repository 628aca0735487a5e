// Package publish sends messages to a broker as a saw would: at QoS 1, in
// order, many on their way at once, sent again after a lost connection until
// the broker has taken them.
//
// It knows nothing of what the messages say.
package publish

import (
	"context"
	"crypto/tls"
	"fmt"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// Options says where to publish.
type Options struct {
	Broker   string
	ClientID string
	User     string
	Password string
	TLS      *tls.Config
	Window   int // messages on their way unacknowledged, ≥ 1
}

// Publisher holds one connection. It is for one goroutine.
type Publisher struct {
	client  mqtt.Client
	pending chan message  // in order of sending, its capacity is the window
	stop    chan struct{} // closed when nobody waits any more
	done    chan struct{} // closed when the broker has taken everything
}

// message is one on its way, and what is needed to send it again.
type message struct {
	topic   string
	payload []byte
	retain  bool
	token   mqtt.Token
}

const (
	connectTimeout = 10 * time.Second
	resendWait     = 50 * time.Millisecond
	disconnectWait = 250 // ms
)

// Connect opens the connection. The error names the broker's answer.
func Connect(ctx context.Context, o Options) (*Publisher, error) {
	// The library's own reconnect calls a message taken that it has only queued
	// again (seen: the last 200 of 10,000 lost). Without it every message on its
	// way fails when the connection does, and is sent again here.
	opts := mqtt.NewClientOptions().AddBroker(o.Broker).SetClientID(o.ClientID).
		SetUsername(o.User).SetPassword(o.Password).SetProtocolVersion(4).
		SetCleanSession(true).SetAutoReconnect(false).SetConnectTimeout(connectTimeout)
	if o.TLS != nil {
		opts.SetTLSConfig(o.TLS)
	}
	p := &Publisher{
		client:  mqtt.NewClient(opts),
		pending: make(chan message, o.Window),
		stop:    make(chan struct{}),
		done:    make(chan struct{}),
	}
	token := p.client.Connect()
	select {
	case <-ctx.Done():
		p.client.Disconnect(0)
		return nil, fmt.Errorf("connect to broker: %w", ctx.Err())
	case <-token.Done():
	}
	if err := token.Error(); err != nil {
		return nil, fmt.Errorf("connect to broker: %w", err)
	}
	go p.await()
	return p, nil
}

// await waits for each message to be taken and sends again what failed with its
// connection; the broker may then have it twice, which at least once allows.
func (p *Publisher) await() {
	defer close(p.done)
	for m := range p.pending {
		for !p.taken(m.token) {
			select {
			case <-p.stop:
				return
			case <-time.After(resendWait):
			}
			if p.client.IsConnectionOpen() || p.taken(p.client.Connect()) {
				m.token = p.client.Publish(m.topic, 1, m.retain, m.payload)
			}
		}
	}
}

func (p *Publisher) taken(t mqtt.Token) bool {
	select {
	case <-t.Done():
		return t.Error() == nil
	case <-p.stop:
		return false
	}
}

// Send queues one message; it waits while the window is full.
func (p *Publisher) Send(ctx context.Context, topic string, payload []byte, retain bool) error {
	m := message{topic, payload, retain, p.client.Publish(topic, 1, retain, payload)}
	select {
	case p.pending <- m:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("publish to %s: %w", topic, ctx.Err())
	}
}

// Close waits until the broker has taken everything sent, then leaves. When
// ctx ends first it leaves at once and says so.
func (p *Publisher) Close(ctx context.Context) error {
	close(p.pending)
	defer p.client.Disconnect(disconnectWait)
	defer close(p.stop)
	select {
	case <-p.done:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("publish: the broker has not taken everything: %w", ctx.Err())
	}
}
