package channel

import (
	"bufio"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"math/big"
	"net"
	"net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"gullet/analyze/alert"
)

// post is a mail server on loopback (RFC 5321, STARTTLS by RFC 3207).
type post struct {
	address string
	cert    tls.Certificate
	trust   *tls.Config
	tls     string
	replies map[string]string // by verb, where it is not the usual one
	hangs   string            // the verb at which it goes silent

	mu     sync.Mutex
	mails  []string
	plain  bool // a mail came unencrypted
	dialog []string
}

func servePost(t *testing.T, way string) *post {
	t.Helper()
	p := &post{tls: way, replies: map[string]string{}}
	p.cert, p.trust = certificate(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p.address = l.Addr().String()
	done := make(chan struct{})
	var all sync.WaitGroup
	go func() {
		defer close(done)
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			all.Go(func() { p.talk(conn) })
		}
	}()
	t.Cleanup(func() { _ = l.Close(); <-done; all.Wait() })
	return p
}

func (p *post) talk(conn net.Conn) {
	defer func() { _ = conn.Close() }()
	secure := p.tls == MailTLS
	if secure {
		conn = tls.Server(conn, &tls.Config{Certificates: []tls.Certificate{p.cert}})
	}
	in := bufio.NewReader(conn)
	say := func(line string) { _, _ = fmt.Fprintf(conn, "%s\r\n", line) }
	say("220 post.example")
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		verb := strings.ToUpper(strings.Fields(line + " x")[0])
		p.mu.Lock()
		p.dialog = append(p.dialog, strings.TrimSpace(line))
		p.mu.Unlock()
		if verb == p.hangs {
			_, _ = in.ReadString('\n') // until the other side gives up
			return
		}
		reply, ok := p.replies[strings.TrimSpace(line)]
		if !ok {
			reply, ok = p.replies[verb]
		}
		if ok {
			say(reply)
			continue
		}
		switch verb {
		case "EHLO":
			if p.tls == MailStartTLS && !secure {
				say("250-post.example\r\n250 STARTTLS")
			} else {
				say("250-post.example\r\n250 AUTH PLAIN")
			}
		case "STARTTLS":
			say("220 go")
			conn = tls.Server(conn, &tls.Config{Certificates: []tls.Certificate{p.cert}})
			in, secure = bufio.NewReader(conn), true
		case "AUTH":
			say("235 in")
		case "DATA":
			say("354 go")
			var b strings.Builder
			for {
				line, err := in.ReadString('\n')
				if err != nil {
					return
				}
				if line == ".\r\n" {
					break
				}
				b.WriteString(line)
			}
			if reply, ok := p.replies["."]; ok {
				say(reply)
				continue
			}
			p.mu.Lock()
			p.mails, p.plain = append(p.mails, b.String()), p.plain || !secure
			p.mu.Unlock()
			say("250 kept")
		case "QUIT":
			say("221 bye")
			return
		default:
			say("250 ok")
		}
	}
}

func (p *post) sender(t *testing.T) *Mail {
	return &Mail{
		Server: p.address, TLS: p.tls, Trust: p.trust, From: "Gullet <gullet@shop.example>", To: []string{"planner@shop.example", "lead@shop.example"},
		User: "gullet", Password: "p4ss", Template: plain(t), Timeout: 2 * time.Second, Log: slog.New(slog.DiscardHandler),
	}
}

func TestMailIsSentOverTLS(t *testing.T) {
	for _, way := range []string{MailStartTLS, MailTLS} {
		t.Run(way, func(t *testing.T) {
			p := servePost(t, way)
			first, over := Samples()[3], Samples()[5]
			for _, m := range []*alert.Message{&first, &over} {
				if err := p.sender(t).Send(t.Context(), m); err != nil {
					t.Fatal(err)
				}
			}
			if len(p.mails) != 4 || p.plain {
				t.Fatalf("%d mails, unencrypted: %v", len(p.mails), p.plain)
			}
			text, err := plain(t).Text(&first)
			if err != nil {
				t.Fatal(err)
			}
			read := func(raw string) *mail.Message {
				m, err := mail.ReadMessage(strings.NewReader(raw))
				if err != nil {
					t.Fatal(err)
				}
				return m
			}
			a, b := read(p.mails[0]), read(p.mails[2])
			for key, want := range map[string]string{
				"To": "<planner@shop.example>", "From": `"Gullet" <gullet@shop.example>`,
				"Message-Id": "<trip-likely-raised.office@shop.example>", "Date": "Tue, 03 Mar 2026 20:05:00 +0000",
			} {
				if got := a.Header.Get(key); got != want {
					t.Errorf("%s: %q, want %q", key, got, want)
				}
			}
			if ref := a.Header.Get("References"); ref != "<condition-18.office@shop.example>" || b.Header.Get("References") != ref || b.Header.Get("In-Reply-To") != ref {
				t.Errorf("threads %q and %q", ref, b.Header.Get("References"))
			}
			if got := a.Header.Get("Subject"); !strings.Contains(got, "sample") || text.Subject == "" {
				t.Errorf("subject %q", got)
			}
		})
	}
}

