package main

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"gullet/config"
)

func (p *program) runCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "run",
		Short: "Listen to the saws until stopped",
		Long: "Runs the daemon: takes the saws' readings from the broker, keeps them, and answers at /healthz,\n" +
			"/readyz and /metrics. With no broker configured it starts its own on loopback.\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := p.config(c)
			if err != nil {
				return err
			}
			daemon, err := p.daemon(cfg)
			if err != nil {
				return err
			}
			daemon.Log = p.logger(slog.LevelInfo)
			return daemon.Run(c.Context())
		},
	}
	overridable(c, flagBroker, flagDB, flagListen)
	return c
}

// access is what the broker asks for.
type access struct {
	password string
	tls      *tls.Config // nil for the library's own
}

// brokerAccess reads the files that the configuration names.
func brokerAccess(cfg *config.Loaded) (access, error) {
	var a access
	m := cfg.MQTT
	if m.PasswordFile != "" {
		b, err := os.ReadFile(m.PasswordFile)
		if err != nil {
			return a, fmt.Errorf("read mqtt.password_file: %w", err)
		}
		a.password = strings.TrimRight(string(b), "\r\n")
	}
	if m.CAFile == "" && m.CertFile == "" {
		return a, nil
	}
	a.tls = &tls.Config{MinVersion: tls.VersionTLS12}
	if m.CAFile != "" {
		pem, err := os.ReadFile(m.CAFile)
		if err != nil {
			return a, fmt.Errorf("read mqtt.ca_file: %w", err)
		}
		a.tls.RootCAs = x509.NewCertPool()
		if !a.tls.RootCAs.AppendCertsFromPEM(pem) {
			return a, fmt.Errorf("mqtt.ca_file %s: %w", m.CAFile, errors.New("no certificate in PEM form found"))
		}
	}
	if m.CertFile != "" {
		cert, err := tls.LoadX509KeyPair(m.CertFile, m.KeyFile)
		if err != nil {
			return a, fmt.Errorf("read mqtt.cert_file and mqtt.key_file: %w", err)
		}
		a.tls.Certificates = []tls.Certificate{cert}
	}
	return a, nil
}
