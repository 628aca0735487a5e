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
	pending chan mqtt.Token // in order of sending, its capacity is the window
	done    chan error      // the first failure, nil when all were taken
}

const (
	connectTimeout   = 10 * time.Second
	longestReconnect = time.Second
	disconnectWait   = 250 // ms
)

// Connect opens the connection. The error names the broker's answer.
func Connect(ctx context.Context, o Options) (*Publisher, error) {
	opts := mqtt.NewClientOptions().AddBroker(o.Broker).SetClientID(o.ClientID).
		SetUsername(o.User).SetPassword(o.Password).SetProtocolVersion(4).
		SetCleanSession(false). // what was not acknowledged is sent again after a reconnect
		SetConnectTimeout(connectTimeout).SetMaxReconnectInterval(longestReconnect)
	if o.TLS != nil {
		opts.SetTLSConfig(o.TLS)
	}
	p := &Publisher{
		client:  mqtt.NewClient(opts),
		pending: make(chan mqtt.Token, o.Window),
		done:    make(chan error, 1),
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

func (p *Publisher) await() {
	var first error
	for token := range p.pending {
		token.Wait()
		if err := token.Error(); err != nil && first == nil {
			first = err
		}
	}
	p.done <- first
}

// Send queues one message; it waits while the window is full.
func (p *Publisher) Send(ctx context.Context, topic string, payload []byte, retain bool) error {
	token := p.client.Publish(topic, 1, retain, payload)
	select {
	case p.pending <- token:
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
	select {
	case err := <-p.done:
		if err != nil {
			return fmt.Errorf("publish: %w", err)
		}
		return nil
	case <-ctx.Done():
		return fmt.Errorf("publish: the broker has not taken everything: %w", ctx.Err())
	}
}
