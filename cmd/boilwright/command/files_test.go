package command

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.csv")
	write := func(text string, err error) func(io.Writer) error {
		return func(w io.Writer) error {
			io.WriteString(w, text)
			return err
		}
	}
	content := func() string {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if err := writeFile(name, nil, write("old", nil)); err != nil || content() != "old" {
		t.Fatalf("found %q, %v, expected old", content(), err)
	}
	// A failure in the middle leaves the old file, and nothing beside it.
	broken := errors.New("broken")
	if err := writeFile(name, nil, write(strings.Repeat("new", 1<<16), broken)); !errors.Is(err, broken) || content() != "old" {
		t.Errorf("found %v and a file of %d bytes, expected the error and the old file", err, len(content()))
	}
	// What an earlier program left behind is in nobody's way.
	if err := os.WriteFile(filepath.Join(dir, ".a.csv.0.partial"), []byte("left"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := writeFile(name, nil, write("new", nil)); err != nil || content() != "new" {
		t.Errorf("found %q, %v, expected new", content(), err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 2 {
		t.Errorf("found %v, %v, expected the file and what was left before", entries, err)
	}
	// A link stays a link: what it leads to is replaced.
	link := filepath.Join(dir, "link")
	if err := os.Symlink(name, link); err != nil {
		t.Skip("no symbolic links here")
	}
	if err := writeFile(link, nil, write("linked", nil)); err != nil || content() != "linked" {
		t.Errorf("found %q, %v, expected linked", content(), err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("found %v, %v, expected a link", info, err)
	}
	var out bytes.Buffer
	if err := writeFile("-", &out, write("out", nil)); err != nil || out.String() != "out" {
		t.Errorf("found %q, %v, expected out", out.String(), err)
	}
}
