package ingest

import "github.com/eclipse/paho.mqtt.golang/packets"

// noStore keeps no packets. The MQTT library would hold every reading until
// its acknowledgement, to go on with it after a reconnect; here the broker
// delivers again what was not acknowledged, and subscriptions are made anew.
type noStore struct{}

func (noStore) Open()                             {}
func (noStore) Put(string, packets.ControlPacket) {}
func (noStore) Get(string) packets.ControlPacket  { return nil }
func (noStore) All() []string                     { return nil }
func (noStore) Del(string)                        {}
func (noStore) Close()                            {}
func (noStore) Reset()                            {}
