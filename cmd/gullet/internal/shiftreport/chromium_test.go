package shiftreport

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/standing"
)

// chromium is the browser, and skips the test where it is not installed, unless
// REQUIRE_CHROMIUM=1.
func chromium(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("REQUIRE_CHROMIUM") == "1" {
		t.Fatal("REQUIRE_CHROMIUM=1 and there is no chromium")
	}
	t.Skip("chromium is not installed: that a report prints on one page is not checked")
	return ""
}

// full is a report with so many saws, and as much on it as a page can have.
func full(t *testing.T, p Period, saws int) *Report {
	r := made(t, p, "")
	some := r.Saws[0]
	r.Saws = nil
	for i := range saws {
		s := some
		s.Saw = fmt.Sprintf("saw-%02d", i+1)
		report := *some.Report
		report.Saw = s.Saw
		s.Report = &report
		r.Saws = append(r.Saws, s)
	}
	d := r.Downtime
	for i := range 12 {
		c := d.Pareto[i%6]
		c.Cause = analyze.Cause(fmt.Sprintf("waiting-material-%d", i))
		d.Pareto = append(d.Pareto, c)
		at := r.Begins.Add(time.Duration(i) * 20 * time.Minute)
		stop := standing.Stop{Saw: "saw-01", From: at, To: at.Add(17 * time.Minute), Minutes: 17, Cause: "waiting-material", Open: i%2 == 0}
		d.Long, r.Open = append(d.Long, stop), append(r.Open, stop)
		r.Doubts = append(r.Doubts, "no reading tells what happened in 8 h of the shifts: it counts neither as standing nor as producing, and brackets show what it leaves open")
	}
	return r
}

var pages = regexp.MustCompile(`/Type\s*/Page[^s]`)

// A report of as many saws as a shop has is one page, on the lower and on the narrower
// of the two papers.
func TestAReportPrintsOnOnePage(t *testing.T) {
	browser := chromium(t)
	folder := t.TempDir()
	for _, c := range []struct {
		paper string
		of    Period
		saws  int
	}{{"Letter", early(), 8}, {"A4", early(), 20}, {"A4", Week(monday), 5}, {"Letter", Week(monday), 20}} {
		content, err := HTML(full(t, c.of, c.saws))
		if err != nil {
			t.Fatal(err)
		}
		content = bytes.Replace(content, []byte("@page{"), []byte("@page{size:"+c.paper+";"), 1)
		name := filepath.Join(folder, "report.html")
		if err := os.WriteFile(name, content, 0o600); err != nil {
			t.Fatal(err)
		}
		pdf := filepath.Join(folder, "report.pdf")
		out, err := exec.CommandContext(t.Context(), browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
			"--user-data-dir="+filepath.Join(folder, "profile"), "--print-to-pdf="+pdf, "file://"+name).CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", browser, err, out)
		}
		printed, err := os.ReadFile(pdf)
		if err != nil {
			t.Fatal(err)
		}
		if n := len(pages.FindAll(printed, -1)); n != 1 {
			t.Errorf("%d saws on %s, shift %q: %d pages", c.saws, c.paper, c.of.Shift, n)
		}
		if os.Getenv("KEEP_PDF") != "" {
			_ = os.WriteFile(filepath.Join(os.Getenv("KEEP_PDF"), fmt.Sprintf("t-%s-%d-%s.pdf", c.paper, c.saws, c.of.Shift)), printed, 0o600)
		}
	}
}
