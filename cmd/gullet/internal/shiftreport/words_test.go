package shiftreport

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/standing"
)

func TestAReportOpensWithASentence(t *testing.T) {
	first := func(change func(r *Report)) string {
		r := made(t, early(), "")
		change(r)
		text, more := r.lead()
		return text + " " + strings.Join(more, " ")
	}
	for _, c := range []struct {
		name, want string
		change     func(r *Report)
	}{
		{"no saw", "No saw has told anything yet. ", func(r *Report) { r.Saws = nil }},
		{"no time planned", "No saw had anything to do: no time was planned. ", func(r *Report) {
			*r.Downtime = standing.Report{Pareto: []standing.Cause{}}
		}},
		{"nothing stood", "No unplanned stop is known in 959 min of planned busy time. No stop is known to have been handed over to the next shift. Of 480 min in shifts nothing is known.", func(r *Report) {
			r.Downtime.Pareto, r.Downtime.Standing, r.Downtime.Unexplained, r.Handed = nil, standing.Minutes{}, standing.Unexplained{}, nil
		}},
		{"all of one cause", "all for blade-break.", func(r *Report) { r.Downtime.Pareto = r.Downtime.Pareto[:1] }},
		{"all has a cause", "Every stop has its cause.", func(r *Report) { r.Downtime.Unexplained = standing.Unexplained{} }},
		{"one has none", "Nobody has said what 1 stop, 29 min, was for.", func(r *Report) { r.Downtime.Unexplained.Count = 1 }},
		{"it runs", "It is not over yet. The saws stood", func(r *Report) { r.Running = true }},
		{"it runs on", "Standing now: s1, fault since 13:40; s2", func(r *Report) { r.Running = true }},
	} {
		if got := first(c.change); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// A stop that began before the shift is told in it, though it is counted in the shift
// before.
func TestAStopThatIsTakenOver(t *testing.T) {
	db, cfg := shop(t, `
		s1 06:00 cutting
		s1 13:30 cut 449 200
		s1 13:30 stopped
		s1 14:30 cutting
		s1 21:59 cut 448 200
		s1 21:59 cutting`)
	now := time.Date(2026, 3, 3, 15, 0, 0, 0, time.UTC)
	r, err := Make(t.Context(), db, cfg, figures.Style{Zone: cfg.Calendar().Zone}, now, Period{"late", monday, monday}, "")
	if err != nil {
		t.Fatal(err)
	}
	text := written(t, r)
	for _, want := range []string{
		"The saws stood unplanned for 30 min in stops that had begun before, all for no cause that anybody has told.\n",
		"No stop is known to have been handed over to the next shift.\nNobody has said what 30 min were for.\n",
		"s1   13:30   60  unexplained  taken over\n",
		"Not explained yet: 1 stop\n",
		`gullet downtime explain --saw s1 --at "2026-03-02 13:30" --cause`,
	} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q:\n%s", want, text)
		}
	}
	if len(r.Saws[0].Line) == 0 || !r.Saws[0].Line[0].From.Equal(r.Begins) || r.Begins.Hour() != 14 {
		t.Errorf("the time line %v does not begin with the shift", r.Saws[0].Line)
	}
}

// Of a shift that runs, what stands is told as far as it has come.
func TestAShiftThatRuns(t *testing.T) {
	db, cfg := shop(t, `
		s1 06:00 cutting
		s1 13:40 cut 459 200
		s1 13:40 stopped fault`)
	now := time.Date(2026, 3, 2, 19, 50, 0, 0, time.UTC) // 13:50 on the wall
	r, err := Make(t.Context(), db, cfg, figures.Style{Zone: cfg.Calendar().Zone}, now, early(), "")
	if err != nil {
		t.Fatal(err)
	}
	first, more := r.lead()
	if want := "It is not over yet. The saws stood unplanned for 10 min in 1 stop, all for fault."; first != want {
		t.Errorf("%q, want %q", first, want)
	}
	if want := "Standing now: s1, fault since 13:40."; len(more) == 0 || more[0] != want {
		t.Errorf("%q, want %q", more, want)
	}
}

// What is printed to explain a stop is read back as a moment of that stop, on the night
// on which the wall shows an hour twice too.
func TestAStopIsExplainedByAMomentOfIt(t *testing.T) {
	cfg := shopConfig(t)
	r := &Report{style: figures.Style{Zone: cfg.Calendar().Zone}}
	night := time.Date(2026, 11, 1, 4, 0, 0, 0, time.UTC) // the clock goes back at 07:00 UTC
	rapid.Check(t, func(t *rapid.T) {
		from := night.Add(time.Duration(rapid.Int64Range(0, int64(5*time.Hour/time.Microsecond)).Draw(t, "from")) * time.Microsecond)
		s := &standing.Stop{From: from, To: from.Add(time.Duration(rapid.Int64Range(1, int64(3*time.Minute)).Draw(t, "long")))}
		at, err := cfg.Moment(r.at(s))
		if err != nil || at.Before(s.From) || !at.Before(s.To) {
			t.Fatalf("%s is %s (%v), not in the stop from %s to %s", r.at(s), at, err, s.From, s.To)
		}
	})
}

func TestASawsNameIsSafeInAShell(t *testing.T) {
	for name, want := range map[string]string{"s1": "s1", "plant-2/s1": "'plant-2/s1'", "a b": "'a b'", "it's": `'it'\''s'`, "$(x)": "'$(x)'", "": "''"} {
		if got := quoted(name); got != want {
			t.Errorf("%q becomes %s, want %s", name, got, want)
		}
	}
}

// A program sees the time line, what was handed over and unknown as such.
func TestAReportIsJSON(t *testing.T) {
	content, err := json.Marshal(made(t, early(), ""))
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Saws []struct {
			Saw  string
			No   bool  `json:"no_such_shift"`
			Line []any `json:"time_line"`
		}
		Handed   []struct{ Saw string } `json:"handed_over"`
		Open     []any                  `json:"not_explained"`
		Downtime struct {
			All struct{ Minutes map[string]float64 }
		}
	}
	if err := json.Unmarshal(content, &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Saws) != 4 || !got.Saws[2].No || len(got.Saws[0].Line) == 0 || len(got.Handed) != 2 || len(got.Open) != 2 || got.Downtime.All.Minutes["unknown"] != 480 {
		t.Errorf("%+v", got)
	}
	if content, err = json.Marshal(made(t, Period{"late", monday.Add(-7), monday.Add(-7)}, "s1")); err != nil || strings.Contains(string(content), `"handed_over":null`) {
		t.Errorf("%s (%v)", content, err)
	}
}
