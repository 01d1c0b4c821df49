package infer_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"boilwright/faults/infer"
	"boilwright/sim/boardfile"
)

// The answer is the same without a cache, with a fresh one, from it, and after
// its files have been damaged or deleted.
func TestFolderStore(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "cache")
	answer := func(cached bool) *infer.Diagnosis {
		w, err := infer.NewBench(boardfile.Default(), infer.Options{Draws: 3})
		if err != nil {
			t.Fatal(err)
		}
		if cached {
			w.UseStore(infer.NewFolderStore(dir, w.Content([]byte("board"), "1")))
		}
		d := diagnose(t, w, "reading dye:triac, ohmmeter, 0.1 Ω")
		w.Flush()
		return d
	}
	want := answer(false)
	check := func(when string) {
		t.Helper()
		if got := answer(true); !reflect.DeepEqual(got.Suspects, want.Suspects) || !reflect.DeepEqual(got.Next, want.Next) {
			t.Errorf("%s: found another answer", when)
		}
	}
	check("new cache")
	check("from the cache")
	damage := func(change func(path string) error) (files int) {
		err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				return err
			}
			files++
			return change(path)
		})
		if err != nil {
			t.Fatal(err)
		}
		return files
	}
	if damage(func(path string) error { return os.Truncate(path, 41) }) == 0 {
		t.Fatal("found no files in the cache")
	}
	check("truncated files")
	damage(func(path string) error {
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		data[len(data)/2] ^= 1
		return os.WriteFile(path, data, 0o666)
	})
	check("a bit flipped")
	damage(os.Remove)
	check("deleted files")
	// A cache that cannot be written does no harm.
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(dir, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	check("a file in the cache's place")
}
