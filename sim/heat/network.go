package heat

import "math"

// maxOrder bounds the order of a Taylor step. With reach 2, terms below order
// 26 are under 1e-15 of the first already.
const maxOrder = 40

// reach is the largest product of step and rate that one Taylor step takes;
// a longer step is split. At 2 the largest intermediate term is twice the
// result, so cancellation costs at most a bit or two.
const reach = 2.0

// The nodes of a network of c channels, in this order: c elements, c waters,
// c shells, c probes, c links, and three that exist once.
const (
	elementNode = iota
	waterNode
	shellNode
	probeNode
	linkNode
	kinds // nodes of a channel
)

const (
	single = 3 // nodes that exist once, from kinds·c on:

	lidNode      = 0
	pocketNode   = 1
	upstreamNode = 2
)

// chain holds the conductances of one channel in W/K.
type chain struct {
	ew, es float64 // element to water and shell
	ws, wp float64 // water to shell and probe
	sl, sk float64 // shell to link and lid
}

// edge is a conductance g in W/K between nodes a and b.
type edge struct {
	a, b int
	g    float64
}

// inflow is heat g·T(from) in W that water flowing from one node carries into
// another; the loss of the node it leaves is in its sink.
type inflow struct {
	from, to int
	g        float64
}

// network is a linear heat network
//
//	C_i dT_i/dt = drive_i − sink_i T_i + Σ g (T_j − T_i) + Σ g_in T_from
//
// with C in J/K, conductances in W/K and heat in W; what a conductance takes
// from one node it gives to the other. A held node (inverse 0) keeps its
// temperature; its right-hand side is then the surplus of heat that something
// else must take.
//
// The solution over a step h at constant drive is
//
//	T(t + s h) = T + Σ_{k=1..K} term_k s^k,  term_{k+1} = h/(k+1) · A · term_k
//
// the action of the matrix exponential on a vector by a truncated Taylor
// series with scaling: A. H. Al-Mohy and N. J. Higham, "Computing the action
// of the matrix exponential, with an application to exponential integrators",
// SIAM J. Sci. Comput. 33 (2011) 488-511. The network bounds h‖A‖ by reach,
// so the order K is chosen by a rigorous bound of the tail.
type network struct {
	chains  []chain
	bridge  float64   // lid to pocket, W/K
	edges   []edge    // all others
	inverse []float64 // 1/C by node; 0 holds the node
	sink    []float64
	inflows []inflow
	drive   []float64

	rate float64 // bound of ‖A‖∞ in 1/s, set by measure

	// The last step: rows of term, one a power of s, and of surplus, the
	// heat into each water node C A term_k (the first with the drive).
	term, surplus []float64
	norm          [maxOrder + 1]float64 // ‖term_k‖∞
	order         int
	step          float64
	weight        [maxOrder + 1]float64
	zero, scratch []float64
}

func newNetwork(channels int) *network {
	nodes := kinds*channels + single
	take := cut(make([]float64, (maxOrder+6)*nodes+maxOrder*channels))
	return &network{
		chains:  make([]chain, channels),
		inverse: take(nodes), sink: take(nodes), drive: take(nodes), zero: take(nodes), scratch: take(nodes),
		term:    take((maxOrder + 1) * nodes),
		surplus: take(maxOrder * channels),
	}
}

// cut returns what cuts a slice into shorter ones, from its start on.
func cut[T any](all []T) func(n int) []T {
	return func(n int) []T {
		x := all[:n:n]
		all = all[n:]
		return x
	}
}

// measure sets rate after a change of capacities or conductances.
func (n *network) measure() {
	c := len(n.chains)
	row := n.scratch
	copy(row, n.sink)
	for i := range n.chains {
		g := &n.chains[i]
		row[elementNode*c+i] += 2 * (g.ew + g.es)
		row[waterNode*c+i] += 2 * (g.ew + g.ws + g.wp)
		row[shellNode*c+i] += 2 * (g.es + g.ws + g.sl + g.sk)
		row[probeNode*c+i] += 2 * g.wp
		row[linkNode*c+i] += 2 * g.sl
		row[kinds*c+lidNode] += 2 * g.sk
	}
	row[kinds*c+lidNode] += 2 * n.bridge
	row[kinds*c+pocketNode] += 2 * n.bridge
	for _, e := range n.edges {
		row[e.a] += 2 * e.g
		row[e.b] += 2 * e.g
	}
	for _, f := range n.inflows {
		row[f.to] += f.g
	}
	n.rate = 0
	for i, g := range row {
		if r := g * n.inverse[i]; r > n.rate {
			n.rate = r
		}
	}
}

// longest returns the longest step in s that expand takes.
func (n *network) longest() float64 {
	if n.rate == 0 {
		return math.Inf(1)
	}
	return reach / n.rate
}

