package config

import (
	"slices"
	"strings"
	"time"

	"gullet/analyze"
	"gullet/analyze/alert"
	"gullet/analyze/shift"
)

// setting is one key of a section that is there once ([mqtt], [store], ...).
type setting struct {
	key   string // section and key, "mqtt.broker"
	value any    // the default
	read  reader
	flag  string // the command's flag for it, "" for none
}

// env is the environment variable of the key: GULLET_MQTT_BROKER.
func (s setting) env() string {
	return envPrefix + strings.ToUpper(strings.ReplaceAll(s.key, ".", "_"))
}

// settings are all such keys in the order of the example file.
func settings() []setting {
	const year = 366 * 24 * time.Hour
	return []setting{
		{key: "mqtt.broker", value: "", read: brokerURL, flag: "broker"},
		{key: "mqtt.client_id", value: "gullet", read: textOf(1, 64)},
		{key: "mqtt.topics", value: []string{"saws/+/+"}, read: topicFilters},
		{key: "mqtt.user", value: "", read: textOf(0, 256)},
		{key: "mqtt.password_file", value: "", read: existingFile},
		{key: "mqtt.ca_file", value: "", read: existingFile},
		{key: "mqtt.cert_file", value: "", read: existingFile},
		{key: "mqtt.key_file", value: "", read: existingFile},
		{key: "mqtt.max_payload", value: byteSize(256 << 10), read: sizeOf(1<<10, 64<<20)},
		// MQTT 3.1.1 section 3.1.2.10 sends the keep-alive as whole seconds in 16 bits.
		{key: "mqtt.keepalive", value: 30 * time.Second, read: durationOf(time.Second, 65535*time.Second)},
		{key: "mqtt.embedded_listen", value: "127.0.0.1:1883", read: address},
		{key: "mqtt.embedded_dir", value: "", read: textOf(0, 4096)},
		{key: "mqtt.oldest", value: 360 * 24 * time.Hour, read: durationOf(time.Hour, 100*year)},
		{key: "mqtt.ahead", value: 24 * time.Hour, read: durationOf(time.Second, year)},
		{key: "mqtt.publish_forecasts", value: false, read: yesOrNo},
		{key: "store.path", value: "gullet.db", read: textOf(1, 4096), flag: "db"},
		{key: "listen.address", value: "127.0.0.1:9480", read: address, flag: "listen"},
		{key: "shop.zone", value: "UTC", read: zone},
		{key: "shop.units", value: "in", read: oneOf("in", "mm")},
		{key: "shop.currency", value: "USD", read: currency},
		{key: "shop.silent_after", value: 15 * time.Minute, read: durationOf(time.Minute, year)},
		{key: "shop.skew_warning", value: 30 * time.Second, read: durationOf(time.Second, 24*time.Hour)},
		{key: "shop.holidays", value: []shift.Date(nil), read: dates},
		{key: "plan.saw_hour", value: 0.0, read: amountOf(0, 100_000, "shop.currency an hour, 0 for not known")},
		{key: "plan.planned_change", value: 15 * time.Minute, read: durationOf(time.Minute, 24*time.Hour)},
		{key: "plan.unplanned_change", value: 45 * time.Minute, read: durationOf(time.Minute, 24*time.Hour)},
		{key: "plan.fitter", value: 2 * time.Hour, read: durationOf(time.Minute, 24*time.Hour)},
		{key: "plan.scrap", value: 0.0, read: amountOf(0, 1_000_000, "shop.currency")},
		{key: "plan.late", value: 0.0, read: amountOf(0, 1_000_000, "shop.currency")},
		{key: "plan.risk", value: 0.0, read: amountOf(0, 0.9, "a chance, 0 for by cost")},
		{key: "plan.service", value: 0.95, read: amountOf(0.5, 0.999, "a chance")},
		{key: "plan.lead", value: 7 * 24 * time.Hour, read: durationOf(time.Hour, 180*24*time.Hour)},
		{key: "downtime.minor", value: 3 * time.Minute, read: durationOf(0, time.Hour)},
		{key: "downtime.between_cuts", value: 10 * time.Minute, read: durationOf(time.Minute, 24*time.Hour)},
		{key: "downtime.restart", value: 10 * time.Minute, read: durationOf(0, 2*time.Hour)},
		{key: "downtime.told_for", value: 12 * time.Hour, read: durationOf(time.Minute, year)},
		{key: "downtime.long", value: 15 * time.Minute, read: durationOf(time.Minute, 24*time.Hour)},
		{key: "alerts.enabled", value: true, read: yesOrNo},
		{key: "alerts.link", value: "", read: link},
	}
}

// list is a table that is there once for each of several things ([[saw]], ...).
type list struct {
	name   string
	fields []field
}

// field is one key of such a table.
type field struct {
	name     string
	read     reader
	required bool
	hide     func(string) string // shows what a person wrote without its secret; nil shows it as it is
}

