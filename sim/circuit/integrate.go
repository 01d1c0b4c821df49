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
func (c *combination) integrate(src *waveform, m int) {
	var buf [16]root
	var d division
	roots := c.roots(src, buf[:0])
	for i := range roots {
		for j := range roots[:i+1] {
			d.set(&roots[i], &roots[j])
			d.apply(c.forms, m)
		}
	}
}

// integrals does the same for forms that are left as they are: it turns what gram
// takes of segments into the integrals of products, which take less to divide
// than the forms as long as these are used once or twice only.
func (c *combination) integrals(src *waveform, changes []float64) {
	var buf [16]root
	var d division
	roots := c.roots(src, buf[:0])
	for i := range roots {
		x := &roots[i]
		row := changes[triangle(x.at):]
		for j := range roots[:i+1] {
			y := &roots[j]
			if x.turns || y.turns {
				d.set(x, y)
				d.convert(changes)
			} else if sum := real(x.rate) + real(y.rate); sum <= leastRate {
				row[y.at] /= sum
			}
		}
	}
}

// grow notes which products grow with time, and divides the charge, which is no
// square and is taken segment by segment.
func (c *combination) grow(p *params, src *waveform) {
	w := p.work
	w.roots = c.roots(src, w.roots[:0])
	w.still = w.still[:0]
	for i := range w.roots {
		x := &w.roots[i]
		for j := range w.roots[:i+1] {
			if y := &w.roots[j]; cancel(x, y) {
				w.still = lasts(w.still, x, y)
			}
		}
	}
	if !slices.Equal(p.still, w.still) { // most combinations have the same
		p.still = slices.Clone(w.still)
	}
	c.still = p.still
	if c.charge == nil {
		return
	}
	one := &w.roots[len(w.roots)-1]
	w.charge = resize(w.charge, triangle(one.at+1)) // for a while it is a form
	last := w.charge[triangle(one.at):]
	copy(last, c.charge)
	var d division
	for i := range w.roots {
		d.set(one, &w.roots[i])
		d.apply(w.charge, len(w.charge))
	}
	copy(c.charge, last)
}

// leastRate is that of a product of real parts above which it counts as none.
const leastRate = -1e-30

// cancel reports whether the rates of two roots cancel in a product of their
// parts, so that it grows with time: those of two real parts that are none, or
// next to none, and those of two that turn alike. That of one that turns with
// itself is taken as an integral anyway.
func cancel(x, y *root) bool {
	switch {
	case !x.turns && !y.turns:
		return real(x.rate)+real(y.rate) > leastRate
	case x.turns && y.turns && x.at != y.at:
		return !(magnitude(x.rate+conj(y.rate)) > 1e-12*magnitude(x.rate))
	}
	return false
}

// lasts appends the products of two roots whose rates cancel.
func lasts(to []product, x, y *root) []product {
	aa := productAt(x.at, y.at)
	if !x.turns {
		return append(to, product{aa, x.at, y.at, 1})
	}
	ab, bb := aa+1, aa+x.at+2
	return append(to, product{bb, x.at, y.at, 1}, product{bb, x.at + 1, y.at + 1, 1}, product{ab, x.at, y.at + 1, 1}, product{ab, x.at + 1, y.at, -1})
}

// division is what is done with the products of two roots: their places, of the
// first and second part of each, and the reciprocals of the rates of z·w and
// z·w*, halved where the products are sums of two.
type division struct {
	kind           divisionKind
	alike          bool // z·w* has no rate
	aa, ab, ba, bb int
	by, back       complex128
	rate           float64 // of |z|²
}

type divisionKind uint8

const (
	nothing  divisionKind = iota
	plain                 // two real parts
	single                // one that turns, with a real one
	own                   // one that turns, with itself
	together              // two that turn
)

// set makes it that of two roots.
func (d *division) set(x, y *root) {
	sum := x.rate + y.rate
	d.kind, d.aa = nothing, productAt(x.at, y.at)
	switch {
	case !x.turns && !y.turns:
		if !cancel(x, y) {
			d.kind, d.by = plain, complex(1/real(sum), 0)
		}
	case !x.turns || !y.turns:
		d.kind, d.by = single, reciprocal(conj(sum))
		d.bb = productAt(x.at, y.at+1)
		if x.turns {
			d.bb = productAt(x.at+1, y.at)
		}
	case x.at == y.at:
		d.kind, d.by, d.rate = own, reciprocal(2*conj(sum)), real(sum)
		d.ab, d.bb = d.aa+x.at+1, d.aa+x.at+2
	default:
		d.kind, d.by, d.back = together, reciprocal(2*conj(sum)), 0.5
		d.ab, d.ba, d.bb = d.aa+1, d.aa+x.at+1, d.aa+x.at+2
		if d.alike = cancel(x, y); !d.alike {
			d.back = reciprocal(2 * conj(x.rate+conj(y.rate)))
		}
	}
}

// reciprocal returns 1/z of a rate: no square of one is out of range.
func reciprocal(z complex128) complex128 {
	d := 1 / (real(z)*real(z) + imag(z)*imag(z))
	return complex(real(z)*d, -imag(z)*d)
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
			if d.alike {
				t -= s
			}
			f[aa], f[bb] = real(t)-real(s), real(t)+real(s)
			f[ab], f[ba] = imag(s)+imag(t), imag(s)-imag(t)
		}
	}
}

// convert divides the changes of products: it is the transpose of apply.
func (d *division) convert(x []float64) {
	aa, ab, ba, bb := d.aa, d.ab, d.ba, d.bb
	switch d.kind {
	case plain:
		x[aa] *= real(d.by)
	case single:
		z := complex(x[bb], x[aa]) * conj(d.by)
		x[aa], x[bb] = imag(z), real(z)
	case own:
		z := complex(d.rate*x[bb]-2*x[aa], 2*x[ab]) * conj(d.by)
		half := x[bb] / 2
		x[aa], x[ab], x[bb] = half-real(z), imag(z), half+real(z)
	case together:
		s, t := complex(x[bb]-x[aa], x[ab]+x[ba]), complex(x[bb]+x[aa], x[ab]-x[ba])
		if d.alike {
			s -= t
		}
		s, t = s*conj(d.by), t*conj(d.back)
		x[aa], x[bb] = real(t)-real(s), real(t)+real(s)
		x[ab], x[ba] = imag(s)+imag(t), imag(s)-imag(t)
	}
}
