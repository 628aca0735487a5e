package life

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// rankTests are run side by side wherever what holds for one holds for both.
var rankTests = map[string]func([][]Observation) (Test, error){"log-rank": LogRank, "Peto": Peto}

// sameTest compares what should be equal but for rounding.
var sameTest = cmpopts.EquateApprox(1e-8, 1e-10)

// readGroups reads lives by their column group, which is the last.
func readGroups(t *testing.T, path string) [][]Observation {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	var groups [][]Observation
	for i, o := range readLives(t, path) {
		name := rows[i+1][len(rows[0])-1]
		if !slices.Contains(names, name) {
			names, groups = append(names, name), append(groups, nil)
		}
		at := slices.Index(names, name)
		groups[at] = append(groups[at], o)
	}
	return groups
}

func TestRankTestsAgreeWithReference(t *testing.T) {
	var want struct {
		LogRank Test `json:"log_rank"`
		Peto    Test
	}
	readJSON(t, referencePath("life-remission", "expected.json"), &want)
	groups := readGroups(t, referencePath("life-remission", "input.csv"))
	if len(groups) != 2 {
		t.Fatalf("%d groups, want 2", len(groups))
	}
	for _, c := range []struct {
		name string
		want Test
	}{{"log-rank", want.LogRank}, {"Peto", want.Peto}} {
		t.Run(c.name, func(t *testing.T) {
			got, err := rankTests[c.name](groups)
			if err != nil || got.DF != c.want.DF {
				t.Fatalf("%d degrees of freedom, want %d (error %v)", got.DF, c.want.DF, err)
			}
			near(t, "chi-square", got.Chi2, c.want.Chi2, 1e-10)
			near(t, "p", got.P, c.want.P, 1e-10)
		})
	}
}

// Wanted values: R 4.2.2, survival 3.5-3. survdiff with rho 0 and 1; with
// delayed entry, which survdiff does not take, the score test of coxph: it is
// the log-rank test where no two ends are tied.
func TestRankTestsOfThreeGroups(t *testing.T) {
	tied := [][]Observation{
		lives(4100, -5200, 6400, 7100, -7600, 8800, -9900),
		lives(5200, 5200, -6100, 8800, 9400, 9400, -12000, -12000),
		lives(2300, 3000, 3000, 4100, -4100, 5200, 6400, -7000),
	}
	late := [][]Observation{
		{{0, 4100, true}, {0, 5200, true}, {500, 6400, false}, {1200, 7100, true}, {0, 7600, false}, {3000, 8800, true}},
		{{0, 3900, true}, {2500, 6000, true}, {4000, 9100, true}, {0, 9900, false}, {100, 10400, true}, {0, 12000, false}},
		{{700, 2300, true}, {0, 3000, false}, {0, 3100, true}, {1500, 4700, true}, {0, 5300, true}, {2000, 5900, false}},
	}
	for _, c := range []struct {
		name, test string
		groups     [][]Observation
		chi2, p    float64
	}{
		{"ties", "log-rank", tied, 8.4043159202731932, 0.0149632518540126},
		{"ties", "Peto", tied, 8.5493317136302700, 0.0139166981119428},
		{"and a group gone before the first end", "log-rank", append(slices.Clone(tied), lives(-1000, -2000)), 8.4043159202731932, 0.0149632518540126},
		{"and a group gone before the first end", "Peto", append(slices.Clone(tied), lives(-1000, -2000)), 8.5493317136302700, 0.0139166981119428},
		{"and an empty group", "Peto", append(slices.Clone(tied), nil), 8.5493317136302700, 0.0139166981119428},
		{"delayed entry", "log-rank", late, 5.34727370378922, 0.0690008226567324},
	} {
		t.Run(c.test+", "+c.name, func(t *testing.T) {
			got, err := rankTests[c.test](c.groups)
			if err != nil || got.DF != 2 {
				t.Fatalf("%d degrees of freedom, want 2 (error %v)", got.DF, err)
			}
			near(t, "chi-square", got.Chi2, c.chi2, 1e-10)
			near(t, "p", got.P, c.p, 1e-10)
		})
	}
}

func TestRankTestRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		groups [][]Observation
		says   string
	}{
		{"no groups", nil, "groups with blades: 0 of 0, at least 2 are needed"},
		{"one group", [][]Observation{lives(5, 6)}, "groups with blades: 1 of 1, at least 2 are needed"},
		{"the others empty", [][]Observation{nil, lives(5, 6), {}}, "groups with blades: 1 of 3, at least 2 are needed"},
		{"nothing ended", [][]Observation{lives(-5, -6), lives(-7)}, "no blade has ended"},
		{"one group gone before the first end", [][]Observation{lives(-5, -6), lives(7, -8)}, "no end with weight had two groups at risk and a blade that outran it"},
		{"all ended at one area", [][]Observation{lives(5, 5), lives(5)}, "no end with weight had two groups at risk and a blade that outran it"},
		{"one group came later", [][]Observation{lives(5, 6), {{6, 8, true}, {7, 9, false}}}, "no end with weight had two groups at risk and a blade that outran it"},
		{"impossible area", [][]Observation{lives(5, 6), {{0, 8, true}, {0, math.NaN(), true}}}, "group 2: observation 2: area NaN: want a number"},
		{"endless area", [][]Observation{{{0, math.Inf(1), true}}, lives(5)}, "group 1: observation 1: area +Inf: want a number"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for name, test := range rankTests {
				if _, err := test(c.groups); err == nil || err.Error() != name+" test: "+c.says {
					t.Errorf("error %v, want %q", err, name+" test: "+c.says)
				}
			}
		})
	}
}

// The first blade is alone when it ends, and takes the curve of all to 0.
func TestPetoOfACurveThatFellTo0(t *testing.T) {
	groups := [][]Observation{{{0, 5, true}, {6, 9, true}}, {{6, 8, true}, {6, 10, true}}}
	if got := testOf(t, LogRank, groups); got.DF != 1 {
		t.Errorf("log-rank: %+v, want one degree of freedom", got)
	}
	if got, err := Peto(groups); err == nil {
		t.Errorf("Peto: %+v, want an error", got)
	}
}

// Two sets of groups that never ran beside each other are two tests in one.
func TestGroupsThatNeverMet(t *testing.T) {
	early := [][]Observation{lives(10, 20, -25, 40), lives(15, 30, 50, -60)}
	var late [][]Observation
	for _, obs := range [][]Observation{lives(12, 22, 33), lives(11, -14, 45, 46), lives(-13, 50)} {
		for i := range obs {
			obs[i].Start, obs[i].Area = 100, obs[i].Area+100
		}
		late = append(late, obs)
	}
	one, two, both := testOf(t, LogRank, early), testOf(t, LogRank, late), testOf(t, LogRank, append(early, late...))
	if one.DF != 1 || two.DF != 2 || both.DF != 3 {
		t.Errorf("%d, %d and together %d degrees of freedom, want 1, 2 and 3", one.DF, two.DF, both.DF)
	}
	near(t, "chi-square together", both.Chi2, one.Chi2+two.Chi2, 1e-12)
}

func TestTwoGroupsAlikeShowNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 2, true)
		for name, test := range rankTests {
			got, err := test([][]Observation{obs, obs})
			if err != nil {
				t.Skip(err)
			}
			if got.Chi2 > 1e-20 || got.P < 1-1e-9 || got.DF != 1 {
				t.Fatalf("%s of a group with itself: %+v", name, got)
			}
		}
	})
}

