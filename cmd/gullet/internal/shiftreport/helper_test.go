package shiftreport

import (
	"bufio"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/config"
	"gullet/store"
)

// shopDay is Monday, 2 March 2026, in the invented shop: s1 is handed over with a fault,
// s2 breaks a band and cuts what has no area, s3 works shifts of its own, of s4 nobody
// hears after Saturday. Times are on the shop's wall.
const shopDay = `
	s1 -38:00 off
	s2 -38:00 off
	s3 -38:00 off
	s4 -38:00 off
	s1 05:50 idle setup
	s1 06:20 cutting
	s1 06:40 cut 20 14
	s1 07:05 cut 24 14
	s1 07:05 stopped no-operator
	s1 07:40 cutting
	s1 08:10 cut 30 20
	s1 08:10 stopped
	s1 08:31 cutting
	s1 09:30 cut 58 31
	s1 09:30 stopped unknown
	s1 09:38 cutting
	s1 11:00 cut 81 40
	s1 11:02 stopped waiting-crane
	s1 11:09 cutting
	s1 13:40 cut 150 77
	s1 13:40 stopped fault
	s1 14:25 cutting
	s1 15:00 cut 34 20
	s1 15:01 off
	s2 06:00 cutting
	s2 08:00 cut 119 60
	s2 08:10 trip 9 ?
	s2 08:10 stopped deviation-trip
	s2 08:14 cutting
	s2 09:00 cut 45 ?
	s2 09:12 break 11 ?
	s2 09:12 stopped blade-break
	s2 09:50 cutting
	s2 13:59 cut 240 120
	s2 13:59 stopped maintenance
	s2 14:30 off
	s3 08:00 cutting
	s3 15:59 cut 470 200
	s3 16:10 off
`

// shopConfig has two shifts for s1, s2 and s4, and one for s3.
func shopConfig(t testing.TB) *config.Config {
	t.Helper()
	loaded, err := config.Load(config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	cfg := &loaded.Config
	cfg.Shop.Zone = "America/Chicago"
	days := [7]bool{time.Monday: true, time.Tuesday: true, time.Wednesday: true, time.Thursday: true, time.Friday: true}
	two := []string{"s1", "s2", "s4"}
	cfg.Shifts = []shift.Rule{
		{Name: "early", Start: 6 * 60, End: 14 * 60, Days: days, Saws: two},
		{Name: "late", Start: 14 * 60, End: 22 * 60, Days: days, Saws: two},
		{Name: "day", Start: 8 * 60, End: 16 * 60, Days: days, Saws: []string{"s3"}, Breaks: []shift.Span{{From: 12 * 60, To: 12*60 + 30}}},
	}
	return cfg
}

// shop is a store with what a day tells.
func shop(t testing.TB, day string) (*store.Store, *config.Config) {
	t.Helper()
	cfg := shopConfig(t)
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	midnight := shift.Wall(cfg.Calendar().Zone, shift.Date{Year: 2026, Month: 3, Day: 2}, 0)
	var batch []analyze.Arrival
	for scan := bufio.NewScanner(strings.NewReader(day)); scan.Scan(); {
		if words := strings.Fields(scan.Text()); len(words) > 0 {
			batch = append(batch, told(t, midnight, words))
		}
	}
	if _, err := db.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	return db, cfg
}

// told is one line of a day: saw, time, and a state with its cause, or a pass with its
// minutes and in².
func told(t testing.TB, midnight time.Time, words []string) analyze.Arrival {
	t.Helper()
	var hour, minute int
	if _, err := fmt.Sscanf(words[1], "%d:%d", &hour, &minute); err != nil {
		t.Fatal(words, err)
	}
	at := midnight.Add(time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute)
	r := &analyze.Reading{Saw: words[0], ID: strings.Join(words, " "), At: at, Received: at, Kind: analyze.Kind(words[2])}
	switch r.Kind {
	case analyze.KindCut, analyze.KindTrip, analyze.KindBreak:
		var minutes, area float64
		if _, err := fmt.Sscan(words[3], &minutes); err != nil {
			t.Fatal(words, err)
		}
		seconds, done := 60*minutes, 0.5
		r.Cut = &analyze.Cut{Seconds: &seconds, Count: 1, Grade: "1018", Purpose: analyze.PurposePart}
		if r.Kind != analyze.KindCut {
			r.Cut.Done = &done
		}
		if _, err := fmt.Sscan(words[4], &area); err == nil {
			r.Cut.Square = &area
		}
	default:
		r.Kind, r.State = analyze.KindState, &analyze.StateChange{State: analyze.State(words[2])}
		if len(words) > 3 {
			r.State.Cause = analyze.Cause(words[3])
		}
	}
	return analyze.Arrival{Reading: r}
}

var monday = shift.Date{Year: 2026, Month: 3, Day: 2}

// made is the report of a period of the shop's day, looked at on the Tuesday after, 09:00.
func made(t testing.TB, p Period, saw string) *Report {
	t.Helper()
	db, cfg := shop(t, shopDay)
	now := time.Date(2026, 3, 3, 15, 0, 0, 0, time.UTC)
	r, err := Make(t.Context(), db, cfg, figures.Style{Zone: cfg.Calendar().Zone}, now, p, saw)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func early() Period { return Period{Shift: "early", From: monday, To: monday} }

func written(t testing.TB, r *Report) string {
	t.Helper()
	var b strings.Builder
	if err := r.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}
