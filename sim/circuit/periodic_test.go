package circuit

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"
)

// phasors solves a network by complex nodal analysis at angular frequency w,
// straight from its branches. The source and whatever has little impedance
// keep their currents as unknowns: beside 50 S of wiring, a nanosiemens would
// drown in rounding. It returns the node voltages, node −1 first.
func phasors(n *netlist, ohms, siemens []float64, key key, w float64) []complex128 {
	impedance := func(i int) complex128 {
		b := &n.branches[i]
		switch b.kind {
		case resistor:
			return complex(ohms[i], 0)
		case inductor:
			return complex(0, w*b.store)
		case capacitor:
			return 1 / complex(0, w*b.store)
		case mainPath, optoPath:
			return complex(1/siemens[i], 0)
		case linkPath:
			if key.level(b.valve) != off {
				return 1 / complex(0, w*b.store)
			}
			return complex(b.ohms, 0)
		}
		return cmplx.Inf() // open junctions
	}
	nodes, size := len(n.nodes), len(n.nodes)
	extra := make([]int, len(n.branches))
	for i := range n.branches {
		extra[i] = -1
		if n.branches[i].kind == source || cmplx.Abs(impedance(i)) < 10 {
			extra[i] = size
			size++
		}
	}
	m, in := make([]complex128, size*size), make([]complex128, size)
	add := func(r, c int, v complex128) {
		if r >= 0 && c >= 0 {
			m[r*size+c] += v
		}
	}
	for i := range n.branches {
		b := &n.branches[i]
		z, x := impedance(i), extra[i]
		switch {
		case x >= 0:
			add(b.a, x, 1)
			add(b.b, x, -1)
			add(x, b.a, 1)
			add(x, b.b, -1)
			if b.kind == source {
				in[x] = 1
			} else {
				add(x, x, -z)
			}
		case !cmplx.IsInf(z):
			add(b.a, b.a, 1/z)
			add(b.b, b.b, 1/z)
			add(b.a, b.b, -1/z)
			add(b.b, b.a, -1/z)
		}
	}
	for k := range nodes { // what hangs in the air is tied to zero
		row := complex128(0)
		for c := range size {
			row += m[k*size+c] * cmplx.Conj(m[k*size+c])
		}
		if row == 0 {
			m[k*size+k] = 1
		}
	}
	for k := range size {
		p := k
		for i := k + 1; i < size; i++ {
			if cmplx.Abs(m[i*size+k]) > cmplx.Abs(m[p*size+k]) {
				p = i
			}
		}
		for j := range size {
			m[k*size+j], m[p*size+j] = m[p*size+j], m[k*size+j]
		}
		in[k], in[p] = in[p], in[k]
		for i := k + 1; i < size; i++ {
			f := m[i*size+k] / m[k*size+k]
			for j := k; j < size; j++ {
				m[i*size+j] -= f * m[k*size+j]
			}
			in[i] -= f * in[k]
		}
	}
	v := make([]complex128, size+1)
	for i := size - 1; i >= 0; i-- {
		x := in[i]
		for j := i + 1; j < size; j++ {
			x -= m[i*size+j] * v[j+1]
		}
		v[i+1] = x / m[i*size+i]
	}
	return v[:nodes+1]
}

// TestPeriodicStart: the state in which a run starts is the periodic one, by
// complex nodal analysis of the same parts.
func TestPeriodicStart(t *testing.T) {
	overall := 0.0
	rapid.Check(t, func(t *rapid.T) {
		d := newDraw(t)
		b := drawBoard(d, boardKind{plain: true})
		b.Supply.DC = 0
		s, err := New(b)
		if err != nil {
			t.Fatal(err)
		}
		want := make([]float64, len(s.net.states))
		w := 2 * math.Pi * float64(b.Supply.Frequency)
		add := func(order int, rms, phase float64) {
			v := phasors(s.net, s.par.ohms, s.par.siemens, s.key, float64(order)*w)
			for i, br := range s.net.states {
				p := &s.net.branches[br]
				if p.kind == linkPath && s.key.level(p.valve) == off {
					continue
				}
				x := v[p.a+1] - v[p.b+1]
				if p.kind == inductor {
					x /= complex(0, float64(order)*w*p.store)
				}
				// √2·V·sin(nωt + φ) at t = 0
				want[i] += imag(x * cmplx.Rect(math.Sqrt2*rms, phase))
			}
		}
		add(1, float64(b.Supply.Voltage), 0)
		for _, h := range b.Supply.Harmonics {
			add(h.Order, float64(h.Voltage), float64(h.Phase)*math.Pi/180)
		}
		for i, br := range s.net.states {
			scale := 360.0
			if s.net.branches[br].kind == inductor {
				scale = 1
			}
			dev := math.Abs(s.x[i]-want[i]) / scale
			overall = math.Max(overall, dev)
			// Beside the modes of 10 ps of an open link's stray capacitance a
			// mode of milliseconds has some digits less.
			if !(dev < 2e-8) {
				t.Fatalf("%s: found %.12g, expected %.12g", s.net.branches[br].name, s.x[i], want[i])
			}
		}
	})
	t.Logf("worst deviation %.2g", overall)
}
