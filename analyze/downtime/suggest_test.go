package downtime

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gullet/analyze"
)

// stopText is what surrounds a stop as a person would write it: saw, shift, grade, hour,
// minutes worked, the cause before and the minutes since.
func stopText(t *testing.T, text string) Circumstance {
	t.Helper()
	c := Circumstance{}
	var hour int
	var worked, since float64
	if _, err := fmt.Sscan(text, &c.Saw, &c.Shift, &c.Grade, &hour, &worked, &c.After, &since); err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	c.Minute = 60*hour + 20
	c.Worked, c.Since = time.Duration(worked*float64(time.Minute)), time.Duration(since*float64(time.Minute))
	return c
}

// explainedText repeats stops that are alike.
func explainedText(t *testing.T, n int, cause analyze.Cause, text string) []Explained {
	t.Helper()
	return slices.Repeat([]Explained{{stopText(t, text), cause}}, n)
}

func suggestionText(list []Suggestion) string {
	var b strings.Builder
	for _, s := range list {
		fmt.Fprintf(&b, "%s %.2f (%.2f to %.2f) of %d: %s\n", s.Cause, s.Share, s.Low, s.High, s.N, strings.Join(s.Because, ", "))
	}
	return b.String()
}

func TestSuggest(t *testing.T) {
	// The crane is late at the early shift's beginning, nobody is there late.
	learned := slices.Concat(
		explainedText(t, 30, "waiting-crane", "s1 early A36 6 6 setup 10"),
		explainedText(t, 30, "waiting-crane", "s2 early A36 6 6 setup 100"),
		explainedText(t, 30, "no-operator", "s1 late A36 20 30 chips 10"),
		explainedText(t, 30, "no-operator", "s2 late A36 20 30 chips 100"),
		explainedText(t, 40, "fault", "s1 early A36 10 12 setup 100"),
		explainedText(t, 40, "fault", "s2 late A36 15 12 chips 10"),
	)
	for i := range learned {
		learned[i].Trip = learned[i].Cause == "fault"
		learned[i].BladeOn = learned[i].Cause == "no-operator"
	}
	trip := stopText(t, "s1 early A36 10 12 setup 100")
	trip.Trip = true
	blade := stopText(t, "s9 late A36 20 30 setup 600")
	blade.BladeOn = true
	for _, c := range []struct {
		name  string
		stop  Circumstance
		most  int
		first analyze.Cause // "" for no suggestion
		why   string
		n     int // stops that share the rarest of why
	}{
		{"all speaks for one", stopText(t, "s1 early A36 6 6 setup 10"), 3, "waiting-crane", "shift, time of day, length, after setup", 30},
		{"an hour on, half as long again", stopText(t, "s1 early A36 7 8 setup 10"), 3, "waiting-crane", "shift, time of day, length, after setup", 30},
		{"another saw and grade than ever", stopText(t, "s9 early 304 6 6 setup 10"), 3, "waiting-crane", "shift, time of day, length, after setup", 30},
		{"the stop before was long ago", stopText(t, "s1 early A36 6 6 setup 600"), 3, "waiting-crane", "shift, time of day, length", 60},
		{"a trip before", trip, 3, "fault", "time of day, length, after setup, trip or break before", 40},
		{"a blade just fitted", blade, 3, "no-operator", "shift, time of day, length, blade just fitted", 60},
		{"none asked for", stopText(t, "s1 early A36 6 6 setup 10"), 0, "", "", 0},
		{"fewer than none", stopText(t, "s1 early A36 6 6 setup 10"), -1, "", "", 0},
		{"only that no trip and no blade was before", stopText(t, "s9 night 304 2 500 maintenance 600"), 3, "", "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := NewAdviser(learned).Suggest(c.stop, c.most)
			switch {
			case c.first == "" && len(got) == 0:
			case c.first == "" || len(got) == 0:
				t.Errorf("got %q, want %q", suggestionText(got), c.first)
			case got[0].Cause != c.first || strings.Join(got[0].Because, ", ") != c.why || got[0].N != c.n:
				t.Errorf("got %s, want %s of %d for %s", suggestionText(got), c.first, c.n, c.why)
			}
		})
	}
}

