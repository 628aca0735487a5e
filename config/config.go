package config

import (
	_ "embed"
	"strings"
	"time"
	_ "time/tzdata" // a shop's zone must be found on a machine without zone files
	"unicode"

	"gullet/analyze"
	"gullet/analyze/downtime"
	"gullet/analyze/shift"
)

// Example is the commented reference file, gullet.toml, with every key at its
// default and an invented shop's saws.
//
//go:embed gullet.toml
var Example string

// Config is the whole configuration after its checks.
type Config struct {
	MQTT     MQTT     `mapstructure:"mqtt"`
	Store    Store    `mapstructure:"store"`
	Listen   Listen   `mapstructure:"listen"`
	Shop     Shop     `mapstructure:"shop"`
	Plan     Plan     `mapstructure:"plan"`
	Downtime Downtime `mapstructure:"downtime"`
	Alerts   Alerts   `mapstructure:"alerts"`

	// The lists are built by hand from checked rows, as viper merges no lists.
	Saws       []analyze.Saw       `mapstructure:"-"`
	BladeTypes []analyze.BladeType `mapstructure:"-"`
	Grades     []analyze.Grade     `mapstructure:"-"` // the defaults with the file's over them
	Shifts     []shift.Rule        `mapstructure:"-"` // none is around the clock
	Closed     []shift.Closure     `mapstructure:"-"`
	Causes     []downtime.Meaning  `mapstructure:"-"` // what the file says of them; Meanings has the defaults too
	AlertRows  []AlertRow          `mapstructure:"-"` // what the file says of them; AlertRules has the defaults too
	Channels   []Channel           `mapstructure:"-"`
}

// MQTT says where the saws' messages come from and which of them are taken.
type MQTT struct {
	Broker         string        `mapstructure:"broker"`        // URL; "" starts the embedded broker
	ClientID       string        `mapstructure:"client_id"`     // fixed, or the broker could not keep the session
	Topics         []string      `mapstructure:"topics"`        // topic filters, at least one
	User           string        `mapstructure:"user"`          // "" for none
	PasswordFile   string        `mapstructure:"password_file"` // "" for none
	CAFile         string        `mapstructure:"ca_file"`       // "" for the system's authorities
	CertFile       string        `mapstructure:"cert_file"`     // "" for none; always with KeyFile
	KeyFile        string        `mapstructure:"key_file"`
	MaxPayload     int           `mapstructure:"max_payload"` // bytes; of a longer message only the head is kept
	Keepalive      time.Duration `mapstructure:"keepalive"`
	EmbeddedListen string        `mapstructure:"embedded_listen"` // host:port of the embedded broker
	EmbeddedDir    string        `mapstructure:"embedded_dir"`    // its files; "" for beside the database
	Oldest         time.Duration `mapstructure:"oldest"`          // how far back a reading's time may lie
	Ahead          time.Duration `mapstructure:"ahead"`           // how far in the future it may lie
	// PublishForecasts puts each saw's part of the plan on ForecastPrefix/<site>/<saw>/ForecastKind.
	PublishForecasts bool `mapstructure:"publish_forecasts"`
}

// A forecast's topic begins and ends so; between them are two levels, the site and the
// saw. The site is never that of a shop with only one, analyze.DefaultSite.
const (
	ForecastPrefix = "gullet"
	ForecastKind   = "forecast"
)

// BrokerShown is the broker's URL fit for a log or a page: user, password and
// query are hidden. It is "" for the embedded broker.
func (m MQTT) BrokerShown() string { return redacted(m.Broker) }

// Store says where the readings are kept.
type Store struct {
	Path string `mapstructure:"path"` // of the SQLite file
}

// Listen says where the daemon answers HTTP.
type Listen struct {
	Address string `mapstructure:"address"` // host:port of /healthz, /readyz and /metrics
}

// Shop is what holds for the whole shop.
type Shop struct {
	Zone        string        `mapstructure:"zone"`         // IANA name, known to time.LoadLocation; never "Local"
	Units       string        `mapstructure:"units"`        // "in" or "mm": what people are shown
	Currency    string        `mapstructure:"currency"`     // ISO 4217 code of every price
	SilentAfter time.Duration `mapstructure:"silent_after"` // with no reading for so long, a saw reads "no data since"
	SkewWarning time.Duration `mapstructure:"skew_warning"` // of a saw's clock
	Holidays    []shift.Date  `mapstructure:"holidays"`     // on which no shift begins
}

// Plan is what the change plan weighs, in the shop's currency.
type Plan struct {
	SawHour         float64       `mapstructure:"saw_hour"`         // of a saw that stands; 0 is not known
	PlannedChange   time.Duration `mapstructure:"planned_change"`   // the saw stands for a planned change
	UnplannedChange time.Duration `mapstructure:"unplanned_change"` // and for one after a blade ended in the cut
	Fitter          time.Duration `mapstructure:"fitter"`           // that one fitter has for blade changes in a shift
	Scrap           float64       `mapstructure:"scrap"`            // what is lost when a blade ends in the cut
	Late            float64       `mapstructure:"late"`             // what it costs that a job is late
	Risk            float64       `mapstructure:"risk"`             // target chance of an end before the change; 0: by cost
	Service         float64       `mapstructure:"service"`          // chance that the shelf lasts over the lead time
	Lead            time.Duration `mapstructure:"lead"`             // from the order of blades to the shelf
}

// Downtime says how standstills are told apart.
type Downtime struct {
	Minor       time.Duration `mapstructure:"minor"`        // shorter ones are pooled; 0 pools none
	BetweenCuts time.Duration `mapstructure:"between_cuts"` // at most from one cut to the next while the saw says it cuts
	Restart     time.Duration `mapstructure:"restart"`      // short ones so soon after a break or a pull belong to it
	ToldFor     time.Duration `mapstructure:"told_for"`     // how long one that a saw told of is believed when nothing more is heard
	Long        time.Duration `mapstructure:"long"`         // at least so long ones are listed one by one
}

// SawOf is the configured saw of that full name (analyze.SawName). Topics tell
// capitals apart, so the name must match exactly. A saw nobody configured is
// not an error: ok is false.
func (c *Config) SawOf(name string) (saw analyze.Saw, ok bool) {
	for _, s := range c.Saws {
		if s.Name == name {
			return s, true
		}
	}
	return analyze.Saw{}, false
}

// BladeTypeOf is the configured blade type of that name, whatever its capitals
// and spaces. ok is false for one nobody configured.
func (c *Config) BladeTypeOf(name string) (bt analyze.BladeType, ok bool) {
	for _, b := range c.BladeTypes {
		if sameName(b.Name, name) {
			return b, true
		}
	}
	return analyze.BladeType{}, false
}

// TypeName gives a type of blade the name that it is configured by, if it is.
func (c *Config) TypeName(name string) string {
	if t, ok := c.BladeTypeOf(name); ok {
		return t.Name
	}
	return name
}

// GradeOf is the grade known by that name or other name, whatever its capitals
// and spaces ("4140 ph" is "4140PH"). ok is false for an unknown grade and for
// "".
func (c *Config) GradeOf(name string) (g analyze.Grade, ok bool) {
	for _, g := range c.Grades {
		if sameName(g.Name, name) {
			return g, true
		}
		for _, other := range g.Others {
			if sameName(other, name) {
				return g, true
			}
		}
	}
	return analyze.Grade{}, false
}

// sameName compares names as people type them.
func sameName(a, b string) bool { return a == b || fold(a) == fold(b) }

// fold is a name without what people are careless about: capitals and spaces.
func fold(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return unicode.ToLower(r)
	}, name)
}
