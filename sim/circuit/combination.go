package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"

	"gonum.org/v1/gonum/mat"

	"boilwright/models"
)

// combination is the linear network of one set of valve levels:
//
//	dx/dt = A x + b·e + k,   y = C x + d·e + h
//
// with x the capacitor voltages and inductor currents that exist in it, e the
// source voltage and y every node voltage, branch voltage and branch current.
// Rows of C, d and h stand side by side in rows.
type combination struct {
	key    key
	n      int   // active states
	active []int // active state to state of the netlist
	width  int   // n + 2
	// rows holds (C, d, h), one row of width numbers a signal: nodes, then
	// branch voltages, then branch currents.
	rows []float64

	// A, b and k, from which modal finds the modes when first asked for them:
	// a combination that only serves to test a demand needs none.
	a, be, kc []float64
	ready     bool
	bound     float64 // no mode is faster, 1/s

	// modes: the first real ones, then pairs (σ, ω) in two columns each.
	lambda  []complex128 // per column; a pair's second column repeats the first
	pair    []bool       // column k is the first of a pair
	paired  bool         // some are pairs
	lasted  float64      // how long the last segment in it was, s
	square  []float64    // |λ|² per column
	fastest float64      // the largest |Re λ| + |Im λ|
	v       []float64    // n×n real modal basis, x = v ξ
	vInv    []float64
	// unit holds, per harmonic order, the response X of the states to the
	// source phasor 1; unitDC the response to e = 1 V constant, constant the
	// response to the thresholds.
	unit     map[int][]complex128
	unitDC   []float64
	constant []float64
	beta     []complex128 // modal input of e
	vc       []complex128 // complex eigenvectors, n×n

	// apart tells that an inductor's ends lie in parts of the network that
	// nothing else connects.
	apart bool

	cache []*projected // by signal

	groups  [][]float64 // (n+2)² power forms, one a group
	groupOK bool
}

// signal indices
func (n *netlist) sigNode(i int) int    { return i }
func (n *netlist) sigVolt(b int) int    { return len(n.nodes) + b }
func (n *netlist) sigCurrent(b int) int { return len(n.nodes) + len(n.branches) + b }
func (n *netlist) signals() int         { return len(n.nodes) + 2*len(n.branches) }

// row returns the coefficients of a signal.
func (c *combination) row(sig int) []float64 { return c.rows[sig*c.width : (sig+1)*c.width] }

// form tells how a branch enters the equations in a combination.
type form uint8

const (
	absent form = iota
	conductive
	impedance // v − r·i = s·V0, current an unknown
	voltage   // source or capacitor: voltage given, current an unknown
	current   // inductor: current given
)

// shape returns the form, the resistance and the signed threshold of branch b
// at the level of its valve.
func (p *params) shape(i int, k key) (f form, ohms, volts float64) {
	b := &p.net.branches[i]
	if b.lifted || p.direct && (b.kind == capacitor || b.kind == linkPath && k.level(b.valve) != off) {
		return absent, 0, 0
	}
	l := off
	if b.valve >= 0 {
		l = k.level(b.valve)
	}
	switch b.kind {
	case source, capacitor:
		return voltage, 0, 0
	case inductor:
		return current, 0, 0
	case resistor:
		return resistive(p.ohms[i]), p.ohms[i], 0
	case linkPath:
		if l != off {
			if b.store <= 0 {
				return absent, 0, 0
			}
			return voltage, 0, 0
		}
		return resistive(b.ohms), b.ohms, 0
	case mainPath, optoPath:
		if l == off {
			g := p.siemens[i]
			if g <= 0 {
				return absent, 0, 0
			}
			return conductive, 1 / g, 0
		}
	case junction, diode:
		if l == off {
			return absent, 0, 0
		}
	}
	return resistive(b.ohms), b.ohms, l.sign() * b.volts
}

func resistive(ohms float64) form {
	if ohms < stiff {
		return impedance
	}
	return conductive
}

