package circuit

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// calm is run for boards in which nothing is fired again and again: rounding
// would decide how often.
func calm(t *rapid.T, b *models.Board, n int, in func(int64) Input) (*Solver, *Recording, []Record) {
	s, r, recs := run(t, b, n, in)
	for i := range recs {
		if recs[i].Switchings > 300 {
			t.Skip("a load too light to latch")
		}
	}
	return s, r, recs
}

// pair runs two boards side by side.
func pair(t *rapid.T, a, b *models.Board, n int, inA, inB func(int64) Input) (ra, rb []Record) {
	_, _, ra = calm(t, a, n, inA)
	_, _, rb = calm(t, b, n, inB)
	return ra, rb
}

// same compares the energies and angles of record a with those of b, channel
// k of a being channel of[k] of b; halves counts how many half-cycles later b
// runs. tol is relative to the energy of a 100 Ω load.
func same(t *rapid.T, a, b *Record, of []int, shift int64, tol float64) {
	scale := 260 * 260 / 100 * a.Duration
	check := func(what string, x, y float64) {
		if !(math.Abs(x-y) <= tol*scale) {
			t.Fatalf("half-cycle %d: %s %.15g and %.15g J", a.Half, what, x, y)
		}
	}
	check("source", a.Source, b.Source)
	check("wiring", a.Wiring, b.Wiring)
	check("outside", a.Outside, b.Outside)
	for k := range a.Element {
		check("triac", a.Triac[k], b.Triac[of[k]])
		check("gate", a.Gate[k], b.Gate[of[k]])
		check("snubber", a.Snubber[k], b.Snubber[of[k]])
		check("element", a.Element[k], b.Element[of[k]])
		check("wire", a.Wire[k], b.Wire[of[k]])
		x, y := Conduction(a.Events, k), Conduction(b.Events, of[k])
		if len(x) != len(y) {
			t.Fatalf("half-cycle %d: channel %d conducts %v and %v", a.Half, k+1, x, y)
		}
		for i := range x {
			d := math.Abs(x[i].Firing - y[i].Firing)
			e := math.Abs(x[i].Extinction - y[i].Extinction)
			if x[i].Half+shift != y[i].Half || x[i].Firings != y[i].Firings || d > 1e-6 || e > 1e-6 {
				t.Fatalf("half-cycle %d: channel %d conducts %+v and %+v", a.Half, k+1, x[i], y[i])
			}
		}
	}
}

func identity(n int) []int {
	of := make([]int, n)
	for k := range of {
		of[k] = k
	}
	return of
}

// mirror turns all parts that know a polarity round.
func mirror(b *models.Board) *models.Board {
	m := b.Clone()
	m.Supply.DC = -m.Supply.DC
	for k := range m.Channels {
		c := &m.Channels[k]
		t := c.Triac.Trigger
		c.Triac.Trigger = [4]q.Ampere{t[models.QuadrantIII], t[models.QuadrantIV], t[models.QuadrantI], t[models.QuadrantII]}
		c.Opto.Fires = -c.Opto.Fires
	}
	for i := range m.Bridges {
		if br := &m.Bridges[i]; br.OneWay {
			br.From, br.To = br.To, br.From
		}
	}
	return m
}

// TestPolaritySymmetry: a board started one half-cycle later sees the supply
// upside down; with its parts turned round too, all waveforms are mirrored and
// energies and angles stay. The supply has odd harmonics only.
func TestPolaritySymmetry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDraw(t)
		b := drawBoard(d, boardKind{})
		for i := range b.Supply.Harmonics {
			b.Supply.Harmonics[i].Order |= 1
		}
		in := drawDrive(d, b, 3)
		later := func(half int64) Input {
			if half == 0 {
				return Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
			}
			return in(half - 1)
		}
		// The idle half-cycle must leave the board in its periodic state:
		// nothing conducts that needs no drive.
		b.Supply.DC = 0
		quiet := b.Bridges[:0]
		for _, br := range b.Bridges {
			if br.Threshold == 0 && !br.OneWay {
				quiet = append(quiet, br)
			}
		}
		b.Bridges = quiet
		for k := range b.Channels {
			b.Channels[k].Triac.Breakover = q.Volt(inf)
		}
		m := mirror(b)
		sa, x, ra := calm(t, b, 3, in)
		sb, y, rb := calm(t, m, 4, later)
		if idle := &rb[0]; len(idle.Events) > 0 || idle.Switchings > 1 {
			t.Skip("conducts without drive")
		}
		for i := range ra {
			same(t, &ra[i], &rb[i+1], identity(len(b.Channels)), 1, 1e-9)
		}
		for k := range b.Channels {
			u, v := x.midpoints(sa, k, 0), y.midpoints(sb, k, 1)
			for i := range u {
				if !(math.Abs(u[i]+v[i]) < 1e-6*260) {
					t.Fatalf("channel %d: %g V and %g V, expected opposite values", k+1, u[i], v[i])
				}
			}
		}
	})
}

