package dataset

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"boilwright/sim/population"
)

// Options set how a part is computed. None of them changes what it says.
type Options struct {
	Shard   Shard // [all of it]
	Workers int   // boards that are worked on at once [one a core]
	// Block is how many boards reach the disk together [64]: so many at most
	// are computed again after an interruption.
	Block int
	// Report, where given, is told how many boards of the shard are on the
	// disk for good: at the start, and after each block.
	Report func(done, total uint64)
}

// ErrBusy is returned where another process is at work on a part.
var ErrBusy = errors.New("found another process at work on it, expected to be alone")

// Compute computes a shard of the data set into the part called name. A part
// that is there already is gone on with: whole blocks are kept, what is left
// of a block that was being written is dropped. One that is no part, or part
// of something else, or damaged, is left as it is; the error says why. After
// ctx is cancelled the boards that are done are kept.
func Compute(ctx context.Context, d *Definition, name string, o Options) (err error) {
	if o.Shard == (Shard{}) {
		o.Shard = Whole
	}
	if o.Block == 0 {
		o.Block = 64
	}
	h := Header{Format: formatVersion, Description: d.Description()}
	h.From, h.To = d.Range(o.Shard)
	f, next, err := openPart(name, &h)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	report := func() {
		if o.Report != nil {
			o.Report(next-h.From, h.To-h.From)
		}
	}
	report()
	s := h.Description.shape()
	var payload, text []byte
	first, count := next, 0
	flush := func() error {
		if count == 0 {
			return nil
		}
		text = appendBlock(text[:0], first, count, payload)
		if err := appendDurably(f, text); err != nil {
			return fmt.Errorf("%s: %w", name, plain(err))
		}
		next = first + uint64(count)
		first, count, payload = next, 0, payload[:0]
		report()
		return nil
	}
	err = population.Each(ctx, next, h.To, population.Workers{Count: o.Workers}, d.Row, func(_ uint64, r Row) error {
		payload = s.encode(payload, &r)
		if count++; count < o.Block && len(payload) < mostPayload/64 {
			return nil
		}
		return flush()
	})
	if err == nil || ctx.Err() != nil {
		err = errors.Join(err, flush())
	}
	return err
}

// appendDurably writes text at the end of an open part and returns when it has
// reached the disk. Where that fails, as on a full disk, it is taken back as
// far as that goes: what the system holds of it may never reach the disk, and
// must not be taken for done by whoever goes on.
func appendDurably(f *os.File, text []byte) error {
	at, err := f.Seek(0, io.SeekCurrent)
	if err != nil {
		return err
	}
	if _, err = f.Write(text); err == nil {
		err = f.Sync()
	}
	if err != nil {
		f.Truncate(at)
	}
	return err
}

// openPart opens the part called name for going on, and returns the index that
// comes next.
func openPart(name string, h *Header) (*os.File, uint64, error) {
	// What is no regular file, such as a pipe, is not opened: that might wait.
	if info, err := os.Stat(name); err == nil && !info.Mode().IsRegular() {
		return nil, 0, errors.New("found no regular file, expected one, or none")
	}
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return nil, 0, plain(err)
	}
	next, err := goOn(f, name, h)
	if err != nil {
		f.Close()
		return nil, 0, plain(err)
	}
	return f, next, nil
}

// plain is an error without the name of the file, which is told already.
func plain(err error) error {
	if e := (*os.PathError)(nil); errors.As(err, &e) {
		return e.Err
	}
	return err
}

// goOn makes an open part ready to be gone on with.
func goOn(f *os.File, name string, h *Header) (next uint64, err error) {
	head, err := h.bytes()
	if err != nil {
		return 0, err
	}
	if err := lock(f); err != nil {
		return 0, err
	}
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	// Whoever had it before may have removed it since it was opened.
	if there, err := os.Stat(name); err != nil || !os.SameFile(there, info) {
		return 0, ErrBusy
	}
	size := info.Size()
	if size < int64(len(head)) {
		begin := make([]byte, size)
		if _, err := f.ReadAt(begin, 0); err != nil && err != io.EOF {
			return 0, err
		}
		if bytes.HasPrefix(head, begin) { // it ended while this was written
			if err := restart(f, head); err != nil {
				return 0, err
			}
			return h.From, durable(f, name)
		}
	}
	l, err := openLog(f, size)
	if err != nil {
		return 0, err
	}
	if err := same(&l.header, h); err != nil {
		return 0, err
	}
	for err == nil {
		_, err = l.block()
	}
	var torn *tornError
	if errors.As(err, &torn) {
		err = f.Truncate(l.offset)
	} else if err == io.EOF {
		err = nil
	}
	if err == nil {
		_, err = f.Seek(l.offset, io.SeekStart)
	}
	if err == nil {
		err = durable(f, name)
	}
	return l.next, err
}

// durable returns when the part and its name have reached the disk: whoever
// wrote it may have ended before they had, and what is found whole is told to
// be done.
func durable(f *os.File, name string) error {
	if err := f.Sync(); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(name))
}

// restart writes the header of a part of which there is nothing yet.
func restart(f *os.File, head []byte) error {
	if err := f.Truncate(0); err != nil {
		return err
	}
	if _, err := f.WriteAt(head, 0); err != nil {
		return err
	}
	_, err := f.Seek(int64(len(head)), io.SeekStart)
	return err
}

// same tells why a part is not the one that is being computed.
func same(found, wanted *Header) error {
	if err := sameSet(found.Description, wanted.Description); err != nil {
		return err
	}
	if found.From != wanted.From || found.To != wanted.To {
		return fmt.Errorf("found another shard, of boards %s, expected %s", span(found.From, found.To), span(wanted.From, wanted.To))
	}
	return nil
}

// sameSet tells why two parts do not belong together.
func sameSet(found, wanted *Description) error {
	switch {
	case found.Program != wanted.Program:
		return fmt.Errorf("found a part that version %s of the program computed, expected version %s", found.Program, wanted.Program)
	case found.Fingerprint != wanted.Fingerprint:
		return fmt.Errorf("found a part of another population, with the fingerprint %.12s…, expected %.12s…", found.Fingerprint, wanted.Fingerprint)
	}
	return nil
}

// span writes a range of indices.
func span(from, to uint64) string {
	if from >= to {
		return "none"
	}
	return fmt.Sprintf("%d to %d", from, to-1)
}

// syncFolder makes a new name last. Some systems cannot; then it is left
// alone.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return nil
	}
	d.Sync()
	return d.Close()
}