// assemble builds the combination of key k from its blocks.
func (p *params) assemble(k key) (*combination, error) {
	net := p.net
	var room [8]*reduced
	blocks := room[:0]
	for i := range net.blocks {
		r, err := p.reduce(i, k)
		if err != nil {
			return nil, err
		}
		blocks = append(blocks, r)
	}
	w := &p.work
	shared := len(net.shared)
	w.extra = resize(w.extra, len(net.trunk))
	w.parent = resize(w.parent, shared+1) // the last is the reference
	for i := range w.parent {
		w.parent[i] = i
	}
	spot := func(node int) int {
		if node < 0 {
			return shared
		}
		return net.local[node]
	}
	join := func(a, b int) {
		x, y := w.find(a), w.find(b)
		w.parent[min(x, y)] = max(x, y) // the reference stays a root
	}
	c := &combination{key: k}
	w.column = resize(w.column, len(net.states))
	c.active = make([]int, 0, len(net.states))
	for s, i := range net.states {
		w.column[s] = -1
		if f, _, _ := p.shape(i, k); f == voltage || f == current {
			w.column[s] = c.n
			c.active = append(c.active, s)
			c.n++
		}
	}
	unknowns := shared
	for i, at := range net.trunk {
		w.extra[i] = -1
		f, _, _ := p.shape(at, k)
		if f == impedance || f == voltage {
			w.extra[i] = unknowns
			unknowns++
		}
		if f != absent && f != current {
			join(spot(net.branches[at].a), spot(net.branches[at].b))
		}
	}
	for i, r := range blocks {
		edge := net.blocks[i].edge
		for j, x := range r.joined {
			if x == 0 {
				join(net.local[edge[j]], shared)
				continue
			}
			for l := range j {
				if r.joined[l] == x {
					join(net.local[edge[j]], net.local[edge[l]])
				}
			}
		}
	}
	c.width = c.n + 2
	cols := c.width
	w.begin(unknowns, cols)
	place := func(node int) end {
		if node < 0 {
			return reference
		}
		return end{net.local[node], -1}
	}
	given := func(b *branch) int {
		if b.kind == source {
			return cols - 2
		}
		if b.state < 0 {
			return -1
		}
		return w.column[b.state]
	}
	for i, at := range net.trunk {
		b := &net.branches[at]
		f, r, v0 := p.shape(at, k)
		w.stamp(f, r, v0, place(b.a), place(b.b), w.extra[i], given(b))
	}
	m, rhs := w.m, w.rhs
	for i, r := range blocks {
		edge, states := net.blocks[i].edge, len(r.active)
		for j, e := range edge {
			n1 := net.local[e]
			flow := r.flow[j*r.width : (j+1)*r.width]
			for l, s := range r.active {
				rhs[n1*cols+w.column[s]] -= flow[l]
			}
			for l, e2 := range edge {
				m[n1*unknowns+net.local[e2]] += flow[states+l]
			}
			rhs[n1*cols+cols-1] -= flow[r.width-1]
		}
	}
	// An island without a path to the reference is tied to it at one node; no
	// current flows there.
	for i := range shared {
		if w.find(i) == i {
			w.tie(i)
		}
	}
	for _, at := range net.trunk {
		if b := &net.branches[at]; b.kind == inductor && w.find(spot(b.a)) != w.find(spot(b.b)) {
			c.apart = true
		}
	}
	if col := w.solve(); col >= 0 {
		if col < shared {
			return nil, p.singular(k, "node "+net.nodeName(net.shared[col]))
		}
		for i, x := range w.extra {
			if x == col {
				return nil, p.singular(k, "part "+net.branches[net.trunk[i]].name)
			}
		}
	}
	c.rows = make([]float64, net.signals()*cols+c.n*(c.n+2))
	rows := c.rows[:net.signals()*cols]
	rest := c.rows[len(rows):]
	c.rows = rows
	c.a, c.be, c.kc = rest[:c.n*c.n:c.n*c.n], rest[c.n*c.n:c.n*(c.n+1):c.n*(c.n+1)], rest[c.n*(c.n+1):]
	for i, node := range net.shared {
		copy(c.row(net.sigNode(node)), rhs[i*cols:(i+1)*cols])
	}
	for i, at := range net.trunk {
		b := &net.branches[at]
		f, r, v0 := p.shape(at, k)
		w.read(f, r, v0, place(b.a), place(b.b), w.extra[i], given(b), c.row(net.sigVolt(at)), c.row(net.sigCurrent(at)))
	}
	for i, r := range blocks {
		b := &net.blocks[i]
		for j, node := range b.nodes {
			p.expand(c, r, b, r.node[j*r.width:(j+1)*r.width], c.row(net.sigNode(node)))
		}
		for j, at := range b.branches {
			p.expand(c, r, b, r.volt[j*r.width:(j+1)*r.width], c.row(net.sigVolt(at)))
			p.expand(c, r, b, r.amps[j*r.width:(j+1)*r.width], c.row(net.sigCurrent(at)))
		}
	}
	for s, st := range c.active {
		i := net.states[st]
		b := &net.branches[i]
		src := c.row(net.sigCurrent(i)) // dv/dt = i/C
		if f, _, _ := p.shape(i, k); f == current {
			src = c.row(net.sigVolt(i)) // di/dt = v/L
		}
		for j := range c.n {
			c.a[s*c.n+j] = src[j] / b.store
		}
		c.be[s] = src[cols-2] / b.store
		c.kc[s] = src[cols-1] / b.store
	}
	c.bound = c.spectralBound(net)
	return c, nil
}

