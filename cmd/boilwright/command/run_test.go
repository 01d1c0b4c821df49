package command

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"boilwright/sim"
	"boilwright/sim/boardfile"
)

// The start of a run that is cancelled at once, and one that is cancelled
// on the way.
func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	for _, args := range [][]string{{"run"}, {"run", "--json"}, {"demo", "--out", t.TempDir()}, {"demo", "--json", "--out", t.TempDir()}, {"figure", "temperatures", "--out", filepath.Join(t.TempDir(), "t.png")}} {
		code, out, errs := execute(t, ctx, args...)
		if code != Failed || !strings.HasPrefix(errs, "boilwright: interrupted") || strings.Count(errs, "\n") != 1 {
			t.Errorf("%v: found exit code %d and %q, expected %d and one line", args, code, errs, Failed)
		}
		if args[len(args)-1] == "--json" && !strings.Contains(out, `"status": "interrupted"`) {
			t.Errorf("%v: found %q, expected its status", args, out)
		}
	}
	ctx, cancel = context.WithCancel(context.Background())
	defer cancel()
	file, err := boardfile.Embedded(boardfile.EmbeddedNames()[0])
	if err != nil {
		t.Fatal(err)
	}
	r, _, err := simulate(ctx, &target{file: file}, 1, sim.Options{Progress: func(done, _ time.Duration) {
		if done > 2*time.Minute {
			cancel()
		}
	}})
	if err != nil || r.Status != sim.Interrupted {
		t.Fatalf("found %v, %v, expected an interrupted run", r, err)
	}
	if r.Duration < 2*time.Minute || r.Duration > 5*time.Minute || len(r.Samples) < 12 {
		t.Errorf("found %v in %d samples, expected what was done by then", r.Duration, len(r.Samples))
	}
	if v := judge([]requirement{{text: "all:link-holds", channels: []int{0}, outcome: slices.Index(outcomeWords(), "link-holds")}}, r); v[0].met {
		t.Errorf("found %+v, expected that an interrupted run meets nothing", v)
	}
}

// A board that cannot be written to must not go unnoticed.
func TestBrokenOutput(t *testing.T) {
	for _, args := range [][]string{{"readings"}, {"monitor", "--json"}, {"board", "reference"}, {"version"}} {
		var errs bytes.Buffer
		if got := Execute(context.Background(), args, strings.NewReader(""), brokenWriter{}, &errs); got != Failed || !strings.Contains(errs.String(), "pipe is broken") {
			t.Errorf("%v: found exit code %d and %q, expected %d and why", args, got, errs.String(), Failed)
		}
	}
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errors.New("pipe is broken") }
