package app

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gullet/cmd/gullet/internal/mosquittotest"
	"gullet/cmd/gullet/internal/publish"
)

// write writes a file that Mosquitto, which gives up root, may read too.
func write(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func waitFor(t *testing.T, what string, done func() bool) {
	t.Helper()
	for range 500 {
		if done() {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatalf("waited in vain: %s", what)
}

// TestRefusedSubscriptionIsSeen asks for more than the embedded broker grants
// one client: 65,535 unacknowledged readings in all, 1,000 a topic.
func TestRefusedSubscriptionIsSeen(t *testing.T) {
	var log strings.Builder
	a := daemon(t, filepath.Join(t.TempDir(), "gullet.db"), "")
	a.Log = slog.New(slog.NewTextHandler(&log, nil))
	for i := range 70 {
		a.Config.MQTT.Topics = append(a.Config.MQTT.Topics, fmt.Sprintf("plant-%d/saws/+/+", i))
	}
	r, stop := run(t, a)
	var body string
	for range 100 {
		var code int
		if code, body = get(t, r, "/readyz"); code == http.StatusOK {
			t.Fatal("ready, though a subscription is refused")
		}
		time.Sleep(10 * time.Millisecond)
	}
	stop()
	if !strings.Contains(body, "refuses a subscription") {
		t.Errorf("/readyz says %q", body)
	}
	if !strings.Contains(log.String(), "broker refuses the subscription") {
		t.Errorf("the log does not say so:\n%s", log.String())
	}
}

func TestEncryptedBrokerWithPassword(t *testing.T) {
	dir := t.TempDir()
	cert, key := certificate(t, dir)
	passwords := filepath.Join(dir, "passwords")
	if out, err := exec.Command("mosquitto_passwd", "-c", "-b", passwords, "gullet", "right").CombinedOutput(); err != nil {
		if os.Getenv(mosquittotest.Required) != "" {
			t.Fatalf("mosquitto_passwd: %v %s", err, out)
		}
		t.Skip("SKIPPED, not checked: mosquitto_passwd is not installed (apt-get install mosquitto)")
	}
	broker := mosquittotest.Start(t, "certfile "+cert, "keyfile "+key, "allow_anonymous false", "password_file "+passwords)
	url := strings.Replace(broker.URL, "mqtt://", "mqtts://", 1)
	pem, err := os.ReadFile(cert)
	if err != nil {
		t.Fatal(err)
	}
	trust := &tls.Config{RootCAs: x509.NewCertPool(), MinVersion: tls.VersionTLS12}
	trust.RootCAs.AppendCertsFromPEM(pem)

	for _, c := range []struct {
		name, password string
		tls            *tls.Config
		ready          bool
	}{
		{"right password", "right", trust, true},
		{"wrong password", "wrong", trust, false},
		{"unknown authority", "right", &tls.Config{MinVersion: tls.VersionTLS12}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := daemon(t, filepath.Join(t.TempDir(), "gullet.db"), url)
			a.Config.MQTT.User, a.Password, a.TLS = "gullet", c.password, c.tls
			r, stop := run(t, a)
			defer stop()
			if !c.ready {
				time.Sleep(500 * time.Millisecond)
				if r.Ready() {
					t.Error("let in")
				}
				return
			}
			waitFor(t, "the daemon to be let in", r.Ready)
			pub, err := publish.Connect(t.Context(), publish.Options{
				Broker: url, ClientID: "saw", User: "gullet", Password: c.password, TLS: c.tls, Window: 1,
			})
			if err != nil {
				t.Fatal(err)
			}
			cut := fmt.Sprintf(`{"id":"1","at":%q,"seconds":60,"section":"RD6"}`, time.Now().Format(time.RFC3339))
			if err := pub.Send(t.Context(), "saws/s1/cut", []byte(cut), false); err != nil {
				t.Fatal(err)
			}
			if err := pub.Close(t.Context()); err != nil {
				t.Fatal(err)
			}
			waitFor(t, "the reading to be stored", func() bool { return r.Taken() == 1 })
		})
	}
}

// certificate makes a self-signed certificate for loopback.
func certificate(t *testing.T, dir string) (certFile, keyFile string) {
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
	keyDER, err := x509.MarshalECPrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	encode := func(kind string, der []byte) string {
		return string(pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}))
	}
	return write(t, filepath.Join(dir, "cert.pem"), encode("CERTIFICATE", der)), write(t, filepath.Join(dir, "key.pem"), encode("EC PRIVATE KEY", keyDER))
}
