package ingest

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// Session says how to reach the broker and what to listen to.
type Session struct {
	Broker    string // URL: mqtt://host:1883, mqtts://host:8883, ws://…
	ClientID  string // fixed, or the broker would not know whose readings it keeps
	Topics    []string
	User      string
	Password  string
	TLS       *tls.Config // nil for plain TCP
	KeepAlive time.Duration

	Decoder  *Decoder
	Sink     Sink
	Observer Observer
	Now      func() time.Time
	Log      *slog.Logger

	subscribing sync.WaitGroup
}

const (
	connectTimeout   = 10 * time.Second
	longestReconnect = 15 * time.Second
	subscribeTimeout = 10 * time.Second
	subscribeRetry   = 15 * time.Second
	// drainTimeout bounds how long a stopping daemon tries to store what it
	// already holds.
	drainTimeout   = 20 * time.Second
	disconnectWait = 250 // ms that paho may spend on writing the last acknowledgements
)

// Run listens until ctx ends, then commits and acknowledges what it holds and
// leaves; the broker keeps the session and what comes meanwhile. It keeps
// trying a broker that is away or refuses.
func (s *Session) Run(ctx context.Context) {
	p := newPipeline(s.Decoder, s.Sink, s.Observer, s.Now, s.Log)
	gate := newGate()
	client := mqtt.NewClient(s.options(ctx, p, gate))

	abandon, cancel := context.WithCancel(context.Background())
	defer cancel()
	drained := make(chan struct{})
	go func() {
		defer close(drained)
		p.run(abandon)
	}()

	s.connect(ctx, client)
	<-ctx.Done()

	leave(gate, p, drained, cancel)
	client.Disconnect(disconnectWait)
	s.subscribing.Wait()
	s.Observer.Connected(false)
}

// leave lets nothing more in and waits until the pipeline is empty; after
// drainTimeout it gives up on what cannot be stored.
func leave(g *gate, p *pipeline, drained <-chan struct{}, giveUp func()) {
	g.close(p.arrived)
	stop := time.AfterFunc(drainTimeout, giveUp)
	defer stop.Stop()
	<-drained
}

// connect tries until the broker lets Gullet in for the first time; from then
// on paho reconnects by itself, with the same waits.
func (s *Session) connect(ctx context.Context, client mqtt.Client) {
	for wait := time.Second; ctx.Err() == nil; wait = min(2*wait, longestReconnect) {
		token := client.Connect()
		select {
		case <-ctx.Done():
			return
		case <-token.Done():
		}
		if token.Error() == nil {
			return
		}
		select {
		case <-ctx.Done():
		case <-time.After(wait):
		}
	}
}

func (s *Session) options(ctx context.Context, p *pipeline, g *gate) *mqtt.ClientOptions {
	o := mqtt.NewClientOptions().
		AddBroker(s.Broker).
		SetClientID(s.ClientID).
		SetUsername(s.User).
		SetPassword(s.Password).
		SetProtocolVersion(4).
		SetCleanSession(false). // the broker queues while Gullet is away
		SetAutoAckDisabled(true).
		SetOrderMatters(true).
		SetKeepAlive(s.KeepAlive).
		SetConnectTimeout(connectTimeout).
		SetMaxReconnectInterval(longestReconnect)
	if s.TLS != nil {
		o.SetTLSConfig(s.TLS)
	}
	readAhead(o)
	o.SetStore(noStore{})
	// Queued readings can come before the subscription is made again; without
	// a default handler they would never be acknowledged.
	o.SetDefaultPublishHandler(func(_ mqtt.Client, m mqtt.Message) {
		g.pass(p.arrived, delivery{
			topic: m.Topic(), payload: m.Payload(), retained: m.Retained(),
			received: s.Now().UTC().Truncate(time.Microsecond), ack: m.Ack,
		})
	})
	o.SetOnConnectHandler(func(c mqtt.Client) {
		s.Log.Info("broker connected", "broker", redact(s.Broker), "client", s.ClientID)
		s.subscribing.Go(func() { s.subscribe(ctx, c) })
	})
	o.SetConnectionLostHandler(func(_ mqtt.Client, err error) {
		s.Observer.Connected(false)
		s.Log.Warn("broker lost, reconnecting", "broker", redact(s.Broker), "error", err)
	})
	o.SetConnectionNotificationHandler(func(_ mqtt.Client, n mqtt.ConnectionNotification) {
		if failed, ok := n.(mqtt.ConnectionNotificationFailed); ok {
			s.Observer.Failed(failed.Reason)
			s.Log.Warn("broker not reached, trying again", "broker", redact(s.Broker), "error", failed.Reason)
		}
	})
	return o
}

// subscribe asks for the topics on every connect, since a broker may have
// forgotten the session. Until the broker grants them all the daemon counts as
// not connected: a refusal is an error a person must see, not a quiet shop.
func (s *Session) subscribe(ctx context.Context, c mqtt.Client) {
	for c.IsConnectionOpen() {
		err := s.subscribeOnce(c)
		if err == nil {
			s.Observer.Connected(true)
			s.Log.Info("listening", "topics", s.Topics)
			return
		}
		s.Observer.Failed(err)
		s.Log.Error("subscription failed, trying again", "error", err)
		select {
		case <-ctx.Done():
			return
		case <-time.After(subscribeRetry):
		}
	}
}

func (s *Session) subscribeOnce(c mqtt.Client) error {
	filters := make(map[string]byte, len(s.Topics))
	for _, t := range s.Topics {
		filters[t] = 1
	}
	token := c.SubscribeMultiple(filters, nil) // nil: the default handler takes them
	if !token.WaitTimeout(subscribeTimeout) {
		return fmt.Errorf("subscribe to %q: no answer from the broker in %s", s.Topics, subscribeTimeout)
	}
	if err := token.Error(); err != nil {
		return fmt.Errorf("subscribe to %q: %w", s.Topics, err)
	}
	var refused []error
	for topic, code := range token.(*mqtt.SubscribeToken).Result() {
		switch code {
		case 1, 2:
		case 0:
			refused = append(refused, fmt.Errorf("broker grants %q at QoS 0 only, readings could be lost: QoS 1 is needed", topic))
		default:
			refused = append(refused, fmt.Errorf("broker refuses the subscription to %q: check the topic and the access rules of client %q", topic, s.ClientID))
		}
	}
	return errors.Join(refused...)
}
