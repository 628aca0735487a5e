package config

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"gullet/analyze"
)

// row is one table of a list, a saw or a grade, with the origin of each of its values.
type row struct {
	list    string
	path    string // "saw[2]", "" for a default
	at      origin // of its header
	values  map[string]any
	origins map[string]origin
	broken  map[string]bool // keys that are there with a wrong value
}

func (r row) text(key string) string { s, _ := r.values[key].(string); return s }

// number is nil when the row does not say.
func (r row) number(key string) *float64 {
	if x, ok := r.values[key].(float64); ok {
		return &x
	}
	return nil
}

func (r row) amount(key string) float64 { x, _ := r.values[key].(float64); return x }

func (r row) texts(key string) []string { s, _ := r.values[key].([]string); return s }

// finishRows lays the file's grades and causes over the defaults, looks for what is
// missing and what is there twice, and returns all rows in the order of lists.
func (l *loader) finishRows() []row {
	var out []row
	for _, li := range lists() {
		var rows []row
		for _, r := range l.rows {
			if r.list == li.name {
				rows = append(rows, r)
			}
		}
		switch li.name {
		case "grade":
			l.checkGradeNames(rows)
			rows = overDefaults(rows)
		case "cause":
			l.checkNames(li.name, rows)
			rows = overDefaultCauses(rows)
		case "saw", "blade_type", "channel":
			l.checkNames(li.name, rows)
		}
		for _, r := range rows {
			switch li.name {
			case "saw":
				r.withDefaults(map[string]any{"mitre_from": "square"})
			case "channel":
				r.withDefaults(channelDefaults(r.text("kind")))
			}
			l.checkRequired(li, r)
		}
		out = append(out, rows...)
	}
	return out
}

func (l *loader) checkRequired(li list, r row) {
	for _, f := range li.fields {
		if _, ok := r.values[f.name]; f.required && !ok && !r.broken[f.name] {
			_, err := f.read(nil)
			l.problems.add(r.at, r.path+"."+f.name, "is missing; %v", err)
		}
	}
}

// checkNames refuses a saw, a blade type, a cause or a channel that is there twice. Saws differ
// by capitals, as topics do; blade types are typed by people and do not.
func (l *loader) checkNames(list string, rows []row) {
	first := map[string]row{}
	for _, r := range rows {
		name := r.text("name")
		key := name
		if list != "saw" {
			key = fold(name)
		}
		if name == "" {
			continue
		}
		if earlier, ok := first[key]; ok {
			l.problems.add(r.origins["name"], r.path+".name", "found %q, which is %s (%s) too; allowed is a name once",
				name, earlier.path, earlier.origins["name"])
			continue
		}
		first[key] = r
	}
}

// checkGradeNames refuses a name or other name that two of the file's grades
// claim, and an other name that would hide a default grade.
func (l *loader) checkGradeNames(rows []row) {
	owner := map[string]string{} // folded name → who has it, for a person
	for _, r := range rows {
		name := r.text("name")
		if name == "" {
			continue
		}
		if who, ok := owner[fold(name)]; ok {
			l.problems.add(r.origins["name"], r.path+".name", "found %q, which is %s too; allowed is a name once", name, who)
			continue
		}
		owner[fold(name)] = fmt.Sprintf("%s.name (%s)", r.path, r.origins["name"])
	}
	for _, g := range defaultGrades() {
		if _, ok := owner[fold(g.Name)]; !ok {
			owner[fold(g.Name)] = "the name of a default grade"
		}
	}
	for _, r := range rows {
		for _, other := range r.texts("others") {
			if who, ok := owner[fold(other)]; ok {
				l.problems.add(r.origins["others"], r.path+".others", "found %q, which is %s too; allowed is a name once", other, who)
				continue
			}
			owner[fold(other)] = fmt.Sprintf("in %s.others (%s)", r.path, r.origins["others"])
		}
	}
}

// overDefaults is the default grades with the file's over them. What a name means
// in the file wins: a default loses the other names that a row of the file claims.
// A grade that the file touched is the shop's, since nobody else vouches for the
// mixture.
func overDefaults(rows []row) []row {
	claimed := map[string]bool{}
	for _, r := range rows {
		claimed[fold(r.text("name"))] = true
		for _, other := range r.texts("others") {
			claimed[fold(other)] = true
		}
		if _, ok := r.values["source"]; !ok {
			r.values["source"], r.origins["source"] = sourceShop, r.at
		}
	}
	var defaults []row
	for _, g := range defaultGrades() {
		defaults = append(defaults, gradeRow(g))
	}
	out := layOver(defaults, rows)
	for _, d := range out[:len(defaults)] {
		if d.origins["others"].layer == fromDefault {
			d.values["others"] = slices.DeleteFunc(d.texts("others"), func(o string) bool { return claimed[fold(o)] })
		}
	}
	return out
}

