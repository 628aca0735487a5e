package ingest

import (
	"bufio"
	"crypto/tls"
	"fmt"
	"net"
	"net/url"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// readBuffer holds a few hundred small messages.
const readBuffer = 64 << 10

// bufferedConn reads ahead. The MQTT library reads a packet's header byte by
// byte, each a system call; with a backlog to drain that was a quarter of all
// the time spent.
type bufferedConn struct {
	net.Conn
	in *bufio.Reader
}

func (c *bufferedConn) Read(p []byte) (int, error) { return c.in.Read(p) }

// readAhead makes the options' connections buffered ones. Connections over
// web sockets, which read whole frames anyway, stay the library's own.
func readAhead(o *mqtt.ClientOptions) {
	for _, u := range o.Servers {
		if u.Scheme == "ws" || u.Scheme == "wss" {
			return
		}
	}
	o.SetCustomOpenConnectionFn(func(u *url.URL, o mqtt.ClientOptions) (net.Conn, error) {
		dialer := &net.Dialer{Timeout: o.ConnectTimeout}
		var conn net.Conn
		var err error
		switch u.Scheme {
		case "ssl", "mqtts":
			conn, err = tls.DialWithDialer(dialer, "tcp", u.Host, o.TLSConfig)
		default:
			conn, err = dialer.Dial("tcp", u.Host)
		}
		if err != nil {
			return nil, fmt.Errorf("dial %s: %w", u.Host, err)
		}
		return &bufferedConn{Conn: conn, in: bufio.NewReaderSize(conn, readBuffer)}, nil
	})
}
