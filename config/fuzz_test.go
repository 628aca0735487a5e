package config

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// FuzzLoad reads any bytes as the file: it is accepted or refused, line by line
// with its place, and what is accepted can be printed and read back.
func FuzzLoad(f *testing.F) {
	bad, err := filepath.Glob("testdata/bad/*.toml")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range append(bad, "gullet.toml", "testdata/print.toml") {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	file := filepath.Join(f.TempDir(), "gullet.toml")
	f.Fuzz(func(t *testing.T, data []byte) {
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
		l, err := Load(Options{File: file, FileRequired: true})
		if err != nil {
			for line := range strings.SplitSeq(err.Error(), "\n") {
				if !strings.HasPrefix(line, file+":") {
					t.Errorf("a line without its place: %q", line)
				}
			}
			return
		}
		l.MQTT.Broker = "" // a hidden password does not read back
		for i := range l.scalars {
			if l.scalars[i].key == "mqtt.broker" {
				l.scalars[i].value = ""
			}
		}
		var printed bytes.Buffer
		if err := l.Print(&printed); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, printed.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Load(Options{File: file, FileRequired: true}); err != nil {
			t.Errorf("what was printed is refused: %v\n%s", err, printed.String())
		}
	})
}

func TestDurationsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := time.Duration(rapid.Int64Range(int64(time.Second), int64(1000*time.Hour)).Draw(t, "ns"))
		if rapid.Bool().Draw(t, "whole") {
			d = d.Truncate(rapid.SampledFrom([]time.Duration{time.Second, time.Minute, time.Hour}).Draw(t, "unit"))
		}
		got, err := durationOf(0, 1000*time.Hour)(duration(d))
		if err != nil || got != d {
			t.Fatalf("%v is written %q and read as %v, %v", d, duration(d), got, err)
		}
	})
}

func TestSizesReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := byteSize(rapid.IntRange(0, 1<<16).Draw(t, "n") << rapid.SampledFrom([]int{0, 10, 14}).Draw(t, "shift"))
		got, err := sizeOf(0, 1<<30)(b.String())
		if err != nil || got != b {
			t.Fatalf("%d is written %q and read as %v, %v", int(b), b, got, err)
		}
	})
}

// Whatever a password is made of, it is not shown.
func TestRedactedHidesAnyPassword(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scheme := rapid.SampledFrom([]string{"tcp://", "wss://", "tcp:/", "", "%://"}).Draw(t, "scheme")
		before := rapid.StringMatching(`[a-z:/@?%#]{0,8}`).Draw(t, "before")
		after := rapid.StringMatching(`[a-z:/@?%#]{0,8}`).Draw(t, "after")
		if shown := redacted(scheme + "u:" + before + "HUNTER" + after + "@b:1883"); strings.Contains(shown, "HUNTER") {
			t.Fatalf("shown as %s", shown)
		}
	})
}

// distance counts slips of the finger (optimal string alignment); the wanted
// values are counted by hand.
func TestDistance(t *testing.T) {
	tests := []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"broker", "broker", 0}, {"brocker", "broker", 1}, {"broke", "broker", 1},
		{"brokre", "broker", 1}, {"bloker", "broker", 1}, {"", "saw", 3}, {"abc", "xyz", 3},
	}
	for _, tt := range tests {
		if got := distance(tt.a, tt.b); got != tt.want || distance(tt.b, tt.a) != got {
			t.Errorf("distance(%q, %q) = %d, want %d both ways", tt.a, tt.b, got, tt.want)
		}
	}
}