// No saw, no grade and no stop before may tell a cause, but are no reason to show.
func TestSuggestUnknown(t *testing.T) {
	learned := explainedText(t, 50, "no-operator", "s2 late 304 20 30 chips 100")
	unknown := Circumstance{Minute: 380, Worked: 6 * time.Minute}
	learned = append(learned, slices.Repeat([]Explained{{unknown, "waiting-crane"}}, 50)...)
	got := NewAdviser(learned).Suggest(unknown, 1)
	if len(got) != 1 || strings.Join(got[0].Because, ", ") != "shift, time of day, length" {
		t.Errorf("got %s", suggestionText(got))
	}
}

func TestLengthStep(t *testing.T) {
	for took, want := range map[time.Duration]int32{
		-time.Hour: 0, 0: 0, 70 * time.Second: 0, 80 * time.Second: 1, 2 * time.Minute: 2, 3 * time.Minute: 3,
		16 * time.Hour: 20, 1000 * time.Hour: 20, math.MaxInt64: 20,
	} {
		if got := lengthStep(took); got != want {
			t.Errorf("%v: step %d, want %d", took, got, want)
		}
	}
}

// Where nothing stands out nothing is said.
func TestSuggestNothing(t *testing.T) {
	pattern := func(n int) []Explained {
		return slices.Concat(
			explainedText(t, n, "waiting-crane", "s1 early A36 6 6 setup 10"),
			explainedText(t, n, "no-operator", "s2 late 304 20 30 chips 100"))
	}
	same := func(causes ...analyze.Cause) []Explained {
		var list []Explained
		for _, c := range causes {
			list = append(list, explainedText(t, 50, c, "s1 early A36 6 6 setup 10")...)
		}
		return list
	}
	for _, c := range []struct {
		name    string
		learned []Explained
		some    bool
	}{
		{"nothing explained", nil, false},
		{"a pattern in 38", pattern(19), false},
		{"a pattern in 38 and others that do not count", append(pattern(19), same(Unexplained, "unknown", "blade-break")...), false},
		{"a pattern in 100", pattern(50), true},
		{"no pattern in three causes", same("fault", "chips", "coolant"), false},
		{"one cause only", same("fault"), false},
		{"a cause a little likelier than usual", slices.Concat(
			explainedText(t, 1200, "fault", "s1 early A36 6 6 setup 10"), explainedText(t, 800, "fault", "s1 late A36 6 6 setup 10"),
			explainedText(t, 800, "chips", "s1 early A36 6 6 setup 10"), explainedText(t, 1200, "chips", "s1 late A36 6 6 setup 10")), false},
		{"a cause likelier than usual", slices.Concat(
			explainedText(t, 1600, "fault", "s1 early A36 6 6 setup 10"), explainedText(t, 400, "fault", "s1 late A36 6 6 setup 10"),
			explainedText(t, 400, "chips", "s1 early A36 6 6 setup 10"), explainedText(t, 1600, "chips", "s1 late A36 6 6 setup 10")), true},
		{"causes that the readings tell", same("blade-break", "deviation-trip", "blade-change", "blade-pull", "between-cuts", "unknown", "unexplained", ""), false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := NewAdviser(c.learned).Suggest(stopText(t, "s1 early A36 6 6 setup 10"), 5)
			if (len(got) > 0) != c.some {
				t.Errorf("got %q", suggestionText(got))
			}
		})
	}
}

// What is not a stop's cause by itself leaves the shares as they are.
func TestSuggestLeavesOut(t *testing.T) {
	learned := explainedOf(newSimShop(1, 1).stops(300))
	stop := learned[3].Circumstance
	want := NewAdviser(learned).Suggest(stop, 9)
	for _, c := range []analyze.Cause{Unexplained, "unknown", "", BetweenCuts, "blade-break", "deviation-trip", "blade-change", BladePull} {
		more := append(slices.Repeat([]Explained{{stop, c}}, 200), learned...)
		if got := NewAdviser(more).Suggest(stop, 9); len(want) == 0 || !reflect.DeepEqual(got, want) {
			t.Errorf("with %q: got\n%swant\n%s", c, suggestionText(got), suggestionText(want))
		}
	}
}

