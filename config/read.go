package config

import (
	"errors"
	"fmt"
	"math"
	"net"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"gullet/analyze"
)

// reader turns a value as written into the value meant. What it gets is what
// TOML has (string, int64, float64, bool, a time, []any, map[string]any) or a
// string from the environment or a flag. Its error says what is allowed; the
// caller adds where and what was found, so a secret is shown or hidden in one
// place.
type reader func(raw any) (any, error)

// textOf reads a text of least to most characters in UTF-8, without control
// characters and without spaces around it, which nobody sees when comparing.
func textOf(least, most int) reader {
	allowed := fmt.Errorf("allowed is a text of %d to %d characters, with no control characters and no spaces around it", least, most)
	return func(raw any) (any, error) {
		s, ok := raw.(string)
		if n := utf8.RuneCountInString(s); !ok || n < least || n > most || !plain(s) || strings.TrimSpace(s) != s {
			return nil, allowed
		}
		return s, nil
	}
}

// textsOf reads a list of such texts.
func textsOf(least, most int) reader {
	one := textOf(least, most)
	return func(raw any) (any, error) {
		items, ok := raw.([]any)
		if !ok {
			return nil, errors.New("allowed is a list of texts, such as [\"A572\", \"A992\"]")
		}
		out := make([]string, len(items))
		for i, item := range items {
			s, err := one(item)
			if err != nil {
				return nil, fmt.Errorf("item %d is %s: %w", i+1, found(item), err)
			}
			out[i] = s.(string)
		}
		return out, nil
	}
}

func plain(s string) bool {
	return utf8.ValidString(s) && !strings.ContainsFunc(s, unicode.IsControl)
}

// oneOf reads one of a few words.
func oneOf(words ...string) reader {
	return func(raw any) (any, error) {
		s, _ := raw.(string)
		if slices.Contains(words, s) {
			return s, nil
		}
		return nil, fmt.Errorf("allowed is %s%s", alternatives(words), didYouMean(s, words))
	}
}

// yesOrNo reads true or false; the environment writes them as text.
func yesOrNo(raw any) (any, error) {
	switch raw {
	case true, "true":
		return true, nil
	case false, "false":
		return false, nil
	}
	return nil, errors.New("allowed is true or false")
}

// alternatives writes words as `"a", "b" or "c"`.
func alternatives(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = strconv.Quote(w)
	}
	last := len(quoted) - 1
	if last == 0 {
		return quoted[0]
	}
	return strings.Join(quoted[:last], ", ") + " or " + quoted[last]
}

// numberOf reads a finite number from least to most.
func numberOf(least, most float64, unit string) reader {
	return func(raw any) (any, error) {
		x := math.NaN()
		switch n := raw.(type) {
		case float64:
			x = n
		case int64:
			x = float64(n)
		}
		// Written so that NaN, which compares with nothing, is refused.
		if !(x >= least && x <= most) {
			return nil, fmt.Errorf("allowed is a number from %s to %s (%s)", literal(least), literal(most), unit)
		}
		return x, nil
	}
}

// wholeOf reads a whole number from least to most.
func wholeOf(least, most int) reader {
	return func(raw any) (any, error) {
		n, ok := raw.(int64)
		if !ok || n < int64(least) || n > int64(most) {
			return nil, fmt.Errorf("allowed is a whole number from %d to %d", least, most)
		}
		return int(n), nil
	}
}

// amountOf is numberOf for a key that a person may also set as text, in the
// environment.
func amountOf(least, most float64, unit string) reader {
	number := numberOf(least, most, unit)
	return func(raw any) (any, error) {
		if text, ok := raw.(string); ok {
			x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
			if err != nil {
				x = math.NaN()
			}
			raw = x
		}
		return number(raw)
	}
}

