package dataset_test

import (
	"bytes"
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"boilwright/sim/population/dataset"
)

// tiny is a population of small parts.
const tiny = `boards = 3
seed = 3
healthy = 0
only = ["dye:opto-one-way", "supply-high"]
observe = "volts dye:output standby rms"
parameters = false
`

var blocks = dataset.Options{Workers: 1, Block: 1}

// TestTruncated: a part that ends at any byte is gone on with to the same
// bytes, and no whole block is computed again.
func TestTruncated(t *testing.T) {
	d := define(t, tiny)
	name := part(t, d, blocks)
	whole := read(t, name)
	var ends []int // of the header, and of each block
	for at := 0; ; {
		i := bytes.Index(whole[at:], []byte("bwbl"))
		if i < 0 {
			break
		}
		ends = append(ends, at+i)
		at += i + 1
	}
	if ends = append(ends, len(whole)); len(ends) != 4 {
		t.Fatalf("found blocks at %v, expected 3", ends)
	}
	for n := range whole {
		// Most of the header is alike: every byte of its ends is enough.
		if n > 40 && n < ends[0]-40 && n%101 != 0 {
			continue
		}
		if err := os.WriteFile(name, whole[:n], 0o666); err != nil {
			t.Fatal(err)
		}
		kept := uint64(0)
		for i, end := range ends {
			if n >= end {
				kept = uint64(i)
			}
		}
		first := true
		o := blocks
		o.Report = func(done, total uint64) {
			if first && done != kept || total != 3 {
				t.Errorf("%d bytes: found %d of %d boards kept, expected %d of 3", n, done, total, kept)
			}
			first = false
		}
		if err := dataset.Compute(context.Background(), d, name, o); err != nil {
			t.Fatalf("%d bytes: %v", n, err)
		}
		if !bytes.Equal(read(t, name), whole) {
			t.Fatalf("%d bytes: found other bytes in the end", n)
		}
	}
}

