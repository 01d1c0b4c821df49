package circuit

import "slices"

// product is one of two parts whose rates cancel, which therefore grows with
// time instead of changing: where it counts among the changes.
type product struct {
	at, i, j int
	sign     float64
}

// root is a real part, or the first of two that turn, with its rate.
type root struct {
	at    int
	rate  complex128
	turns bool
}

// roots returns those of a combination's parts.
func (c *combination) roots(src *waveform, to []root) []root {
	for k := 0; k < c.n; k++ {
		to = append(to, root{k, c.lambda[k], c.pair[k]})
		if c.pair[k] {
			k++
		} else {
			to[len(to)-1].rate = complex(real(c.lambda[k]), 0)
		}
	}
	at := c.n
	for _, order := range src.order {
		to = append(to, root{at, complex(0, float64(order)*src.omega), true})
		at += 2
	}
	return append(to, root{at: at})
}

// integrate turns the forms from those of power into those of energy, which
// apply to what gram takes of a segment: the changes of products divided by the
// sums of their rates. Of two parts that turn, z and w, the products z·w and
// z·w* are divided. The second diagonal term of one is not a change but
// ∫|z|² dt, which may well have no rate at all.
func (c *combination) integrate(p *params, src *waveform) {
	w := p.work
	w.roots = c.roots(src, w.roots[:0])
	w.still = w.still[:0]
	last := w.roots[len(w.roots)-1].at
	m := triangle(last + 1)
	charge := w.charge[:0]
	if c.charge != nil { // for a while it is a form too
		w.charge = resize(w.charge, m)
		charge = w.charge
		clear(charge)
		copy(charge[m-last-1:], c.charge)
	}
	for i := range w.roots {
		for j := range w.roots[:i+1] {
			d := divisionOf(&w.roots[i], &w.roots[j])
			d.apply(c.forms, m)
			d.apply(charge, m)
			w.still = append(w.still, d.still[:d.count]...)
		}
	}
	copy(c.charge, charge[max(0, len(charge)-last-1):])
	if !slices.Equal(p.still, w.still) { // most combinations have the same
		p.still = slices.Clone(w.still)
	}
	c.still = p.still
}

// division is what integrate does with the products of two roots: their places,
// of the first and second part of each, and the reciprocals of the rates of z·w
// and z·w*, halved where the products are sums of two.
type division struct {
	kind           divisionKind
	aa, ab, ba, bb int
	by, back       complex128
	rate           float64 // of |z|²
	still          [4]product
	count          int // of still
}

type divisionKind uint8

const (
	nothing  divisionKind = iota
	plain                 // two real parts
	single                // one that turns, with a real one
	own                   // one that turns, with itself
	together              // two that turn
)

func divisionOf(x, y *root) (d division) {
	sum := x.rate + y.rate
	d.aa = productAt(x.at, y.at)
	switch {
	case !x.turns && !y.turns:
		if real(sum) > -1e-30 { // none, or next to none
			d.still[0], d.count = product{d.aa, x.at, y.at, 1}, 1
			return d
		}
		d.kind, d.by = plain, complex(1/real(sum), 0)
	case !x.turns || !y.turns:
		d.kind, d.by = single, 1/conj(sum)
		d.bb = productAt(x.at, y.at+1)
		if x.turns {
			d.bb = productAt(x.at+1, y.at)
		}
	case x.at == y.at:
		d.kind, d.by, d.rate = own, 0.5/conj(sum), real(sum)
		d.ab, d.bb = d.aa+x.at+1, d.aa+x.at+2
	default:
		d.kind, d.by, d.back = together, 0.5/conj(sum), 0.5
		d.ab, d.ba, d.bb = d.aa+1, d.aa+x.at+1, d.aa+x.at+2
		if dif := x.rate + conj(y.rate); magnitude(dif) > 1e-12*magnitude(x.rate) {
			d.back /= conj(dif)
			break
		}
		d.still = [4]product{{d.bb, x.at, y.at, 1}, {d.bb, x.at + 1, y.at + 1, 1}, {d.ab, x.at, y.at + 1, 1}, {d.ab, x.at + 1, y.at, -1}}
		d.count = 4
	}
	return d
}

// apply divides the terms of forms of m numbers each.
func (d *division) apply(forms []float64, m int) {
	aa, ab, ba, bb := d.aa, d.ab, d.ba, d.bb
	for f := forms; len(f) > 0; f = f[m:] {
		switch d.kind {
		case plain:
			f[aa] *= real(d.by)
		case single:
			z := complex(f[bb], f[aa]) * d.by
			f[aa], f[bb] = imag(z), real(z)
		case own:
			z := complex(f[bb]-f[aa], f[ab]) * d.by
			f[aa], f[ab], f[bb] = -2*real(z), 2*imag(z), (f[aa]+f[bb])/2+d.rate*real(z)
		case together:
			s := complex(f[bb]-f[aa], f[ab]+f[ba]) * d.by
			t := complex(f[bb]+f[aa], f[ab]-f[ba]) * d.back
			if d.count > 0 {
				t -= s
			}
			f[aa], f[bb] = real(t)-real(s), real(t)+real(s)
			f[ab], f[ba] = imag(s)+imag(t), imag(s)-imag(t)
		}
	}
}
