package store_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"gullet/analyze"
	"gullet/store"
)

func job(name string, pieces int) store.JobRow {
	return store.JobRow{Name: name, Grade: "A36", Section: "RD4", Bars: 1, Pieces: pieces}
}

func due(j store.JobRow, at int) store.JobRow {
	j.Due = minute(at)
	return j
}

func importJobs(t testing.TB, s *store.Store, at int, replace bool, list ...store.JobRow) store.JobsImported {
	t.Helper()
	done, err := s.ImportJobs(t.Context(), list, replace, "Planner", minute(at))
	if err != nil {
		t.Fatal(err)
	}
	return done
}

// jobs are the open jobs as name, cut/pieces and due minute.
func jobs(t testing.TB, s *store.Store) string {
	t.Helper()
	list, err := s.Jobs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, j := range list {
		line := fmt.Sprintf("%s %d/%d", j.Name, j.Cut, j.Pieces)
		if !j.Due.IsZero() {
			line += " @" + clock(j.Due)
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, ", ")
}

func wantJobs(t *testing.T, s *store.Store, want string) {
	t.Helper()
	if got := jobs(t, s); got != want {
		t.Errorf("open jobs\n%s, want\n%s", got, want)
	}
}

// of is a cut for a job.
func of(r *analyze.Reading, name string, bars int) *analyze.Reading {
	r.Cut.Job, r.Cut.Count = name, bars
	return r
}

func TestJobsAreInOrderOfDueThenOfTheList(t *testing.T) {
	s := open(t)
	importJobs(t, s, 0, false, job("none", 1), due(job("late", 1), 90), due(job("b", 1), 60), due(job("a", 1), 60))
	wantJobs(t, s, "b 0/1 @60, a 0/1 @60, late 0/1 @90, none 0/1")
	// What a list has goes behind what it leaves alone, of the same due.
	if got := importJobs(t, s, 1, false, due(job("b", 2), 60), due(job("c", 1), 60)); got != (store.JobsImported{Added: 1, Updated: 1}) {
		t.Error(got)
	}
	wantJobs(t, s, "a 0/1 @60, b 0/2 @60, c 0/1 @60, late 0/1 @90, none 0/1")
	if got := importJobs(t, s, 2, true, job("none", 3), job("d", 1)); got != (store.JobsImported{Added: 1, Updated: 1, Dropped: 4}) {
		t.Error(got)
	}
	wantJobs(t, s, "none 0/3, d 0/1")
}

func TestAJobKeepsWhatItIs(t *testing.T) {
	s := open(t)
	want := store.JobRow{
		ID: 1, Name: "A-1", Saw: "s9", Grade: "A992", Section: `{"shape":"round","diameter":6}`, Mitre: -45.5, Bars: 3, Pieces: 40,
		Due: minute(1000), Imported: minute(5),
	}
	importJobs(t, s, 5, false, want)
	importJobs(t, s, 9, false, want)
	list, err := s.Jobs(t.Context())
	if err != nil || len(list) != 1 || list[0] != want {
		t.Errorf("%+v, %v, want %+v", list, err, want)
	}
}

// TestJobProgress: pieces are the bars of finished cuts of parts, since the job
// was first handed in, by the saw's clock and by arrival.
func TestJobProgress(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"), of(cut("s1", 1, "A"), "J", 1))
	importJobs(t, s, 10, false, job("J", 10), job("K", 2))
	trim := of(cut("s1", 12, "A"), "J", 1)
	trim.Cut.Purpose = analyze.PurposeTrim
	put(t, s,
		of(cut("s1", 9, "A"), "J", 1),                                  // came late, was before the list
		of(cut("s1", 10, "A"), "J", 1), of(cut("s1", 11, "A"), "J", 3), // 4 pieces
		trim, of(pass(analyze.KindTrip, "s1", 13, "A"), "J", 1), of(pass(analyze.KindBreak, "s1", 14, "A"), "J", 1),
		of(cut("s2", 11, ""), "K", 5), of(cut("s2", 12, ""), "other", 1), of(cut("s2", 13, ""), "", 1))
	wantJobs(t, s, "J 4/10, K 5/2")
	// The same list again next morning brings no piece back.
	importJobs(t, s, 20, true, job("J", 12), job("K", 2))
	put(t, s, of(cut("s1", 21, "A"), "J", 1))
	wantJobs(t, s, "J 5/12, K 5/2")
	list, _ := s.Jobs(t.Context())
	if list[0].Left() != 7 || list[1].Left() != 0 {
		t.Errorf("left %d and %d, want 7 and 0", list[0].Left(), list[1].Left())
	}
	// A job that ended and comes again begins anew.
	if err := s.FinishJob(t.Context(), "J", "Planner", "all cut", minute(30)); err != nil {
		t.Fatal(err)
	}
	importJobs(t, s, 31, false, job("J", 1))
	put(t, s, of(cut("s1", 32, "A"), "J", 1), of(cut("s1", 29, "A"), "J", 1))
	wantJobs(t, s, "K 5/2, J 1/1")
}

// TestJobProgressOfAClockAhead: what was stored when the list came was cut before
// it, whatever the saw's clock says.
func TestJobProgressOfAClockAhead(t *testing.T) {
	s := open(t)
	importJobs(t, s, 0, false, job("older", 1))
	put(t, s, of(cut("s1", 15, ""), "J", 1), of(cut("s1", 16, ""), "older", 1))
	importJobs(t, s, 10, false, job("J", 1))
	wantJobs(t, s, "older 1/1, J 0/1")
}

func TestEndedJobsAreKept(t *testing.T) {
	s := open(t)
	importJobs(t, s, 0, false, job("A", 1), job("B", 1), job("C", 1))
	if err := s.FinishJob(t.Context(), "A", "Planner", "all cut", minute(1)); err != nil {
		t.Error(err)
	}
	if err := s.DropJob(t.Context(), "B", "Sales", "the order was cancelled", minute(2)); err != nil {
		t.Error(err)
	}
	for name, err := range map[string]error{
		"job A done: no open job has that name":                      s.FinishJob(t.Context(), "A", "Planner", "again", minute(3)),
		"job X dropped: no open job has that name":                   s.DropJob(t.Context(), "X", "Planner", "x", minute(3)),
		"job C done: who says so and why are needed":                 s.FinishJob(t.Context(), "C", "", "x", minute(3)),
		"job C dropped: who says so and why are needed":              s.DropJob(t.Context(), "C", "x", " \t", minute(3)),
		"job C done: a text of 1001 bytes, at most 1000 are allowed": s.FinishJob(t.Context(), "C", "x", strings.Repeat("x", 1001), minute(3)),
	} {
		if err == nil || err.Error() != name {
			t.Errorf("error %v, want %s", err, name)
		}
	}
	importJobs(t, s, 4, true, job("D", 1))
	wantJobs(t, s, "D 0/1")
	wantExport(t, s, "jobs",
		"1,A,,A36,RD4,0,1,1,,1,2026-03-02T06:00:00.000000Z,2026-03-02T06:00:00.000000Z,Planner,2026-03-02T06:01:00.000000Z,done,Planner,all cut",
		"2,B,,A36,RD4,0,1,1,,2,2026-03-02T06:00:00.000000Z,2026-03-02T06:00:00.000000Z,Planner,2026-03-02T06:02:00.000000Z,dropped,Sales,the order was cancelled",
		"3,C,,A36,RD4,0,1,1,,3,2026-03-02T06:00:00.000000Z,2026-03-02T06:00:00.000000Z,Planner,2026-03-02T06:04:00.000000Z,dropped,Planner,not in the list that replaced it",
		"4,D,,A36,RD4,0,1,1,,4,2026-03-02T06:04:00.000000Z,2026-03-02T06:04:00.000000Z,Planner,,,,")
}

// wantExport compares the lines of a table below its header.
func wantExport(t *testing.T, s *store.Store, table string, want ...string) {
	t.Helper()
	var out bytes.Buffer
	if err := s.Export(t.Context(), table, &out); err != nil {
		t.Fatal(err)
	}
	_, got, _ := strings.Cut(strings.TrimSuffix(out.String(), "\n"), "\n")
	if got != strings.Join(want, "\n") {
		t.Errorf("%s\n%s\nwant\n%s", table, got, strings.Join(want, "\n"))
	}
}

func TestAListIsTakenWholeOrNotAtAll(t *testing.T) {
	s := open(t)
	importJobs(t, s, 0, false, job("A", 1))
	for name, c := range map[string]struct {
		change func(*store.JobRow)
		want   string
	}{
		"no name":        {func(j *store.JobRow) { j.Name = " " }, "import jobs: a job without a name"},
		"twice":          {func(j *store.JobRow) { j.Name = "B" }, "import jobs: job B is there twice"},
		"no section":     {func(j *store.JobRow) { j.Section = "" }, "import jobs: job C: the section is missing"},
		"no pieces":      {func(j *store.JobRow) { j.Pieces = 0 }, "import jobs: job C: 0 pieces, 1 at once, at least 1 is allowed"},
		"no bars":        {func(j *store.JobRow) { j.Bars = -1 }, "import jobs: job C: 1 pieces, -1 at once, at least 1 is allowed"},
		"along the bar":  {func(j *store.JobRow) { j.Mitre = 90 }, "import jobs: job C: a mitre of 90 degrees, allowed is more than -90 and less than 90"},
		"an endless one": {func(j *store.JobRow) { j.Saw = strings.Repeat("x", 1001) }, "import jobs: job C: a text of 1001 bytes, at most 1000 are allowed"},
	} {
		t.Run(name, func(t *testing.T) {
			bad := job("C", 1)
			c.change(&bad)
			_, err := s.ImportJobs(t.Context(), []store.JobRow{job("B", 1), bad}, true, "", minute(1))
			if err == nil || err.Error() != c.want {
				t.Errorf("error %v, want %s", err, c.want)
			}
			wantJobs(t, s, "A 0/1")
		})
	}
	if err := s.FailNextCommit(); err != nil {
		t.Fatal(err)
	}
	if got, err := s.ImportJobs(t.Context(), []store.JobRow{job("B", 1)}, true, "", minute(1)); err == nil || got != (store.JobsImported{}) {
		t.Errorf("a full disk took %+v", got)
	}
	wantJobs(t, s, "A 0/1")
	if err := s.Mend(); err != nil {
		t.Fatal(err)
	}
	if got := importJobs(t, s, 2, true); got.Dropped != 1 {
		t.Errorf("an empty list that replaces all dropped %d", got.Dropped)
	}
}

// BenchmarkJobs lists 200 open jobs after a fortnight of a big shop: 40,000 cuts
// that came since the oldest was handed in.
func BenchmarkJobs(b *testing.B) {
	s, f := existing(b)
	list := make([]store.JobRow, 200)
	for i := range list {
		list[i] = job(fmt.Sprint("J-", 1000+i), 1_000_000)
	}
	importJobs(b, s, -100, true, list...)
	f.fill(b, s, 40_000)
	b.ResetTimer()
	for range b.N {
		got, err := s.Jobs(b.Context())
		if err != nil || len(got) != len(list) || got[41].Cut == 0 {
			b.Fatal(got[41], err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms/list")
}