// expand writes a row of a block as a row of the combination.
func (p *params) expand(c *combination, r *reduced, b *block, from, to []float64) {
	states := len(r.active)
	for j, e := range b.edge {
		x := from[states+j]
		if x == 0 {
			continue
		}
		v := c.rows[e*c.width : (e+1)*c.width]
		for l, y := range v {
			to[l] += x * y
		}
	}
	for l, s := range r.active {
		to[p.work.column[s]] += from[l]
	}
	to[len(to)-1] += from[r.width-1]
}

// spectralBound bounds |λ| of all modes by the largest absolute row sum of A
// in energy scaling.
func (c *combination) spectralBound(net *netlist) float64 {
	most := 0.0
	for i := range c.n {
		si := net.branches[net.states[c.active[i]]].store
		sum := 0.0
		for j := range c.n {
			sj := net.branches[net.states[c.active[j]]].store
			sum += math.Abs(c.a[i*c.n+j]) * math.Sqrt(si/sj)
		}
		most = math.Max(most, sum)
	}
	return most
}

// modal returns the combination of key k with its modes found.
func (p *params) modal(k key) (*combination, error) {
	c, err := p.combination(k)
	if err != nil || c.ready {
		return c, err
	}
	if err := c.decompose(p.net, c.a, c.be, c.kc); err != nil {
		return nil, fmt.Errorf("%s: %w", p.describe(k), err)
	}
	c.ready = true
	return c, nil
}

