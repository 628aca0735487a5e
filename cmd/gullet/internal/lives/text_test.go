package lives

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/golden"
)

const shopList = `area,ended,group,cause,price,bends,area:mild,area:stainless,last_class
9100,1,north,dull,90,30100,9100,0,mild
8300,1,north,dull,90,28800,8000,300,stainless
6700,1,north,stripped,90,21000,6700,0,mild
7900,1,north,crooked,90,26500,7200,700,mild
10200,0,north,,90,33000,10200,0,
9600,1,north,broke at the weld,90,31000,9600,0,mild
3100,0,north,running,90,9900,3100,0,
5200,1,south,dull,70,18100,4200,1000,stainless
5900,1,south,dull,70,19200,5900,0,mild
4400,1,south,stripped,70,15800,3900,500,mild
6600,1,south,dull,70,21200,6600,0,mild
5100,0,south,,70,17000,5100,0,
6100,1,south,dull,70,20600,5600,500,mild
2700,1,east,dull,70,9900,1500,1200,stainless
3900,0,east,,70,13000,3900,0,
`

// stored is a report from a store with what hangs on its saws.
func stored() *Report {
	made := time.Date(2026, 3, 4, 15, 30, 0, 0, time.UTC)
	from := made.AddDate(-3, 0, 0)
	r := Study(&Data{Rows: rowsOf(all, -500)}, ByNone, Limits{})
	r.MadeAt, r.Since, r.Currency = &made, &from, "USD"
	r.Doubts = append(r.Doubts, "1 blade left a saw for a reason nobody told, counted as pulled early")
	odds, horizon := 0.834, 2000.0
	r.Fitted = []Fitted{
		{Saw: "s1", Blade: "B-0417", Area: 4321, Weighted: 5000, Remaining: &Window{700, 1500, 2600}, InWeight: &Window{900, 1900, 3300},
			Horizon: &horizon, Basis: "its own type, each way of ending", Blades: 41, Ended: 30, Next: &Next{500, "stainless", &odds}},
		{Saw: "s2", Area: 100, Weighted: 100, Why: "the blade has no known serial, so what it cut before is unknown"},
	}
	return r
}

func TestWrite(t *testing.T) {
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	listed := func() *Report {
		severity := func(class string) (float64, bool) {
			return map[string]float64{"mild": 1, "stainless": 3.2}[class], true
		}
		d, err := Read(strings.NewReader(shopList), List{File: "list", Severity: severity})
		if err != nil {
			t.Fatal(err)
		}
		return Study(d, colGroup, Limits{})
	}
	for _, c := range []struct {
		golden string
		report *Report
		style  figures.Style
	}{
		{"list-inch.txt", listed(), style},
		{"list-mm.txt", listed(), figures.Style{Zone: time.UTC, Metric: true}},
		{"store-little-known.txt", stored(), figures.Style{Zone: chicago}},
	} {
		t.Run(c.golden, func(t *testing.T) {
			var b bytes.Buffer
			if err := c.report.Write(&b, c.style); err != nil {
				t.Fatal(err)
			}
			golden.Check(t, c.golden, b.String())
		})
	}
}
