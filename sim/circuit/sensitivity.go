package circuit

import (
	"math"
	"math/cmplx"
	"slices"

	"boilwright/models"
)

// Sensitivity is how currents and voltages follow the element resistances in
// one combination, as d ln|y|/d ln R by the channel of R.
type Sensitivity struct {
	Element [][]float64 // of each channel's element current, by that channel
	Supply  []float64   // of the magnitude of the supply current
	Voltage []float64   // of the voltage from L to N
}

// spell is the time of a half-cycle in which the same triacs conduct, whatever
// their gates do.
type spell struct {
	mains   key     // levels of the main paths
	time    float64 // s
	longest float64 // the longest segment of it, s
	key     key     // and its combination
}

// spent books d seconds in the present combination.
func (s *Solver) spent(d float64) {
	mains := s.key & s.net.mains
	i := slices.IndexFunc(s.spells, func(x spell) bool { return x.mains == mains })
	if i < 0 {
		i = len(s.spells)
		s.spells = append(s.spells, spell{mains: mains, longest: -1})
	}
	x := &s.spells[i]
	x.time += d
	if d > x.longest {
		x.longest, x.key = d, s.key
	}
}

// dominant returns the longest spell of the last half-cycle.
func (s *Solver) dominant() spell {
	var most spell
	for _, x := range s.spells {
		if x.time > most.time {
			most = x
		}
	}
	return most
}

// Dominant returns the part of the last half-cycle in which the same triacs
// conducted: the largest such part.
func (s *Solver) Dominant() float64 { return s.dominant().time / s.board.Supply.HalfCycle() }

// Conducted reports whether the triac of a channel conducted at any time in the
// last half-cycle.
func (s *Solver) Conducted(channel int) bool {
	v := s.net.branches[s.net.channels[channel].main].valve
	return slices.ContainsFunc(s.spells, func(x spell) bool { return x.mains.level(v) != off })
}

// Strain returns the largest rate of rise across the blocking triac of a
// channel at a switching of the last half-cycle, as a part of what it
// withstands.
func (s *Solver) Strain(channel int) float64 { return s.strain[channel] }

// briefly is the time in s for which a gate current on its way to firing a triac
// flows at most; what flows for longer may be one that does not.
const briefly = 2e-4

// urged notes how near the gate currents of blocking triacs came to firing them
// in a segment: at its ends, or where the supply peaks in between.
func (s *Solver) urged() {
	seg := &s.seg
	if seg.T1-seg.T0 < briefly {
		return
	}
	for k := range s.chans {
		j := s.net.channels[k].junction
		if j < 0 || s.chans[k].triac != blocking || s.lim[k].open || s.key.level(s.net.branches[j].valve) == off {
			continue
		}
		var buf [48]float64
		nb := seg.size()
		work := room(buf[:], 3*nb)
		gate, main, phi := work[:nb], work[nb:2*nb], work[2*nb:]
		seg.weights(seg.c.row(s.net.sigCurrent(j)), gate)
		seg.weights(seg.c.row(s.net.sigVolt(s.net.channels[k].main)), main)
		for _, t := range [3]float64{seg.T0, seg.T1, max(seg.T0, min(s.period/2, seg.T1))} {
			seg.basis(t, phi)
			g, v := dot(gate, phi), dot(main, phi)
			s.urge[k] = max(s.urge[k], math.Abs(g)/s.lim[k].trigger[models.QuadrantOf(levelOf(v).sign(), g)])
		}
	}
}

// Urge returns the largest gate current of a channel, as a multiple of what
// triggers, that flowed for some time in the last half-cycle without firing the
// triac.
func (s *Solver) Urge(channel int) float64 { return s.urge[channel] }

// step of ln R by which sensitivities are taken.
const sensitivityStep = 1e-4

// Sensitivity returns how the solution follows the element resistances, as the
// response to the supply's fundamental of the longest combination in which the
// triacs conducted that did so for most of the last half-cycle. It holds where
// that is nearly all of the time: the little that switching instants contribute
// is left out. Channels that are not in carrying are left zero.
func (s *Solver) Sensitivity(carrying uint32) (*Sensitivity, error) {
	out := newSensitivity(len(s.ch))
	most := s.dominant().key
	base, err := s.par.combination(most)
	if err != nil {
		return nil, err
	}
	if loadsAlone(s.board) && s.divider(base, carrying, out) {
		return out, nil
	}
	return out, s.differences(base, carrying, out)
}

