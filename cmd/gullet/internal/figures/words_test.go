package figures

import "testing"

func TestWords(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Plural(0, "cut", "cuts"), "0 cuts"},
		{Plural(1, "cut", "cuts"), "1 cut"},
		{Plural(int64(12345), "cut", "cuts"), "12,345 cuts"},
		{Percent(0), "0 %"},
		{Percent(0.126), "13 %"},
		{Odds(0), "under 1 %"},
		{Odds(0.0099), "under 1 %"},
		{Odds(0.01), "1 %"},
		{Odds(0.99), "99 %"},
		{Odds(1), "over 99 %"},
		{Chance(0.0004), "less than 0.001"},
		{Chance(0.0486), "0.049"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}
