package score

import (
	"fmt"
	"path/filepath"
	"testing"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/planning"
	"gullet/config"
	"gullet/ingest"
	"gullet/store"
)

// What the store holds of two saws: A was moved from s1 to s2 and broke there, and B
// came to s1 after it. Trips while the saw says that it is idle do not count.
func TestGather(t *testing.T) {
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	decoder := ingest.NewDecoder(ingest.Options{})
	var batch []analyze.Arrival
	n := 0
	say := func(saw, kind string, at float64, rest string) {
		n++
		payload := fmt.Appendf(nil, `{"id":"%d","at":%q,%s}`, n, day(at).Format("2006-01-02T15:04:05Z07:00"), rest)
		a := decoder.Decode("saws/"+saw+"/"+kind, payload, false, day(at))
		if a.Reading == nil {
			t.Fatalf("%s is no reading: %+v", payload, a)
		}
		a.Topic, a.Payload = "saws/"+saw+"/"+kind, payload
		batch = append(batch, a)
	}
	cut := func(saw string, at, area float64) {
		say(saw, "cut", at, fmt.Sprintf(`"seconds":60,"area":%v,"grade":"1018"`, area))
	}
	trip := func(saw string, at, area float64) {
		say(saw, "trip", at, fmt.Sprintf(`"seconds":60,"area":%v,"grade":"1018","deviation":0.06,"limit":0.05,"done":1`, area))
	}
	say("s1", "blade", 0, `"action":"fit","blade":"A","type":"T"`)
	cut("s1", 0.1, 10)
	cut("s1", 0.6, 20)
	say("s1", "state", 0.7, `"state":"idle"`)
	trip("s1", 0.8, 5)
	say("s1", "blade", 1, `"action":"remove","blade":"A","reason":"moved"`)
	say("s1", "blade", 1.1, `"action":"fit","blade":"B","type":"T"`)
	cut("s1", 1.2, 40)
	say("s2", "blade", 1.3, `"action":"fit","blade":"A","type":"T"`)
	cut("s2", 1.4, 7)
	say("s2", "break", 1.5, `"where":"weld","area":3,"done":1,"grade":"1018"`)
	say("s1", "state", 1.55, `"state":"cutting"`)
	trip("s1", 1.6, 2)
	cut("s1", 1.7, 100)
	if _, err := db.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	ids := map[string]int64{}
	rows, err := db.Fittings(t.Context(), day(-1))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range rows {
		ids[f.Saw+f.Serial] = f.ID
	}
	drivers := func(f store.ForecastRow) store.ForecastRow { f.Drivers = []byte("[]"); return f }
	forced := drivers(foretold(ids["s1A"], "A", planning.ByEnds, 0.55, 10, 1, 2, 3, 0.5))
	forced.Forced = true
	_, err = db.AddForecasts(t.Context(), []store.ForecastRow{
		drivers(foretold(ids["s1A"], "A", planning.ByEndsAndTrip, 0.5, 10, 1, 2, 3, 0.5)), forced,
		drivers(foretold(ids["s1B"], "B", planning.ByEndsAndTrip, 1.15, 0, 1, 2, 3, 0.5)),
		drivers(foretold(ids["s1B"], "B", planning.ByEnds, 1.9, 142, 1, 2, 3, 0.5)),
	})
	if err != nil {
		t.Fatal(err)
	}
	gathered := func(cfg *config.Config, now float64, days int) *Data {
		t.Helper()
		d, err := Gather(t.Context(), db, cfg, nil, day(now), days)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	cfg := shop(t, priced)
	s := newStudy(gathered(cfg, 2, 30))
	want := []fate{
		{state: done, at: day(1.5), area: 20 + 5 + 7 + 3}, // the trip while idle is none
		{state: done, at: day(1.6), area: 42},
		{state: on},
	}
	if len(s.scored) != len(want) {
		t.Fatalf("%d forecasts scored, %d left out, want %d", len(s.scored), s.leftOut, len(want))
	}
	for i, f := range s.scored {
		if got := f.fate; got.state != want[i].state || !got.at.Equal(want[i].at) || got.area != want[i].area || got.unknown {
			t.Errorf("forecast %d of %s: %+v, want %+v", i+1, f.Serial, got, want[i])
		}
	}
	if d := gathered(cfg, 31, 30); len(d.Forecasts) != 2 {
		t.Errorf("%d forecasts of the last 30 days, want the two made since", len(d.Forecasts))
	}
	if d := gathered(cfg, 1, 30); len(d.Forecasts) != 1 {
		t.Errorf("%d forecasts made by day 1, want one", len(d.Forecasts))
	}
}