// midpoints samples OUT of channel k against the board's neutral at fixed
// instants from half-cycle first on.
func (r *Recording) midpoints(s *Solver, k int, first int) []float64 {
	sig, err := s.Voltage(models.At(models.Output, k), models.At(models.Neutral, 0))
	if err != nil {
		panic(err)
	}
	var times []float64
	for i := range 60 {
		times = append(times, (float64(first)+(float64(i)+0.5)/20)*r.half)
	}
	return r.At(sig, times)
}

// TestMT1Symmetry: turning a triac with its gate parts end for end, and their
// polarity with it, changes nothing outside it.
func TestMT1Symmetry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDraw(t)
		b := drawBoard(d, boardKind{plain: true})
		b.Supply.DC = q.Volt(d.in(-2, 2, "DC"))
		in := drawDrive(d, b, 3)
		m := mirror(b)
		m.Supply.DC = b.Supply.DC
		for k := range m.Channels {
			m.Channels[k].MT1 = 1 - m.Channels[k].MT1
		}
		ra, rb := pair(t, b, m, 3, in, in)
		for i := range ra {
			same(t, &ra[i], &rb[i], identity(len(b.Channels)), 0, 1e-9)
		}
	})
}

// TestSideSymmetry: without a path to earth it makes no difference in which
// conductor of its own loop a triac lies, but for the polarity that follows
// its orientation.
func TestSideSymmetry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDraw(t)
		b := drawBoard(d, boardKind{plain: true, symmetric: true})
		for k := range b.Channels {
			b.Channels[k].Element.Insulation = q.Ohm(inf)
		}
		b.Upstream = nil
		in := drawDrive(d, b, 3)
		m := b.Clone()
		for k := range m.Channels {
			m.Channels[k].Side = 1 - m.Channels[k].Side
		}
		ra, rb := pair(t, b, m, 3, in, in)
		for i := range ra {
			same(t, &ra[i], &rb[i], identity(len(b.Channels)), 0, 1e-9)
		}
	})
}

// tied reports whether two channels switch at the same instant.
func tied(r *Record) bool {
	for i, x := range r.Events {
		for _, y := range r.Events[:i] {
			if x.Channel != y.Channel && math.Abs(x.Degrees-y.Degrees) < 1e-7 {
				return true
			}
		}
	}
	return false
}

// TestPermutation: the order of the channels does not matter, except where
// several switch at one instant: the lowest goes first.
func TestPermutation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDraw(t)
		b := drawBoard(d, boardKind{channels: 3})
		in := drawStaggered(d, b, 3)
		of := [][]int{{1, 2, 0}, {2, 1, 0}, {0, 2, 1}}[d.int(0, 2, "permutation")]
		m := b.Clone()
		for k, p := range of {
			m.Channels[p] = b.Channels[k]
		}
		for i := range m.Bridges {
			br := &m.Bridges[i]
			for _, n := range []*models.Node{&br.From, &br.To} {
				if n.Place.PerChannel() {
					n.Channel = of[n.Channel]
				}
			}
			br.Channel = of[br.Channel]
		}
		permuted := func(half int64) Input {
			x := in(half)
			y := Input{Factor: x.Factor, Drive: make([]float64, 3)}
			for k, p := range of {
				y.Drive[p] = x.Drive[k]
			}
			for _, c := range x.Changes {
				c.Channel = of[c.Channel]
				y.Changes = append(y.Changes, c)
			}
			return y
		}
		ra, rb := pair(t, b, m, 3, in, permuted)
		for i := range ra {
			if tied(&ra[i]) || tied(&rb[i]) {
				t.Skip("two channels switch at one instant")
			}
			same(t, &ra[i], &rb[i], of, 0, 1e-9)
		}
	})
}

// TestDeterminism: the same input gives the same bits, by a new solver and by
// one that has run before and is put back.
func TestDeterminism(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDraw(t)
		b := drawBoard(d, boardKind{})
		in := drawDrive(d, b, 2)
		_, x, ra := run(t, b, 4, in)
		_, y, rb := run(t, b, 4, in)
		for i := range ra {
			u, v := ra[i], rb[i]
			same(t, &u, &v, identity(len(b.Channels)), 0, 0)
			if math.Float64bits(u.Stored) != math.Float64bits(v.Stored) || len(u.Events) != len(v.Events) || u.Switchings != v.Switchings {
				t.Fatalf("half-cycle %d: %+v and %+v", u.Half, u, v)
			}
			for j := range u.Events {
				if u.Events[j] != v.Events[j] {
					t.Fatalf("half-cycle %d: %v and %v", u.Half, u.Events[j], v.Events[j])
				}
			}
		}
		if len(x.segments) != len(y.segments) {
			t.Fatalf("found %d and %d segments", len(x.segments), len(y.segments))
		}
		for i := range x.segments {
			u, v := &x.segments[i], &y.segments[i]
			if u.T0 != v.T0 || u.T1 != v.T1 || len(u.xi) != len(v.xi) {
				t.Fatalf("segment %d: %g to %g and %g to %g", i, u.T0, u.T1, v.T0, v.T1)
			}
			for j := range u.xi {
				if math.Float64bits(u.xi[j]) != math.Float64bits(v.xi[j]) {
					t.Fatalf("segment %d: amplitude %g and %g", i, u.xi[j], v.xi[j])
				}
			}
		}
	})
}
