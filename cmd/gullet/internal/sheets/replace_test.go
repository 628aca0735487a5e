package sheets

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestAFileIsReplacedWhole(t *testing.T) {
	folder := t.TempDir()
	name := filepath.Join(folder, "plan.ics")
	for _, content := range []string{"first, the longer one", "second"} {
		before, err := os.Open(name)
		if err := Replace(name, []byte(content)); err != nil {
			t.Fatal(err)
		}
		got, readErr := os.ReadFile(name)
		if readErr != nil || string(got) != content {
			t.Errorf("%q (%v), want %q", got, readErr, content)
		}
		if err != nil {
			continue
		}
		old := make([]byte, 64)
		n, _ := before.Read(old)
		if string(old[:n]) != "first, the longer one" {
			t.Errorf("who reads the old file sees %q", old[:n])
		}
		_ = before.Close()
	}
	if files, err := os.ReadDir(folder); err != nil || len(files) != 1 {
		t.Errorf("the folder holds %v (%v), want the file alone", files, err)
	}
}

func TestWhereNoFileCanBe(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "file")
	if err := Replace(file, nil); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		folder: "it is no plain file",
		filepath.Join(folder, "none", "plan.ics"): "there is no folder " + filepath.Join(folder, "none"),
		filepath.Join(file, "plan.ics"):           "not a directory",
	} {
		err := Replace(name, []byte("x"))
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want one line with %q", name, err, want)
		}
	}
}
