// Package channel delivers messages that wait in an outbox: as a JSON body over HTTP, as
// mail, or to an MQTT topic.
//
// It knows how to write a message and how to tell what to do after a failure. It refuses
// to know what deserves a message. Delivery is at least once: that a message went out is
// noted after it did. No error of it holds an address's path, a password or a key.
package channel
