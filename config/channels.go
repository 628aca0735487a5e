package config

import (
	"errors"
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"gullet/analyze/alert"
	"gullet/analyze/shift"
)

// The kinds of channels.
const (
	Webhook = "webhook" // an HTTP POST
	Mail    = "mail"    // an SMTP server
	Topic   = "topic"   // the broker of the saws' messages
)

// The shapes of what a webhook is sent.
const (
	ShapeGeneric = "generic" // the whole message as JSON
	ShapeText    = "text"    // {"text": ...}, as some chat incoming webhooks want it
	ShapeContent = "content" // {"content": ...}, as others do
	ShapeCard    = "card"    // {"title": ..., "text": ..., "severity": ..., "facts": [...]}
)

// How a mail server is spoken to.
const (
	StartTLS = "starttls" // encrypted after the greeting, or not at all
	TLS      = "tls"      // encrypted from the start
	NoTLS    = "none"     // in the clear, on this machine only
)

// Channel is where messages go and how they get there. Keys of another kind than its
// own have their zero value.
type Channel struct {
	alert.Channel
	Kind     string
	Template string // file of the shop's own words, "" for Gullet's

	URL        HiddenURL // of a webhook, exactly one of these three
	URLFile    string
	URLEnv     string
	Shape      string
	SecretFile string // holds the key that messages are signed with, one of the two or none
	SecretEnv  string
	Timeout    time.Duration // of a webhook or a mail server

	Server       string // host:port
	TLS          string
	From         string
	To           []string
	User         string // "" for none
	PasswordFile string // one of the two where there is a user
	PasswordEnv  string

	Topic string
}

// HiddenURL is the address of a webhook, which is a secret: who knows it can write
// there. Printed, it shows scheme and host only.
type HiddenURL string

func (u HiddenURL) String() string {
	if u == "" {
		return ""
	}
	return hiddenURL(string(u))
}

// GoString shows no more than String.
func (u HiddenURL) GoString() string { return strconv.Quote(u.String()) }

// MarshalText shows no more than String.
func (u HiddenURL) MarshalText() ([]byte, error) { return []byte(u.String()), nil }

// hiddenURL is the address of a webhook fit to be shown, "***" for what is none.
func hiddenURL(s string) string {
	u, err := webAddress(s)
	if err != nil {
		return "***"
	}
	return (&url.URL{Scheme: u.Scheme, Host: u.Host}).String() + "/…"
}

// hiddenText shows nothing of what a person wrote where a secret may have slipped in.
func hiddenText(string) string { return "***" }

// hiddenPath shows a path, but not the address of a webhook in its place.
func hiddenPath(s string) string {
	if strings.Contains(s, "://") {
		return hiddenURL(s)
	}
	return s
}

func webhookURL(raw any) (any, error) {
	s, _ := raw.(string)
	if _, err := webAddress(s); err != nil {
		return nil, err
	}
	return HiddenURL(s), nil
}

// only names the kinds of channels that a key is for; all others are for each.
var only = map[string][]string{
	"url": {Webhook}, "url_file": {Webhook}, "url_env": {Webhook}, "shape": {Webhook},
	"secret_file": {Webhook}, "secret_env": {Webhook}, "timeout": {Webhook, Mail},
	"server": {Mail}, "tls": {Mail}, "from": {Mail}, "to": {Mail}, "user": {Mail}, "password_file": {Mail}, "password_env": {Mail},
	"topic": {Topic},
}

// foreign reports whether a key is for other kinds of rows than this one.
func (r row) foreign(key string) bool {
	kinds, ok := only[key]
	return r.list == "channel" && ok && r.has("kind") && !slices.Contains(kinds, r.text("kind"))
}

// channelDefaults is what a channel of a kind does when the shop says no more.
func channelDefaults(kind string) map[string]any {
	all := map[string]any{
		"severity": alert.Notice.String(), "digest": kind != Topic, "wait": 20 * time.Second, "flood": 4,
		"cap": 8, "per": 10 * time.Minute, "keep": 12 * time.Hour,
	}
	switch kind {
	case Webhook:
		all["shape"], all["timeout"] = ShapeGeneric, 10*time.Second
	case Mail:
		all["tls"], all["timeout"] = StartTLS, 10*time.Second
	}
	return all
}