// Of two causes with the same chance the name decides.
func TestSuggestTies(t *testing.T) {
	learned := explainedText(t, 2000, "out-of-stock", "s2 late 304 20 30 chips 100")
	for _, c := range []analyze.Cause{"fault", "coolant", "waiting-crane"} {
		learned = append(learned, explainedText(t, 100, c, "s1 early A36 6 6 setup 10")...)
	}
	got := NewAdviser(learned).Suggest(stopText(t, "s1 early A36 6 6 setup 10"), 2)
	if len(got) != 2 || got[0].Cause != "coolant" || got[1].Cause != "fault" || got[0].Share != got[1].Share {
		t.Errorf("got %s", suggestionText(got))
	}
}

// An example of naive Bayes that is in many textbooks: 14 days on which tennis was
// played or not, and a day that is sunny, cool, humid and windy. Neither damped nor
// smoothed, 0.0053 stands against 0.0206 (Mitchell, Machine Learning, 1997, section
// 6.9.1 [from memory]).
func TestSuggestTextbook(t *testing.T) {
	var learned []Explained
	for _, day := range strings.Split(`sunny hot high weak no
sunny hot high strong no
overcast hot high weak yes
rain mild high weak yes
rain cool normal weak yes
rain cool normal strong no
overcast cool normal strong yes
sunny mild high weak no
sunny cool normal weak yes
rain mild normal weak yes
sunny mild normal strong yes
overcast mild high strong yes
overcast hot normal weak yes
rain mild high strong no`, "\n") {
		f := strings.Fields(day)
		learned = append(learned, Explained{Circumstance{Saw: f[0], Shift: f[1], Grade: f[2], Trip: f[3] == "strong"}, analyze.Cause(f[4])})
	}
	a := newAdviser(learned, 1, 0)
	for of := range a.heard {
		a.heard[of] = 1
	}
	e := a.weigh(&Circumstance{Saw: "sunny", Shift: "cool", Grade: "high", Trip: true})
	no, yes := 0, 1
	// The half stop added to each cause is not in the book.
	bare := (e.share[yes] / e.share[no]) * (9. / 5) / (9.5 / 5.5)
	nearly(t, "yes to no", bare, (9./14*2/9*3/9*3/9*3/9)/(5./14*3/5*1/5*4/5*3/5), 1e-12)
	nearly(t, "all, one never seen among them", e.share[yes]+e.share[no]+e.other, 1, 1e-12)
	nearly(t, "one never seen to no", e.other/e.share[no], (0.5/15.5)/(5.5/15.5*3/5*1/5*4/5*3/5/(5./14*4/14*7/14*6/14)), 1e-12)
	nearly(t, "yes to no, as printed", bare, 0.0053/0.0206, 0.01)
}

// What is suggested hangs on the set of explained stops and not on their order, and is a
// few causes with their doubt, the likeliest first.
func TestSuggestProperties(t *testing.T) {
	text := rapid.SampledFrom([]string{"", "a", "b", "c"})
	cause := rapid.SampledFrom([]analyze.Cause{"fault", "fault", "chips", "chips", "coolant", "waiting-crane", "blade-break", "unknown", "", Unexplained})
	took := rapid.Custom(func(t *rapid.T) time.Duration {
		return time.Duration(rapid.OneOf(rapid.Int64Range(0, int64(time.Hour)), rapid.Int64()).Draw(t, "took"))
	})
	stop := rapid.Custom(func(t *rapid.T) Circumstance {
		return Circumstance{
			Saw: text.Draw(t, "saw"), Shift: text.Draw(t, "shift"), Grade: text.Draw(t, "grade"),
			Minute: rapid.OneOf(rapid.IntRange(0, 1439), rapid.Int()).Draw(t, "minute"), Worked: took.Draw(t, "worked"),
			After: cause.Draw(t, "after"), Since: took.Draw(t, "since"), Trip: rapid.Bool().Draw(t, "trip"), BladeOn: rapid.Bool().Draw(t, "blade"),
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		var learned []Explained
		for range rapid.IntRange(0, 8).Draw(t, "kinds") {
			one := Explained{stop.Draw(t, "stop"), cause.Draw(t, "cause")}
			learned = append(learned, slices.Repeat([]Explained{one}, rapid.IntRange(1, 60).Draw(t, "times"))...)
		}
		asked := stop.Draw(t, "asked")
		if len(learned) > 0 && rapid.Bool().Draw(t, "as one learned") {
			asked = learned[len(learned)-1].Circumstance
		}
		most := rapid.IntRange(-1, 5).Draw(t, "most")
		got := NewAdviser(learned).Suggest(asked, most)
		checkSuggestions(t, got, most, len(learned))
		other := slices.Clone(learned)
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0)).Shuffle(len(other), func(i, j int) { other[i], other[j] = other[j], other[i] })
		if again := NewAdviser(other).Suggest(asked, most); !reflect.DeepEqual(got, again) {
			t.Fatalf("got\n%sin another order\n%s", suggestionText(got), suggestionText(again))
		}
	})
}

