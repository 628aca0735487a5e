package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"time"
)

// A person at a terminal would see the bytes of a workbook.
func TestAWorkbookIsRefusedOnATerminal(t *testing.T) {
	terminal, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0) // a device for letters, as a terminal is
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = terminal.Close() }()
	var said bytes.Buffer
	p := &program{out: terminal, errOut: &said, now: time.Now}
	if code := p.run(t.Context(), []string{"plan", "--xlsx", "-"}); code != exitUsage || !strings.Contains(said.String(), "a terminal shows no workbook") {
		t.Errorf("exit code %d, %q", code, said.String())
	}
	if said.Reset(); isTerminal(&said) {
		t.Error("a buffer is taken for a terminal")
	}
}
