package command

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/plots/pages"
	"boilwright/sim/boardfile"
)

var mdLink = regexp.MustCompile(`\]\(([^)]*)\)`)

// TestReference works out the pages of the whole catalogue, with one meter
// and a minute of operation: that is quick, and the pages are built alike.
func TestReference(t *testing.T) {
	file, err := boardfile.Embedded(boardfile.EmbeddedNames()[0])
	if err != nil {
		t.Fatal(err)
	}
	target := &target{file: file, names: channelNames(file.Board)}
	w := newReferenceWork(target, 0, time.Minute)
	if w.Meters, err = chosenMeters(file.Board, []string{"direct"}); err != nil {
		t.Fatal(err)
	}
	ctx, quiet := context.Background(), &progress{}
	if err := w.study(ctx, quiet); err != nil {
		t.Fatal(err)
	}
	write := func(ctx context.Context, folder string) ([]string, error) {
		w.Pages = faults.Names()
		names, files, err := w.write(ctx, quiet, folder)
		for _, f := range files {
			if info, err := os.Stat(f); err != nil || info.Size() == 0 {
				t.Errorf("%s: found %v, expected a file", f, err)
			}
		}
		return names, err
	}
	first := t.TempDir()
	names, err := write(ctx, first)
	if err != nil || !slices.Equal(names, faults.Names()) {
		t.Fatalf("found pages of %v, %v, expected the whole catalogue", names, err)
	}
	if err := w.failures(names); err != nil {
		t.Error(err)
	}
	texts := folderTexts(t, first)
	for _, n := range names {
		checkPage(t, texts, n, w.find(n))
	}
	index := texts[pages.IndexFile]
	for _, n := range names {
		if !strings.Contains(index, "("+pages.File(n)+")") {
			t.Errorf("index: found no link to %s", n)
		}
	}
	for _, want := range []string{ // what the catalogue says of them, in numbers
		"| [`triac-shorted`](triac-shorted.md) | full |",
		"| [`triac-one-way`](triac-one-way.md) | half |",
		"| [`opto-dead`](opto-dead.md) | none |",
	} {
		if !strings.Contains(index, want) {
			t.Errorf("index: found no %q", want)
		}
	}
	// An opto whose LED gives too little light and one whose output is open
	// look the same at every test point; a dead LED shows at its own pins.
	text := texts["opto-open.md"]
	if !strings.Contains(text, "**No test simulated here separates it from [`opto-weak-led`](opto-weak-led.md).**") {
		t.Error("opto-open: found it told from opto-weak-led")
	}
	// Exchanged drive plugs read as a healthy board does while every channel
	// is driven or none; with one driven alone, its element gets nothing.
	if _, row, _ := strings.Cut(texts["drive-crossed.md"], "| the healthy board |"); !strings.HasPrefix(row, " readings | holding, `soak:") {
		t.Errorf("drive-crossed: found %.100q, expected it told from the healthy board in holding", row)
	}
	// A film to earth is told from it on the unplugged board.
	if text := texts["film-earth.md"]; strings.Contains(text, "No test simulated here") || !strings.Contains(text, "| the healthy board | readings | ohmmeter at `") {
		t.Error("film-earth: found it like the healthy board, expected the ohmmeter to tell")
	}
	if _, row, _ := strings.Cut(text, "| [`opto-dead`](opto-dead.md) |"); !strings.Contains(strings.SplitN(row, "\n", 2)[0], ":led") {
		t.Errorf("opto-open: found it told from opto-dead by %q, expected the LED", strings.SplitN(row, "\n", 2)[0])
	}

	// Boards that are the same circuit share readings: those are the board's
	// own.
	shared := 0
	for i, j := range w.like {
		if s, b := w.of(i); i != j {
			shared++
			own := &pages.Study{Fault: s.Fault}
			if err := w.measure(ctx, own, b); err != nil {
				t.Fatal(err)
			}
			all := func(s *pages.Study) string { return fmt.Sprint(s.Standby, s.Heating, s.Dead, s.Plug) } // what is open has NaN
			if all(own) != all(s) {
				t.Errorf("%s: found other readings than of the circuit that it shares", s.Text)
			}
		}
	}
	if shared < 5 {
		t.Errorf("found %d boards that share readings, expected the faults of boilers and probes", shared)
	}

	t.Run("the same bytes on one core", func(t *testing.T) {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
		second := t.TempDir()
		if _, err := write(ctx, second); err != nil {
			t.Fatal(err)
		}
		again := folderTexts(t, second)
		if len(again) != len(texts) {
			t.Errorf("found %d files, then %d", len(texts), len(again))
		}
		for name, text := range texts {
			if again[name] != text {
				t.Errorf("%s: found other bytes the second time", name)
			}
		}
	})
	t.Run("interrupted", func(t *testing.T) {
		third := t.TempDir()
		done := filepath.Join(third, pages.File(names[0]))
		kept, err := write(untilFile{ctx, done}, third)
		if !errors.Is(err, context.Canceled) || len(kept) == 0 || len(kept) == len(names) {
			t.Fatalf("found %d pages, %v, expected some and that it was interrupted", len(kept), err)
		}
		index := folderTexts(t, third)[pages.IndexFile]
		if !strings.Contains(index, "interrupted") || strings.Count(index, ".md)") != len(kept) {
			t.Errorf("found %d links for %d pages in\n%s", strings.Count(index, ".md)"), len(kept), index)
		}
	})
}

