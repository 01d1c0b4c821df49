//go:build unix

package main

import (
	"bytes"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"boilwright/cmd/boilwright/command"
)

// TestInterrupt interrupts a run that would take years. The program reads its
// board from a pipe that does not hold all of it: once the board is written the
// program is under way.
func TestInterrupt(t *testing.T) {
	for _, c := range []struct{ name, flag, status string }{
		{"text", "--events", " of operation, interrupted\n"},
		{"json", "--json", `"status": "interrupted"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			path, err := exec.LookPath("boilwright")
			if err != nil {
				t.Fatal(err)
			}
			file, pipe := filepath.Join(t.TempDir(), "t.csv"), filepath.Join(t.TempDir(), "board.toml")
			if err := syscall.Mkfifo(pipe, 0o600); err != nil {
				t.Fatal(err)
			}
			p := exec.Command(path, "run", pipe, "--duration", "1000000 h", "--every", "10000 h", "--csv", file, c.flag)
			var out, errs bytes.Buffer
			p.Stdout, p.Stderr = &out, &errs
			if err := p.Start(); err != nil {
				t.Fatal(err)
			}
			in, err := os.OpenFile(pipe, os.O_WRONLY, 0)
			if err != nil {
				t.Fatal(err)
			}
			board := "# " + strings.Repeat("x", 500_000) + "\nbased-on = \"dye-bench-230\"\n"
			if _, err := io.WriteString(in, board); err != nil {
				t.Fatal(err)
			}
			in.Close()
			if err := p.Process.Signal(os.Interrupt); err != nil {
				t.Fatal(err)
			}
			var e *exec.ExitError
			if err := p.Wait(); !errors.As(err, &e) || e.ExitCode() != command.Failed {
				t.Errorf("found %v, expected exit code %d", err, command.Failed)
			}
			if want := "boilwright: interrupted; what was done is kept: "; !strings.HasPrefix(errs.String(), want) {
				t.Errorf("standard error: found %q, expected it to begin with %q", errs.String(), want)
			}
			if c.flag == "--json" {
				if err := validate(out.String()); err != nil {
					t.Error(err)
				}
			}
			if !strings.Contains(out.String(), c.status) {
				t.Errorf("standard output: found %q, expected %q in it", out.String(), c.status)
			}
			if text, err := os.ReadFile(file); err != nil || !strings.HasPrefix(string(text), "time_s,") {
				t.Errorf("history: found %q, %v, expected what was done", text, err)
			}
		})
	}
}