func checkSuggestions(t *rapid.T, list []Suggestion, most, learned int) {
	sum := 0.0
	for i, s := range list {
		sum += s.Share
		switch {
		case !suggestible(s.Cause):
			t.Fatalf("%q is suggested", s.Cause)
		case !(0 <= s.Low && s.Low <= s.Share && s.Share <= s.High && s.High <= 1):
			t.Fatalf("%s: %v is not within %v to %v", s.Cause, s.Share, s.Low, s.High)
		case s.Share < 0.99 && math.Abs(math.Log(odds(s.Low)*odds(s.High)/odds(s.Share)/odds(s.Share))) > 1e-6:
			t.Fatalf("%s: the odds of %v are not in the middle of those of %v and %v", s.Cause, s.Share, s.Low, s.High)
		case s.Share < 0.1:
			t.Fatalf("%s has a chance of %v", s.Cause, s.Share)
		case i > 0 && s.Share > list[i-1].Share:
			t.Fatalf("%s after a cause less likely", s.Cause)
		case s.N < 1 || s.N > learned:
			t.Fatalf("%s stands on %d of %d", s.Cause, s.N, learned)
		case i == 0 && len(s.Because) == 0:
			t.Fatalf("%s for no reason", s.Cause)
		}
	}
	if len(list) > max(most, 0) || sum > 1+1e-12 {
		t.Fatalf("%d of %d with shares that add up to %v", len(list), most, sum)
	}
}

// With many stops sums have many terms, and their order must not show.
func TestSuggestOrder(t *testing.T) {
	learned := explainedOf(newSimShop(2, 1).stops(1000))
	stop := learned[3].Circumstance
	want := NewAdviser(learned).Suggest(stop, 9)
	rng := rand.New(rand.NewPCG(1, 0))
	for range 20 {
		rng.Shuffle(len(learned), func(i, j int) { learned[i], learned[j] = learned[j], learned[i] })
		if got := NewAdviser(learned).Suggest(stop, 9); len(got) == 0 || !reflect.DeepEqual(got, want) {
			t.Fatalf("got %v, want %v", got, want)
		}
	}
}

// A certain chance has limits as any other.
func TestSuggestCertain(t *testing.T) {
	var learned []Explained
	for i := range 20 {
		name := fmt.Sprint("c", i)
		learned = append(learned, explainedText(t, 5000, analyze.Cause(name), fmt.Sprintf("%s %s %s %d %g %s 10", name, name, name, i, math.Exp2(float64(i)/2), name))...)
	}
	got := NewAdviser(learned).Suggest(learned[0].Circumstance, 3)
	if len(got) != 1 || !(got[0].Low > 0.9 && got[0].Low < got[0].High) {
		t.Errorf("got %s", suggestionText(got))
	}
}

// BenchmarkSuggest learns 10,000 explained stops and asks about one.
func BenchmarkSuggest(b *testing.B) {
	stops := newSimShop(1, 1).stops(10_000)
	learned := explainedOf(stops)
	a := NewAdviser(learned)
	n := 0
	for _, c := range []struct {
		name  string
		limit time.Duration
		run   func()
	}{
		{"learn", 10 * time.Millisecond, func() { NewAdviser(learned) }},
		{"ask", 20 * time.Microsecond, func() { a.Suggest(learned[n%len(learned)].Circumstance, 3); n++ }},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.run()
			}
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(c.limit), "of-limit")
		})
	}
}