// untilFile is a context that is cancelled once a file is there.
type untilFile struct {
	context.Context
	name string
}

func (u untilFile) Err() error {
	if _, err := os.Stat(u.name); err == nil {
		return context.Canceled
	}
	return nil
}

func folderTexts(t *testing.T, folder string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string]string{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(folder, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		texts[e.Name()] = string(data)
	}
	return texts
}

// checkPage checks the parts of a page, its links and its cautions.
func checkPage(t *testing.T, texts map[string]string, name string, s *pages.Study) {
	t.Helper()
	text := texts[pages.File(name)]
	parts := []string{"# " + s.Fault.Title, "## What it is", "## What changes", "## What it shows", "## What separates it from its look-alikes", "## Severity and keys"}
	if s.Lacking == "" {
		parts = append(parts, "**At a glance**", "### Look-alikes, computed", "### Unplugged", "### Standby", "### Heating", "### Waveforms",
			"### Energy monitor", "### After 1 min of operation", "-waveforms.svg)", "-temperatures.svg)")
	}
	for _, p := range parts {
		if !strings.Contains(text, p) {
			t.Errorf("%s: found no %q", name, p)
		}
	}
	for _, m := range mdLink.FindAllStringSubmatch(text, -1) {
		if _, ok := texts[m[1]]; !ok {
			t.Errorf("%s: found a link to %q, expected one to a file that is there", name, m[1])
		}
	}
	paragraphs := strings.Split(text, "\n\n")
	for i, p := range paragraphs {
		next := ""
		if i+1 < len(paragraphs) {
			next = strings.TrimSpace(paragraphs[i+1])
		}
		switch {
		case strings.Contains(p, "**Live.**"), strings.HasPrefix(p, "### Standby"), strings.HasPrefix(p, "### Heating"), strings.HasPrefix(p, "### Unplugged"):
			if !strings.HasPrefix(next, "> **Caution.**") {
				t.Errorf("%s: found %.60q after %.60q, expected its caution", name, next, p)
			}
		case strings.HasPrefix(p, "!["):
			if !strings.HasPrefix(next, "In words: ") || len(next) < 100 {
				t.Errorf("%s: found %.60q after a figure, expected it in words", name, next)
			}
			file := mdLink.FindStringSubmatch(p)[1]
			if !bytes.Contains([]byte(texts[file]), []byte("</svg>")) {
				t.Errorf("%s: found no drawing in %s", name, file)
			}
		}
	}
}
