package standing

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/sim"
)

// fourWeeks is what a simulated shop with every fault did, and the days of it.
func fourWeeks(t *testing.T) (data *Data, from, to shift.Date) {
	t.Helper()
	start := time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)
	db, _ := simulated(t, sim.Options{Seed: 4, Start: start, Days: 26, Faults: true})
	from, to = shift.DateOf(start), shift.DateOf(start).Add(25)
	data, err := Gather(t.Context(), db, twoShifts(t, "UTC"), start.AddDate(0, 0, 25).Add(15*time.Hour), from, to, true)
	if err != nil {
		t.Fatal(err)
	}
	return data, from, to
}

// What a report says twice is the same: whatever it is narrowed to, its parts add up to
// the whole.
func TestPartsAddUp(t *testing.T) {
	data, from, to := fourWeeks(t)
	for _, only := range []Only{{}, {Saw: "s2"}, {Shift: "late"}, {Saw: "s5", Shift: "early"}} {
		for _, by := range append(Groupings(), "") {
			r := Build(data, Options{From: from, To: to, Only: only, By: by})
			addsUp(t, r, only, by)
		}
	}
}

func addsUp(t *testing.T, r *Report, only Only, by string) {
	t.Helper()
	same := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("%+v by %q: %s: %v, want %v", only, by, what, got, want)
		}
	}
	var causes, groups Minutes
	var saws, grouped downtime.Minutes
	share := 0.0
	for _, c := range r.Pareto {
		causes.Minutes += c.Minutes
		causes.Count += c.Count
		share += *c.Share
	}
	for i := range r.Saws {
		saws.Add(r.Saws[i].Minutes)
		same("calendar of "+r.Saws[i].Saw, r.Saws[i].Minutes.Calendar(), r.Saws[i].Calendar)
	}
	same("shares", share, 1)
	same("minutes by cause", causes.Minutes, r.Standing.Minutes)
	same("stops by cause", float64(causes.Count), float64(r.Standing.Count))
	same("delay and down", saws.Delay+saws.Down, r.Standing.Minutes)
	if by == "" {
		return
	}
	unexplained := 0.0
	for _, g := range r.By.Groups {
		groups.Minutes += g.Standing.Minutes
		groups.Count += g.Standing.Count
		unexplained += g.Unexplained
		grouped.Add(g.Minutes)
	}
	same("minutes by group", groups.Minutes, r.Standing.Minutes)
	same("stops by group", float64(groups.Count), float64(r.Standing.Count))
	same("unexplained by group", unexplained, r.Unexplained.Minutes)
	for _, e := range downtime.Elements() {
		same(string(e), *grouped.Of(e), *saws.Of(e))
		same(string(e)+" of all saws", *r.All.Minutes.Of(e), *saws.Of(e))
	}
}

// Stops of a shift are held against the hours of that shift: those of all shifts would
// make them look rarer than they are.
func TestSplitOfAShiftIsOverItsHours(t *testing.T) {
	data, from, to := fourWeeks(t)
	day := from.Add(14)
	for _, only := range []string{"", "early", "late"} {
		r := Build(data, Options{From: from, To: to, Only: Only{Shift: only}, Split: &day})
		want := (r.All.Minutes.Production + r.All.Minutes.Setup) / 60
		stops, failures := r.Split.Rows[0], r.Split.Rows[1]
		if got := stops.Before.Hours + stops.After.Hours; math.Abs(got-want) > 1e-6 {
			t.Errorf("shift %q: stops are over %v h, want %v", only, got, want)
		}
		if got, want := failures.Before.Hours+failures.After.Hours, r.All.MTBF.Over/60; math.Abs(got-want) > 1e-6 {
			t.Errorf("shift %q: failures are over %v h, want %v as MTBF", only, got, want)
		}
		if got := stops.Before.Events + stops.After.Events; got != r.Standing.Count {
			t.Errorf("shift %q: %d stops, want %d", only, got, r.Standing.Count)
		}
	}
}

