package lives

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func ptr[T any](x T) *T { return &x }

// readText reads a list written in the test.
func readText(t *testing.T, text string, l List) *Data {
	t.Helper()
	d, err := Read(strings.NewReader(text), l)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestReadRefuses(t *testing.T) {
	const good = "area,ended\n100,1\n"
	for _, c := range []struct {
		name, text string
		list       List
		want       string
	}{
		{"nothing", "", List{}, "a.csv: the file is empty: allowed is a header line that names at least the columns area and ended"},
		{"a header alone", "area,ended\n", List{}, "a.csv: no blade stands below the header line"},
		{"no area", "ended,cause\n1,dull\n", List{}, `a.csv, line 1: the column area is missing; found "ended", "cause"`},
		{"no ended", "area,Ended\n1,1\n", List{}, `a.csv, line 1: the column ended is missing; found "area", "Ended"`},
		{"a column twice", "area,ended, area\n1,1,1\n", List{}, "a.csv, line 1, column area: the column stands there twice, allowed is once"},
		{"a class twice", "area,ended,area:mild,area:mild\n1,1,1,0\n", List{}, "a.csv, line 1, column area:mild: the column stands there twice, allowed is once"},
		{"a class twice but for a space", "area,ended,area:mild,area: mild\n1,1,1,0\n", List{}, "a.csv, line 1, column area: mild: the class mild stands there twice, allowed is once"},
		{"a class of two lines twice", "area,ended,\"area:a\nb\",\"area: a\nb\"\n1,1,1,0\n", List{}, `a.csv, line 1, column "area: a\nb": the class "a\nb" stands there twice, allowed is once`},
		{"a class of two lines that does not add up", "area,ended,\"area:a\nb\"\n1,1,\n", List{}, `a.csv, line 3, column "area:a\nb": the areas by class add up to 0, allowed is the area, 1, to 1 %`},
		{"a class without a name below a blank line", "\narea,ended,area:\n1,1,1\n", List{}, `a.csv, line 2, column "area:": allowed is area: and the name of a class of material`},
		{"a column of a class as it stands", "area,ended,area: mild\n1,1,x\n", List{}, `a.csv, line 2, column area: mild: found "x", allowed is a number of 0 or more, or nothing for 0`},
		{"a class without a name", "area,ended,area: \n1,1,1\n", List{}, `a.csv, line 1, column "area:": allowed is area: and the name of a class of material`},

		{"no area cut", "area,ended\n5,1\n0,1\n", List{}, `a.csv, line 3, column area: found "0", allowed is a number above 0`},
		{"area below 0", "area,ended\n-7,0\n", List{}, `a.csv, line 2, column area: found "-7", allowed is a number above 0`},
		{"area not said", "area,ended\n,0\n", List{}, `a.csv, line 2, column area: found "", allowed is a number above 0`},
		{"area NaN", "area,ended\nNaN,0\n", List{}, `a.csv, line 2, column area: found "NaN", allowed is a number above 0`},
		{"area infinite", "area,ended\n+Inf,0\n", List{}, `a.csv, line 2, column area: found "+Inf", allowed is a number above 0`},
		{"area beyond a float", "area,ended\n1e999,0\n", List{}, `a.csv, line 2, column area: found "1e999", allowed is a number above 0`},
		{"area beyond sense", "area,ended\n1e13,0\n", List{}, `a.csv, line 2, column area: found "1e13", allowed is a number of a size from 1e-09 to 1e+12`},
		{"area next to nothing", "area,ended\n1e-10,0\n", List{}, `a.csv, line 2, column area: found "1e-10", allowed is a number of a size from 1e-09 to 1e+12`},
		{"a comma in a number", "area,ended\n\"1,5\",0\n", List{}, `a.csv, line 2, column area: found "1,5", allowed is a number above 0`},
		{"a unit in a number", "area,ended\n15 in²,0\n", List{}, `a.csv, line 2, column area: found "15 in²", allowed is a number above 0`},

		{"ended 2", "area,ended\n1,2\n", List{}, `a.csv, line 2, column ended: found "2", allowed is 0 or 1`},
		{"ended yes", "area,ended\n1,yes\n", List{}, `a.csv, line 2, column ended: found "yes", allowed is 0 or 1`},
		{"ended not said", "area,ended\n1,\n", List{}, `a.csv, line 2, column ended: found "", allowed is 0 or 1`},

		{"start above area", "area,ended,start\n100,0,101\n", List{}, `a.csv, line 2, column start: found "101", allowed is a number from 0 to the area, 100`},
		{"start where it ended", "area,ended,start\n100,1,100\n", List{}, `a.csv, line 2, column start: found "100", allowed is a number from 0 to less than the area the blade ended at, 100`},
		{"start below 0", "area,ended,start\n100,1,-1\n", List{}, `a.csv, line 2, column start: found "-1", allowed is a number from 0 to less than the area the blade ended at, 100`},
		{"start NaN", "area,ended,start\n100,0,nan\n", List{}, `a.csv, line 2, column start: found "nan", allowed is a number from 0 to the area, 100`},

		{"classes that do not add up", "area,ended,area:mild,area:alloy\n100,0,50,48.9\n", List{}, "a.csv, line 2, column area:mild: the areas by class add up to 98.9, allowed is the area, 100, to 1 %"},
		{"classes not told", "area,ended,area:mild,area:alloy\n100,0,,\n", List{}, "a.csv, line 2, column area:mild: the areas by class add up to 0, allowed is the area, 100, to 1 %"},
		{"a class below 0", "area,ended,area:mild,area:alloy\n100,0,-1,101\n", List{}, `a.csv, line 2, column area:mild: found "-1", allowed is a number of 0 or more, or nothing for 0`},
		{"an unknown last class", "area,ended,area:mild,area:alloy,last_class\n100,1,50,50,Alloy\n", List{}, `a.csv, line 2, column last_class: found "Alloy", allowed is a class that has a column: mild, alloy`},
		{"a last class that was not cut", "area,ended,area:mild,area:alloy,last_class\n100,1,100,,alloy\n", List{}, `a.csv, line 2, column last_class: found "alloy", allowed is a class that the blade cut`},

		{"no price", "area,ended,price\n1,0,0\n", List{}, `a.csv, line 2, column price: found "0", allowed is a number above 0, or nothing`},
		{"a price with its currency", "area,ended,price\n1,0,$40\n", List{}, `a.csv, line 2, column price: found "$40", allowed is a number above 0, or nothing`},
		{"no bends", "area,ended,bends\n1,0,-3\n", List{}, `a.csv, line 2, column bends: found "-3", allowed is a number above 0, or nothing`},
		{"ended and running", "area,ended,cause\n1,1,running\n", List{}, `a.csv, line 2, column cause: found "running", allowed is how the blade ended: ended is 1`},

		{"a short line", "area,ended,cause\n1,1,dull\n1,1\n", List{}, "a.csv, line 3, found 2 fields, allowed is 3 as in the header line"},
		{"a long line", good + "1,1,dull\n", List{}, "a.csv, line 3, found 3 fields, allowed is 2 as in the header line"},
		{"a line of one field", good + "1\n", List{}, "a.csv, line 3, found 1 field, allowed is 2 as in the header line"},
		{"semicolons", "area;ended\n1;1\n", List{}, `a.csv, line 1: the column area is missing; found "area;ended"`},
		{"a quote within a field", good + "1\"0,1\n", List{}, "a.csv, line 3: bare \" in non-quoted-field: a text with a comma or a quote stands in double quotes, quotes within it doubled"},
		{"a quote left open", good + "\"10,1\n1,1\n", List{}, "a.csv, line 4: extraneous or missing \" in quoted-field: a text with a comma or a quote stands in double quotes, quotes within it doubled"},
		{"a broken quote in the header", "area,\"ended\"x\n1,1\n", List{}, "a.csv, line 1: extraneous or missing \" in quoted-field: a text with a comma or a quote stands in double quotes, quotes within it doubled"},

		{"the first wrong thing is told", "area,ended,start\nx,2,y\n", List{}, `a.csv, line 2, column area: found "x", allowed is a number above 0`},
		{"a line after quoted line breaks", "area,ended,cause\n1,1,\"a\nb\"\n0,1,\n", List{}, `a.csv, line 4, column area: found "0", allowed is a number above 0`},
		{"a line after blank ones", "area,ended\n\n\n0,1\n", List{}, `a.csv, line 4, column area: found "0", allowed is a number above 0`},

		{"an unknown reference", "area,ended,area:mild\n1,1,1\n", List{Reference: "soft"}, `--reference soft: a.csv has no column area:soft; found "area", "ended", "area:mild"`},
		{"a reference without classes", good, List{Reference: "mild"}, `--reference mild: a.csv has no column area:mild; found "area", "ended"`},
		{"an unknown covariate", good, List{Covariates: []string{"speed"}}, `--covariate speed: a.csv has no column speed; found "area", "ended"`},
		{"an unknown column to group by", good, List{By: "lot"}, `--by lot: a.csv has no column lot; found "area", "ended"`},
		{"by class without classes", good, List{By: ByClass}, `--by class: a.csv has no column area:CLASS; found "area", "ended"`},
		{"a covariate that is no number", "area,ended,speed\n1,1,fast\n", List{Covariates: []string{"speed"}}, `a.csv, line 2, column speed: found "fast", allowed is a number`},
		{"a covariate not told", "area,ended,speed\n1,1,\n", List{Covariates: []string{"speed"}}, `a.csv, line 2, column speed: found "", allowed is a number`},
		{"a covariate that is infinite", "area,ended,speed\n1,1,-Inf\n", List{Covariates: []string{"speed"}}, `a.csv, line 2, column speed: found "-Inf", allowed is a number`},
		{"a group named all", "area,ended,group\n1,1,a\n1,1, all\n", List{}, `a.csv, line 3, column group: found "all", allowed is any other name: all stands for every blade together`},
		{"a lot named all", "area,ended,lot\n1,1,all\n", List{By: "lot"}, `a.csv, line 2, column lot: found "all", allowed is any other name: all stands for every blade together`},
		{"a class named all", "area,ended,area:all,area:b\n1,1,1,0\n", List{By: ByClass}, "a.csv, line 1, column area:all: with --by class allowed is any other name: all stands for every blade together"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.list.File = "a.csv"
			d, err := Read(strings.NewReader(c.text), c.list)
			if err == nil {
				t.Fatalf("accepted: %+v", d)
			}
			if err.Error() != c.want {
				t.Errorf("error\n%s, want\n%s", err, c.want)
			}
		})
	}
}

