package planfile

import (
	"testing"
	"time"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
)

func ptr[T any](x T) *T { return &x }

const caution = "Advice only: no safety function.\nLock out and verify zero energy; gloves for a still band, never\nnear a moving one; stand clear of a coiled band."

// monday is a day of the invented shop, 12:40 on its wall.
var monday = time.Date(2026, 3, 2, 18, 40, 20, 0, time.UTC)

func chicago(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// shop is a plan with two changes of one type, of which one blade is on the shelf, a
// saw to be run on and a saw that nobody knows the blade of.
func shop(t *testing.T) *Plan {
	zone := chicago(t)
	at := func(hours int) *time.Time { return ptr(monday.Add(time.Duration(hours) * time.Hour)) }
	endOfLate := ptr(time.Date(2026, 3, 3, 4, 0, 0, 0, time.UTC))
	const kind = "1-1/4 x 0.042 3/4 bimetal"
	calendar := shift.Default(zone)
	return &Plan{
		Style: figures.Style{Zone: zone}, Calendar: calendar, Change: 15 * time.Minute, Caution: caution,
		Report: &planning.Report{
			MadeAt: monday, Days: 7, Zone: "America/Chicago", Unit: "in2", Currency: "USD", Service: 0.95, Lead: 168,
			Loose: []string{"J-9"}, Doubts: []string{"grade X is not configured"},
			Saws: []planning.Saw{
				{
					Saw: "s1", Fitting: ptr(int64(41)), Blade: "B-1", Type: kind, Area: ptr(4321.4), Weighted: ptr(5612.0),
					Window:  &planning.Windows{Area: planning.Window{Q10: ptr(703.2), Q50: ptr(1404.0)}, Time: planning.TimeWindow{Q10: at(5), Q50: at(20)}},
					Drivers: []planning.Driver{{Cause: "deviation", Share: 0.7}, {Cause: "stripped", Share: 0.3}},
					Basis:   "12 blades of its type, 9 of them ended; its deviation on 310 readings and 8 blades before it",
					Jobs: []planning.Job{
						{Job: "J-1", Area: 310, Weighted: 410.4, Hours: 2.25, Odds: ptr(0.995), Ends: at(3), Due: at(4), Teeth: "fewer than 3 teeth are in the average width and may strip: take a finer pitch"},
						{Job: "J-2", Area: 900, Weighted: 1234, Hours: 7, Odds: ptr(0.61), Ends: at(16), Due: at(9)},
					},
					Advise: &planning.Advice{Change: true, At: endOfLate, Shift: ptr("end of late, 2026-03-02"), Reason: "from here on going on costs more than the blades to come", Odds: 0.125, CostNow: 92, CostThen: 64.3, CostLater: ptr(71.0), CostAfter: ptr(66.5), OnHand: ptr(1), Rate: ptr(17.5), HabitRate: ptr(18.75), RunToEnd: ptr(20.9), ReplaceAge: ptr(9620.0)},
				},
				{
					Saw: "s2", Fitting: ptr(int64(42)), Blade: "B-2", Type: kind, Area: ptr(120.0), Weighted: ptr(150.0),
					Window:  &planning.Windows{Area: planning.Window{Q10: ptr(58.0), Q50: ptr(314.0), Q90: ptr(766.0)}, Time: planning.TimeWindow{Q10: at(1), Q50: at(2), Q90: at(8)}},
					Drivers: []planning.Driver{{Cause: "stripped", Share: 1}}, Basis: "12 blades of its type, 9 of them ended",
					Advise: &planning.Advice{Change: true, At: &monday, BeforeJob: ptr("J-3"), Reason: "going on costs more than the blades to come: change at the next stop", CostNow: 92, CostThen: 92, OnHand: ptr(1), Rate: ptr(17.5), RunToEnd: ptr(17.5)},
				},
				{
					Saw: "s3", Fitting: ptr(int64(7)), Blade: "B-3", Type: "carbide", Area: ptr(120.0), Weighted: ptr(150.0),
					Window:  &planning.Windows{Area: planning.Window{Q10: ptr(900.0), Q50: ptr(2000.0), Q90: ptr(4100.0)}, Time: planning.TimeWindow{Q10: at(60), Q50: at(150), Q90: at(300)}},
					Drivers: []planning.Driver{{Cause: "stripped", Share: 1}}, Basis: "12 blades of its type, 9 of them ended",
					Advise: &planning.Advice{Reason: "going on costs less than a new blade throughout the plan", Odds: 0.004, CostNow: 92, CostThen: 64.3, CostLater: ptr(91.0)},
				},
				{Saw: "s4", Why: "no blade is known to be on the saw", WhyNone: "no blade is known to be on the saw"},
			},
			Shelf: []planning.Shelf{
				{Type: kind, OnHand: ptr(1), Needed: map[string]planning.Use{"7d": {Mean: 2.1, Q50: 2, Safe: 4}, "14d": {Mean: 4.2, Q50: 4, Safe: 6}, "28d": {Mean: 8.3, Q50: 8, Safe: 11}}, Reorder: ptr(4), OrderBy: at(0)},
				{Type: "", Why: "saw s4: what its blade has left is unknown"},
			},
		},
	}
}

// named is a shop with one change, whose saw, blade and job have a name.
func named(t *testing.T, name string) *Plan {
	p := shop(t)
	s := &p.Saws[1]
	s.Saw, s.Blade, s.Type, s.Advise.BeforeJob = name, name, name, &name
	s.Jobs = []planning.Job{{Job: name, Teeth: "may strip"}}
	p.Saws = p.Saws[1:2]
	return p
}

// odd are plans that every format must bear, by what is odd about them.
func odd(t *testing.T) map[string]*Plan {
	long := ""
	for range 400 {
		long += "long"
	}
	runOn := shop(t)
	runOn.Saws = runOn.Saws[2:]
	unknown := shop(t)
	for i := range unknown.Saws {
		s := &unknown.Saws[i]
		s.Window, s.Why = nil, "nothing is known"
		if s.Advise != nil {
			s.Advise.OnHand, s.Advise.CostLater, s.Advise.Rate, s.Advise.RunToEnd = nil, nil, nil, nil
		}
	}
	beyond := shop(t)
	beyond.Saws[0].Advise.At = nil
	none := shop(t)
	none.Report = &planning.Report{MadeAt: monday, Days: 7, Zone: "America/Chicago", Currency: "USD"}
	return map[string]*Plan{
		"all":                 shop(t),
		"no changes":          runOn,
		"no saws":             none,
		"unknown windows":     unknown,
		"beyond the shifts":   beyond,
		"a long name":         named(t, long),
		"commas and quotes":   named(t, `12" bar, "north"; C:\jobs, 'b'`),
		"line ends":           named(t, "first\nsecond\r\nthird"),
		"non-Latin letters":   named(t, "пила №3 · 鋸 · שלום · 🪚"),
		"a formula":           named(t, `=HYPERLINK("http://example.invalid","x")`),
		"markup":              named(t, `</td><script>alert(1)</script>&amp;<!--`),
		"bytes of no letters": named(t, "a\x00b\x1bc\xff\xfed"),
		"nothing":             named(t, ""),
	}
}
