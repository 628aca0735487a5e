package downtime

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// nearly fails unless got is want within a part of it; infinities must be the same.
func nearly(t interface {
	Helper()
	Errorf(string, ...any)
}, what string, got, want, tolerance float64) {
	t.Helper()
	if got != want && !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// readExpected reads what the reference library computed.
func readExpected(t *testing.T, name string, into any) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", "reference", name, "expected.json"))
	if err := errors.Join(err, json.Unmarshal(text, into)); err != nil {
		t.Fatal(err)
	}
}

// readColumns reads the input of a reference case.
func readColumns(t *testing.T, name string) [][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "reference", name, "input.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var list [][]float64
	for _, row := range rows[1:] {
		numbers := make([]float64, len(row))
		for i, cell := range row {
			if numbers[i], err = strconv.ParseFloat(cell, 64); err != nil {
				t.Fatal(err)
			}
		}
		list = append(list, numbers)
	}
	return list
}

func mtbfOf(t interface {
	Helper()
	Fatal(...any)
}, total float64, n int, level float64) TimeBetween {
	t.Helper()
	m, err := MTBF(total, n, OperatingTime, level)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Wanted values from R 4.2.2, testdata/reference/repairable/SOURCE.
func TestMTBFAgreesWithReference(t *testing.T) {
	var want struct {
		Total float64
		N     int
		MTBF  struct{ Value, Low, High float64 }
	}
	readExpected(t, "repairable", &want)
	m := mtbfOf(t, want.Total, want.N, 0.95)
	nearly(t, "MTBF", m.Value, want.MTBF.Value, 1e-12)
	nearly(t, "lower limit", m.Low, want.MTBF.Low, 1e-9)
	nearly(t, "upper limit", m.High, want.MTBF.High, 1e-9)
	if m.Why != "" || m.N != 27 || m.Total != 300 {
		t.Errorf("%+v, want one of 27 failures in 300 with nothing to excuse", m)
	}
}

// Wanted values from the domain reference, section 5.1: T = 1000, 90 %.
func TestMTBFAtLeast(t *testing.T) {
	for n, want := range map[int]float64{4: 125.10, 0: 434.29} {
		low, err := MTBFAtLeast(1000, n, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		nearly(t, fmt.Sprintf("lower limit after %d failures", n), low, want, 5e-5)
	}
}

func TestMTBFSaysWhatItDoesNotKnow(t *testing.T) {
	for _, c := range []struct {
		name  string
		total float64
		n     int
		low   float64
		why   string
	}{
		{"no failure", 1000, 0, 434.294481903, "no failure yet: only a lower limit, one-sided"},
		{"no time", 0, 0, 0, "no operating time was watched"},
		{"failures without time", 0, 2, 0, "no operating time was watched"},
	} {
		m := mtbfOf(t, c.total, c.n, 0.9)
		if !math.IsNaN(m.Value) || !math.IsInf(m.High, 1) || m.Why != c.why {
			t.Errorf("%s: %+v, want no value, no upper limit and %q", c.name, m, c.why)
		}
		nearly(t, c.name+": lower limit", m.Low, c.low, 1e-9)
	}
}

func TestMTBFNamesItsBase(t *testing.T) {
	for base, want := range map[TimeBase]string{
		OperatingTime: "operating time / failures",
		BusyTime:      "busy time / failures",
		CalendarTime:  "calendar time / failures",
	} {
		if m, err := MTBF(10, 1, base, 0.9); err != nil || m.Formula() != want {
			t.Errorf("%q (%v), want %q", m.Formula(), err, want)
		}
	}
}

func TestMTBFRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		total float64
		n     int
		base  TimeBase
		level float64
		want  string
	}{
		{"time below 0", -1, 1, BusyTime, 0.9, "MTBF: -1 watched: want a number from 0 to 1e+100"},
		{"no number", math.NaN(), 1, BusyTime, 0.9, "MTBF: NaN watched: want a number from 0 to 1e+100"},
		{"endless time", math.Inf(1), 1, BusyTime, 0.9, "MTBF: +Inf watched: want a number from 0 to 1e+100"},
		{"fewer than none", 10, -1, BusyTime, 0.9, "MTBF: -1 failures: want 0 or more"},
		{"level in percent", 10, 1, BusyTime, 95, "MTBF: a level of 95: want one from 0.5 to 0.9999"},
		{"certainty", 10, 1, BusyTime, 1, "MTBF: a level of 1: want one from 0.5 to 0.9999"},
		{"no base", 10, 1, "", 0.9, `MTBF: base "": want one of ["operating time" "busy time" "calendar time"]`},
	} {
		if m, err := MTBF(c.total, c.n, c.base, c.level); err == nil || err.Error() != c.want {
			t.Errorf("%s: %+v, %v, want %s", c.name, m, err, c.want)
		}
	}
	if _, err := MTBFAtLeast(-1, 1, 0.9); err == nil || !strings.HasPrefix(err.Error(), "lower limit of MTBF: ") {
		t.Errorf("lower limit over -1: %v", err)
	}
}

func TestMTBFProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		total := rapid.Float64Range(1e-3, 1e6).Draw(t, "total")
		n := rapid.IntRange(0, 500).Draw(t, "n")
		level := rapid.Float64Range(0.5, 0.999).Draw(t, "level")
		m, more := mtbfOf(t, total, n, level), mtbfOf(t, total, n+1, level)
		if n > 0 && !(0 < m.Low && m.Low < m.Value && m.Value < m.High) {
			t.Fatalf("value and limits: %+v", m)
		}
		if !(more.Low < m.Low && more.High < m.High) || more.Value >= m.Value {
			t.Fatalf("one failure more: %+v, before it %+v", more, m)
		}
		minutes := mtbfOf(t, 60*total, n, level)
		nearly(t, "in minutes the lower limit", minutes.Low, 60*m.Low, 1e-12)
		nearly(t, "in minutes the upper limit", minutes.High, 60*m.High, 1e-12)
		if n > 0 {
			nearly(t, "in minutes", minutes.Value, 60*m.Value, 1e-12)
			if wider := mtbfOf(t, total, n, (1+level)/2); wider.Low >= m.Low || wider.High <= m.High {
				t.Fatalf("at a higher level: %+v, want wider than %+v", wider, m)
			}
		}
	})
}

// Failures by chance at one rate, watched for a given time: 90 % limits are to hold
// the truth in 90 % of the runs or more, for counts go in steps; with 4,000 runs the
// share is off by 0.005 by chance, and 0.015 are allowed. One-sided limits of
// saws without a failure count as well.
func TestMTBFLimitsHoldTheTruth(t *testing.T) {
	const runs, truth = 4000, 40.0
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct{ total, most float64 }{{40, 0.99}, {200, 0.96}, {1200, 0.94}} {
		held := 0
		for range runs {
			n := 0
			for at := r.ExpFloat64() * truth; at <= c.total; at += r.ExpFloat64() * truth {
				n++
			}
			if m := mtbfOf(t, c.total, n, 0.9); m.Low <= truth && truth <= m.High {
				held++
			}
		}
		if share := float64(held) / runs; share < 0.9-0.015 || share > c.most {
			t.Errorf("over %v with an MTBF of %v the limits hold it in %.3f of the runs, want 0.9 to %v", c.total, truth, share, c.most)
		}
	}
}
