package circuit

import "math"

// atom is one threshold being watched in a segment: it becomes true where
// f(t) = w·φ(t) rises above zero.
type atom struct {
	w []float64
	// concave is by how much each mode's part can bend f downwards, so that f
	// rises above the chord between two of its values: |w| of a decaying mode
	// with a negative weight, and a pair's magnitude in its first column.
	concave []float64
	// amp bounds |f| without modes and constant, curve its second derivative.
	amp, curve float64
	rise       float64 // bounds what the modes add to f
	label      int     // what it watches: see finder.who
	sign       float64 // in which direction

	// The weights of the rate of change, once asked for.
	derived bool
	dw      []float64
}

// start gives the finder what is known of the segment's begin, turn being the
// harmonics there.
func (f *finder) start(turn []float64) {
	s, c, n := f.seg, f.seg.c, f.seg.c.n
	p := f.at(0)
	p.t, p.of, p.exact = s.T0, f.serial, false
	p.phi[n+copy(p.phi[n:], turn)] = 1
	phi := p.phi[:n]
	for k := range phi {
		phi[k] = 1
	}
	if c.paired {
		for k, pair := range c.pair {
			if pair {
				phi[k+1] = 0 // sin 0
			}
		}
	}
	f.size = resize(f.size, n)
	c.sizes(s.xi, f.size)
}

// origin is start, for watch, with the time up to which the finder is going to
// look.
func (f *finder) origin(turn []float64, horizon float64) {
	f.start(turn)
	f.drifts(horizon)
}

// drifts sets by how much modes and harmonics change up to a horizon.
func (f *finder) drifts(horizon float64) {
	s, h := f.seg, horizon-f.seg.T0
	c, n := s.c, s.c.n
	f.drift, f.haste = resize(f.drift, f.short), f.haste[:0]
	size, drift := f.size[:n], f.drift[:n]
	for k, l := range c.lambda[:n] {
		if x := -real(l) * h; x < 1 {
			drift[k] = size[k] * x
		} else {
			drift[k] = size[k]
		}
	}
	if c.paired {
		for k, pair := range c.pair {
			if pair {
				l := c.lambda[k]
				drift[k], drift[k+1] = size[k]*min(2, (math.Abs(imag(l))-real(l))*h), 0
			}
		}
	}
	for k, r := range s.src.rates {
		x := r * h
		if x > 2 {
			x = 2
		}
		f.drift[n+k] = s.src.level[k] * x
	}
}

// next returns a new atom, whose weights are to be filled.
func (f *finder) next() *atom {
	if f.used == f.ready {
		f.grow()
	}
	a := &f.atoms[f.used]
	f.used++
	a.derived, a.label = false, -1
	return a
}

// grow makes room for more atoms of the present size.
func (f *finder) grow() {
	n, nb := f.n, f.nb
	f.ready = max(16, 2*f.used)
	for len(f.atoms) < f.ready {
		f.atoms = append(f.atoms, atom{})
	}
	f.w, f.concave = extend(f.w, f.ready*nb), extend(f.concave, f.ready*n)
	for i := range f.ready {
		a := &f.atoms[i]
		a.w, a.concave = f.w[i*nb:(i+1)*nb], f.concave[i*n:(i+1)*n]
	}
}

// extend returns s with n numbers, the first those of s.
func extend(s []float64, n int) []float64 {
	return append(s, make([]float64, max(0, n-len(s)))...)
}

// look gives the finder the view of the segment's own probes.
func (f *finder) look(v *view) {
	f.own = v
	f.reach = resize(f.reach, len(v.of.memo.values))
	dots(f.reach, v.size, f.drift)
}

// reaches bounds by how much probe i of a view changes up to the horizon.
func (f *finder) reaches(v *view, i int) float64 {
	if v == f.own {
		return f.reach[i]
	}
	n := len(f.drift)
	return dot(v.size[i*n:(i+1)*n], f.drift)
}

// watch adds sign·y − threshold, y being probe i of a view on the segment, with
// the value now. What cannot become true up to the horizon is left out.
func (f *finder) watch(v *view, i int, now, sign, threshold float64) {
	if sign*now-threshold+f.reaches(v, i) > 0 {
		f.add(v, i, sign, threshold)
	}
}

// watchBoth is watch for either sign.
func (f *finder) watchBoth(v *view, i int, now, threshold float64) {
	if r := f.reaches(v, i) - threshold; math.Abs(now)+r > 0 {
		if now+r > 0 {
			f.add(v, i, 1, threshold)
		}
		if r-now > 0 {
			f.add(v, i, -1, threshold)
		}
	}
}

// add adds sign·y − threshold unless that can never become true.
func (f *finder) add(v *view, i int, sign, threshold float64) {
	a := f.next()
	a.label, a.sign = i, sign
	f.fill(a, v, i, sign)
	a.w[f.nb-1] -= threshold
	if a.rise+a.amp+a.w[f.nb-1] <= 0 {
		f.used--
	}
}