// expand computes the terms of a step of h seconds from the temperatures x,
// until what is left out is below tol kelvin. h must not exceed longest.
func (n *network) expand(x []float64, h, tol float64) {
	c, size := len(n.chains), len(n.inverse)
	n.step = h
	t, q := n.term[:size], n.drive
	copy(t, x)
	for k := 1; ; k++ {
		if len(n.edges)+len(n.inflows) > 0 {
			q = n.cross(t, q)
		}
		next := n.term[k*size : (k+1)*size]
		f := h / float64(k)
		largest := n.apply(next, t, q, n.surplus[(k-1)*c:k*c], f)
		t, q = next, n.zero
		norm := math.Float64frombits(largest)
		n.norm[k] = norm
		// The next term is at most norm·r, the one after that at most
		// norm·r², and so on, with r = h‖A‖/(k+1).
		r := h * n.rate / float64(k+1)
		if k == maxOrder || r < 0.9 && norm*r <= tol*(1-r) {
			n.order = k
			return
		}
	}
}

// apply sets next = f A t + f q/C and the heat into each water, and returns
// the bits of the largest |next|: of positive numbers bits have the order of
// values.
func (n *network) apply(next, t, q, surplus []float64, f float64) (largest uint64) {
	c := len(n.chains)
	part := func(x []float64, kind int) []float64 { return x[kind*c : (kind+1)*c] }
	te, tw, ts, tp, tl := part(t, elementNode), part(t, waterNode), part(t, shellNode), part(t, probeNode), part(t, linkNode)
	qe, qw, qs, qp, ql := part(q, elementNode), part(q, waterNode), part(q, shellNode), part(q, probeNode), part(q, linkNode)
	ie, iw, is, ip, il := part(n.inverse, elementNode), part(n.inverse, waterNode), part(n.inverse, shellNode), part(n.inverse, probeNode), part(n.inverse, linkNode)
	ne, nw, ns, np, nl := part(next, elementNode), part(next, waterNode), part(next, shellNode), part(next, probeNode), part(next, linkNode)
	sw, ss := part(n.sink, waterNode), part(n.sink, shellNode)
	surplus = surplus[:c]
	one := kinds * c
	lid, pocket := t[one+lidNode], t[one+pocketNode]
	toLid := 0.0
	for i := range n.chains {
		g := &n.chains[i]
		e, w, s := te[i], tw[i], ts[i]
		ew, es := g.ew*(e-w), g.es*(e-s)
		ws, wp := g.ws*(w-s), g.wp*(w-tp[i])
		sl, sk := g.sl*(s-tl[i]), g.sk*(s-lid)
		toLid += sk
		water := qw[i] + ew - ws - wp - sw[i]*w
		surplus[i] = water
		a := (qe[i] - ew - es) * ie[i] * f
		b := water * iw[i] * f
		d := (qs[i] + es + ws - sl - sk - ss[i]*s) * is[i] * f
		p := (qp[i] + wp) * ip[i] * f
		l := (ql[i] + sl) * il[i] * f
		ne[i], nw[i], ns[i], np[i], nl[i] = a, b, d, p, l
		largest = max(largest, bits(a), bits(b), bits(d), bits(p), bits(l))
	}
	kb := n.bridge * (lid - pocket)
	inverse, sink := n.inverse[one:one+single], n.sink[one:one+single]
	q, next = q[one:one+single], next[one:one+single]
	next[lidNode] = (q[lidNode] + toLid - kb - sink[lidNode]*lid) * inverse[lidNode] * f
	next[pocketNode] = (q[pocketNode] + kb - sink[pocketNode]*pocket) * inverse[pocketNode] * f
	next[upstreamNode] = q[upstreamNode] * inverse[upstreamNode] * f
	return max(largest, bits(next[lidNode]), bits(next[pocketNode]), bits(next[upstreamNode]))
}

// cross returns q with the heat that flows along edges and inflows.
func (n *network) cross(t, q []float64) []float64 {
	copy(n.scratch, q)
	q = n.scratch
	for _, e := range n.edges {
		w := e.g * (t[e.a] - t[e.b])
		q[e.a] -= w
		q[e.b] += w
	}
	for _, f := range n.inflows {
		q[f.to] += f.g * t[f.from]
	}
	return q
}

func bits(v float64) uint64 { return math.Float64bits(v) &^ (1 << 63) }

// at writes the temperatures at the fraction s of the step into x.
func (n *network) at(x []float64, s float64) {
	size := len(x)
	base := n.order * size
	copy(x, n.term[base:base+size])
	for k := n.order - 1; k >= 0; k-- {
		base -= size
		row := n.term[base : base+size]
		for i, v := range row {
			x[i] = x[i]*s + v
		}
	}
}

// weigh prepares temperature and heat for the step up to the fraction s.
func (n *network) weigh(s float64) {
	w := n.step * s
	for k := range n.order + 1 {
		n.weight[k] = w / float64(k+1)
		w *= s
	}
}

// temperature returns ∫ T_i dt in K s over the weighed part of the step. For
// a balance it leaves out the last term: with the powers of s that heat and
// the temperatures at the end have, a balance closes to round-off whatever
// the order.
func (n *network) temperature(i int, balance bool) float64 {
	size := len(n.inverse)
	last := n.order
	if balance {
		last--
	}
	sum := 0.0
	for k := last; k >= 0; k-- {
		sum += n.weight[k] * n.term[k*size+i]
	}
	return sum
}

// heat returns the integral of the heat into the water of channel i in J over
// the weighed part of the step: what a held node's surplus came to.
func (n *network) heat(i int) float64 {
	c := len(n.chains)
	sum := 0.0
	for k := n.order - 1; k >= 0; k-- {
		sum += n.weight[k] * n.surplus[k*c+i]
	}
	return sum
}
