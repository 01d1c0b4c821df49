package command

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// writeFile writes a file by way of another one beside it, which takes its
// place when all of it has reached the disk: the file is the old one or the
// whole new one, whatever happens. The name "-" is out. What is no regular
// file, such as a pipe, is written to directly.
func writeFile(name string, out io.Writer, write func(io.Writer) error) error {
	if name == "-" {
		return buffered(out, write)
	}
	switch info, err := os.Stat(name); {
	case err == nil && info.IsDir():
		return misuse("%s: found a folder, expected the name of a file", name)
	case err == nil && !info.Mode().IsRegular():
		f, err := os.OpenFile(name, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		return errors.Join(buffered(f, write), f.Close())
	case err == nil:
		if name, err = filepath.EvalSymlinks(name); err != nil {
			return err
		}
	}
	f, err := partial(name)
	if err != nil {
		return err
	}
	err = errors.Join(buffered(f, write), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		os.Remove(f.Name())
		return err
	}
	return syncFolder(filepath.Dir(name))
}

// partial creates a file beside name that is not there yet.
func partial(name string) (*os.File, error) {
	dir, base := filepath.Split(name)
	for i := 0; ; i++ {
		f, err := os.OpenFile(filepath.Join(dir, fmt.Sprintf(".%s.%d.partial", base, i)), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) && i < 100 {
			continue
		}
		if errors.Is(err, fs.ErrNotExist) {
			return nil, misuse("%s: its folder does not exist", name)
		}
		return f, err
	}
}

// syncFolder makes a rename last. Some systems cannot; then it is left alone.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return nil
	}
	d.Sync()
	return d.Close()
}

func buffered(w io.Writer, write func(io.Writer) error) error {
	b := bufio.NewWriterSize(w, 1<<16)
	if err := write(b); err != nil {
		return err
	}
	return b.Flush()
}
