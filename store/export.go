package store

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
)

// exportPage is how many rows one query reads: a long query would hold the
// write-ahead log from being used again.
const exportPage = 2000

// table is one CSV file: the query reads the rows whose key (its first column)
// is above $1, in order of the key, at most $2.
type table struct {
	header []string // a name ending in _at is a time
	query  string
}

var passHeader = []string{
	"id", "saw", "happened_at", "received_at", "message_id", "seq", "seconds", "section", "square_in2", "height_in", "bars",
	"mitre_deg", "grade", "band_speed_ft_min", "feed_in_min", "pressure_psi", "deviation_in", "limit_in", "blade", "job", "piece",
	"purpose", "from_share", "done_share", "estimated", "broke_where", "area_in2", "extra",
}

func passTable(kind string) table {
	return table{passHeader, `SELECT p.id, saw.name, p.at, p.received, p.msg, NULLIF(p.seq, -1), p.seconds, p.section, p.square, p.height, p.bars,
		p.mitre, p.grade, p.band_speed, p.feed, p.pressure, p.deviation, p.trip_limit, p.serial, p.job, p.piece,
		p.purpose, p.from_share, COALESCE(p.done, p.estimate), CASE WHEN p.done IS NULL AND p.estimate IS NOT NULL THEN 1 ELSE 0 END,
		p.place, p.area, p.extra FROM pass p JOIN saw ON saw.id = p.saw_id
		WHERE p.id > $1 AND p.kind = '` + kind + `' ORDER BY p.id LIMIT $2`}
}

var tables = map[string]table{
	"cuts":   passTable("cut"),
	"trips":  passTable("trip"),
	"breaks": passTable("break"),
	"fittings": {
		[]string{
			"id", "saw", "blade", "type", "start_at", "end_at", "reason", "basis", "note", "cuts", "area_in2", "seconds",
			"travel_ft", "area_unknown", "travel_unknown", "trips", "breaks", "disagreeing", "last_pass_at",
		},
		`SELECT f.id, saw.name, f.serial, f.type, f.start_at, f.end_at, f.reason, f.basis, f.note,
		COALESCE(SUM(t.cuts), 0), COALESCE(SUM(t.area), 0.0), COALESCE(SUM(t.seconds), 0.0), COALESCE(SUM(t.travel), 0.0),
		COALESCE(SUM(t.area_unknown), 0), COALESCE(SUM(t.travel_unknown), 0), f.trips, f.breaks, f.disagree, f.last_pass
		FROM fitting f JOIN saw ON saw.id = f.saw_id LEFT JOIN fitting_total t ON t.fitting_id = f.id
		WHERE f.id > $1 GROUP BY f.id, saw.name ORDER BY f.id LIMIT $2`,
	},
	"stops": {
		[]string{"id", "saw", "happened_at", "received_at", "message_id", "seq", "state", "cause", "extra"},
		`SELECT e.id, saw.name, e.at, e.received, e.msg, NULLIF(e.seq, -1), e.state, e.cause, e.extra FROM state_event e
		JOIN saw ON saw.id = e.saw_id WHERE e.id > $1 AND e.state <> 'cutting' ORDER BY e.id LIMIT $2`,
	},
	"blades": {
		[]string{"id", "saw", "happened_at", "received_at", "message_id", "seq", "action", "blade", "type", "reason", "voided", "remark", "extra"},
		`SELECT e.id, saw.name, e.at, e.received, e.msg, NULLIF(e.seq, -1), e.action, e.serial, e.type, e.reason,
		(SELECT COUNT(*) FROM correction v WHERE v.void_event = e.id), e.remark, e.extra FROM blade_event e
		JOIN saw ON saw.id = e.saw_id WHERE e.id > $1 ORDER BY e.id LIMIT $2`,
	},
	"corrections": {
		[]string{"id", "saw", "action", "happened_at", "blade", "type", "reason", "voids_message", "voids_correction", "who", "why", "recorded_at", "remark"},
		`SELECT e.id, saw.name, e.action, e.at, e.serial, e.type, e.reason, e.void_event, e.void_record, e.who, e.why, e.recorded, e.remark
		FROM correction e JOIN saw ON saw.id = e.saw_id WHERE e.id > $1 ORDER BY e.id LIMIT $2`,
	},
	"explanations": {
		[]string{"id", "saw", "happened_at", "cause", "voids_record", "who", "why", "recorded_at"},
		`SELECT e.id, saw.name, e.at, e.cause, e.void_record, e.who, e.why, e.recorded
		FROM explanation e JOIN saw ON saw.id = e.saw_id WHERE e.id > $1 ORDER BY e.id LIMIT $2`,
	},
	"jobs": {
		[]string{
			"id", "job", "saw", "grade", "section", "mitre_deg", "bars", "pieces", "due_at", "priority", "imported_at", "updated_at", "who",
			"ended_at", "ending", "ended_who", "ended_why",
		},
		`SELECT id, name, saw_name, grade, section, mitre, bars, pieces, due, priority, imported, updated, who,
		ended, ending, ended_who, ended_why FROM job WHERE id > $1 ORDER BY id LIMIT $2`,
	},
	"stock": {
		[]string{"id", "action", "type", "blades", "happened_at", "voids_record", "who", "why", "recorded_at"},
		`SELECT id, action, type, n, at, void_record, who, why, recorded FROM stock_event WHERE id > $1 ORDER BY id LIMIT $2`,
	},
	"forecasts": {
		[]string{
			"id", "saw", "fitting", "blade", "type", "made_at", "method", "area_in2", "weighted_area_in2", "q10_weighted_in2",
			"q50_weighted_in2", "q90_weighted_in2", "shift_start_at", "shift_end_at", "horizon_weighted_in2", "odds", "drivers", "forced",
		},
		`SELECT f.id, saw.name, f.fitting_id, f.serial, f.type, f.made_at, f.method, f.area, f.weighted_area, f.q10,
		f.q50, f.q90, f.shift_start, f.shift_end, f.horizon, f.odds, f.drivers, f.forced
		FROM forecast f JOIN saw ON saw.id = f.saw_id WHERE f.id > $1 ORDER BY f.id LIMIT $2`,
	},
	"alerts": {
		[]string{"id", "kind", "saw", "of", "severity", "raised_at", "cleared_at", "condition"},
		`SELECT id, kind, saw, of_what, severity, raised, cleared, body FROM alert_condition
		WHERE id > $1 AND raised IS NOT NULL ORDER BY id LIMIT $2`,
	},
	"messages": {
		[]string{
			"id", "channel", "key", "made_at", "expires_at", "severity", "test", "tries", "last_tried_at", "last_error", "sent_at",
			"dropped_at", "note", "message",
		},
		`SELECT id, channel, key, at, expires, severity, test, tries, tried, last_error, sent, dropped, note, body FROM outbox
		WHERE id > $1 ORDER BY id LIMIT $2`,
	},
	"rejected": {
		[]string{"id", "topic", "code", "reason", "size_bytes", "retained", "first_at", "last_at", "times", "retried_at", "payload"},
		`SELECT id, topic, code, reason, size, retained, first, last, times, retried, payload FROM rejected
		WHERE id > $1 ORDER BY id LIMIT $2`,
	},
}

