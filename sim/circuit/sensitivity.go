package circuit

import (
	"math"
	"math/cmplx"
	"slices"
)

// Sensitivity is how currents and voltages follow the element resistances in
// one combination, as d ln|y|/d ln R by the channel of R.
type Sensitivity struct {
	Element [][]float64 // of each channel's element current, by that channel
	Source  []float64   // of the real part of the supply current
	Supply  []float64   // of the magnitude of the supply current
	Voltage []float64   // of the voltage from L to N
}

// Dominant returns the part of the last half-cycle that its longest segment
// took.
func (s *Solver) Dominant() float64 { return s.longest / s.board.Supply.HalfCycle() }

// Strain returns the largest rate of rise across a blocking triac at a switching
// of the last half-cycle, as a part of what it withstands.
func (s *Solver) Strain() float64 { return s.strain }

// step of ln R by which sensitivities are taken.
const sensitivityStep = 1e-4

// Sensitivity returns how the solution follows the element resistances, as the
// response to the supply's fundamental of the combination in which the last
// half-cycle spent most of its time. It holds where that is nearly all of the
// time: the little that switching instants contribute is left out. Channels
// that are not in carrying are left zero.
func (s *Solver) Sensitivity(carrying uint32) (*Sensitivity, error) {
	n := len(s.ch)
	out := &Sensitivity{Element: make([][]float64, n), Source: make([]float64, n), Supply: make([]float64, n), Voltage: make([]float64, n)}
	for k := range out.Element {
		out.Element[k] = make([]float64, n)
	}
	base, err := s.par.combination(s.longestKey)
	if err != nil {
		return nil, err
	}
	was, err := s.response(base)
	if err != nil {
		return nil, err
	}
	p := *s.par
	p.ohms = append([]float64(nil), s.par.ohms...)
	p.work = workspace{}
	for j := range n {
		if carrying>>j&1 == 0 {
			continue
		}
		parts := &s.net.channels[j]
		p.blocks = slices.Clone(s.par.blocks)
		for _, e := range []int{parts.elemA, parts.elemB} {
			if e >= 0 {
				p.ohms[e] = s.par.ohms[e] * math.Exp(sensitivityStep)
				for _, end := range [2]int{s.net.branches[e].a, s.net.branches[e].b} {
					if end >= 0 && s.net.owner[end] >= 0 {
						p.blocks[s.net.owner[end]] = nil
					}
				}
			}
		}
		c, err := p.assemble(s.longestKey)
		if err != nil {
			return nil, err
		}
		now, err := s.response(c)
		if err != nil {
			return nil, err
		}
		slope := func(a, b float64) float64 {
			if a == 0 || b == 0 {
				return 0
			}
			return math.Log(math.Abs(b/a)) / sensitivityStep
		}
		for k := range n {
			if carrying>>k&1 == 1 {
				out.Element[k][j] = slope(cmplx.Abs(was[k]), cmplx.Abs(now[k]))
			}
		}
		out.Source[j] = slope(real(was[n]), real(now[n]))
		out.Supply[j] = slope(cmplx.Abs(was[n]), cmplx.Abs(now[n]))
		out.Voltage[j] = slope(cmplx.Abs(was[n+1]), cmplx.Abs(now[n+1]))
		for _, e := range []int{parts.elemA, parts.elemB} {
			if e >= 0 {
				p.ohms[e] = s.par.ohms[e]
			}
		}
	}
	return out, nil
}

// response returns the phasors of the element currents, the source current and
// the voltage from L to N for a source of 1 V at the supply's frequency.
func (s *Solver) response(c *combination) ([]complex128, error) {
	x, err := c.phasor(s.waves[0].omega)
	if err != nil {
		return nil, err
	}
	of := func(row []float64) complex128 {
		y := complex(row[c.n], 0)
		for i, v := range x {
			y += complex(row[i], 0) * v
		}
		return y
	}
	var out []complex128
	for k := range s.ch {
		e := s.net.channels[k].elemA
		if e < 0 {
			e = s.net.channels[k].elemB
		}
		if e < 0 {
			out = append(out, 0)
			continue
		}
		out = append(out, of(c.row(s.net.sigCurrent(e))))
	}
	out = append(out, of(c.row(s.net.sigCurrent(sourceBranch))))
	line, neutral := of(c.row(s.net.sigNode(s.net.line))), complex128(0)
	if s.net.neutral >= 0 {
		neutral = of(c.row(s.net.sigNode(s.net.neutral)))
	}
	return append(out, line-neutral), nil
}

// phasor solves (jω − A) X = b, the response of the states to a source phasor
// of 1, by elimination with partial pivoting.
func (c *combination) phasor(w float64) ([]complex128, error) {
	n := c.n
	m := make([]complex128, n*(n+1))
	at := func(i, j int) *complex128 { return &m[i*(n+1)+j] }
	for i := range n {
		for j := range n {
			*at(i, j) = complex(-c.a[i*n+j], 0)
		}
		*at(i, i) += complex(0, w)
		*at(i, n) = complex(c.be[i], 0)
	}
	for k := range n {
		best := k
		for i := k + 1; i < n; i++ {
			if cmplx.Abs(*at(i, k)) > cmplx.Abs(*at(best, k)) {
				best = i
			}
		}
		if *at(best, k) == 0 {
			return nil, errDegenerate
		}
		for j := range n + 1 {
			*at(k, j), *at(best, j) = *at(best, j), *at(k, j)
		}
		for i := range n {
			if i == k {
				continue
			}
			f := *at(i, k) / *at(k, k)
			for j := k; j <= n; j++ {
				*at(i, j) -= f * *at(k, j)
			}
		}
	}
	x := make([]complex128, n)
	for i := range x {
		x[i] = *at(i, n) / *at(i, i)
	}
	return x, nil
}