// durationOf reads a duration. A bare number is refused: nobody could say
// whether it means seconds, and viper would take it for nanoseconds.
func durationOf(least, most time.Duration) reader {
	allowed := fmt.Errorf("allowed is a duration with its unit, such as \"30s\", \"15m\" or \"24h\", from %s to %s", duration(least), duration(most))
	return func(raw any) (any, error) {
		s, _ := raw.(string)
		d, err := time.ParseDuration(s)
		if err != nil || d < least || d > most {
			return nil, allowed
		}
		return d, nil
	}
}

// duration writes a duration without the zeros at its end: 15m, not 15m0s.
func duration(d time.Duration) string {
	s := d.String()
	if strings.HasSuffix(s, "m0s") {
		s = strings.TrimSuffix(s, "0s")
	}
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	return s
}

// byteSize is a number of bytes that prints with the largest unit that divides it.
type byteSize int

func (b byteSize) String() string {
	switch {
	case b%(1<<20) == 0:
		return fmt.Sprintf("%d MiB", b>>20)
	case b%(1<<10) == 0:
		return fmt.Sprintf("%d KiB", b>>10)
	}
	return fmt.Sprintf("%d B", int(b))
}

// sizeUnits are the bytes in each unit: kB and MB by the decimal prefixes of
// the SI, KiB and MiB by the binary ones of IEC 80000-13.
var sizeUnits = map[string]float64{"": 1, "B": 1, "kB": 1e3, "KiB": 1 << 10, "MB": 1e6, "MiB": 1 << 20}

