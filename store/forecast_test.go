package store_test

import (
	"encoding/json"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"gullet/store"
)

func forecast(saw string, fitting int64, made, shift int) store.ForecastRow {
	return store.ForecastRow{
		Saw: saw, FittingID: fitting, Serial: "A", Type: "thin", MadeAt: minute(made), Method: "test", Area: 100, WeightedArea: 120.5,
		ShiftStart: minute(shift), ShiftEnd: minute(shift + 480), Drivers: json.RawMessage(`[{"cause":"wear","share":0.9}]`),
	}
}

func forecasts(t *testing.T, s *store.Store, since time.Time) (list []store.ForecastRow) {
	t.Helper()
	err := s.Forecasts(t.Context(), since, func(f store.ForecastRow) error {
		list = append(list, f)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func addForecasts(t *testing.T, s *store.Store, want int, list ...store.ForecastRow) {
	t.Helper()
	if n, err := s.AddForecasts(t.Context(), list); n != want || err != nil {
		t.Errorf("%d stored, %v, want %d", n, err, want)
	}
}

func TestForecastsStayAsTheyWereMade(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"), fit("s2", 0, "B"))
	whole, bare := forecast("s1", 1, 10, 100), forecast("s2", 2, 5, 100)
	whole.Q10, whole.Q50, whole.Q90, whole.Horizon, whole.Odds = ptr(10.5), ptr(100.0), ptr(1e9), ptr(0.0), ptr(1.0)
	addForecasts(t, s, 2, whole, bare)
	whole.ID, bare.ID = 1, 2
	if diff := cmp.Diff([]store.ForecastRow{bare, whole}, forecasts(t, s, time.Time{})); diff != "" {
		t.Errorf("in the order they were made (-want +got):\n%s", diff)
	}
	if got := forecasts(t, s, minute(6)); len(got) != 1 || got[0].Saw != "s1" {
		t.Errorf("since: %+v", got)
	}

	// The first of a fitting and shift counts; one that is forced stands beside it.
	again := forecast("s1", 1, 20, 100)
	again.Area = 999
	next, other, forced := forecast("s1", 1, 21, 580), forecast("s1", 3, 22, 100), again
	forced.Forced = true
	addForecasts(t, s, 0, again)
	addForecasts(t, s, 4, again, next, other, forced, forced)
	if got := forecasts(t, s, minute(10)); len(got) != 5 || got[0].Area != 100 {
		t.Errorf("%+v", got)
	}
	wantExport(t, s, "forecasts",
		`1,s1,1,A,thin,2026-03-02T06:10:00.000000Z,test,100,120.5,10.5,100,1e+09,2026-03-02T07:40:00.000000Z,2026-03-02T15:40:00.000000Z,0,1,"[{""cause"":""wear"",""share"":0.9}]",0`,
		`2,s2,2,A,thin,2026-03-02T06:05:00.000000Z,test,100,120.5,,,,2026-03-02T07:40:00.000000Z,2026-03-02T15:40:00.000000Z,,,"[{""cause"":""wear"",""share"":0.9}]",0`,
		`3,s1,1,A,thin,2026-03-02T06:21:00.000000Z,test,100,120.5,,,,2026-03-02T15:40:00.000000Z,2026-03-02T23:40:00.000000Z,,,"[{""cause"":""wear"",""share"":0.9}]",0`,
		`4,s1,3,A,thin,2026-03-02T06:22:00.000000Z,test,100,120.5,,,,2026-03-02T07:40:00.000000Z,2026-03-02T15:40:00.000000Z,,,"[{""cause"":""wear"",""share"":0.9}]",0`,
		`5,s1,1,A,thin,2026-03-02T06:20:00.000000Z,test,999,120.5,,,,2026-03-02T07:40:00.000000Z,2026-03-02T15:40:00.000000Z,,,"[{""cause"":""wear"",""share"":0.9}]",1`,
		`6,s1,1,A,thin,2026-03-02T06:20:00.000000Z,test,999,120.5,,,,2026-03-02T07:40:00.000000Z,2026-03-02T15:40:00.000000Z,,,"[{""cause"":""wear"",""share"":0.9}]",1`)
}

// TestAForecastWakesNobody: a reader that makes forecasts of what is new would
// make them of its own.
func TestAForecastWakesNobody(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"))
	before, err := s.Cursor(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	addForecasts(t, s, 1, forecast("s1", 1, 10, 100))
	if after, _ := s.Cursor(t.Context()); after != before {
		t.Error("the cursor moved")
	}
	importJobs(t, s, 11, false, job("J", 1))
	if after, _ := s.Cursor(t.Context()); after == before {
		t.Error("a job came and the cursor stayed")
	}
}

func TestForecastsRefused(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"))
	for name, c := range map[string]struct {
		change func(*store.ForecastRow)
		want   string
	}{
		"a saw nobody heard of": {func(f *store.ForecastRow) { f.Saw = "s7" }, "keep 2 forecasts: saw s7: no reading of that saw is stored"},
		"no number":             {func(f *store.ForecastRow) { f.Q50 = ptr(math.NaN()) }, "keep 2 forecasts: saw s1: a figure of NaN, allowed is one of 0 or more"},
		"endless":               {func(f *store.ForecastRow) { f.Q90 = ptr(math.Inf(1)) }, "keep 2 forecasts: saw s1: a figure of +Inf, allowed is one of 0 or more"},
		"certain and more":      {func(f *store.ForecastRow) { f.Odds = ptr(1.5) }, "keep 2 forecasts: saw s1: odds of 1.5, at most 1 is allowed"},
		"no shift":              {func(f *store.ForecastRow) { f.ShiftEnd = f.ShiftStart }, "keep 2 forecasts: saw s1: it needs the time it was made and the shift it is for"},
		"no drivers":            {func(f *store.ForecastRow) { f.Drivers = nil }, "keep 2 forecasts: saw s1: its drivers are not JSON"},
	} {
		t.Run(name, func(t *testing.T) {
			bad := forecast("s1", 2, 10, 100)
			c.change(&bad)
			_, err := s.AddForecasts(t.Context(), []store.ForecastRow{forecast("s1", 1, 10, 100), bad})
			if err == nil || err.Error() != c.want {
				t.Errorf("error %v, want %s", err, c.want)
			}
			if got := forecasts(t, s, time.Time{}); len(got) != 0 {
				t.Errorf("part of them was kept: %+v", got)
			}
		})
	}
	addForecasts(t, s, 1, forecast("s1", 1, 10, 100))
	enough := errors.New("enough")
	if err := s.Forecasts(t.Context(), time.Time{}, func(store.ForecastRow) error { return enough }); !errors.Is(err, enough) {
		t.Error(err)
	}
}
