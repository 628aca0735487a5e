package floor

import (
	"bytes"
	"testing"
	"time"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/golden"
)

// shown is a floor with a saw of every sort.
func shown() *Floor {
	now := time.Date(2026, 3, 4, 15, 30, 0, 0, time.UTC)
	ago := func(d time.Duration) time.Time { return now.Add(-d) }
	heard := func(d time.Duration) *LastHeard {
		return &LastHeard{At: ago(d), Received: ago(d), Happened: ago(d), AgeSeconds: d.Seconds()}
	}
	blade := func(serial string, area, left float64) *Blade {
		return &Blade{
			Serial: serial, Type: "3/4 bimetal", Area: area, Cuts: 210, Trips: 1,
			Horizon: ptr(12_000.0), Remaining: &Window{left, 2 * left, 3 * left},
			ChangePoint: &Window{area + left, area + 2*left, area + 3*left},
		}
	}
	f := &Floor{MadeAt: now, Unit: AreaUnit, LivesSince: now.AddDate(-3, 0, 0), Saws: []Saw{
		{Saw: "s1", State: "cutting", LastReading: heard(20 * time.Second), Blade: blade("B-1", 4321.4, 5555), LastStop: &Stop{At: ago(26 * time.Hour), Cause: "chips"}},
		{Saw: "s2", State: "stopped", Cause: "out-of-stock", LastReading: heard(5 * time.Minute), Blade: blade("B-2", 9000, 456), LastStop: &Stop{At: ago(5 * time.Minute)}},
		{Saw: "s3", State: "cutting", Silent: true, LastReading: heard(50 * time.Hour), Blade: &Blade{Area: 77, AreaUnknown: 2, Cuts: 3}},
		{Saw: "s4", State: unknown, Silent: true},
	}, Types: []Life{
		{
			Type: "3/4 bimetal", Blades: 9, Ended: 6, Censored: 3,
			Median: &figures.Interval{Value: 9876, Low: ptr(8123.0)},
			Weibull: &Weibull{
				Shape: figures.Interval{Value: 2.345, Low: ptr(1.2), High: ptr(3.4)},
				Scale: figures.Interval{Value: 11234, Low: ptr(9000.0), High: ptr(14000.0)},
				Mean:  figures.Interval{Value: 9954, Low: ptr(7800.0), High: ptr(12700.0)},
			},
		},
		{Blades: 1, Censored: 1, WhyMedian: "not reached", WhyWeibull: "at least 3 ends are needed"},
	}, Doubts: []string{"saw s3: what is left is unknown", "saw s4: the saw has never sent a reading"}}
	f.Saws[0].Blade.Deviation = &Deviation{Value: -0.0123, At: now}
	f.Saws[0].Blade.Slope = &Slope{Value: 0.00123, Low: -0.0001, High: 0.002, PerArea: 1000, N: 48}
	f.Saws[0].Blade.ChangeTime = &TimeSpan{Q10: now.Add(48 * time.Hour), Q50: now.Add(96 * time.Hour), Q90: now.Add(400 * 24 * time.Hour), Pace: 2777, Days: 7}
	return f
}

func TestWrite(t *testing.T) {
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		golden string
		floor  *Floor
		style  figures.Style
	}{
		{"floor-inch.txt", shown(), figures.Style{Zone: time.UTC}},
		{"floor-mm.txt", shown(), figures.Style{Zone: chicago, Metric: true}},
		{"floor-empty.txt", &Floor{MadeAt: shown().MadeAt}, figures.Style{Zone: time.UTC}},
	} {
		t.Run(c.golden, func(t *testing.T) {
			var b bytes.Buffer
			if err := c.floor.Write(&b, c.style); err != nil {
				t.Fatal(err)
			}
			golden.Check(t, c.golden, b.String())
		})
	}
}

func TestSentence(t *testing.T) {
	left := func(saw, serial string, x float64) Saw {
		return Saw{Saw: saw, Blade: &Blade{Serial: serial, Remaining: &Window{x, 2 * x, 3 * x}}}
	}
	for _, c := range []struct {
		name string
		saws []Saw
		want string
	}{
		{"no saw", nil, "No saw has said anything yet."},
		{"nothing known", []Saw{{Saw: "s1"}, {Saw: "s2", Blade: &Blade{Serial: "A"}}}, "No blade's end can be forecast yet; the reasons stand below."},
		{
			"the least left is first", []Saw{left("s1", "A", 900), {Saw: "s2"}, left("s3", "C", 456), left("s4", "D", 500)},
			"First to change is s3, blade C: 1 in 10 such blades is done within 456 in² more, half within 912.",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := (&Floor{Saws: c.saws}).Sentence(figures.Style{Zone: time.UTC}); got != c.want {
				t.Errorf("%q, want %q", got, c.want)
			}
		})
	}
}
