package channel

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"gullet/analyze/alert"
)

// Shapes of the body of a webhook: what chats commonly take at an "incoming webhook"
// (common practice), and the whole message.
const (
	ShapeGeneric = "generic" // the message as JSON, with its texts
	ShapeText    = "text"    // {"text": …}
	ShapeContent = "content" // {"content": …}, at most 2000 characters
	ShapeCard    = "card"    // {"title": …, "text": …, "severity": …, "facts": [{"name": …, "value": …}]}
)

const (
	mostContent = 2000 // characters
	mostReply   = 4 << 10
)

// Webhook sends messages as JSON over HTTP.
type Webhook struct {
	URL      string // a secret: whoever knows it can write to the chat
	Shape    string // where the template has no body
	Secret   string // key of the signature, "" for none
	Template *Template
	Timeout  time.Duration
	TLS      *tls.Config // nil for the library's own
	Now      func() time.Time
}

// Send posts a message. It follows no redirect: a body with a signature goes to the
// address that the shop wrote down, or nowhere.
func (w *Webhook) Send(ctx context.Context, m *alert.Message) error {
	body, err := w.body(m)
	if err != nil {
		return &Failure{Why: "write the message: " + err.Error(), Slow: true}
	}
	ctx, cancel := context.WithTimeout(ctx, w.Timeout)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, w.URL, bytes.NewReader(body))
	if err != nil {
		return &Failure{Why: "the URL cannot be read", Slow: true}
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("User-Agent", "gullet")
	req.Header.Set("Idempotency-Key", m.Channel+"/"+m.Key)
	if w.Secret != "" {
		req.Header.Set("Gullet-Signature", sign(w.Secret, w.Now(), body))
	}
	// A transport of its own for each message: there are few, and no connection is left
	// open to a receiver that was changed.
	transport := &http.Transport{
		Proxy: http.ProxyFromEnvironment, TLSClientConfig: w.tls(), DisableKeepAlives: true,
		DialContext: (&net.Dialer{Timeout: w.Timeout}).DialContext, TLSHandshakeTimeout: w.Timeout,
	}
	defer transport.CloseIdleConnections()
	client := &http.Client{Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Do(req)
	if err != nil {
		return &Failure{Why: w.why(err)}
	}
	defer func() { _ = res.Body.Close() }()
	_, _ = io.Copy(io.Discard, io.LimitReader(res.Body, mostReply))
	return verdict(res, w.Now())
}

func (w *Webhook) tls() *tls.Config {
	if w.TLS != nil {
		return w.TLS.Clone()
	}
	return &tls.Config{MinVersion: tls.VersionTLS12}
}

// why is an error of the client without the address, which it writes out.
func (w *Webhook) why(err error) string {
	var outer *url.Error
	if errors.As(err, &outer) {
		err = outer.Err
	}
	if errors.Is(err, context.DeadlineExceeded) {
		return fmt.Sprintf("no answer within %s", w.Timeout)
	}
	var op *net.OpError
	if errors.As(err, &op) {
		return "connect: " + op.Err.Error()
	}
	return "connect: " + oneLine(strings.ReplaceAll(err.Error(), w.URL, "the address"))
}

// sign is "t=<seconds>,v1=<hex>", HMAC-SHA256 (RFC 2104) over "<seconds>.<body>".
func sign(secret string, now time.Time, body []byte) string {
	seconds := strconv.FormatInt(now.Unix(), 10)
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte(seconds + "."))
	mac.Write(body)
	return "t=" + seconds + ",v1=" + hex.EncodeToString(mac.Sum(nil))
}

// verdict is what a status means for the message (RFC 9110 section 15).
func verdict(res *http.Response, now time.Time) error {
	status := fmt.Sprintf("answered %d %s", res.StatusCode, http.StatusText(res.StatusCode))
	switch c := res.StatusCode; {
	case c >= 200 && c < 300:
		return nil
	case c >= 300 && c < 400:
		to := "nowhere"
		if u, err := res.Location(); err == nil {
			to = "host " + u.Host
		}
		return &Failure{Why: status + ", to " + to + "; redirects are not followed", Slow: true}
	case c == http.StatusRequestTimeout, c == http.StatusTooEarly, c == http.StatusTooManyRequests, c >= 500:
		return &Failure{Why: status, After: retryAfter(res.Header.Get("Retry-After"), now)}
	case c == http.StatusUnauthorized, c == http.StatusForbidden, c == http.StatusNotFound, c == http.StatusMethodNotAllowed, c == http.StatusGone:
		return &Failure{Why: status + "; look at the URL and the secret", Slow: true}
	}
	return &Failure{Why: status, Refused: true}
}

// retryAfter reads the header of RFC 9110 section 10.2.3: seconds or a date; 0 for none,
// for one in the past and for nonsense.
func retryAfter(header string, now time.Time) time.Duration {
	if seconds, err := strconv.ParseUint(strings.TrimSpace(header), 10, 32); err == nil {
		return min(time.Duration(seconds)*time.Second, mostAsked)
	}
	if at, err := http.ParseTime(header); err == nil {
		return min(max(at.Sub(now), 0), mostAsked)
	}
	return 0
}

// body writes a message in the channel's shape.
func (w *Webhook) body(m *alert.Message) ([]byte, error) {
	if own, err := w.Template.JSON(m); own != nil || err != nil {
		return own, err
	}
	text, err := w.Template.Text(m)
	if err != nil {
		return nil, err
	}
	switch w.Shape {
	case ShapeText:
		return json.Marshal(map[string]string{"text": text.Body})
	case ShapeContent:
		return json.Marshal(map[string]string{"content": shorten(text, mostContent)})
	case ShapeCard:
		return json.Marshal(card(w.Template.shop.view(m), text))
	}
	return generic(m, text, w.Template.shop.view(m).Caution)
}

// generic is the message as it is, with its texts.
func generic(m *alert.Message, text Text, caution string) ([]byte, error) {
	return json.Marshal(struct {
		*alert.Message
		Subject string `json:"subject"`
		Text    string `json:"text"`
		Caution string `json:"caution"`
		SentBy  string `json:"sent_by"`
	}{m, text.Subject, text.Body, caution, "gullet"})
}

type fact struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

type cardBody struct {
	Title    string `json:"title"`
	Text     string `json:"text"`
	Severity string `json:"severity"`
	Facts    []fact `json:"facts"`
}

func card(v *View, text Text) cardBody {
	c := cardBody{Title: text.Subject, Text: text.Body, Severity: v.Severity.String(), Facts: []fact{}}
	for _, l := range v.Lines {
		c.Facts = append(c.Facts, fact{fmt.Sprintf("condition %d", l.Condition), fmt.Sprintf("%s since %s", l.Key.Kind, l.SinceText)})
	}
	return c
}

// shorten cuts a text to so many characters and says so; the caution at its end stays.
func shorten(t Text, most int) string {
	if len([]rune(t.Body)) <= most {
		return t.Body
	}
	end := "\n… cut short: gullet alerts\n" + t.Caution + "\n"
	return string([]rune(t.Body)[:max(0, most-len([]rune(end)))]) + end
}