// A week in which a saw was heard of for the first time is of less than a whole one, and
// so is one of which nothing is known.
func TestAWeekThatIsNotWholeSaysSo(t *testing.T) {
	start := time.Date(2026, 1, 7, 6, 0, 0, 0, time.UTC) // a Wednesday
	db, _ := simulated(t, sim.Options{Seed: 4, Start: start, Days: 20})
	to := shift.Date{Year: 2026, Month: 1, Day: 25} // a Sunday
	o := Options{From: to.Add(-6), To: to}
	data, err := Gather(t.Context(), db, twoShifts(t, "UTC"), start.AddDate(0, 0, 20), o.Since(), to, true)
	if err != nil {
		t.Fatal(err)
	}
	var got []bool
	for _, w := range Build(data, o).Weeks {
		got = append(got, w.Complete)
	}
	if want := []bool{true, true, false, false, false}; !slices.Equal(got, want) {
		t.Errorf("whole weeks from the last back: %v, want %v", got, want)
	}
}

// A saw that no reading was ever of is not passed over, nor is one told of as if it stood.
func TestSilenceIsTold(t *testing.T) {
	d := someDays(t)
	d.Config.Saws = []analyze.Saw{{Name: "s1"}, {Name: "s7"}}
	text := func(o Options) string {
		var out strings.Builder
		if err := Build(d, o).Write(&out, figures.Style{Zone: time.UTC}); err != nil {
			t.Fatal(err)
		}
		return out.String()
	}
	all := text(Options{From: d.From, To: d.To})
	for _, want := range []string{"s7 has told nothing yet, and is not in the figures", "s2 has told nothing of these days"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
	if !regexp.MustCompile(`(?m)^  calendar +960 +- +960$`).MatchString(all) || !regexp.MustCompile(`(?m)^  s2 +- +unknown`).MatchString(all) {
		t.Errorf("zeros stand for what s2 did:\n%s", all)
	}
	d.Saws[0].Days[0].Times = []downtime.Time{{Element: downtime.Unscheduled, Took: time.Hour}, {Shift: "early", Element: downtime.NoData, Took: 8 * time.Hour}}
	d.Saws[0].Days[0].Stops = nil
	if got := text(Options{From: d.From, To: d.To}); !strings.HasPrefix(got, "What the saws did on 2026-03-02 (UTC) is unknown: no reading tells of 8.0 h in shifts.\n\nTo bear in mind\n") {
		t.Errorf("zeros stand for what is not known:\n%s", got)
	}
}

// The long stops are events as those that are counted by cause: what belongs to a break
// is in its minutes, and no stop of its own.
func TestLongStopsHaveWhatBelongsToThem(t *testing.T) {
	data, from, to := fourWeeks(t)
	all := Build(data, Options{From: from, To: to})
	merged := map[analyze.Cause]Minutes{}
	b := &builder{data: data, options: Options{From: from, To: to}}
	for _, s := range b.events() {
		if m := merged[s.Cause]; s.Minutes > 0 { // one wholly out of hours is not counted
			merged[s.Cause] = Minutes{m.Minutes + s.Minutes, m.Count + 1}
		}
	}
	for _, c := range all.Pareto {
		if c.Cause != "blade-break" && c.Cause != "blade-pull" {
			continue
		}
		if got := merged[c.Cause]; got.Count != c.Count || math.Abs(got.Minutes-c.Minutes) > 1e-6 {
			t.Errorf("%s: %v, by cause %v min in %d stops", c.Cause, got, c.Minutes, c.Count)
		}
	}
}

// A stop has the same suggestions wherever it is listed.
func TestSuggestionsAreTheSameInBothLists(t *testing.T) {
	data, from, to := fourWeeks(t)
	for i := range data.Saws {
		for k := range data.Saws[i].Days {
			for n := range data.Saws[i].Days[k].Stops {
				if s := &data.Saws[i].Days[k].Stops[n]; s.Cause == "no-operator" && n%2 == 0 {
					s.Cause = downtime.Unexplained
				}
			}
		}
	}
	o := Options{From: from, To: to}
	open, both, hints := data.NotExplained(o), 0, 0
	for _, long := range Build(data, o).Long {
		i := slices.IndexFunc(open, func(s Stop) bool { return s.Saw == long.Saw && s.From.Equal(long.From) })
		if i < 0 {
			continue
		}
		if both++; Suggested(long.Suggestions) != Suggested(open[i].Suggestions) {
			t.Errorf("%s from %v: %q and %q", long.Saw, long.From, Suggested(long.Suggestions), Suggested(open[i].Suggestions))
		}
		hints += len(long.Suggestions)
	}
	if both == 0 || hints == 0 {
		t.Fatalf("%d stops in both lists with %d suggestions: nothing is compared", both, hints)
	}
}
