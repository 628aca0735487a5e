package channel

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"
	"unicode/utf8"

	"go.uber.org/goleak"
)

var at = time.Date(2026, 3, 3, 20, 5, 0, 0, time.UTC)

// hook is a webhook to a server, whose URL, path and key are secrets.
func hook(t testing.TB, url string) *Webhook {
	return &Webhook{URL: url + "/hooks/T0PSECRET?token=S3CRET", Secret: "k3y", Shape: ShapeGeneric, Template: plain(t), Timeout: 300 * time.Millisecond, Now: func() time.Time { return at }}
}

// hidden fails when an error tells what nobody may know.
func hidden(t *testing.T, text string) {
	t.Helper()
	for _, secret := range []string{"T0PSECRET", "S3CRET", "k3y", "hooks", "p4ss"} {
		if strings.Contains(text, secret) {
			t.Errorf("it tells %q: %s", secret, text)
		}
	}
}

// answer is a server that answers so, and the number of requests it took.
func answer(t *testing.T, f http.HandlerFunc) (string, *atomic.Int64) {
	t.Helper()
	var n atomic.Int64
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { n.Add(1); f(w, r) }))
	t.Cleanup(s.Close)
	return s.URL, &n
}

func TestWhatAnAnswerMeans(t *testing.T) {
	elsewhere, reached := answer(t, func(http.ResponseWriter, *http.Request) {})
	status := func(code int, header ...string) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) {
			for i := 0; i < len(header); i += 2 {
				w.Header().Set(header[i], header[i+1])
			}
			w.WriteHeader(code)
			_, _ = io.WriteString(w, strings.Repeat("T0PSECRET ", 10_000))
		}
	}
	hang := func(_ http.ResponseWriter, r *http.Request) {
		_, _ = io.ReadAll(r.Body)
		<-r.Context().Done()
	}
	closes := func(w http.ResponseWriter, _ *http.Request) {
		c, _, err := w.(http.Hijacker).Hijack()
		if err == nil {
			_ = c.Close()
		}
	}
	for _, c := range []struct {
		name    string
		handler http.HandlerFunc
		want    *Failure
	}{
		{"taken", status(200), nil},
		{"taken without a word", status(204), nil},
		{"asks to wait", status(429, "Retry-After", "90"), &Failure{After: 90 * time.Second}},
		{"asks to wait until", status(503, "Retry-After", "Tue, 03 Mar 2026 20:07:00 GMT"), &Failure{After: 2 * time.Minute}},
		{"asks to wait for a day", status(429, "Retry-After", "86400"), &Failure{After: time.Hour}},
		{"fails", status(500), &Failure{}},
		{"hangs", hang, &Failure{}},
		{"closes", closes, &Failure{}},
		{"redirects elsewhere", status(307, "Location", elsewhere+"/hooks"), &Failure{Slow: true}},
		{"is not there", status(404), &Failure{Slow: true}},
		{"does not know us", status(401), &Failure{Slow: true}},
		{"cannot read it", status(400), &Failure{Refused: true}},
		{"finds it too long", status(413), &Failure{Refused: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			url, n := answer(t, c.handler)
			err := hook(t, url).Send(t.Context(), &Samples()[0])
			if n.Load() != 1 {
				t.Errorf("%d requests", n.Load())
			}
			if c.want == nil {
				if err != nil {
					t.Errorf("error %v", err)
				}
				return
			}
			var f *Failure
			if !errors.As(err, &f) {
				t.Fatalf("error %v", err)
			}
			hidden(t, err.Error())
			if f.Refused != c.want.Refused || f.Slow != c.want.Slow || f.After != c.want.After {
				t.Errorf("%+v, want %+v", f, c.want)
			}
		})
	}
	if reached.Load() != 0 {
		t.Error("a redirect was followed")
	}
}

func TestNobodyListens(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	_ = l.Close()
	for _, url := range []string{"http://" + address, "https://" + address, "http://no-such-host.invalid", "http://[::bad", "ftp://" + address} {
		err := hook(t, url).Send(t.Context(), &Samples()[0])
		if err == nil {
			t.Fatalf("%s: sent", url)
		}
		hidden(t, err.Error())
	}
}

// A server with a certificate that nobody vouches for gets nothing.
func TestUnknownAuthority(t *testing.T) {
	var n atomic.Int64
	s := httptest.NewUnstartedServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { n.Add(1) }))
	s.Config.ErrorLog = log.New(io.Discard, "", 0)
	s.StartTLS()
	defer s.Close()
	err := hook(t, s.URL).Send(t.Context(), &Samples()[0])
	if err == nil || n.Load() != 0 {
		t.Errorf("error %v, %d requests", err, n.Load())
	}
	w := hook(t, s.URL)
	w.TLS = s.Client().Transport.(*http.Transport).TLSClientConfig
	if err := w.Send(t.Context(), &Samples()[0]); err != nil || n.Load() != 1 {
		t.Errorf("vouched for: %v, %d requests", err, n.Load())
	}
}

