package shiftreport

import (
	"slices"
	"strings"
	"testing"
	"time"

	"gullet/analyze/shift"
)

func TestWhichShift(t *testing.T) {
	c := shopConfig(t).Calendar()
	all := []string{"s1", "s3"}
	at := func(text string) time.Time {
		t.Helper()
		m, err := time.ParseInLocation("2006-01-02 15:04", text, c.Zone)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	friday := monday.Add(-3)
	for _, x := range []struct {
		name, now string
		saws      []string
		want      Period
	}{
		{"the last that ended", "2026-03-02 14:30", all, Period{"early", monday, monday}},
		{"it ends as it is asked for", "2026-03-02 14:00", all, Period{"early", monday, monday}},
		{"the latest of saws with shifts of their own", "2026-03-02 16:30", all, Period{"day", monday, monday}},
		{"of one saw", "2026-03-02 16:30", []string{"s1"}, Period{"early", monday, monday}},
		{"none has ended since Friday", "2026-03-02 13:00", all, Period{"late", friday, friday}},
	} {
		if got, err := LastShift(c, x.saws, at(x.now)); got != x.want || err != nil {
			t.Errorf("%s: %+v (%v), want %+v", x.name, got, err, x.want)
		}
	}
	c.Closed = []shift.Closure{{From: at("2026-03-02 06:00"), To: at("2026-03-02 14:00")}}
	if got, err := LastShift(c, []string{"s1"}, at("2026-03-02 14:30")); got.Shift != "late" || got.From != friday || err != nil {
		t.Errorf("after a closed shift: %+v (%v), want the one before it", got, err)
	}
	c.Rules = nil
	c.Closed = []shift.Closure{{From: at("2025-11-01 00:00"), To: at("2026-03-02 14:00")}}
	if got, err := LastShift(c, []string{"s1"}, at("2026-03-02 14:00")); err == nil {
		t.Errorf("a shop that was closed all along had %+v", got)
	}
}

func TestWhichShiftHoldsAMoment(t *testing.T) {
	c := shopConfig(t).Calendar()
	at := func(hour int) time.Time { return shift.Wall(c.Zone, monday, shift.Clock(60*hour)) }
	if got, err := ShiftAt(c, []string{"s1", "s3"}, at(7)); got != early() || err != nil {
		t.Errorf("%+v (%v)", got, err)
	}
	for hour, want := range map[int]string{9: "is in early and day", 23: "within a shift"} {
		if got, err := ShiftAt(c, []string{"s1", "s3"}, at(hour)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("at %d: %+v (%v), want %q", hour, got, err, want)
		}
	}
	if got := ShiftsOn(c, []string{"s3", "s1"}, monday); !slices.Equal(got, []string{"early", "day", "late"}) {
		t.Errorf("shifts %v, want them in their order", got)
	}
	if got := ShiftsOn(c, []string{"s3", "s1"}, monday.Add(-1)); got != nil {
		t.Errorf("on Sunday %v", got)
	}
}

// A week is that of ISO 8601: 2026-01-01 is a Thursday, and belongs to the week from
// Monday, 29 December 2025.
func TestWhichWeek(t *testing.T) {
	for date, want := range map[string]string{"2026-01-01": "2025-12-29", "2026-03-02": "2026-03-02", "2026-03-08": "2026-03-02", "2026-03-09": "2026-03-09"} {
		d, err := shift.ParseDate(date)
		if err != nil {
			t.Fatal(err)
		}
		if got := Week(d); got.From.String() != want || got.To != got.From.Add(6) || got.Shift != "" {
			t.Errorf("%s: %+v, want the week from %s", date, got, want)
		}
	}
	if got := LastWeek(time.Date(2026, 3, 8, 23, 59, 0, 0, time.UTC)); got.From != monday.Add(-7) {
		t.Errorf("on Sunday the last whole week is from %s", got.From)
	}
	if got := LastWeek(time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)); got.From != monday {
		t.Errorf("on Monday the last whole week is from %s", got.From)
	}
}