// TestDamage: every byte that is changed is either told, the file left as it
// is, or lies in the last block, which is computed again to the same.
func TestDamage(t *testing.T) {
	d := define(t, tiny)
	name := part(t, d, blocks)
	whole := read(t, name)
	last := bytes.LastIndex(whole, []byte("bwbl"))
	header := bytes.Index(whole, []byte("bwbl"))
	random := rand.New(rand.NewPCG(1, 2))
	for at := range whole {
		if at > 40 && at < header-40 && at%101 != 0 {
			continue
		}
		damaged := bytes.Clone(whole)
		damaged[at] ^= byte(1 + random.IntN(255))
		if err := os.WriteFile(name, damaged, 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := dataset.Open(context.Background(), name); err == nil {
			t.Fatalf("byte %d: found no damage when merging", at)
		}
		err := dataset.Compute(context.Background(), d, name, blocks)
		got := read(t, name)
		switch {
		case at < last && err == nil:
			t.Fatalf("byte %d: found no error", at)
		case at < last && !bytes.Equal(got, damaged):
			t.Fatalf("byte %d: found a file that is not left as it was", at)
		case at >= last && (err != nil || !bytes.Equal(got, whole)):
			t.Fatalf("byte %d in the last block: found %v, or other bytes in the end", at, err)
		}
	}
	// Longer damage and lost pieces.
	for range 150 {
		damaged := bytes.Clone(whole)
		from := random.IntN(len(damaged))
		to := min(len(damaged), from+1+random.IntN(200))
		switch random.IntN(3) {
		case 0:
			clear(damaged[from:to])
		case 1:
			for i := from; i < to; i++ {
				damaged[i] = byte(random.Uint32())
			}
		default:
			damaged = append(damaged[:from], damaged[to:]...)
		}
		if bytes.Equal(damaged, whole) {
			continue
		}
		if err := os.WriteFile(name, damaged, 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := dataset.Open(context.Background(), name); err == nil {
			t.Fatalf("bytes %d to %d: found no damage when merging", from, to)
		}
		err := dataset.Compute(context.Background(), d, name, blocks)
		got := read(t, name)
		if err == nil && !bytes.Equal(got, whole) || err != nil && !bytes.Equal(got, damaged) {
			t.Fatalf("bytes %d to %d: found error %v and other bytes in the end", from, to, err)
		}
	}
}

// TestForeign: a file that is something else is refused with the reason and
// left as it is.
func TestForeign(t *testing.T) {
	d := define(t, tiny)
	half := dataset.Options{Shard: dataset.Shard{K: 1, N: 2}}
	older, err := dataset.Parse("p", []byte(tiny), "8.8.8")
	if err != nil {
		t.Fatal(err)
	}
	text := filepath.Join(t.TempDir(), "notes.txt")
	if err := os.WriteFile(text, bytes.Repeat([]byte("what was seen on the bench\n"), 1000), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, want string }{
		{part(t, define(t, strings.Replace(tiny, "seed = 3", "seed = 4", 1)), half), "another population"},
		{part(t, define(t, tiny+"[tolerances]\ngate.resistance = 'fixed'\n"), half), "another population"},
		{part(t, define(t, strings.Replace(tiny, " rms", "", 1)), half), "another population"},
		{part(t, older, half), "version 8.8.8"},
		{part(t, d, dataset.Options{Shard: dataset.Shard{K: 2, N: 2}}), "another shard, of boards 1 to 2, expected 0 to 0"},
		{text, "no part of a data set"},
		{t.TempDir(), "no regular file"},
	} {
		before, _ := os.ReadFile(c.name)
		err := dataset.Compute(context.Background(), d, c.name, half)
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), c.name+": ") {
			t.Errorf("found error %v, expected %q", err, c.want)
		}
		if after, _ := os.ReadFile(c.name); !bytes.Equal(before, after) {
			t.Errorf("%s: found a changed file", c.want)
		}
	}
	// What is only written differently is the same.
	same := define(t, "# a note\n"+strings.Replace(tiny, "boards = 3", "boards = 0x3", 1))
	if err := dataset.Compute(context.Background(), same, part(t, d, half), half); err != nil {
		t.Errorf("the same population written otherwise: found %v", err)
	}
}

// TestCancelled: what is done when the work is stopped is kept.
func TestCancelled(t *testing.T) {
	d := define(t, tiny)
	want := read(t, part(t, d, blocks))
	name := filepath.Join(t.TempDir(), "part")
	for stop := range uint64(3) {
		ctx, cancel := context.WithCancel(context.Background())
		kept := uint64(0)
		o := blocks
		o.Block = 1
		o.Report = func(done, _ uint64) {
			if kept = done; done >= stop {
				cancel()
			}
		}
		if err := dataset.Compute(ctx, d, name, o); !errors.Is(err, context.Canceled) {
			t.Fatalf("found %v, expected to be cancelled", err)
		}
		if kept < stop {
			t.Errorf("found %d boards kept, expected %d", kept, stop)
		}
		cancel()
	}
	if err := dataset.Compute(context.Background(), d, name, blocks); err != nil {
		t.Fatal(err)
	}
	a, _ := merged(t, dataset.Parquet, name)
	if err := os.WriteFile(name, want, 0o666); err != nil {
		t.Fatal(err)
	}
	if b, _ := merged(t, dataset.Parquet, name); !bytes.Equal(a, b) {
		t.Error("found other bytes after interruptions")
	}
}

// TestBusy: two processes do not write one part.
func TestBusy(t *testing.T) {
	d := define(t, tiny)
	name := filepath.Join(t.TempDir(), "part")
	o := blocks
	var err error
	o.Report = func(done, _ uint64) {
		if done == 0 {
			err = dataset.Compute(context.Background(), d, name, dataset.Options{})
		}
	}
	if got := dataset.Compute(context.Background(), d, name, o); got != nil {
		t.Fatal(got)
	}
	if err == nil {
		t.Skip("this system has no locks on files")
	}
	if !errors.Is(err, dataset.ErrBusy) {
		t.Errorf("found %v, expected %v", err, dataset.ErrBusy)
	}
}