func TestBodiesAreSignedAndHaveTheirShape(t *testing.T) {
	m := Samples()[3]
	for _, shape := range []string{ShapeGeneric, ShapeText, ShapeContent, ShapeCard, "own"} {
		t.Run(shape, func(t *testing.T) {
			var body []byte
			var header http.Header
			url, _ := answer(t, func(_ http.ResponseWriter, r *http.Request) {
				body, _ = io.ReadAll(r.Body)
				header = r.Header
			})
			w := hook(t, url)
			w.Shape = shape
			if shape == "own" {
				own, err := NewTemplate(newShop(t), "own.tmpl", `{{define "body"}}{"msg": {{range $i, $l := .Lines}}{{if eq $i 0}}{{json $l.Words.What}}{{end}}{{else}}""{{end}}, "caution": {{json .Caution}}}{{end}}`)
				if err != nil {
					t.Fatal(err)
				}
				w.Template = own
			}
			if err := w.Send(t.Context(), &m); err != nil {
				t.Fatal(err)
			}
			// HMAC-SHA256 of time and body, as a receiver checks it; TestSignature holds it
			// against another program.
			if want := sign("k3y", at, body); header.Get("Gullet-Signature") != want || !strings.HasPrefix(want, "t=1772568300,v1=") {
				t.Errorf("signature %q", header.Get("Gullet-Signature"))
			}
			if got := header.Get("Idempotency-Key"); got != "office/trip-likely raised" {
				t.Errorf("key %q", got)
			}
			var got map[string]any
			if err := json.Unmarshal(body, &got); err != nil {
				t.Fatal(err)
			}
			text, err := w.Template.Text(&m)
			if err != nil {
				t.Fatal(err)
			}
			for key, want := range map[string]map[string]any{
				ShapeGeneric: {"subject": text.Subject, "text": text.Body, "caution": testCaution, "severity": "warning", "sent_by": "gullet", "thread": "18"},
				ShapeText:    {"text": text.Body}, ShapeContent: {"content": text.Body},
				ShapeCard: {"title": text.Subject, "text": text.Body, "severity": "warning"}, "own": {"msg": "a sample of trip-likely"},
			}[shape] {
				if got[key] != want {
					t.Errorf("%s is %v, want %v", key, got[key], want)
				}
			}
		})
	}
}

// The signature of a known text, as Python 3.11's hmac module makes it:
// hmac.new(b"k3y", b"1772568300.{}", "sha256").hexdigest()
func TestSignature(t *testing.T) {
	const want = "t=1772568300,v1=53869a410c1ef8699826614d9b2fe503c3d5bc6f1f0835f82b02bdacd9917177"
	if got := sign("k3y", at, []byte("{}")); got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

func TestLongTextsAreCutWhereTheyMustBeAndKeepTheCaution(t *testing.T) {
	got := shorten(Text{Body: strings.Repeat("é", 3000) + testCaution + "\n", Caution: testCaution}, 2000)
	if n := utf8.RuneCountInString(got); n != 2000 || !strings.HasSuffix(got, "cut short: gullet alerts\n"+testCaution+"\n") {
		t.Errorf("%d characters, ends with %q", n, got[len(got)-100:])
	}
	if got := shorten(Text{Body: "short"}, 2000); got != "short" {
		t.Errorf("%q", got)
	}
}

func FuzzRetryAfter(f *testing.F) {
	for _, s := range []string{"", "5", "-5", "99999999999999999999", "Tue, 03 Mar 2026 20:07:00 GMT", "1e9", "٣"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, header string) {
		if d := retryAfter(header, at); d < 0 || d > mostAsked {
			t.Errorf("%q: wait %s", header, d)
		}
	})
}

func TestSendEndsWithItsContext(t *testing.T) {
	url, _ := answer(t, func(_ http.ResponseWriter, r *http.Request) { _, _ = io.ReadAll(r.Body); <-r.Context().Done() })
	ctx, cancel := context.WithCancel(t.Context())
	w := hook(t, url)
	w.Timeout = time.Hour
	go func() { time.Sleep(50 * time.Millisecond); cancel() }()
	if err := w.Send(ctx, &Samples()[0]); err == nil {
		t.Error("sent")
	}
}