// lists are all such tables. Their limits keep out slips (an inch figure typed
// in millimetres, a decimal point lost); no machine is near them.
func lists() []list {
	return []list{
		{"saw", []field{
			{name: "name", read: sawName, required: true},
			{name: "kind", read: oneOf(words(analyze.SawKinds())...)},
			{name: "band_length", read: numberOf(3, 150, "ft")},
			{name: "wheel_diameter", read: numberOf(3, 120, "in")},
			{name: "trip_limit", read: numberOf(0.001, 1, "in")},
			{name: "guide_gap", read: numberOf(0.1, 150, "in")},
			{name: "mitre_from", read: oneOf("square", "axis")},
		}},
		{"blade_type", []field{
			{name: "name", read: textOf(1, 64), required: true},
			{name: "width", read: numberOf(0.1, 6, "in")},
			{name: "thickness", read: numberOf(0.01, 0.2, "in")},
			{name: "tpi", read: tpi},
			{name: "teeth", read: oneOf("carbon", "bimetal", "carbide-tipped")},
			{name: "price", read: numberOf(0, 100_000, "in shop.currency")},
		}},
		{"grade", []field{
			{name: "name", read: textOf(1, 64), required: true},
			{name: "others", read: textsOf(1, 64)},
			{name: "class", read: textOf(1, 64), required: true},
			{name: "severity", read: numberOf(0.01, 1000, "1 = the reference, 1018"), required: true},
			{name: "band_speed", read: numberOf(10, 10_000, "ft/min"), required: true},
			{name: "rate", read: numberOf(0.01, 1000, "in²/min"), required: true},
			{name: "source", read: oneOf(sourceHandbook, sourcePractice, sourceShop)},
		}},
		{"shift", []field{
			{name: "name", read: textOf(1, 64), required: true},
			{name: "start", read: timeOfDay, required: true},
			{name: "end", read: timeOfDay, required: true},
			{name: "days", read: daysOfWeek, required: true},
			{name: "breaks", read: breaks},
			{name: "saws", read: sawNames},
		}},
		{"closed", []field{
			{name: "saw", read: sawName},
			{name: "from", read: moment, required: true},
			{name: "to", read: moment, required: true},
			{name: "why", read: textOf(1, 256), required: true},
		}},
		{"cause", []field{
			{name: "name", read: causeName, required: true},
			{name: "element", read: oneOf(stopElements()...), required: true},
			{name: "group", read: textOf(1, 32)},
			{name: "failure", read: yesOrNo},
		}},
		{"alert", alertFields()},
		{"channel", channelFields()},
	}
}

func alertFields() []field {
	const week = 7 * 24 * time.Hour
	return []field{
		{name: "kind", read: oneOf(alert.Kinds()...), required: true},
		{name: "saws", read: sawNames},
		{name: "off", read: yesOrNo},
		{name: "raise", read: level},
		{name: "clear", read: level},
		{name: "hold", read: durationOf(0, week)},
		{name: "rest", read: durationOf(0, week)},
		{name: "again", read: durationOf(time.Minute, 30*24*time.Hour)},
		{name: "fresh", read: durationOf(time.Minute, 30*24*time.Hour)},
		{name: "severity", read: oneOf(alert.Severities()...)},
	}
}

// channelFields are first those of each channel, then those of a webhook, a mail
// server and a topic.
func channelFields() []field {
	return []field{
		{name: "name", read: channelName, required: true},
		{name: "kind", read: oneOf(Webhook, Mail, Topic), required: true},
		{name: "severity", read: oneOf(alert.Severities()...)},
		{name: "kinds", read: kindNames},
		{name: "saws", read: sawNames},
		{name: "digest", read: yesOrNo},
		{name: "after", read: durationOf(0, 7*24*time.Hour)},
		{name: "quiet", read: stretch},
		{name: "quiet_days", read: daysOfWeek},
		{name: "wait", read: durationOf(0, time.Hour)},
		{name: "flood", read: wholeOf(2, 100)},
		{name: "cap", read: wholeOf(2, 1000)},
		{name: "per", read: durationOf(time.Minute, 24*time.Hour)},
		{name: "keep", read: durationOf(time.Minute, 30*24*time.Hour)},
		{name: "template", read: existingFile},
		{name: "url", read: webhookURL, hide: hiddenURL},
		{name: "url_file", read: existingFile, hide: hiddenPath},
		{name: "url_env", read: variable, hide: hiddenText},
		{name: "shape", read: oneOf(ShapeGeneric, ShapeText, ShapeContent, ShapeCard)},
		{name: "secret_file", read: existingFile, hide: hiddenPath},
		{name: "secret_env", read: variable, hide: hiddenText},
		{name: "timeout", read: durationOf(time.Second, time.Minute)},
		{name: "server", read: mailServer},
		{name: "tls", read: oneOf(StartTLS, TLS, NoTLS)},
		{name: "from", read: mailAddress},
		{name: "to", read: mailAddresses},
		{name: "user", read: textOf(1, 256)},
		{name: "password_file", read: existingFile},
		{name: "password_env", read: variable, hide: hiddenText},
		{name: "topic", read: topicName},
	}
}

// names are the keys a row may have.
func (l list) names() []string {
	out := make([]string, len(l.fields))
	for i, f := range l.fields {
		out[i] = f.name
	}
	return out
}

func (l list) field(name string) (field, bool) {
	i := slices.IndexFunc(l.fields, func(f field) bool { return f.name == name })
	if i < 0 {
		return field{}, false
	}
	return l.fields[i], true
}

// words turns a closed set of analyze into plain words.
func words[T ~string](set []T) []string {
	out := make([]string, len(set))
	for i, w := range set {
		out[i] = string(w)
	}
	return out
}