func TestNothingIsMailedUnencryptedThatMustNotBe(t *testing.T) {
	p := servePost(t, MailNone) // offers no STARTTLS
	s := p.sender(t)
	s.TLS = MailStartTLS
	if err := s.Send(t.Context(), &Samples()[0]); err == nil || len(p.mails) != 0 {
		t.Errorf("error %v, %d mails", err, len(p.mails))
	}
	for _, line := range p.dialog {
		if strings.HasPrefix(line, "AUTH") {
			t.Error("the password went out unencrypted")
		}
	}
	other := servePost(t, MailTLS)
	s = other.sender(t)
	s.Trust = nil // nobody vouches for it
	if err := s.Send(t.Context(), &Samples()[0]); err == nil || len(other.mails) != 0 {
		t.Errorf("error %v, %d mails", err, len(other.mails))
	}
	s = p.sender(t)
	s.User = ""
	if err := s.Send(t.Context(), &Samples()[0]); err != nil || len(p.mails) != 2 {
		t.Errorf("to a relay on this machine: %v, %d mails", err, len(p.mails))
	}
}

func TestWhatAMailServersReplyMeans(t *testing.T) {
	for _, c := range []struct {
		name, verb, reply string
		want              Failure
	}{
		{"busy", "RCPT", "451 try later", Failure{}},
		{"knows no such box", "RCPT", "550 no such box", Failure{Refused: true}},
		{"finds it spam", ".", "554 no", Failure{Refused: true}},
		{"disk full", ".", "452 full", Failure{}},
		{"wrong password", "AUTH", "535 wrong p4ss", Failure{Slow: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := servePost(t, MailStartTLS)
			p.replies[c.verb] = c.reply
			err := p.sender(t).Send(t.Context(), &Samples()[0])
			var f *Failure
			if !errors.As(err, &f) || f.Refused != c.want.Refused || f.Slow != c.want.Slow {
				t.Fatalf("error %#v", err)
			}
			hidden(t, err.Error())
		})
	}
}

func TestARefusedAddressKeepsAMailFromNobodyElse(t *testing.T) {
	for _, c := range []struct {
		name, reply string
		fails       bool
		mails       int // after a second try
	}{
		{"it does not exist", "550 no such box", false, 1},
		{"it is full for now", "452 full", true, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := servePost(t, MailStartTLS)
			p.replies["RCPT TO:<lead@shop.example>"] = c.reply
			s := p.sender(t)
			if err := s.Send(t.Context(), &Samples()[0]); (err != nil) != c.fails || len(p.mails) != 1 {
				t.Errorf("error %v, %d mails", err, len(p.mails))
			}
			if !c.fails {
				return
			}
			delete(p.replies, "RCPT TO:<lead@shop.example>")
			if err := s.Send(t.Context(), &Samples()[0]); err != nil || len(p.mails) != c.mails {
				t.Errorf("error %v, %d mails", err, len(p.mails))
			}
		})
	}
}

func TestASilentMailServerIsGivenUp(t *testing.T) {
	for _, verb := range []string{"EHLO", "STARTTLS", "MAIL", "DATA"} {
		t.Run(verb, func(t *testing.T) {
			p := servePost(t, MailStartTLS)
			p.hangs = verb
			s := p.sender(t)
			s.Timeout = 200 * time.Millisecond
			start := time.Now()
			if err := s.Send(t.Context(), &Samples()[0]); err == nil {
				t.Error("sent")
			}
			if took := time.Since(start); took > 5*time.Second {
				t.Errorf("it took %s", took)
			}
		})
	}
}

// certificate is one for loopback, and who trusts it.
func certificate(t *testing.T) (tls.Certificate, *tls.Config) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(leaf)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}
}