// channel is the row as a channel.
func (r row) channel(zone *time.Location) Channel {
	c := Channel{
		Channel: alert.Channel{
			Name: r.text("name"), Severity: severity(r.text("severity")), Saws: r.texts("saws"), Quiet: r.quiet(zone),
		},
		Kind: r.text("kind"), Template: r.text("template"),
		URLFile: r.text("url_file"), URLEnv: r.text("url_env"), Shape: r.text("shape"),
		SecretFile: r.text("secret_file"), SecretEnv: r.text("secret_env"),
		Server: r.text("server"), TLS: r.text("tls"), From: r.text("from"), To: r.texts("to"),
		User: r.text("user"), PasswordFile: r.text("password_file"), PasswordEnv: r.text("password_env"),
		Topic: r.text("topic"),
	}
	for _, kind := range r.texts("kinds") {
		c.Kinds = append(c.Kinds, alert.Kind(kind))
	}
	put(&c.URL, value[HiddenURL](r, "url"))
	put(&c.Digest, value[bool](r, "digest"))
	put(&c.Flood, value[int](r, "flood"))
	put(&c.Cap, value[int](r, "cap"))
	for key, to := range map[string]*time.Duration{"after": &c.After, "wait": &c.Wait, "per": &c.Per, "keep": &c.Keep, "timeout": &c.Timeout} {
		put(to, value[time.Duration](r, key))
	}
	return c
}

// quiet is nil for a channel that is told around the clock.
func (r row) quiet(zone *time.Location) *alert.Quiet {
	span, ok := r.values["quiet"].(shift.Span)
	if !ok {
		return nil
	}
	return &alert.Quiet{From: span.From, To: span.To, Days: weekdays(r.texts("quiet_days")), Zone: zone}
}

// stretch reads a stretch of the day.
func stretch(raw any) (any, error) {
	s, _ := raw.(string)
	span, ok := parseSpan(s)
	if !ok {
		return nil, errors.New("allowed is a stretch of the day such as \"22:00-06:00\"")
	}
	return span, nil
}

// channelName reads the name that people and metrics know a channel by.
func channelName(raw any) (any, error) {
	s, _ := raw.(string)
	if utf8.RuneCountInString(s) > 64 || !causePattern.MatchString(s) {
		return nil, errors.New("allowed are lower-case words with hyphens between, such as \"shift-leads\", up to 64 characters")
	}
	return s, nil
}

