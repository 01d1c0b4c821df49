package boardfile_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"boilwright/sim/boardfile"
)

// Arbitrary bytes never panic, a rejection says where and what, and what is
// accepted reads back equal after it was written.
func FuzzParse(f *testing.F) {
	for _, name := range boardfile.EmbeddedNames() {
		text, _ := boardfile.EmbeddedSource(name)
		f.Add(text)
		board, err := boardfile.Embedded(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(boardfile.Marshal(board.Board))
	}
	paths, err := filepath.Glob(badDir + "/*.toml")
	if err != nil {
		f.Fatal(err)
	}
	for _, p := range paths {
		text, err := os.ReadFile(p)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte(small))
	f.Add([]byte("channel = 1"))
	f.Add([]byte("channel.soak = [[[[]]]]\n\xff"))
	f.Add([]byte("\ufeffname = '''\n'''"))
	f.Fuzz(func(t *testing.T, data []byte) {
		open := func(string) ([]byte, error) { return nil, fs.ErrNotExist }
		file, err := boardfile.Parse("fuzz.toml", data, open)
		if err != nil {
			var e *boardfile.Error
			if !errors.As(err, &e) || len(e.Entries) == 0 {
				t.Fatalf("error of type %T: %v", err, err)
			}
			for _, x := range e.Entries {
				if x.File == "" || x.Found == "" || x.Expected == "" {
					t.Errorf("%+v", x)
				}
			}
			return
		}
		if err := boardfile.Check(file.Board); err != nil {
			t.Errorf("accepted, but %v", err)
		}
		checkReread(t, file.Board)
	})
}
