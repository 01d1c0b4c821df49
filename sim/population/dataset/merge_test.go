package dataset_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"boilwright/sim/population/dataset"
)

// TestShards: however the work is divided, the bytes are those of one process
// that keeps nothing.
func TestShards(t *testing.T) {
	d := define(t, small)
	ctx := context.Background()
	rows := func(yield func(*dataset.Row) error) error { return d.Rows(ctx, 1, yield) }
	whole := part(t, d, dataset.Options{})
	var three []string
	for k := range uint64(3) {
		three = append(three, part(t, d, dataset.Options{Shard: dataset.Shard{K: 3 - k, N: 3}, Workers: 2, Block: int(1 + 3*k)}))
	}
	for _, f := range dataset.Formats() {
		var want, wantWaves bytes.Buffer
		if err := dataset.Write(&want, f, d.Description(), rows); err != nil {
			t.Fatal(err)
		}
		if err := dataset.WriteWaveforms(&wantWaves, f, d.Description(), rows); err != nil {
			t.Fatal(err)
		}
		for _, names := range [][]string{{whole}, three} {
			got, waves := merged(t, f, names...)
			if !bytes.Equal(got, want.Bytes()) || !bytes.Equal(waves, wantWaves.Bytes()) {
				t.Errorf("%s of %d parts: found other bytes than of one process", f, len(names))
			}
		}
	}
}

// TestRange: the shards of a whole have each board once and differ by at most
// one board.
func TestRange(t *testing.T) {
	d := define(t, "boards = 23")
	for n := uint64(1); n < 40; n++ {
		next := uint64(0)
		for k := uint64(1); k <= n; k++ {
			from, to := d.Range(dataset.Shard{K: k, N: n})
			if size := to - from; from != next || size < 23/n || size > 23/n+1 {
				t.Fatalf("shard %d of %d: found %d to %d after %d", k, n, from, to, next)
			}
			next = to
		}
		if next != 23 {
			t.Fatalf("%d shards: found an end at %d, expected 23", n, next)
		}
	}
}

func TestParseShard(t *testing.T) {
	if s, err := dataset.ParseShard("3/16"); err != nil || s != (dataset.Shard{K: 3, N: 16}) {
		t.Errorf("found %v, %v", s, err)
	}
	for _, bad := range []string{"", "3", "0/4", "5/4", "3/16x", "+3/16", "03/16", "3 / 16", "-1/2", "1/100001", "1/99999999999999999999"} {
		if s, err := dataset.ParseShard(bad); err == nil {
			t.Errorf("%q: found %v, expected an error", bad, s)
		}
	}
}

// TestOpenBad: what does not make a whole is refused, with names.
func TestOpenBad(t *testing.T) {
	d := define(t, small)
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	compute := func(name string, d *dataset.Definition, s dataset.Shard) string {
		if err := dataset.Compute(context.Background(), d, at(name), dataset.Options{Shard: s, Block: 2}); err != nil {
			t.Fatal(err)
		}
		return at(name)
	}
	first, second := compute("first", d, dataset.Shard{K: 1, N: 2}), compute("second", d, dataset.Shard{K: 2, N: 2})
	third := compute("third", d, dataset.Shard{K: 2, N: 3})
	foreign := compute("foreign", define(t, strings.Replace(small, "seed = 5", "seed = 6", 1)), dataset.Shard{K: 2, N: 2})
	other, err := dataset.Parse("small.toml", []byte(small), "8.8.8")
	if err != nil {
		t.Fatal(err)
	}
	older := compute("older", other, dataset.Shard{K: 2, N: 2})
	whole := read(t, second)
	damaged := bytes.Clone(whole)
	damaged[len(damaged)/2] ^= 4
	for name, data := range map[string][]byte{"damaged": damaged, "short": whole[:len(whole)-3], "text": []byte("boards = 3, and more of it\n"), "empty": {}, "longer": append(bytes.Clone(whole), 0)} {
		if err := os.WriteFile(at(name), data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		names []string
		want  []string
	}{
		{nil, []string{"found no parts"}},
		{[]string{first}, []string{"found no part with boards 11 to 22, expected all of 0 to 22"}},
		{[]string{second}, []string{"found no part with boards 0 to 10"}},
		{[]string{first, first, second}, []string{first + ": found boards 0 to 10, which " + first + " has too"}},
		{[]string{first, third, second}, []string{third + ": found boards 7 to 10, which " + first + " has too", second + ": found boards 11 to 14, which " + third + " has too"}},
		{[]string{first, foreign}, []string{foreign + ": found a part of another population"}},
		{[]string{first, older}, []string{older + ": found a part that version 8.8.8 of the program computed, expected version 9.9.9"}},
		{[]string{first, at("damaged")}, []string{at("damaged") + ": byte "}},
		{[]string{first, at("short")}, []string{at("short") + ": found a part that is not finished, with 10 of 12 boards"}},
		{[]string{first, at("longer")}, []string{at("longer") + ": byte ", "found something after the last block"}},
		{[]string{at("text"), at("empty"), first, second}, []string{at("text") + ": found no part of a data set", at("empty") + ": found no part of a data set"}},
		{[]string{first, at("nowhere")}, []string{at("nowhere") + ": no such file"}},
		{[]string{first, dir}, []string{dir + ": found no part"}},
	} {
		_, err := dataset.Open(context.Background(), c.names...)
		for _, want := range c.want {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%v: found error %v, expected %q", c.names, err, want)
			}
		}
	}
	if _, err := dataset.Open(context.Background(), second, first); err != nil {
		t.Errorf("both halves: found %v", err)
	}
}

// TestChanged: a part that changes after it was checked is told with its name,
// an error of who takes the rows without one.
func TestChanged(t *testing.T) {
	name := part(t, define(t, small), dataset.Options{Block: 4})
	whole := read(t, name)
	p, err := dataset.Open(context.Background(), name)
	if err != nil {
		t.Fatal(err)
	}
	own := errors.New("own")
	if err := p.Rows(context.Background(), func(*dataset.Row) error { return own }); err != own {
		t.Errorf("found %v, expected %v alone", err, own)
	}
	if err := os.WriteFile(name, whole[:len(whole)-1], 0o666); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		err := p.Rows(context.Background(), func(*dataset.Row) error { return nil })
		if err == nil || !strings.HasPrefix(err.Error(), name+": ") {
			t.Errorf("found %v, expected an error with the name", err)
		}
		if err := os.RemoveAll(name); err != nil { // then it is gone
			t.Fatal(err)
		}
	}
}