// newSensitivity returns one of n channels that follow nothing.
func newSensitivity(n int) *Sensitivity {
	all := make([]float64, n*(n+2))
	out := &Sensitivity{Element: make([][]float64, n), Supply: all[n*n:][:n], Voltage: all[n*(n+1):]}
	for k := range out.Element {
		out.Element[k] = all[k*n:][:n]
	}
	return out
}

// loadsAlone reports whether nothing but loads and their triacs lie behind the supply's
// impedance.
func loadsAlone(b *models.Board) bool {
	return b.Supply.AcrossCapacitance == 0 && len(b.Bridges) == 0
}

// sameCurrent is the part of its current by which the halves of an element may differ
// and count as one.
const sameCurrent = 1e-7

// divider sets out where loads are all that lies behind the supply's impedance Z, and
// reports whether that is so. With y of the loads, each of an element in series with
// what else its loop has, and Y of all, the supply's voltage E leaves
//
//	V = E/(1 + Z·Y),  dV = −V²·Z/E·dy,  dy = −y²·dR
func (s *Solver) divider(c *combination, carrying uint32, out *Sensitivity) bool {
	var states [12]complex128
	var coefficients [16]float64
	var room [32]complex128
	x, err := c.phasor(s.waves[0].omega, states[:0])
	if err != nil {
		return false
	}
	loads := resize(room[:0], len(s.ch))
	row := resize(coefficients[:0], c.width)
	of := func(sig int) complex128 {
		c.write(sig, row)
		return c.respond(row, x)
	}
	ofNode := func(i int) complex128 {
		if i < 0 {
			return 0
		}
		return of(s.net.sigNode(i))
	}
	rail, _ := s.net.index.find(models.At(models.Rail, 0))
	line, v := ofNode(s.net.line)-ofNode(s.net.neutral), ofNode(rail)-ofNode(s.net.neutral)
	e := complex(1, 0)
	if real(v) < 0 { // exchanged
		e = -e
	}
	// along turns a current to flow with a voltage.
	along := func(i, v complex128) complex128 {
		if real(i)*real(v)+imag(i)*imag(v) < 0 {
			return -i
		}
		return i
	}
	supply := along(of(s.net.sigCurrent(sourceBranch)), e)
	z, all := (e-v)/supply, supply/v
	for k := range s.ch {
		parts := &s.net.channels[k]
		if carrying>>k&1 == 0 {
			continue
		}
		if parts.elemA < 0 || parts.elemB < 0 {
			return false
		}
		i, j := of(s.net.sigCurrent(parts.elemA)), of(s.net.sigCurrent(parts.elemB))
		if !(magnitude(i-j) <= sameCurrent*magnitude(i)) {
			return false
		}
		loads[k] = along(i, v) / v
	}
	for j := range s.ch {
		if carrying>>j&1 == 0 {
			continue
		}
		parts := &s.net.channels[j]
		ohms := s.par.ohms[parts.elemA] + s.par.ohms[parts.elemB]
		dy := -loads[j] * loads[j] * complex(ohms, 0)
		dv := -v * v * z / e * dy
		for k, y := range loads {
			if carrying>>k&1 == 1 {
				out.Element[k][j] = real(dv / v)
				if k == j {
					out.Element[k][j] += real(dy / y)
				}
			}
		}
		more := dy*v + all*dv
		out.Supply[j] = real(more / supply)
		out.Voltage[j] = real(-(e - line) / supply * more / line)
	}
	return true
}

// respond returns what a signal of the given coefficients is where the states are x and
// the source is 1.
func (c *combination) respond(row []float64, x []complex128) complex128 {
	re, im := row[c.n], 0.0
	for i, v := range x {
		re += row[i] * real(v)
		im += row[i] * imag(v)
	}
	return complex(re, im)
}

