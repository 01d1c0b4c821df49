package heat

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// basis finds the modes of boiler i with the given mass in kg.
func (c *Calm) basis(i int, mass float64) bool {
	b, g, par, n := &c.boilers[i], c.lanes, c.m.par, len(c.boilers)
	b.mass, b.made, b.air = mass, par.chains[i], par.air[shellNode*n+i]
	v := &par.vessels[i]
	wet := 1.0
	if mass < v.wetted {
		wet = mass / v.wetted
	}
	b.chain = b.made
	b.ew, b.es = wet*v.wet, (1-wet)*v.dry
	var capacities five
	for k := range capacities {
		capacities[k] = par.capacity[k*n+i]
	}
	capacities[waterNode] = mass * g.ref
	for k, capacity := range capacities {
		g.capacity[k][i], g.inverse[k][i] = capacity, 1/capacity
	}
	g.toWater[i] = capacities[elementNode] * g.inverse[waterNode][i]
	g.room[i], g.toRoom[i], g.sk[i] = b.air*g.single.ambient, 0, b.sk
	if b.air > 0 {
		g.toRoom[i] = b.air / (b.air + b.sk)
	}
	g.parched[i] = b.es * c.dt * g.inverse[shellNode][i]
	var k [calmNodes][calmNodes]float64
	join := func(a, d int, g float64) {
		k[a][a] += g
		k[d][d] += g
		k[a][d] -= g
		k[d][a] -= g
	}
	join(elementNode, waterNode, b.ew)
	join(elementNode, shellNode, b.es)
	join(waterNode, shellNode, b.ws)
	join(waterNode, probeNode, b.wp)
	join(shellNode, linkNode, b.sl)
	k[shellNode][shellNode] += b.sk + b.air
	for _, node := range []int{waterNode, shellNode} {
		if k[node][node]*c.dt > calmInner*capacities[node] {
			return false
		}
	}
	g.rise[i] = c.dt / 2 / mass
	half := c.dt / 2 * g.inverse[shellNode][i]
	g.midLid[i], g.midRoom[i] = half*b.sk, half*g.room[i]
	for node := range k {
		g.risen[node][i], g.midShell[node][i] = -g.rise[i]*k[waterNode][node], -half*k[shellNode][node]
	}
	g.midShell[shellNode][i]++
	s := mat.NewSymDense(calmNodes, nil)
	for a := range k {
		for d := a; d < calmNodes; d++ {
			s.SetSym(a, d, k[a][d]/math.Sqrt(capacities[a]*capacities[d]))
		}
	}
	var es mat.EigenSym
	if !es.Factorize(s, true) {
		return false
	}
	var q mat.Dense
	es.VectorsTo(&q)
	for j, l := range es.Values(nil) {
		b.lambda[j] = max(l, 0)
		for a, capacity := range capacities {
			b.in[a][j] = q.At(a, j) / math.Sqrt(capacity)
		}
	}
	for a := range b.in {
		for j, in := range b.in[a] {
			g.byElement[a][j][i], g.byLink[a][j][i] = in*b.in[elementNode][j], in*b.in[linkNode][j]
		}
	}
	c.window(i, &capacities)
	return true
}

// window works out what a window makes of temperatures and of what is held:
//
//	y ← y − λφ₁ y + φ₁ u,  ∫y = φ₁ y + φ₂ u,  u the forcing
func (c *Calm) window(i int, capacities *five) {
	b, g := &c.boilers[i], c.lanes
	var change, one, mean, meanOf five
	for j, l := range b.lambda {
		r := respond(l, c.dt)
		change[j], one[j], mean[j], meanOf[j] = -l*r.one, r.one, r.one/c.dt, r.two/c.dt
	}
	for k := range g.change {
		b.follow(k, &change, &one, capacities).set(&g.change[k], i)
	}
	b.follow(waterNode, &mean, &meanOf, capacities).set(&g.waterMean, i)
}

// linear is what linears are of one boiler.
type linear struct {
	x           five
	shell, draw float64
}

// set makes l that of boiler i.
func (l linear) set(to *linears, i int) {
	for k, x := range l.x {
		to.x[k][i] = x
	}
	to.shell[i], to.draw[i] = l.shell, l.draw
}

// follow returns what the temperature of a node is if each mode's amplitude is
// y times that at the start and u times its forcing.
func (b *calmBoiler) follow(node int, y, u, capacities *five) (l linear) {
	for j, in := range b.in[node] {
		for k, capacity := range capacities {
			l.x[k] += in * y[j] * b.in[k][j] * capacity
		}
		l.shell += in * u[j] * b.in[shellNode][j]
		l.draw += in * u[j] * b.in[waterNode][j]
	}
	return l
}

// response is what a rate λ makes of a time d: exp(−λd), the integral of
// exp(−λt) from 0 to d in s, and the integral of that in s².
type response struct{ decay, one, two float64 }

// respond returns the response of a rate in 1/s to a time of d seconds.
func respond(rate, d float64) response {
	x := rate * d
	decay := math.Exp(-x)
	if x < 0.1 { // by their series, in which nothing cancels
		one, two := 1.0, 1.0
		for k := 10.0; k > 1; k-- {
			one = 1 - x/k*one
			two = 1 - x/(k+1)*two
		}
		return response{decay, d * one, d * d / 2 * two}
	}
	one := -math.Expm1(-x) / rate
	return response{decay, one, (d - one) / rate}
}

// join returns the response to two times one after the other, the second of d seconds.
func (r response) join(then response, d float64) response {
	return response{
		float64(r.decay * then.decay),
		r.one + float64(r.decay*then.one),
		r.two + float64(r.one*d) + float64(r.decay*then.two),
	}
}