var gapHeader = []string{"saw", "first_seq", "last_seq", "missing", "after_at", "before_at"}

// Exports lists what Export can write.
func Exports() []string {
	names := []string{"gaps"}
	for name := range tables {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// Export writes a table as CSV with the unit in each header, in order of
// arrival, times in RFC 3339 UTC to the microsecond, unknown numbers empty. It
// is safe while the daemon runs. Readings are as they came, area is Gullet's.
func (s *Store) Export(ctx context.Context, what string, w io.Writer) error {
	out := csv.NewWriter(w)
	var err error
	if t, ok := tables[what]; ok {
		err = s.exportTable(ctx, t, out)
	} else if what == "gaps" {
		err = s.exportGaps(ctx, out)
	} else {
		return fmt.Errorf("export %q: it is none of %s", what, strings.Join(Exports(), ", "))
	}
	out.Flush()
	if err == nil {
		err = out.Error()
	}
	if err != nil {
		return fmt.Errorf("export %s: %w", what, err)
	}
	return nil
}

func (s *Store) exportTable(ctx context.Context, t table, out *csv.Writer) error {
	if err := out.Write(t.header); err != nil {
		return err
	}
	row := make([]any, len(t.header))
	fields := make([]any, len(row))
	for i := range row {
		fields[i] = &row[i]
	}
	for key := int64(0); ; {
		var page [][]string // written only when the query is closed: the reader may be slow
		err := s.query(ctx, func(r scanner) error {
			if err := r.Scan(fields...); err != nil {
				return err
			}
			key, _ = row[0].(int64)
			line := make([]string, len(row))
			for i, v := range row {
				line[i] = field(v, strings.HasSuffix(t.header[i], "_at"))
			}
			page = append(page, line)
			return nil
		}, t.query, key, exportPage)
		if err != nil {
			return err
		}
		if err := out.WriteAll(page); err != nil {
			return err
		}
		if len(page) < exportPage {
			return nil
		}
	}
}

func (s *Store) exportGaps(ctx context.Context, out *csv.Writer) error {
	gaps, err := s.Gaps(ctx)
	if err != nil {
		return err
	}
	if err := out.Write(gapHeader); err != nil {
		return err
	}
	for _, g := range gaps {
		err := out.Write([]string{
			g.Saw, strconv.FormatInt(g.First, 10), strconv.FormatInt(g.Last, 10), strconv.FormatInt(g.Missing(), 10),
			csvTime(g.After), csvTime(g.Before),
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func field(v any, isTime bool) string {
	switch v := v.(type) {
	case nil:
		return ""
	case int64:
		if isTime {
			return csvTime(fromMicros(v))
		}
		return strconv.FormatInt(v, 10)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case []byte:
		return string(v)
	}
	return fmt.Sprint(v)
}

func csvTime(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000Z") }
