//go:build unix

package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"boilwright/cmd/boilwright/command"
)

// TestInterruptData interrupts, twice, a data set whose computing would take
// weeks: what is done is kept, and added to.
func TestInterruptData(t *testing.T) {
	path, err := exec.LookPath("boilwright")
	if err != nil {
		t.Fatal(err)
	}
	file, part := filepath.Join(t.TempDir(), "boards.toml"), filepath.Join(t.TempDir(), "part")
	if err := os.WriteFile(file, []byte("boards = 1_000_000_000\nparameters = false\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	size, kept := int64(0), 0
	for range 2 {
		p := exec.Command(path, "population", "data", file, "--shard", "1/1", "--out", part, "--workers", "1")
		var out, errs bytes.Buffer
		p.Stdout, p.Stderr = &out, &errs
		if err := p.Start(); err != nil {
			t.Fatal(err)
		}
		ended := make(chan error, 1)
		go func() { ended <- p.Wait() }()
		// Under way when the part has grown, by more than its header.
		for grown := false; !grown; {
			info, err := os.Stat(part)
			grown = err == nil && info.Size() > size+10_000
			select {
			case err := <-ended:
				t.Fatalf("found an end, %v: %s", err, errs.String())
			case <-time.After(time.Millisecond):
			}
		}
		if err := p.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		var e *exec.ExitError
		if err := <-ended; !errors.As(err, &e) || e.ExitCode() != command.Failed {
			t.Errorf("found %v, expected exit code %d", err, command.Failed)
		}
		if got, want := errs.String(), "boilwright: interrupted; what was done is kept\n"; got != want || out.Len() > 0 {
			t.Errorf("found %q and %q, expected %q and no progress, as standard error is no terminal", got, out.String(), want)
		}
		info, err := os.Stat(part)
		if err != nil {
			t.Fatal(err)
		}
		size = info.Size()
		text, _ := exec.Command(path, "population", "merge", "--check", part).CombinedOutput()
		m := regexp.MustCompile(`found a part that is not finished, with (\d+) of 1000000000 boards`).FindSubmatch(text)
		before := kept
		if m == nil {
			t.Fatalf("found %q", text)
		}
		if fmt.Sscan(string(m[1]), &kept); kept <= before {
			t.Errorf("found %d boards kept after %d, expected more", kept, before)
		}
	}
}