var sizePattern = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) ?([A-Za-z]*)$`)

// sizeOf reads a size in bytes: a whole number, or a text with a unit.
func sizeOf(least, most byteSize) reader {
	allowed := fmt.Errorf("allowed is a size such as \"256 KiB\" (B, kB, KiB, MB, MiB), from %s to %s", least, most)
	return func(raw any) (any, error) {
		m := sizePattern.FindStringSubmatch(fmt.Sprint(raw))
		if m == nil {
			return nil, allowed
		}
		n, err := strconv.ParseFloat(m[1], 64)
		unit, ok := sizeUnits[m[2]]
		if bytes := n * unit; err != nil || !ok || bytes != math.Trunc(bytes) ||
			bytes < float64(least) || bytes > float64(most) {
			return nil, allowed
		}
		return byteSize(n * unit), nil
	}
}

// brokerSchemes are the URL schemes of an MQTT broker, plain ones first.
var brokerSchemes = []string{"tcp", "mqtt", "ws", "ssl", "mqtts", "wss"}

// encrypted reports whether the scheme speaks TLS.
func encrypted(scheme string) bool { return slices.Contains(brokerSchemes[3:], scheme) }

// brokerURL reads the broker's address, "" for the embedded one. Its errors
// show nothing of the URL, which may carry a password.
func brokerURL(raw any) (any, error) {
	s, ok := raw.(string)
	if !ok {
		return nil, errors.New("allowed is a URL such as \"tcp://broker.shop:1883\", or \"\" for the embedded broker")
	}
	if s == "" {
		return s, nil
	}
	u, err := url.Parse(s)
	if err != nil || u.Host == "" {
		return nil, fmt.Errorf("allowed is scheme://host:port with the scheme %s, or \"\" for the embedded broker", alternatives(brokerSchemes))
	}
	if !slices.Contains(brokerSchemes, u.Scheme) {
		return nil, fmt.Errorf("the scheme is %q; allowed is %s%s", u.Scheme, alternatives(brokerSchemes), didYouMean(u.Scheme, brokerSchemes))
	}
	if !hostName(u.Hostname()) || !portNumber(u.Port(), 1) {
		return nil, errors.New("allowed is a host name or IP address and behind it a port from 1 to 65535, such as \"tcp://broker.shop:1883\"")
	}
	if u.Fragment != "" || u.Path != "" && u.Path != "/" && u.Scheme != "ws" && u.Scheme != "wss" {
		return nil, errors.New("allowed is nothing after host and port, except a path for ws and wss")
	}
	return s, nil
}

// address reads host:port to listen on. An empty host means every network
// interface; port 0 means any free one.
func address(raw any) (any, error) {
	s, _ := raw.(string)
	host, port, err := net.SplitHostPort(s)
	if err != nil || host != "" && !hostName(host) || !portNumber(port, 0) {
		return nil, errors.New("allowed is host:port, such as \"127.0.0.1:9480\", with a port from 0 (any free one) to 65535")
	}
	return s, nil
}

var hostPattern = regexp.MustCompile(`^[A-Za-z0-9_]([A-Za-z0-9._-]{0,252})$`)

func hostName(s string) bool { return net.ParseIP(s) != nil || hostPattern.MatchString(s) }

func portNumber(s string, least int) bool {
	n, err := strconv.ParseUint(s, 10, 16)
	return err == nil && int(n) >= least
}

// topicFilters reads the subscriptions. The environment and flags write
// several with commas between.
func topicFilters(raw any) (any, error) {
	var items []any
	switch v := raw.(type) {
	case []any:
		items = v
	case string:
		for part := range strings.SplitSeq(v, ",") {
			items = append(items, strings.TrimSpace(part))
		}
	}
	if len(items) == 0 {
		return nil, errors.New("allowed is a list of at least one topic filter, such as [\"saws/+/+\"]")
	}
	out := make([]string, 0, len(items))
	for _, item := range items {
		s, _ := item.(string)
		if err := topicFilter(s); err != nil {
			return nil, fmt.Errorf("%s: %w", found(item), err)
		}
		if slices.Contains(out, s) {
			return nil, fmt.Errorf("%q is there twice; allowed is once", s)
		}
		out = append(out, s)
	}
	return out, nil
}

// topicFilter refuses what MQTT 3.1.1 section 4.7 does not allow, and a filter
// under which no topic can end in a saw and a kind.
func topicFilter(s string) error {
	if s == "" || len(s) > 65535 || !plain(s) {
		return errors.New("allowed is a text of 1 to 65535 bytes with no control characters")
	}
	levels := strings.Split(s, "/")
	last := len(levels) - 1
	for i, level := range levels {
		if strings.Contains(level, "#") && (level != "#" || i != last) {
			return errors.New("'#' is allowed only alone in the last level")
		}
		if strings.Contains(level, "+") && level != "+" {
			return errors.New("'+' is allowed only alone in its level")
		}
	}
	if levels[last] == "#" {
		return nil // stands for any number of levels, a saw and a kind among them
	}
	if last < 1 || levels[last-1] == "" || levels[last] == "" {
		return errors.New("allowed are at least two levels, the last two for the saw and the kind")
	}
	kinds := words(analyze.Kinds())
	if level := levels[last]; level != "+" && !slices.Contains(kinds, level) {
		return fmt.Errorf("its last level is the kind; allowed is \"+\" or %s%s", alternatives(kinds), didYouMean(level, kinds))
	}
	return nil
}

// takesForecasts reports whether a topic filter may take the daemon's own forecasts.
func takesForecasts(filter string) bool {
	topic := []string{ForecastPrefix, "+", "+", ForecastKind}
	levels := strings.Split(filter, "/")
	for i, level := range levels {
		switch {
		case level == "#":
			return true // stands for no level as well (MQTT 3.1.1 section 4.7.1.2)
		case i == len(topic):
			return false
		case i == 1 && level == analyze.DefaultSite:
			return false
		case level != "+" && topic[i] != "+" && level != topic[i]:
			return false
		}
	}
	return len(levels) == len(topic)
}

// existingFile reads the path of a file that must be there, "" for none.
func existingFile(raw any) (any, error) {
	v, err := textOf(0, 4096)(raw)
	if err != nil || v == "" {
		return v, err
	}
	switch info, err := os.Stat(v.(string)); {
	case errors.Is(err, os.ErrNotExist):
		return nil, errors.New("there is no such file; allowed is the path of a file that can be read")
	case err != nil:
		return nil, errors.New("it cannot be reached; allowed is the path of a file that can be read")
	case info.IsDir():
		return nil, errors.New("it is a directory; allowed is the path of a file that can be read")
	}
	return v, nil
}

// zone reads an IANA zone name. "Local" and "" are refused: the same file
// would mean other shift times on another machine.
func zone(raw any) (any, error) {
	s, _ := raw.(string)
	if _, err := time.LoadLocation(s); err != nil || s == "" || s == "Local" {
		return nil, errors.New("allowed is a zone name of the IANA time zone database, such as \"UTC\" or \"America/Chicago\"")
	}
	return s, nil
}

var currencyPattern = regexp.MustCompile(`^[A-Z]{3}$`)

func currency(raw any) (any, error) {
	s, _ := raw.(string)
	if !currencyPattern.MatchString(s) {
		return nil, errors.New("allowed is a currency code of ISO 4217, three capitals such as \"USD\"")
	}
	return s, nil
}

// sawName reads the saw's name, at the default site ("s3" or "saws/s3") or with
// its site before it ("plant-2/saws/s3"), and gives the full name.
func sawName(raw any) (any, error) {
	v, err := textOf(1, 256)(raw)
	if err != nil {
		return nil, err
	}
	s := v.(string)
	if strings.ContainsAny(s, "+#") {
		return nil, errors.New("allowed is a saw's name without the wildcards + and #")
	}
	if slices.Contains(strings.Split(s, "/"), "") {
		return nil, errors.New("allowed is \"s3\" or, with its site, \"plant-2/saws/s3\", with no empty level")
	}
	if i := strings.LastIndexByte(s, '/'); i >= 0 {
		return analyze.SawName(s[:i], s[i+1:]), nil
	}
	return s, nil
}

var tpiPattern = regexp.MustCompile(`^([0-9]{1,2}(?:\.[0-9]{1,2})?)(?:/([0-9]{1,2}(?:\.[0-9]{1,2})?))?$`)

// tpi reads teeth per inch, constant ("3") or variable pitch with the coarse
// one first ("3/4"). A bare number is as clear as a text.
func tpi(raw any) (any, error) {
	m := tpiPattern.FindStringSubmatch(fmt.Sprint(raw))
	if m == nil {
		return nil, errTPI
	}
	coarse, _ := strconv.ParseFloat(m[1], 64)
	fine := math.Inf(1)
	if m[2] != "" {
		fine, _ = strconv.ParseFloat(m[2], 64)
	}
	if coarse < 0.5 || coarse >= fine || coarse > 32 || m[2] != "" && fine > 32 {
		return nil, errTPI
	}
	return m[0], nil
}

var errTPI = errors.New("allowed are teeth per inch from 0.5 to 32, \"3\" or with the coarse pitch first \"3/4\"")

// found is what a person wrote, short enough for one line.
func found(raw any) string {
	switch v := raw.(type) {
	case string:
		if r := []rune(v); len(r) > 60 {
			return strconv.Quote(string(r[:60])) + "…"
		}
		return strconv.Quote(v)
	case []any:
		if len(v) == 0 {
			return "an empty list"
		}
		return "a list"
	case map[string]any:
		return "a table"
	}
	return fmt.Sprint(raw)
}

var schemePattern = regexp.MustCompile(`^[A-Za-z]+://`)

// redacted is a broker URL fit to be shown: who logs in and with what is
// hidden, and so is a query, where tokens travel. It works on the text, since
// what cannot be parsed may hold a password too.
func redacted(broker string) string {
	scheme := schemePattern.FindString(broker)
	rest := broker[len(scheme):]
	if at := strings.LastIndexByte(rest, '@'); at >= 0 {
		rest = "***" + rest[at:]
	}
	if query := strings.IndexByte(rest, '?'); query >= 0 {
		rest = rest[:query] + "?***"
	}
	return scheme + rest
}