// fill sets the weights of an atom to sign times probe i of a view, and what
// follows from them.
func (f *finder) fill(a *atom, v *view, i int, sign float64) {
	s, n := f.seg, f.n
	row, size := v.rows[i*f.nb:(i+1)*f.nb], v.size[i*f.short:(i+1)*f.short]
	w, concave, xi := a.w[:f.nb], a.concave[:n], s.xi[:n]
	a.rise = 0
	if s.c.paired {
		a.rise = f.fillPaired(w, concave, row, size, sign)
	} else {
		rise := 0.0
		for k, x := range xi {
			x *= sign * row[k]
			g := (math.Abs(x) - x) / 2
			w[k], concave[k] = x, g
			rise += g + x
		}
		a.rise = rise
	}
	amp, curve := 0.0, 0.0
	j := n
	for h, r := range s.src.rates {
		us, uc := sign*s.src.sin[h], sign*s.src.cos[h]
		w[j], w[j+1] = us*row[j]-uc*row[j+1], us*row[j+1]+uc*row[j]
		y := size[n+h] * s.src.level[h]
		amp += y
		curve += y * r * r
		j += 2
	}
	a.amp, a.curve = amp, curve
	w[j] = sign * row[j]
}

// fillPaired is the modes' part of fill where some are pairs; it returns the rise.
func (f *finder) fillPaired(w, concave, row, size []float64, sign float64) float64 {
	n := len(concave)
	xi, pair, own := f.seg.xi[:n], f.seg.c.pair[:n], f.size[:n]
	rise := 0.0
	for k := 0; k < n; k++ {
		x := sign * row[k] * xi[k]
		if pair[k] {
			y, g := sign*row[k+1], size[k]*own[k]
			w[k], w[k+1] = x+y*xi[k+1], sign*row[k]*xi[k+1]-y*xi[k]
			concave[k], concave[k+1] = g, 0
			rise += g
			k++
			continue
		}
		g := (math.Abs(x) - x) / 2
		w[k], concave[k] = x, g
		rise += g + x
	}
	return rise
}

// modes sets what follows from the weights of modes: by how much they can bend
// the atom's value downwards, and what they add to it at most.
func (f *finder) modes(a *atom) {
	c := f.seg.c
	w := a.w[:len(a.concave)]
	rise := 0.0
	for k, x := range w {
		y := math.Abs(x)
		rise += y + x
		a.concave[k] = (y - x) / 2
	}
	a.rise = rise / 2
	if !c.paired {
		return
	}
	for k, pair := range c.pair {
		if pair {
			g := math.Sqrt(w[k]*w[k] + w[k+1]*w[k+1])
			a.rise += g - max(w[k], 0) - max(w[k+1], 0)
			a.concave[k], a.concave[k+1] = g, 0
		}
	}
}

// watchRow adds sign·y − threshold, y having the coefficients row on (x, e, 1).
func (f *finder) watchRow(row []float64, sign, threshold float64) {
	a := f.next()
	f.seg.weights(row, a.w)
	f.admit(a, sign, threshold)
}

// watchRate adds ±dy/dt − threshold for probe i of a view, jumps left out, now
// being the rate now. What cannot become true up to the horizon is left out.
func (f *finder) watchRate(v *view, i int, now, threshold float64) {
	if len(f.haste) == 0 {
		f.hasten()
	}
	n := len(f.drift)
	r := dot(v.size[i*n:(i+1)*n], f.haste) - threshold
	for _, sign := range [2]float64{1, -1} {
		if sign*now+r <= 0 {
			continue
		}
		a := f.next()
		f.fill(a, v, i, sign)
		copy(f.dw, a.w)
		f.seg.deriveSmooth(f.dw, a.w)
		f.admit(a, 1, threshold)
	}
}

// hasten sets by how much the rates of modes and harmonics change at most, up to
// the horizon.
func (f *finder) hasten() {
	s := f.seg
	for k, l := range s.c.lambda {
		r := math.Abs(real(l)) + math.Abs(imag(l))
		if -real(l) > jump {
			r = 0
		}
		f.haste = append(f.haste, r*f.drift[k])
	}
	for h, order := range s.src.order {
		f.haste = append(f.haste, float64(order)*s.src.omega*f.drift[f.n+h])
	}
}

// admit finishes an atom and drops it again if it can never become true.
func (f *finder) admit(a *atom, sign, threshold float64) {
	if sign != 1 {
		for i, x := range a.w {
			a.w[i] = -x
		}
	}
	a.w[len(a.w)-1] -= threshold
	if f.never(a) {
		f.used--
	}
}

// never finishes an atom and reports whether it cannot become true anywhere
// after T0.
func (f *finder) never(a *atom) bool {
	w := a.w
	last := len(w) - 1
	top := w[last]
	for _, x := range w[:last] {
		top += math.Abs(x)
	}
	if top <= 0 { // the common case, found without a root
		return true
	}
	a.amp, a.curve = f.seg.swing(w)
	f.modes(a)
	return a.rise+a.amp+w[last] <= 0
}

// derive makes the weights of the atom's rate of change.
func (x *atom) derive(s *Segment) {
	if x.derived {
		return
	}
	x.derived = true
	x.dw = resize(x.dw, len(x.w))
	s.derive(x.w, x.dw)
}