func TestRead(t *testing.T) {
	two := []Row{
		{Name: "line 2", Group: all, Kind: all, Area: 100, Ended: true, Cause: "dull", Off: true, Last: -1, LastWear: 1},
		{Name: "line 3", Group: all, Kind: all, Area: 200, Off: true, Last: -1, LastWear: 1},
	}
	blade := func(change func(*Row)) []Row {
		r := Row{Name: "line 2", Group: all, Kind: all, Area: 100, Off: true, Last: -1, LastWear: 1}
		change(&r)
		return []Row{r}
	}
	mild, alloy := Class{Name: "mild", Severity: math.NaN()}, Class{Name: "alloy", Severity: math.NaN()}
	for _, c := range []struct {
		name, text string
		list       List
		want       Data
	}{
		{"as plain as can be", "area,ended,cause\n100,1,dull\n200,0,\n", List{}, Data{Rows: two}},
		{"any order", "cause,ended,area\ndull,1,100\n,0,200\n", List{}, Data{Rows: two}},
		{"other columns are left alone", "who,area,,ended,cause,\"note, if any\",\nx,100,y,1,dull,\"z, z\",\n,200,,0,,,\n", List{}, Data{Rows: two}},
		{"a byte order mark", "\ufeffarea,ended,cause\n100,1,dull\n200,0,\n", List{}, Data{Rows: two}},
		{"a byte order mark before a quoted name", "\ufeff\"area\",\"ended\",\"cause\"\n\"100\",\"1\",\"dull\"\n\"200\",\"0\",\"\"\n", List{}, Data{Rows: two}},
		{"line ends of another system", "area,ended,cause\r\n100,1,dull\r\n200,0,\r\n", List{}, Data{Rows: two}},
		{"no line end at the end", "area,ended,cause\n100,1,dull\n200,0,", List{}, Data{Rows: two}},
		{"spaces", " area , ended, cause \n 100 , 1 ,  dull \n200 ,0 , \n", List{}, Data{Rows: two}},
		{"blank lines at the end", "area,ended,cause\n100,1,dull\n200,0,\n\n\r\n\n", List{}, Data{Rows: two}},
		{"numbers in any notation", "area,ended,cause\n1e2,1,dull\n+200.0,0,\n", List{}, Data{Rows: two}},

		{"delayed entry", "area,ended,start\n100,0,30\n", List{}, Data{Rows: blade(func(r *Row) { r.Start = 30 })}},
		{"logged from its last in² on", "area,ended,start\n100,0,100\n", List{}, Data{Rows: blade(func(r *Row) { r.Start = 100 })}},
		{"still on a saw", "area,ended,cause\n100,0,running\n", List{}, Data{Rows: blade(func(r *Row) { r.Off = false })}},
		{"why it was pulled is no end", "area,ended,cause\n100,0,planned\n", List{}, Data{Rows: blade(func(*Row) {})}},
		{"a price", "area,ended,price\n100,0,41.5\n", List{}, Data{Rows: blade(func(r *Row) { r.Price = ptr(41.5) })}},
		{"no price told", "area,ended,price,bends\n100,0,,\n", List{}, Data{Rows: blade(func(*Row) {})}},
		{"bends", "area,ended,bends\n100,0,5000\n", List{}, Data{Rows: blade(func(r *Row) { r.Bends, r.BendsPerArea = ptr(5000.0), ptr(50.0) })}},

		{"groups", "area,ended,group\n100,0,\"2/3, cobalt\"\n", List{}, Data{Rows: blade(func(r *Row) { r.Group, r.Kind = "2/3, cobalt", "2/3, cobalt" })}},
		{"a group not told", "area,ended,group\n100,0, \n", List{}, Data{Rows: blade(func(r *Row) { r.Group, r.Kind = "(not told)", "(not told)" })}},
		{"by another column", "area,ended,lot,group\n100,0,L1,a\n", List{By: "lot"}, Data{Rows: blade(func(r *Row) { r.Group, r.Kind = "L1", "L1" })}},
		{"one group", "area,ended,group\n100,0,a\n", List{By: ByNone}, Data{Rows: blade(func(*Row) {})}},
		{"one group, though some would be named all", "area,ended,group\n100,0,all\n", List{By: ByNone}, Data{Rows: blade(func(*Row) {})}},
		{"covariates", "area,ended,speed,feed\n100,0,250,-1\n", List{Covariates: []string{"feed", "speed"}}, Data{Covariates: []string{"feed", "speed"}, Rows: blade(func(r *Row) { r.X = []float64{-1, 250} })}},

		{"classes", "area,ended,area:mild,last_class,area:alloy\n100,1,60.4,alloy,40.5\n", List{}, Data{
			Classes: []Class{mild, alloy}, Rows: blade(func(r *Row) { r.Ended, r.Cut, r.Last = true, []float64{60.4, 40.5}, 1 }),
		}},
		{"another reference", "area,ended,area:mild,area:alloy\n100,0,100,\n", List{Reference: "alloy"}, Data{
			Classes: []Class{mild, alloy}, Reference: 1, Rows: blade(func(r *Row) { r.Cut = []float64{100, 0} }),
		}},
		{"configured severities", "area,ended,area:mild,area:alloy\n100,0,100,\n", List{Severity: func(class string) (float64, bool) { return 2, class == "alloy" }}, Data{
			Classes: []Class{mild, {Name: "alloy", Severity: 2}}, Rows: blade(func(r *Row) { r.Cut = []float64{100, 0} }),
		}},
		{"by the class cut most", "area,ended,area:mild,area:alloy\n100,0,40,60\n", List{By: ByClass}, Data{
			Classes: []Class{mild, alloy}, Rows: blade(func(r *Row) { r.Group, r.Kind, r.Cut = "alloy", "", []float64{40, 60} }),
		}},
		{"as much of two classes goes to the first", "area,ended,area:mild,area:alloy\n100,0,50,50\n", List{By: ByClass}, Data{
			Classes: []Class{mild, alloy}, Rows: blade(func(r *Row) { r.Group, r.Kind, r.Cut = "mild", "", []float64{50, 50} }),
		}},
		{"the last class of a blade that runs on", "area,ended,area:mild,area:alloy,last_class\n100,0,100,,alloy\n", List{}, Data{
			Classes: []Class{mild, alloy}, Rows: blade(func(r *Row) { r.Cut, r.Last = []float64{100, 0}, 1 }),
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for i := range c.want.Rows {
				r := &c.want.Rows[i]
				r.Off = r.Off || r.Ended
			}
			if diff := cmp.Diff(&c.want, readText(t, c.text, c.list), cmpopts.EquateNaNs(), cmpopts.EquateEmpty()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestGroupedBy(t *testing.T) {
	for text, want := range map[string]string{"area,ended\n1,1\n": ByNone, "area,ended,group\n1,1,a\n": "group"} {
		if got := readText(t, text, List{}).GroupedBy(); got != want {
			t.Errorf("%q is grouped by %s, want %s", text, got, want)
		}
	}
}

// FuzzRead: whatever the list, it is refused with one line or studied without a
// panic, and the answer is sound JSON.
func FuzzRead(f *testing.F) {
	for _, text := range []string{
		"area,ended\n100,1\n", "\ufeffarea,ended\r\n100,0\r\n",
		"area,ended,start,cause,group,price,bends\n100,1,5,dull,a,40,900\n200,0,,running,b,41,\n300,1,0,broke,b,,7\n",
		"area,ended,area:x,area:y,last_class,speed\n100,1,50,50,y,3\n120,1,120,,x,4\n150,0,0,150,,5\n",
		"area,ended\n1e-9,1\n2e-6,1\n1e9,1\n1e12,1\n1e12,0\n", "area,ended,price\n1e-9,1,1e12\n1,1,1e12\n",
		"area,ended,group\n1,1,a\n1,1,a\n1,1,b\n1,1,b\n", "area,ended\n\"1,5\",2\n", "area,ended,cause\n1,1,\"a\nb\"\n",
	} {
		for _, by := range []string{"", ByNone, ByClass, "cause"} {
			f.Add(text, by, "speed")
		}
		f.Add(text, "", "")
	}
	f.Fuzz(func(t *testing.T, text, by, covariate string) {
		l := List{File: "a.csv", By: by}
		if covariate != "" {
			l.Covariates = []string{covariate}
		}
		d, err := Read(strings.NewReader(text), l)
		if err != nil {
			// A name of a column or a value may hold anything; it is quoted.
			if err.Error() == "" {
				t.Error("refused without a word")
			}
			return
		}
		for _, r := range d.Rows {
			if !(r.Area > 0) || !(r.Start >= 0 && r.Start <= r.Area) || r.Cut != nil && slices.Max(r.Cut) > 1.02*r.Area {
				t.Fatalf("accepted %+v", r)
			}
		}
		report := Study(d, d.GroupedBy(), Limits{})
		if _, err := json.Marshal(report); err != nil {
			t.Errorf("the answer is no JSON: %v", err)
		}
		if err := report.Write(&strings.Builder{}, style); err != nil {
			t.Error(err)
		}
	})
}
