package standing

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/shift"
	"gullet/config"
	"gullet/store"
)

// The worked shift of the domain reference, section 6 (ISO 22400-2:2014 as remembered):
// PBT 440 min, ADOT 30, ADET 45, AUST 55, 96 pieces, 94 of them good, PRI 2.9 min. It
// goes the whole way, from readings to figures.
func TestWorkedShift(t *testing.T) {
	loaded, err := config.Load(config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	cfg := &loaded.Config
	cfg.Shifts = []shift.Rule{{
		Name: "early", Start: 6 * 60, End: 14 * 60, Days: [7]bool{true, true, true, true, true, true, true},
		Breaks: []shift.Span{{From: 9 * 60, To: 9*60 + 40}},
	}}
	cfg.Grades = []analyze.Grade{{Name: "1018", Rate: 8}}
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	if _, err := db.Append(t.Context(), workedShift()); err != nil {
		t.Fatal(err)
	}
	day := shift.Date{Year: 2026, Month: 3, Day: 2}
	now := time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
	data, err := Gather(t.Context(), db, cfg, now, day, day, true)
	if err != nil {
		t.Fatal(err)
	}
	s := Build(data, Options{From: day, To: day}).Saws[0]
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"PBT", s.Model.PlannedBusy, 440}, {"ADOT", s.Minutes.Down, 30}, {"ADET", s.Minutes.Delay, 45}, {"AUST", s.Minutes.Setup, 55},
		{"APT", s.Minutes.Production, 310}, {"unknown", s.Minutes.Unknown, 0}, {"pieces", float64(s.Model.Output.Pieces), 96},
		{"A", *s.Model.Availability.Value, .7045}, {"AE", *s.Model.AllocationEfficiency.Value, .9318}, {"UE", *s.Model.UtilisationEfficiency.Value, .7561},
		{"TE", *s.Model.TechnicalEfficiency.Value, .8732}, {"setup ratio", *s.Model.SetupRatio.Value, .1507}, {"E", *s.Model.Effectiveness.Value, .8981},
		{"Q", *s.Model.QualityRatio.Value, .9792}, {"OEE", *s.Model.OEE.Value, .6195}, {"NEE", *s.Model.NEE.Value, .7295},
	} {
		if math.Abs(c.got-c.want) > 5e-5 {
			t.Errorf("%s is %.4f, want %.4f", c.name, c.got, c.want)
		}
	}
}

// workedShift is the shift as the saw tells it: setup, 96 cuts without a pause between,
// two breaks of the blade among them and a wait for the crane.
func workedShift() (batch []analyze.Arrival) {
	at := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	lunch := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	seq := int64(0)
	tell := func(r analyze.Reading) {
		seq++
		n := seq
		r.Saw, r.Seq, r.At, r.Received = "s1", &n, at, at
		batch = append(batch, analyze.Arrival{Reading: &r})
	}
	state := func(s analyze.State, c analyze.Cause) {
		tell(analyze.Reading{Kind: analyze.KindState, State: &analyze.StateChange{State: s, Cause: c}})
	}
	stand := func(s analyze.State, c analyze.Cause, long time.Duration) {
		state(s, c)
		at = at.Add(long)
		state(analyze.StateCutting, "")
	}
	online := analyze.Reading{Kind: analyze.KindAlive, Alive: &analyze.Alive{Online: true}}
	tell(online)
	stand(analyze.StateIdle, "setup", 55*time.Minute)
	seconds, area := 310*60.0/96, 2.9*8
	for i := range 96 {
		if end := at.Add(time.Duration(seconds * float64(time.Second))); at.Before(lunch) && end.After(lunch) {
			// The crane keeps the saw waiting from here to the end of the break.
			long := 30*time.Minute + 40*time.Minute
			stand(analyze.StateIdle, "waiting-crane", long)
		}
		if i == 20 || i == 70 {
			tell(analyze.Reading{Kind: analyze.KindBreak, Cut: &analyze.Cut{Count: 1}})
			at = at.Add(22*time.Minute + 30*time.Second)
		}
		at = at.Add(time.Duration(seconds * float64(time.Second)))
		tell(analyze.Reading{Kind: analyze.KindCut, Cut: &analyze.Cut{Seconds: &seconds, Square: &area, Count: 1, Grade: "1018", Purpose: analyze.PurposePart}})
	}
	state(analyze.StateOff, "")
	return batch
}
