package config

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"gullet/analyze/shift"
)

// Calendar is the shop's shifts.
func (c *Config) Calendar() *shift.Calendar {
	return &shift.Calendar{Zone: c.zone(), Rules: c.Shifts, Holidays: c.Shop.Holidays, Closed: c.Closed}
}

// zone is that of the shop, whose name was checked when it was read.
func (c *Config) zone() *time.Location {
	zone, err := time.LoadLocation(c.Shop.Zone)
	if err != nil {
		return time.UTC
	}
	return zone
}

// timeOfDay reads a time on the wall.
func timeOfDay(raw any) (any, error) {
	s, _ := raw.(string)
	c, err := shift.ParseClock(s)
	if err != nil {
		return nil, errors.New("allowed is a time of day such as \"06:00\", from \"00:00\" to \"23:59\"")
	}
	return c, nil
}

// dates reads days of the calendar. A date without quotes is as clear as a text;
// the environment writes several with commas between.
func dates(raw any) (any, error) {
	allowed := errors.New("allowed is a list of dates such as [\"2026-12-25\"]")
	var items []any
	switch v := raw.(type) {
	case []any:
		items = v
	case string:
		for part := range strings.SplitSeq(v, ",") {
			if part = strings.TrimSpace(part); part != "" {
				items = append(items, part)
			}
		}
	default:
		return nil, allowed
	}
	var out []shift.Date
	for i, item := range items {
		d, err := shift.ParseDate(fmt.Sprint(item))
		if err != nil {
			return nil, fmt.Errorf("item %d is %s: %w", i+1, found(item), allowed)
		}
		out = append(out, d)
	}
	return out, nil
}

var dayNames = []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}

// daysOfWeek reads the days on which a shift begins.
func daysOfWeek(raw any) (any, error) {
	return wordsOf("days", dayNames[:5], dayNames)(raw)
}

// breaks reads stretches of a shift.
func breaks(raw any) (any, error) {
	items, ok := raw.([]any)
	if !ok {
		return nil, errors.New("allowed is a list of times such as [\"10:00-10:15\"]")
	}
	var out []shift.Span
	for i, item := range items {
		s, _ := item.(string)
		span, ok := parseSpan(s)
		if !ok {
			return nil, fmt.Errorf("item %d is %s: allowed is a stretch of a shift such as \"10:00-10:15\"", i+1, found(item))
		}
		out = append(out, span)
	}
	return out, nil
}

// parseSpan reads a stretch of the day, "10:00-10:15".
func parseSpan(s string) (span shift.Span, ok bool) {
	from, to, _ := strings.Cut(s, "-")
	start, err := shift.ParseClock(from)
	end, err2 := shift.ParseClock(to)
	return shift.Span{From: start, To: end}, err == nil && err2 == nil
}

// sawNames reads the saws that a row is for.
func sawNames(raw any) (any, error) {
	items, _ := raw.([]any)
	if len(items) == 0 {
		return nil, errors.New("allowed is a list of saws such as [\"s1\", \"s2\"]; leave it out for all")
	}
	var out []string
	for i, item := range items {
		s, err := sawName(item)
		if err != nil {
			return nil, fmt.Errorf("item %d is %s: %w", i+1, found(item), err)
		}
		out = append(out, s.(string))
	}
	return out, nil
}

// moment reads a date with its time, and gives it as text, since what it means
// may depend on shop.zone. A time without quotes is as clear as a text.
func moment(raw any) (any, error) {
	text := fmt.Sprint(raw)
	if t, ok := raw.(time.Time); ok {
		text = t.Format(time.RFC3339Nano)
	}
	if _, err := momentIn(text, time.UTC); err != nil {
		return nil, err
	}
	return text, nil
}

// Moment reads a date with its time on the wall in shop.zone, "2026-12-28 06:00",
// or with its own offset in RFC 3339. The error says what is allowed.
func (c *Config) Moment(text string) (time.Time, error) { return momentIn(text, c.zone()) }

// momentIn is what the text means in the zone.
func momentIn(text string, zone *time.Location) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02T15:04:05"} {
		if t, err := time.Parse(layout, text); err == nil && t.Truncate(time.Minute).Equal(t) {
			return shift.Wall(zone, shift.DateOf(t), shift.Clock(t.Hour()*60+t.Minute())), nil
		}
	}
	return time.Time{}, errors.New("allowed is a date with its time in shop.zone, \"2026-12-28 06:00\", or with its own offset, \"2026-12-28T06:00:00-06:00\"")
}

// shift is the row as a rule of the calendar.
func (r row) shift() shift.Rule {
	rule := shift.Rule{Name: r.text("name"), Saws: r.texts("saws"), Days: weekdays(r.texts("days"))}
	rule.Start, _ = r.values["start"].(shift.Clock)
	rule.End, _ = r.values["end"].(shift.Clock)
	rule.Breaks, _ = r.values["breaks"].([]shift.Span)
	return rule
}

// weekdays are days by time.Weekday.
func weekdays(names []string) (days [7]bool) {
	for _, day := range names {
		days[(slices.Index(dayNames, day)+1)%7] = true // Sunday is the first
	}
	return days
}

func (r row) closure(zone *time.Location) shift.Closure {
	c := shift.Closure{Saw: r.text("saw"), Why: r.text("why")}
	c.From, _ = momentIn(r.text("from"), zone)
	c.To, _ = momentIn(r.text("to"), zone)
	return c
}

// checkShifts refuses shifts that overlap, breaks outside their shift, closures
// that end before they begin, and saws nobody configured. A row in which a key
// is missing or wrong is looked at no further.
func (l *loader) checkShifts(out *Loaded) {
	whole := *out.Calendar()
	whole.Rules, whole.Closed = nil, nil
	var rules, closures []row
	shifts, closed := 0, 0
	for _, r := range out.rows {
		switch {
		case r.list == "shift":
			if r.has("name", "start", "end", "days") && len(r.broken) == 0 {
				rules, whole.Rules = append(rules, r), append(whole.Rules, out.Shifts[shifts])
			}
			shifts++
			l.checkSawNames(out, r, "saws", r.texts("saws"))
		case r.list == "closed":
			if r.has("from", "to") {
				closures, whole.Closed = append(closures, r), append(whole.Closed, out.Closed[closed])
			}
			closed++
			if r.has("saw") {
				l.checkSawNames(out, r, "saw", []string{r.text("saw")})
			}
		}
	}
	for _, p := range whole.Problems() {
		r := rules
		if p.Closure {
			r = closures
		}
		l.problems.add(r[p.Index].origins[p.Key], r[p.Index].path+"."+p.Key, "%s", p.Text)
	}
}

func (r row) has(keys ...string) bool {
	return !slices.ContainsFunc(keys, func(key string) bool { _, ok := r.values[key]; return !ok })
}

// checkSawNames refuses a saw that no row is about: a slip in its name would
// leave the real one without its shifts.
func (l *loader) checkSawNames(out *Loaded, r row, key string, names []string) {
	var known []string
	for _, s := range out.Saws {
		known = append(known, s.Name)
	}
	for _, name := range names {
		if !slices.Contains(known, name) {
			l.problems.add(r.origins[key], r.path+"."+key, "found %q, which no [[saw]] is named; allowed is the name of one%s", name, didYouMean(name, known))
		}
	}
}