// testOf is a rank test of groups that have one.
func testOf(t interface{ Fatal(...any) }, test func([][]Observation) (Test, error), groups [][]Observation) Test {
	got, err := test(groups)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// someGroups draws groups that have both tests; some may be empty.
func someGroups(t *rapid.T, delayed bool) [][]Observation {
	groups := make([][]Observation, rapid.IntRange(2, 5).Draw(t, "groups"))
	for i := range groups {
		groups[i] = someLives(t, 0, delayed)
	}
	for _, test := range rankTests {
		if _, err := test(groups); err != nil {
			t.Skip(err)
		}
	}
	return groups
}

func TestRankTestProperties(t *testing.T) {
	for name, test := range rankTests {
		same := func(t *rapid.T, what string, a, b [][]Observation) {
			if diff := cmp.Diff(testOf(t, test, a), testOf(t, test, b), sameTest); diff != "" {
				t.Fatalf("%s changes the test:\n%s", what, diff)
			}
		}
		t.Run(name+" order", rapid.MakeCheck(func(t *rapid.T) {
			groups := someGroups(t, true)
			shuffled := slices.Clone(rapid.Permutation(groups).Draw(t, "groups shuffled"))
			for i, obs := range shuffled {
				if len(obs) > 0 {
					shuffled[i] = rapid.Permutation(obs).Draw(t, "blades shuffled")
				}
			}
			before := cloned(groups)
			same(t, "order", groups, shuffled)
			if diff := cmp.Diff(before, groups); diff != "" {
				t.Fatalf("the caller's groups changed:\n%s", diff)
			}
		}))
		t.Run(name+" unit", rapid.MakeCheck(func(t *rapid.T) {
			groups := someGroups(t, true)
			scaled, unit := cloned(groups), math.Ldexp(1, rapid.IntRange(-40, 40).Draw(t, "unit"))
			for _, obs := range scaled {
				for i := range obs {
					obs[i].Start *= unit
					obs[i].Area *= unit
				}
			}
			same(t, "the unit", groups, scaled)
		}))
		t.Run(name+" split", rapid.MakeCheck(func(t *rapid.T) {
			groups := someGroups(t, false)
			split := make([][]Observation, len(groups))
			for i, obs := range groups {
				for _, o := range obs {
					at := o.Area * rapid.Float64Range(0, 0.9).Draw(t, "at")
					split[i] = append(split[i], Observation{Area: at}, Observation{Start: at, Area: o.Area, Ended: o.Ended})
				}
			}
			same(t, "watching in two pieces", groups, split)
		}))
		t.Run(name+" sound", rapid.MakeCheck(func(t *rapid.T) {
			groups := someGroups(t, rapid.Bool().Draw(t, "delayed"))
			got := testOf(t, test, groups)
			if !(got.Chi2 >= 0) || !(0 <= got.P && got.P <= 1) || got.DF < 1 || got.DF >= len(groups) {
				t.Fatalf("unsound %+v of %d groups", got, len(groups))
			}
		}))
	}
}

func cloned(groups [][]Observation) [][]Observation {
	copies := make([][]Observation, len(groups))
	for i, obs := range groups {
		copies[i] = slices.Clone(obs)
	}
	return copies
}

// Simulated, seed 21: 2,000 times three groups of one Weibull, pulled on
// different plans. A chi-square has mean DF and variance 2·DF; in 1 of 20 cases
// it lies beyond its 95 % point.
func TestRankTestsWhereThereIsNothingToFind(t *testing.T) {
	const runs = 2000
	random := rand.New(rand.NewPCG(21, 0))
	sum, beyond := map[string]float64{}, map[string]float64{}
	for range runs {
		groups := [][]Observation{
			drawnLives(random, 30, 2.5, 10000, 12000),
			drawnLives(random, 30, 2.5, 10000, 16000),
			drawnLives(random, 40, 2.5, 10000, 25000),
		}
		for name, test := range rankTests {
			got := testOf(t, test, groups)
			sum[name] += got.Chi2
			if got.P < 0.05 {
				beyond[name]++
			}
		}
	}
	for name := range rankTests {
		mean, share := sum[name]/runs, beyond[name]/runs
		t.Logf("%s: mean %.3f, beyond the 95 %% point %.3f", name, mean, share)
		if math.Abs(mean-2) > 4*math.Sqrt(4.0/runs) || math.Abs(share-0.05) > 4*math.Sqrt(0.05*0.95/runs) {
			t.Errorf("%s: mean %.3f and share %.3f, want about 2 and 0.05", name, mean, share)
		}
	}
}

// Blades that last two thirds as long are found out. Simulated, seed 22.
func TestRankTestsFindADifference(t *testing.T) {
	const runs = 300
	random := rand.New(rand.NewPCG(22, 0))
	found := 0
	for range runs {
		groups := [][]Observation{drawnLives(random, 60, 2.5, 10000, 20000), drawnLives(random, 60, 2.5, 6700, 20000)}
		if testOf(t, LogRank, groups).P < 0.05 {
			found++
		}
	}
	if found < runs*9/10 {
		t.Errorf("found in %d of %d runs, want nearly all", found, runs)
	}
}

func BenchmarkLogRank20000(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 0))
	groups := [][]Observation{drawnLives(random, 10_000, 2.5, 10000, 16000), drawnLives(random, 10_000, 2.5, 9000, 16000)}
	for b.Loop() {
		if _, err := LogRank(groups); err != nil {
			b.Fatal(err)
		}
	}
}
