package channel

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/textproto"
	"strconv"
	"strings"
	"time"

	"github.com/wneessen/go-mail"

	"gullet/analyze/alert"
)

// How the way to a mail server is kept secret.
const (
	MailStartTLS = "starttls" // RFC 3207, and nothing is sent without it
	MailTLS      = "tls"      // from the first byte (RFC 8314)
	MailNone     = "none"     // for a relay on this machine
)

// Mail sends messages by SMTP, one after the other.
type Mail struct {
	Server   string // host:port
	TLS      string
	Trust    *tls.Config // nil for the system's authorities
	From     string
	To       []string
	User     string // "" for none
	Password string
	Template *Template
	Timeout  time.Duration
	Log      *slog.Logger

	key string          // of the message sent last
	has map[string]bool // who has it
}

// Send mails a message to each by itself, so that an address that the server refuses
// keeps it from nobody else: that is logged, and a failure only where it is every one's.
// After a failure whoever has it already is not sent it again by this process. All mails
// of one condition are one thread.
func (s *Mail) Send(ctx context.Context, m *alert.Message) error {
	ctx, cancel := context.WithTimeout(ctx, s.Timeout)
	defer cancel()
	if s.key != m.Key {
		s.key, s.has = m.Key, map[string]bool{}
	}
	var refused *Failure
	for _, to := range s.To {
		if s.has[to] {
			continue
		}
		err := s.sendTo(ctx, m, to)
		var f *Failure
		if errors.As(err, &f) && f.Refused {
			refused = f
			s.Log.Error("mail refused for an address", "channel", m.Channel, "address", to, "error", err)
			continue
		}
		if err != nil {
			return err
		}
		s.has[to] = true
	}
	if len(s.has) == 0 && refused != nil {
		return refused
	}
	return nil
}

func (s *Mail) sendTo(ctx context.Context, m *alert.Message, to string) error {
	msg, err := s.write(m, to)
	if err != nil {
		return &Failure{Why: "write the mail: " + s.hide(err), Slow: true}
	}
	var conn net.Conn // the library leaves it open where it fails to greet the server
	client, err := s.client(func(c net.Conn) { conn = c })
	defer func() {
		if conn != nil {
			_ = conn.Close()
		}
	}()
	if err != nil {
		return &Failure{Why: "set up the mail: " + s.hide(err), Slow: true}
	}
	if err := client.DialWithContext(ctx); err != nil {
		return s.failure("connect", err)
	}
	// That the server does not say goodbye in order is no reason to send it again.
	defer func() { _ = client.Close() }()
	if err := client.Send(msg); err != nil {
		return s.failure("send", err)
	}
	return nil
}

func (s *Mail) write(m *alert.Message, to string) (*mail.Msg, error) {
	text, err := s.Template.Text(m)
	if err != nil {
		return nil, err
	}
	msg := mail.NewMsg()
	if err := errors.Join(msg.From(s.From), msg.To(to)); err != nil {
		return nil, err
	}
	msg.Subject(text.Subject)
	msg.SetDateWithValue(m.At)
	domain := s.From[strings.LastIndexByte(s.From, '@')+1:]
	domain = strings.TrimRight(domain, "> ")
	msg.SetMessageIDWithValue(fmt.Sprintf("%s.%s@%s", plainID(m.Key), plainID(m.Channel), domain))
	if m.Thread != "" {
		root := fmt.Sprintf("<condition-%s.%s@%s>", plainID(m.Thread), plainID(m.Channel), domain)
		msg.SetGenHeader(mail.HeaderReferences, root)
		msg.SetGenHeader(mail.HeaderInReplyTo, root)
	}
	msg.SetBodyString(mail.TypeTextPlain, text.Body)
	return msg, nil
}

// plainID is a text as a part of a message ID (RFC 5322 section 3.6.4).
func plainID(text string) string {
	return strings.Map(func(r rune) rune {
		if r < 0x80 && (r == '.' || r == '-' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z') {
			return r
		}
		return '-'
	}, text)
}

// client is the library's, on a connection that is also given to dialled.
func (s *Mail) client(dialled func(net.Conn)) (*mail.Client, error) {
	host, portText, err := net.SplitHostPort(s.Server)
	if err != nil {
		return nil, err
	}
	port, err := strconv.Atoi(portText)
	if err != nil {
		return nil, err
	}
	trust := &tls.Config{MinVersion: tls.VersionTLS12}
	if s.Trust != nil {
		trust = s.Trust.Clone()
	}
	trust.ServerName = host
	deadline := time.Now().Add(s.Timeout)
	options := []mail.Option{
		mail.WithPort(port), mail.WithTimeout(s.Timeout), mail.WithTLSConfig(trust), mail.WithTLSPolicy(mail.TLSMandatory),
		// The library gives each step the whole time anew, and keeps the connection where it fails.
		mail.WithDialContextFunc(func(ctx context.Context, network, address string) (net.Conn, error) {
			conn, err := (&net.Dialer{Deadline: deadline}).DialContext(ctx, network, address)
			if err != nil {
				return nil, err
			}
			dialled(conn)
			conn = &bounded{conn, deadline}
			if s.TLS == MailTLS {
				conn = tls.Client(conn, trust)
			}
			return conn, conn.SetDeadline(deadline)
		}),
	}
	if s.TLS != MailStartTLS { // what there is to encrypt is so from the first byte, above
		options = append(options, mail.WithTLSPolicy(mail.NoTLS))
	}
	if s.User != "" {
		auth := mail.SMTPAuthAutoDiscover
		if s.TLS == MailTLS {
			auth = mail.SMTPAuthPlain // the library does not see that the connection is encrypted, and would refuse to look for it
		}
		options = append(options, mail.WithUsername(s.User), mail.WithPassword(s.Password), mail.WithSMTPAuth(auth))
	}
	return mail.NewClient(host, options...)
}

// bounded is a connection whose deadline nobody can move back.
type bounded struct {
	net.Conn
	last time.Time
}

func (b *bounded) SetDeadline(t time.Time) error {
	if t.IsZero() || t.After(b.last) {
		t = b.last
	}
	return b.Conn.SetDeadline(t)
}

// failure tells what a reply of the server means (RFC 5321 section 4.2.1).
func (s *Mail) failure(doing string, err error) error {
	f := &Failure{Why: doing + ": " + s.hide(err)}
	var reply *textproto.Error
	var sent *mail.SendError
	code := 0
	switch {
	case errors.As(err, &reply):
		code = reply.Code
	case errors.As(err, &sent):
		code = sent.ErrorCode()
	}
	switch {
	case code == 530 || code == 534 || code == 535 || code == 538: // authentication (RFC 4954)
		f.Slow = true
	case code >= 500 && doing == "send":
		f.Refused = true
	}
	return f
}

// hide is an error in one line without the password, should a server repeat it.
func (s *Mail) hide(err error) string {
	text := oneLine(err.Error())
	if s.Password != "" {
		text = strings.ReplaceAll(text, s.Password, "(password)")
	}
	return text
}
