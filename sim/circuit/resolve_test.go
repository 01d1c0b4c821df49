package circuit

import (
	"math/rand/v2"
	"slices"
	"testing"

	"boilwright/sim/boardfile"
)

// TestResolvedWhereverItBegins: in the middle of every segment the junctions come
// to the levels that they have there, whatever levels they are tried at first.
func TestResolvedWhereverItBegins(t *testing.T) {
	b := boardfile.Default()
	s := mustNew(t, b)
	tried := 0
	s.OnSegment(func(g *Segment) {
		if g.T1-g.T0 < 1e-9 {
			return
		}
		at := g.T0 + (g.T1-g.T0)/2
		x, turn := slices.Clone(s.x), slices.Clone(s.turn)
		g.state(at, s.x)
		g.src.turn(at, s.turn)
		s.zOK = false
		for start := range 27 {
			k, digits := g.c.key, start
			for i := range s.gears {
				k = k.with(s.gears[i].junctionValve, level(digits%3))
				digits /= 3
			}
			got, _, err := s.resolveFrom(k, at, everyValve)
			if err != nil {
				t.Fatal(err)
			}
			if got != g.c.key {
				t.Errorf("found %q from %q, expected %q", s.par.describe(got), s.par.describe(k), s.par.describe(g.c.key))
			}
			tried++
		}
		copy(s.x, x)
		copy(s.turn, turn)
		s.zOK = false
	})
	mustSkip(t, s, 4, drives(12, 12, 0))
	if tried < 500 {
		t.Errorf("tried %d starts, expected more", tried)
	}
}

// TestMirrorKey compares the mirror image of random keys with that of each valve.
func TestMirrorKey(t *testing.T) {
	net := mustNew(t, boardfile.Default()).net
	r := rand.New(rand.NewPCG(3, 5))
	for range 1000 {
		var k, want key
		for v, i := range net.valves {
			l := level(r.IntN(3))
			k = k.with(v, l)
			if l != off && net.branches[i].kind != linkPath {
				l = positive + negative - l
			}
			want = want.with(v, l)
		}
		if got := net.mirror(k); got != want {
			t.Fatalf("mirror image of %x: got %x, want %x", k, got, want)
		}
	}
}

// TestMirroredViews: the views of mirror images, which are copied from those of
// their originals, are what they are from the rows.
func TestMirroredViews(t *testing.T) {
	s := mustNew(t, boardfile.Default())
	mustSkip(t, s, 4, drives(12, 12, 12))
	seen := 0
	for _, c := range s.par.combos {
		if c.image == nil {
			continue
		}
		for v := c.memo.views; v != nil; v = v.next {
			if v.of.image == nil {
				continue
			}
			seen++
			g := Segment{c: c, net: s.net, src: s.src}
			want := &view{of: v.of, rows: make([]float64, len(v.rows)), size: make([]float64, len(v.size))}
			g.look(want, v.done)
			if !slices.Equal(v.rows, want.rows) || !slices.Equal(v.size, want.size) {
				t.Fatalf("%s in %s: rows %v, expected %v", s.par.describe(v.of.key), s.par.describe(c.key), v.rows, want.rows)
			}
		}
	}
	if seen < 5 {
		t.Errorf("found %d views of mirror images, expected more", seen)
	}
}