var variablePattern = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]{0,127}$`)

// variable reads the name of an environment variable that holds a secret. Those that
// begin as Gullet's own keys do are refused, since one that is no key is a slip.
func variable(raw any) (any, error) {
	s, _ := raw.(string)
	if !variablePattern.MatchString(s) || strings.HasPrefix(s, envPrefix) {
		return nil, errors.New("allowed is the name of an environment variable, such as \"SHOP_CHAT_URL\", that does not begin with " + envPrefix)
	}
	return s, nil
}

// mailServer reads host:port.
func mailServer(raw any) (any, error) {
	s, _ := raw.(string)
	host, port, err := net.SplitHostPort(s)
	if err != nil || !hostName(host) || !portNumber(port, 1) {
		return nil, errors.New("allowed is host:port, such as \"mail.shop:587\", with a port from 1 to 65535")
	}
	return s, nil
}

// mailAddress reads one address, with or without a name before it.
func mailAddress(raw any) (any, error) {
	s, _ := raw.(string)
	if _, err := mail.ParseAddress(s); err != nil || !plain(s) || strings.TrimSpace(s) != s {
		return nil, errors.New("allowed is a mail address such as \"saws@shop.example\" or \"Saws <saws@shop.example>\"")
	}
	return s, nil
}

// mailAddresses reads at least one.
func mailAddresses(raw any) (any, error) {
	items, _ := raw.([]any)
	if len(items) == 0 {
		return nil, errors.New("allowed is a list of mail addresses such as [\"fitters@shop.example\"]")
	}
	var out []string
	for i, item := range items {
		s, err := mailAddress(item)
		if err != nil {
			return nil, fmt.Errorf("item %d is %s: %w", i+1, found(item), err)
		}
		out = append(out, s.(string))
	}
	return out, nil
}

// topicName reads a topic to publish on. What begins with $ is the broker's own
// (MQTT 3.1.1 section 4.7.2).
func topicName(raw any) (any, error) {
	v, err := textOf(1, 1024)(raw)
	if err != nil || strings.ContainsAny(v.(string), "+#") || strings.HasPrefix(v.(string), "$") {
		return nil, errors.New("allowed is a topic such as \"gullet/alerts\", of 1 to 1024 characters, without the wildcards + and # and not beginning with $")
	}
	return v, nil
}

// checkChannels refuses keys of another kind, what is missing for the channel's own
// kind, secrets in two places, and a topic that the daemon itself would read.
func (l *loader) checkChannels(out *Loaded) {
	for _, r := range out.rows {
		if r.list != "channel" {
			continue
		}
		l.checkSawNames(out, r, "saws", r.texts("saws"))
		if r.has("quiet_days") && !r.has("quiet") && !r.broken["quiet"] {
			l.problems.add(r.origins["quiet_days"], r.path+".quiet_days", "found without quiet; allowed are days on which quiet hours begin")
		}
		for key := range r.origins {
			if r.foreign(key) {
				l.problems.add(r.origins[key], r.path+"."+key, "%s is for a channel of kind %s; this one is of kind %s", key, strings.Join(only[key], " or "), r.text("kind"))
			}
		}
		switch r.text("kind") {
		case Webhook:
			l.checkOneOf(r, true, "url", "url_file", "url_env")
			l.checkOneOf(r, false, "secret_file", "secret_env")
		case Mail:
			l.checkMail(r)
		case Topic:
			l.checkNeeded(r, "topic", topicName)
			l.checkTopic(r, out.MQTT)
		}
	}
}

// checkNeeded refuses a row without a key that its kind needs.
func (l *loader) checkNeeded(r row, key string, read reader) {
	if !r.has(key) && !r.broken[key] {
		_, err := read(nil)
		l.problems.add(r.at, r.path+"."+key, "is missing; %v", err)
	}
}

// says reports whether a key is there with more than the "" that stands for none. A
// wrong value is one too: what it says is refused elsewhere.
func (r row) says(key string) bool {
	v, ok := r.values[key]
	return ok && v != "" || r.broken[key]
}

// checkOneOf refuses more than one of a few keys, and none where one is needed.
func (l *loader) checkOneOf(r row, needed bool, keys ...string) {
	var there []string
	for _, key := range keys {
		if r.says(key) {
			there = append(there, key)
		}
	}
	allowed := strings.Join(keys[:len(keys)-1], ", ") + " or " + keys[len(keys)-1]
	switch {
	case len(there) > 1:
		l.problems.add(r.origins[there[1]], r.path+"."+there[1], "found beside %s; allowed is one of %s", there[0], allowed)
	case len(there) == 0 && needed:
		l.problems.add(r.at, r.path+"."+keys[0], "is missing; allowed is one of %s", allowed)
	}
}

func (l *loader) checkMail(r row) {
	l.checkNeeded(r, "server", mailServer)
	l.checkNeeded(r, "from", mailAddress)
	l.checkNeeded(r, "to", mailAddresses)
	l.checkOneOf(r, false, "password_file", "password_env")
	password := ""
	for _, key := range []string{"password_file", "password_env"} {
		if r.says(key) {
			password = key
		}
	}
	switch user := r.says("user"); {
	case user && password == "":
		l.problems.add(r.origins["user"], r.path+".user", "found without a password; allowed is a user with password_file or password_env")
	case !user && password != "":
		l.problems.add(r.origins[password], r.path+"."+password, "found without user; allowed is a password with a user only")
	}
	if r.text("tls") == NoTLS && r.has("server") && !onThisMachine(r.text("server")) {
		l.problems.add(r.origins["tls"], r.path+".tls", "found %q with server %q; allowed is mail in the clear to this machine only, such as \"127.0.0.1:25\"",
			NoTLS, r.text("server"))
	}
}

func onThisMachine(server string) bool {
	host, _, _ := net.SplitHostPort(server)
	return host == "localhost" || net.ParseIP(host).IsLoopback()
}

// checkTopic refuses a topic that the daemon subscribes to: it would take its own
// messages for readings.
func (l *loader) checkTopic(r row, m MQTT) {
	topic := r.text("topic")
	for _, filter := range m.Topics {
		if topic != "" && takes(filter, topic) {
			l.problems.add(r.origins["topic"], r.path+".topic", "found %q, which %q in mqtt.topics (%s) takes: the daemon would take its own messages for readings; allowed is a topic that it does not subscribe to",
				topic, filter, l.origins["mqtt.topics"])
			return
		}
	}
}

// takes reports whether a topic filter takes a topic (MQTT 3.1.1 section 4.7.1).
func takes(filter, topic string) bool {
	levels := strings.Split(topic, "/")
	for i, level := range strings.Split(filter, "/") {
		switch {
		case level == "#":
			return true // stands for no level as well
		case i == len(levels), level != "+" && level != levels[i]:
			return false
		}
	}
	return strings.Count(filter, "/") == strings.Count(topic, "/")
}