// differences sets out from solutions with resistances that differ a little.
func (s *Solver) differences(base *combination, carrying uint32, out *Sensitivity) error {
	n, most := len(s.ch), base.key
	was, now := make([]float64, n+2), make([]float64, n+2)
	if err := s.response(base, carrying, was); err != nil {
		return err
	}
	p := *s.par
	p.ohms = append([]float64(nil), s.par.ohms...)
	for j := range n {
		if carrying>>j&1 == 0 {
			continue
		}
		parts := &s.net.channels[j]
		p.blocks, p.bases = slices.Clone(s.par.blocks), s.par.bases
		for _, e := range []int{parts.elemA, parts.elemB} {
			if e >= 0 {
				p.ohms[e] = s.par.ohms[e] * math.Exp(sensitivityStep)
				for _, end := range [2]int{s.net.branches[e].a, s.net.branches[e].b} {
					if end >= 0 && s.net.owner[end] >= 0 {
						p.blocks[s.net.owner[end]] = nil
					}
				}
				if s.net.home[e] < 0 {
					p.bases = nil
				}
			}
		}
		c, err := p.assemble(most)
		if err != nil {
			return err
		}
		if err := s.response(c, carrying, now); err != nil {
			return err
		}
		slope := func(a, b float64) float64 {
			if a == 0 || b == 0 {
				return 0
			}
			return math.Log(b/a) / sensitivityStep
		}
		for k := range n {
			if carrying>>k&1 == 1 {
				out.Element[k][j] = slope(was[k], now[k])
			}
		}
		out.Supply[j] = slope(was[n], now[n])
		out.Voltage[j] = slope(was[n+1], now[n+1])
		for _, e := range []int{parts.elemA, parts.elemB} {
			if e >= 0 {
				p.ohms[e] = s.par.ohms[e]
			}
		}
	}
	return nil
}

// response writes the magnitudes of the currents in the elements of the channels
// in carrying, then those of the source current and of the voltage from L to N,
// for a source of 1 V at the supply's frequency.
func (s *Solver) response(c *combination, carrying uint32, to []float64) error {
	var states [12]complex128
	var coefficients [16]float64
	x, err := c.phasor(s.waves[0].omega, states[:0])
	if err != nil {
		return err
	}
	n := len(s.ch)
	row := resize(coefficients[:0], c.width)
	of := func(sig int) complex128 {
		if sig < 0 {
			return 0
		}
		c.write(sig, row)
		return c.respond(row, x)
	}
	for k := range s.ch {
		if carrying>>k&1 == 0 {
			continue
		}
		// Where insulation leaks, the halves of an element differ.
		parts, square, ohms := &s.net.channels[k], 0.0, 0.0
		for _, e := range [2]int{parts.elemA, parts.elemB} {
			if e >= 0 {
				i := of(s.net.sigCurrent(e))
				square += s.par.ohms[e] * (real(i)*real(i) + imag(i)*imag(i))
				ohms += s.par.ohms[e]
			}
		}
		to[k] = 0
		if ohms > 0 {
			to[k] = math.Sqrt(square / ohms)
		}
	}
	to[n] = cmplx.Abs(of(s.net.sigCurrent(sourceBranch)))
	to[n+1] = cmplx.Abs(of(s.net.line) - of(s.net.neutral)) // nodes are signals
	return nil
}

// phasor solves (jω − A) X = b, the response of the states to a source phasor
// of 1, by elimination with partial pivoting. It writes to x if that has room.
func (c *combination) phasor(w float64, x []complex128) ([]complex128, error) {
	n := c.n
	var room [64]complex128
	m := resize(room[:0], n*(n+1))
	for i := range n {
		row := m[i*(n+1) : (i+1)*(n+1)]
		for j, a := range c.a[i*n : (i+1)*n] {
			row[j] = complex(-a, 0)
		}
		row[i] += complex(0, w)
		row[n] = complex(c.be[i], 0)
	}
	for k := range n {
		best, most := k, magnitude(m[k*(n+1)+k])
		for i := k + 1; i < n; i++ {
			if v := magnitude(m[i*(n+1)+k]); v > most {
				best, most = i, v
			}
		}
		if !(most > 0) {
			return nil, errDegenerate
		}
		own, other := m[k*(n+1):(k+1)*(n+1)], m[best*(n+1):(best+1)*(n+1)]
		if best != k {
			for j := k; j <= n; j++ {
				own[j], other[j] = other[j], own[j]
			}
		}
		inverse := reciprocal(own[k])
		for j := k + 1; j <= n; j++ {
			own[j] *= inverse
		}
		for i := k + 1; i < n; i++ {
			row := m[i*(n+1) : (i+1)*(n+1)]
			if f := row[k]; f != 0 {
				for j := k + 1; j <= n; j++ {
					row[j] -= f * own[j]
				}
			}
		}
	}
	x = resize(x, n)
	for i := n - 1; i >= 0; i-- {
		row := m[i*(n+1) : (i+1)*(n+1)]
		sum := row[n]
		for j := i + 1; j < n; j++ {
			sum -= row[j] * x[j]
		}
		x[i] = sum
	}
	return x, nil
}