// layOver is the default rows, each with what the file's row of the same name says
// over it, then the file's own rows.
func layOver(defaults, rows []row) []row {
	byName := map[string]int{}
	for i, r := range rows {
		byName[fold(r.text("name"))] = i
	}
	out := slices.Clone(defaults)
	taken := map[int]bool{}
	for k := range out {
		d := &out[k]
		if i, ok := byName[fold(d.text("name"))]; ok {
			taken[i] = true
			over := rows[i]
			d.path, d.at, d.broken = over.path, over.at, over.broken
			maps.Copy(d.values, over.values)
			maps.Copy(d.origins, over.origins)
		}
	}
	for i, r := range rows {
		if !taken[i] {
			out = append(out, r)
		}
	}
	return out
}

func gradeRow(g analyze.Grade) row {
	return row{list: "grade", values: map[string]any{
		"name": g.Name, "others": g.Others, "class": g.Class, "severity": g.Severity,
		"band_speed": g.BandSpeed, "rate": g.Rate, "source": g.Source,
	}, origins: map[string]origin{}}
}

// fillLists turns the rows into the shop's saws, blade types, grades, shifts, causes,
// alerts and channels.
func (l *Loaded) fillLists() {
	for _, r := range l.rows {
		switch r.list {
		case "saw":
			l.Saws = append(l.Saws, analyze.Saw{
				Name: r.text("name"), Kind: analyze.SawKind(r.text("kind")),
				BandLength: r.number("band_length"), WheelDiameter: r.number("wheel_diameter"),
				TripLimit: r.number("trip_limit"), GuideGap: r.number("guide_gap"),
				MitreFromAxis: r.text("mitre_from") == "axis",
			})
		case "blade_type":
			l.BladeTypes = append(l.BladeTypes, analyze.BladeType{
				Name: r.text("name"), Width: r.number("width"), Thickness: r.number("thickness"),
				TPI: r.text("tpi"), Teeth: r.text("teeth"), Price: r.number("price"),
			})
		case "grade":
			l.Grades = append(l.Grades, analyze.Grade{
				Name: r.text("name"), Others: r.texts("others"), Class: r.text("class"),
				Severity: r.amount("severity"), BandSpeed: r.amount("band_speed"), Rate: r.amount("rate"),
				Source: r.text("source"),
			})
		case "shift":
			l.Shifts = append(l.Shifts, r.shift())
		case "closed":
			l.Closed = append(l.Closed, r.closure(l.zone()))
		case "cause":
			if r.at.layer != fromDefault {
				l.Causes = append(l.Causes, r.meaning())
			}
		case "alert":
			l.AlertRows = append(l.AlertRows, r.alert())
		case "channel":
			l.Channels = append(l.Channels, r.channel(l.zone()))
		}
	}
}

// checkMQTT refuses settings that contradict each other, each at the place
// where one of them was written.
func (l *loader) checkMQTT(m MQTT) {
	scheme, _, _ := strings.Cut(m.Broker, "://")
	at := func(key string) origin { return l.origins[key] }
	if m.CertFile != "" && m.KeyFile == "" {
		l.problems.add(at("mqtt.cert_file"), "mqtt.cert_file", "found %s without mqtt.key_file; allowed are both or neither", l.seen["mqtt.cert_file"])
	}
	if m.KeyFile != "" && m.CertFile == "" {
		l.problems.add(at("mqtt.key_file"), "mqtt.key_file", "found %s without mqtt.cert_file; allowed are both or neither", l.seen["mqtt.key_file"])
	}
	// MQTT 3.1.1 section 3.1.2.9: no password without a user name.
	if m.PasswordFile != "" && m.User == "" {
		l.problems.add(at("mqtt.password_file"), "mqtt.password_file", "found %s without mqtt.user; allowed is a password with a user only", l.seen["mqtt.password_file"])
	}
	if m.User != "" && strings.Contains(m.Broker, "@") {
		l.problems.add(at("mqtt.user"), "mqtt.user", "found beside a user in mqtt.broker (%s); allowed is one of them", at("mqtt.broker"))
	}
	l.checkForecasts(m)
	// Or a person would believe that the line is encrypted.
	for key, file := range map[string]string{"mqtt.ca_file": m.CAFile, "mqtt.cert_file": m.CertFile} {
		if file != "" && m.Broker != "" && !encrypted(scheme) {
			l.problems.add(at(key), key, "found with mqtt.broker %s (%s), which is not encrypted; allowed with the scheme %s",
				l.seen["mqtt.broker"], at("mqtt.broker"), alternatives(brokerSchemes[3:]))
		}
	}
}

// checkForecasts refuses topics under which the daemon would take its own forecasts
// for readings.
func (l *loader) checkForecasts(m MQTT) {
	if !m.PublishForecasts {
		return
	}
	for _, filter := range m.Topics {
		if takesForecasts(filter) {
			l.problems.add(l.origins["mqtt.publish_forecasts"], "mqtt.publish_forecasts", "found true with %q in mqtt.topics (%s), under which the daemon would take its own forecasts for readings; allowed are topics that leave out %s/<site>/<saw>/%s",
				filter, l.origins["mqtt.topics"], ForecastPrefix, ForecastKind)
		}
	}
}
