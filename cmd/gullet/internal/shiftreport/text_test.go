package shiftreport

import (
	"testing"

	"gullet/cmd/gullet/internal/golden"
)

func TestReportsAreGolden(t *testing.T) {
	for name, r := range map[string]*Report{"shift": made(t, early(), ""), "week": made(t, Week(monday), ""), "saw": made(t, early(), "s4")} {
		golden.Check(t, name+".txt", written(t, r))
		content, err := CSV(r)
		if err != nil {
			t.Fatal(err)
		}
		golden.Check(t, name+".csv", string(content))
		if name == "saw" { // whose page is like a shift's
			continue
		}
		if content, err = HTML(r); err != nil {
			t.Fatal(err)
		}
		golden.Check(t, name+".html", string(content))
	}
}