func resize[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// singular explains that the network of a combination has no solution at a
// node or part.
func (p *params) singular(k key, what string) error {
	return fmt.Errorf("%s: the network has no unique solution at %s (a loop of sources, capacitors and parts of zero resistance)", p.describe(k), what)
}

// describe names the valves of a combination that are not blocking.
func (p *params) describe(k key) string {
	var on []string
	for v, i := range p.net.valves {
		b := &p.net.branches[i]
		switch l := k.level(v); {
		case l == off:
		case b.kind == linkPath:
			on = append(on, b.name+" open")
		case l == positive:
			on = append(on, b.name+" conducting +")
		default:
			on = append(on, b.name+" conducting −")
		}
	}
	if len(on) == 0 {
		return "all blocking"
	}
	return strings.Join(on, ", ")
}

// decompose finds the modes of A. The states are scaled by the square root of
// their store, in which an RC or an RL network is symmetric. Where two modes
// fall so close together that their shapes cannot be told apart, the stores
// are shifted by parts in 10⁹ until they can.
func (c *combination) decompose(net *netlist, a, be, kc []float64) error {
	n := c.n
	for _, x := range [][]float64{a, be, kc} {
		for _, y := range x {
			if math.IsNaN(y) || math.IsInf(y, 0) {
				return fmt.Errorf("found a rate of %v in the network's equations, expected a finite one", y)
			}
		}
	}
	c.unit = map[int][]complex128{}
	c.unitDC, c.constant = make([]float64, n), make([]float64, n)
	if n == 0 {
		return nil
	}
	scale := make([]float64, n)
	for i, s := range c.active {
		scale[i] = math.Sqrt(net.branches[net.states[s]].store)
	}
	var err error
	for try := range 5 {
		eps := 0.0
		if try > 0 {
			eps = 1e-10 * math.Pow(10, float64(try))
		}
		if err = c.eigen(a, scale, eps); err == nil {
			break
		}
	}
	if err != nil {
		return err
	}
	c.square = make([]float64, n)
	for k, l := range c.lambda {
		c.paired = c.paired || c.pair[k]
		c.square[k] = real(l)*real(l) + imag(l)*imag(l)
		c.fastest = math.Max(c.fastest, math.Abs(real(l))+math.Abs(imag(l)))
	}
	c.input(be, kc)
	return nil
}

// limitCondition bounds the condition of the modal basis in energy scaling.
const limitCondition = 1e6

func (c *combination) eigen(a, scale []float64, eps float64) error {
	n := c.n
	as := mat.NewDense(n, n, nil)
	symmetric := true
	for i := 0; i < n; i++ {
		shift := 1 + eps*float64(i+1)
		for j := 0; j < n; j++ {
			as.Set(i, j, a[i*n+j]*scale[i]/scale[j]*shift)
		}
	}
	for i := 0; i < n; i++ {
		for j := 0; j < i; j++ {
			x, y := as.At(i, j), as.At(j, i)
			if math.Abs(x-y) > 1e-13*math.Sqrt(math.Abs(as.At(i, i)*as.At(j, j)))+1e-300 {
				symmetric = false
			}
		}
	}
	c.lambda = make([]complex128, n)
	c.pair = make([]bool, n)
	c.vc = make([]complex128, n*n)
	c.v = make([]float64, n*n)
	c.vInv = make([]float64, n*n)
	if symmetric {
		sym := mat.NewSymDense(n, nil)
		for i := 0; i < n; i++ {
			for j := i; j < n; j++ {
				sym.SetSym(i, j, (as.At(i, j)+as.At(j, i))/2)
			}
		}
		var es mat.EigenSym
		if !es.Factorize(sym, true) {
			return fmt.Errorf("the modes of the network did not converge")
		}
		var vec mat.Dense
		es.VectorsTo(&vec)
		for k, l := range es.Values(nil) {
			c.lambda[k] = complex(math.Min(l, 0), 0)
			for i := 0; i < n; i++ {
				x := vec.At(i, k)
				c.v[i*n+k] = x / scale[i]
				c.vInv[k*n+i] = x * scale[i]
				c.vc[i*n+k] = complex(x/scale[i], 0)
			}
		}
		return nil
	}
	var eig mat.Eigen
	if !eig.Factorize(as, mat.EigenRight) {
		return fmt.Errorf("the modes of the network did not converge")
	}
	values := eig.Values(nil)
	var vec mat.CDense
	eig.VectorsTo(&vec)
	vr := make([]float64, n*n)
	for k := 0; k < n; k++ {
		l := values[k]
		if real(l) > 0 { // a passive network: rounding only
			l = complex(0, imag(l))
		}
		c.lambda[k] = l
		for i := 0; i < n; i++ {
			z := vec.At(i, k)
			c.vc[i*n+k] = z / complex(scale[i], 0)
		}
		switch {
		case imag(l) == 0:
			for i := 0; i < n; i++ {
				vr[i*n+k] = real(vec.At(i, k))
			}
		case k+1 < n && imag(l) > 0:
			c.pair[k] = true
			for i := 0; i < n; i++ {
				z := vec.At(i, k)
				vr[i*n+k], vr[i*n+k+1] = real(z), imag(z)
			}
			c.lambda[k+1] = l
			for i := 0; i < n; i++ {
				c.vc[i*n+k+1] = cmplx.Conj(c.vc[i*n+k])
			}
			k++
		default:
			return fmt.Errorf("found an unpaired complex mode %v", l)
		}
	}
	inv := make([]float64, n*n)
	lu := append([]float64(nil), vr...)
	piv := make([]int, n)
	if factor(lu, n, piv) >= 0 {
		return errDegenerate
	}
	for i := 0; i < n; i++ {
		inv[i*n+i] = 1
	}
	solve(lu, n, piv, inv, n)
	if frobenius(vr)*frobenius(inv) > limitCondition {
		return errDegenerate
	}
	for i := 0; i < n; i++ {
		for k := 0; k < n; k++ {
			c.v[i*n+k] = vr[i*n+k] / scale[i]
			c.vInv[k*n+i] = inv[k*n+i] * scale[i]
		}
	}
	return nil
}

var errDegenerate = fmt.Errorf("two modes of the network cannot be told apart")

func frobenius(a []float64) float64 {
	s := 0.0
	for _, x := range a {
		s += x * x
	}
	return math.Sqrt(s)
}

// input computes the responses to constants and keeps the modal input of e.
func (c *combination) input(be, kc []float64) {
	n := c.n
	c.beta = make([]complex128, n)
	kappa := make([]complex128, n)
	for k := 0; k < n; k++ {
		var b, h float64
		for i := 0; i < n; i++ {
			b += c.vInv[k*n+i] * be[i]
			h += c.vInv[k*n+i] * kc[i]
		}
		c.beta[k], kappa[k] = complex(b, 0), complex(h, 0)
	}
	// A pair's real amplitudes (p, q) are the complex amplitude (p − jq)/2 of
	// its first vector and the conjugate of the second.
	for k := 0; k < n; k++ {
		if c.pair[k] {
			for _, z := range [][]complex128{c.beta, kappa} {
				p, q := real(z[k]), real(z[k+1])
				z[k] = complex(p/2, -q/2)
				z[k+1] = complex(p/2, q/2)
			}
			k++
		}
	}
	respond := func(in []complex128, out []float64) {
		for k := 0; k < n; k++ {
			l := c.mode(k)
			if cmplx.Abs(l) < 1e-9 {
				continue // a charge that nothing drives
			}
			a := -in[k] / l
			for i := 0; i < n; i++ {
				out[i] += real(a * c.vc[i*n+k])
			}
		}
	}
	respond(c.beta, c.unitDC)
	respond(kappa, c.constant)
}

// mode returns the eigenvalue of complex column k.
func (c *combination) mode(k int) complex128 {
	if k > 0 && c.pair[k-1] {
		return cmplx.Conj(c.lambda[k])
	}
	return c.lambda[k]
}

// response returns the states' phasor for a source phasor of 1 at angular
// frequency w and harmonic order.
func (c *combination) response(order int, w float64) []complex128 {
	if x, ok := c.unit[order]; ok {
		return x
	}
	n := c.n
	x := make([]complex128, n)
	for k := 0; k < n; k++ {
		a := c.beta[k] / (complex(0, w) - c.mode(k))
		for i := 0; i < n; i++ {
			x[i] += a * c.vc[i*n+k]
		}
	}
	c.unit[order] = x
	return x
}

// power builds, once, the quadratic forms of the loss groups: the power of
// group g is zᵀ·groups[g]·z with z = (x, e, 1).
func (c *combination) power(net *netlist, groupOf []int, groups int) {
	if c.groupOK {
		return
	}
	w := c.width
	c.groups = make([][]float64, groups)
	all := make([]float64, groups*w*w)
	for g := range c.groups {
		c.groups[g] = all[g*w*w : (g+1)*w*w]
	}
	for i, g := range groupOf {
		if g < 0 {
			continue
		}
		if b := &net.branches[i]; b.kind == linkPath && c.key.level(b.valve) != off {
			continue // open, it is a stray capacitance: it stores
		}
		q, v, cur := c.groups[g], c.row(net.sigVolt(i)), c.row(net.sigCurrent(i))
		for r, x := range v {
			if x == 0 {
				continue
			}
			for s, y := range cur {
				q[r*w+s] += x * y
			}
		}
	}
	c.groupOK = true
}

// partOf names the loss group of each branch.
func (n *netlist) groupOf() (of []int, count int) {
	per := int(models.WiringPart) // parts that a channel owns
	of = make([]int, len(n.branches))
	for i := range n.branches {
		b := &n.branches[i]
		of[i] = -1
		switch {
		case b.kind == source:
			of[i] = groupSource
		case b.kind == inductor, b.kind == capacitor:
		case b.part == models.NoPart:
			of[i] = groupOutside
		case b.kind == linkPath && b.channel < 0:
			of[i] = groupUpstream
		case b.channel < 0:
			of[i] = groupWiring
		default:
			of[i] = groupFixed + b.channel*per + int(b.part) - 1
		}
	}
	return of, groupFixed + len(n.channels)*per
}

// Loss groups that belong to no channel; the groups of channel k follow.
const (
	groupSource = iota
	groupWiring
	groupOutside
	groupUpstream
	groupFixed
)
