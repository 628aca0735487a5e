package ingest

import (
	"context"
	"log/slog"
	"time"

	"gullet/analyze"
)

// Sink keeps what arrived. Append holds the whole batch when it returns nil,
// and none of it otherwise; outcomes are in the order of the batch. It must
// take a message that it already has as a duplicate.
type Sink interface {
	Append(ctx context.Context, batch []analyze.Arrival) ([]analyze.Outcome, error)
}

// Observer is told what happens, for metrics. Its methods are called from the
// pipeline and must not block.
type Observer interface {
	Connected(up bool)
	Committed(batch []analyze.Arrival, outcomes []analyze.Outcome, took, lag time.Duration)
	Failed(err error)
}

// delivery is one message as the broker handed it over.
type delivery struct {
	topic    string
	payload  []byte
	retained bool
	received time.Time
	ack      func()
}

// held is a decoded message that is not committed yet.
type held struct {
	arrival  analyze.Arrival
	received time.Time
	ack      func()
}

const (
	// maxBatch bounds one commit. Batches grow by themselves under load, since
	// the writer takes whatever has queued the moment it is free; there is no
	// timer, which would starve on a broker's small in-flight window.
	maxBatch = 1000
	// queueLength bounds what waits in memory. It is larger than the in-flight
	// window of the brokers in use, so that the session's handler does not
	// block in normal work; behind it TCP holds the broker back.
	queueLength = 4096

	firstRetry   = 100 * time.Millisecond
	longestRetry = 10 * time.Second
)

// pipeline is the way of a message from the broker to its acknowledgement:
// decode, commit, acknowledge, each in a goroutine of its own with a bounded
// queue between them.
type pipeline struct {
	decoder  *Decoder
	sink     Sink
	observer Observer
	now      func() time.Time
	log      *slog.Logger

	arrived chan delivery
	decoded chan held
	done    chan []func()
}

func newPipeline(d *Decoder, sink Sink, o Observer, now func() time.Time, log *slog.Logger) *pipeline {
	return &pipeline{
		decoder: d, sink: sink, observer: o, now: now, log: log,
		arrived: make(chan delivery, queueLength),
		decoded: make(chan held, queueLength),
		// One batch waits while another is acknowledged: a slow connection
		// holds the writer back rather than piling up acknowledgements.
		done: make(chan []func(), 1),
	}
}

// run works until arrived is closed and everything in it is committed and
// acknowledged. When abandon is done it gives up on a Sink that keeps failing;
// what it holds then is not acknowledged.
func (p *pipeline) run(abandon context.Context) {
	acknowledged := make(chan struct{})
	go func() {
		defer close(acknowledged)
		for batch := range p.done {
			for _, ack := range batch {
				ack()
			}
		}
	}()
	go p.decode()
	p.write(abandon)
	close(p.done)
	<-acknowledged
}

func (p *pipeline) decode() {
	defer close(p.decoded)
	for d := range p.arrived {
		a := p.decoder.Decode(d.topic, d.payload, d.retained, d.received)
		a.Topic, a.Payload = d.topic, d.payload
		if a.Rejection != nil {
			a.Payload = a.Rejection.Payload // a huge message shall not wait whole
		}
		p.decoded <- held{arrival: a, received: d.received, ack: d.ack}
	}
}

func (p *pipeline) write(abandon context.Context) {
	waiting := make([]held, 0, maxBatch)
	batch := make([]analyze.Arrival, 0, maxBatch)
	for first := range p.decoded {
		waiting = takeQueued(append(waiting[:0], first), p.decoded)
		batch = batch[:0]
		for _, h := range waiting {
			batch = append(batch, h.arrival)
		}
		if !p.commit(abandon, batch, waiting[0].received) {
			for range p.decoded { // let the decoder end; nothing is acknowledged
			}
			return
		}
		acks := make([]func(), len(waiting))
		for i, h := range waiting {
			acks[i] = h.ack
		}
		p.done <- acks
	}
}

// takeQueued adds what is queued right now, up to maxBatch in all.
func takeQueued(batch []held, queue <-chan held) []held {
	for len(batch) < maxBatch {
		select {
		case h, ok := <-queue:
			if !ok {
				return batch
			}
			batch = append(batch, h)
		default:
			return batch
		}
	}
	return batch
}

// commit hands the batch to the Sink until it holds it, and reports whether it
// does. A full disk or a lock that lasts is waited out: the broker keeps what
// comes meanwhile.
func (p *pipeline) commit(abandon context.Context, batch []analyze.Arrival, oldest time.Time) bool {
	for wait := firstRetry; ; wait = min(2*wait, longestRetry) {
		start := p.now()
		outcomes, err := p.sink.Append(abandon, batch)
		if err == nil {
			end := p.now()
			p.observer.Committed(batch, outcomes, end.Sub(start), end.Sub(oldest))
			return true
		}
		p.observer.Failed(err)
		p.log.Error("readings not stored yet, trying again", "readings", len(batch), "wait", wait, "error", err)
		select {
		case <-abandon.Done():
			p.log.Error("giving up on readings that could not be stored; the broker will deliver them again", "readings", len(batch))
			return false
		case <-time.After(wait):
		}
	}
}
