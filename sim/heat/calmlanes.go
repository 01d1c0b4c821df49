package heat

import (
	"math"

	"boilwright/models/water"
)

// Wide is the number of boilers that a Calm can take.
const Wide = 4

// Lanes holds a number for each boiler that a Calm can take, side by side.
type Lanes [Wide]float64

// calmNodes is the number of nodes of a boiler.
const calmNodes = kinds

// fives is a number for each mode or node of the boilers.
type fives [calmNodes]Lanes

// linears are numbers that follow from the temperatures at the start of a window
// and from what is held in it:
//
//	x·T + shell·(W into the shell) − draw·(W out of the water)
type linears struct {
	x           fives
	shell, draw Lanes
}

// calmLanes is what a window reads and writes of the boilers, side by side. In lanes
// without a boiler all flows are zero, and the water is one of 1 J/(kg K). Here and in
// what else has lanes these lie at multiples of their size, so that none is split
// between two lines of the cache.
//
// The basis is that of mass and conductances; a node's temperature is in[node]·y, y
// the amplitudes of its boiler's modes.
type calmLanes struct {
	count           int     // of boilers
	dt              float64 // of a window, s
	ref, inverseRef float64 // c, J/(kg K), and 1/c
	beat            float64 // s, see Machine.Calm
	single          calmSingles
	used            Lanes // negative where there is a boiler, as masks for stores are

	// What does not change while nothing happens.
	capacity, inverse fives          // C and 1/C, J/K and K/J; the water's C is m·c
	toWater           Lanes          // C of the element per C of the water
	room, toRoom      Lanes          // W from the room into the shell at 0 °C, and the room's share of what the shell loses
	sk                Lanes          // W/K from the shell to the lid
	parched           Lanes          // of its heat, how much a window brings to the shell where the element is not under water
	limit             Lanes          // °C that water and shell must stay below
	softens, melts    Lanes          // °C that both with the link's own heat, and the link, must stay below
	beside            [Wide]Lanes    // W/K from each boiler's shell
	byElement, byLink [kinds]fives   // in[node] times that of element or link, mode by mode
	change            [kinds]linears // of temperatures in a window, K
	waterMean         linears        // °C

	// In the middle of the window H is higher by risen·x − rise·draw J/kg, and the
	// shell has midShell·x + midLid·(temperature of the lid) + midRoom °C.
	risen, midShell       fives
	rise, midLid, midRoom Lanes

	// As of now.
	x         fives // temperatures, °C; of the water w + γ of the last window
	water     Lanes // temperature of the water, °C
	enthalpy  Lanes // H of the water, J/kg
	inverseCP Lanes // 1/c_p of the water, kg K/J
	sums      Lanes // of the last window, J; see calmAdvancePlain

	// The piece of the water's properties that was met last; see [water.Piece].
	place, start      Lanes
	integral, cp, hfg [6]Lanes
	guess             Lanes // °C, the water after the first of two steps

	// Held in the window.
	shell Lanes // W into the shell from room, lid and neighbours, with it at 0 °C

	// Of draws.
	draw, taken Lanes       // W out of the water, meant at last and first; see calmRedrawPlain
	drawn       fives       // K that draws add to gain
	middle      Lanes       // H of the water in the middle of the window, J/kg
	flows       [Wide]Lanes // kg/s, how much of each boiler's middle is in draw
	cold        Lanes       // W, what the cold supply brings, at its H
	steam       Lanes       // kg/s

	// Of boilers that leak; see thinned.
	thin  Lanes // mass of the basis per that at the window's end
	extra Lanes // J/kg that the water loses beside its gain
}

// calmSingles is lid and pocket.
type calmSingles struct {
	ambient, ambientSum      float64 // °C, and over a window K s
	bridge                   float64 // W/K from lid to pocket
	lidAir, lidInverse       float64 // W/K, and 1/C in K/J
	lidHalf                  float64 // K/W that the lid warms by until the middle of a window
	pocketAir, pocketInverse float64
	toLid, roomHeat          float64 // W/K from all shells to the lid, and J from the room to them in a window
	mid                      float64 // °C of the lid in the middle of the window

	// The integral of the pocket's temperature over a window is, in K s, own·(its
	// temperature) + byLid·(the integral of the lid's) + byRoom, but for its own heat.
	own, byLid, byRoom float64

	_ [1]float64 // for the place of the lanes that follow
}

// newCalmLanes returns lanes for n boilers, none of which has a basis yet, and windows of
// dt seconds with so many beats.
func newCalmLanes(n int, dt float64, beats int) *calmLanes {
	g := &calmLanes{count: n, dt: dt, beat: dt / float64(beats), ref: water.CP(60)}
	g.inverseRef = 1 / g.ref
	for l := range Wide {
		g.limit[l], g.softens[l], g.melts[l] = math.Inf(1), math.Inf(1), math.Inf(1)
		g.thin[l], g.inverseCP[l], g.cp[0][l] = 1, 1, 1
		if l < n {
			g.used[l] = -1
		}
	}
	return g
}

// dot is Σ aₖ·bₖ in lane l, in pairs that do not wait for one another.
func (a *fives) dot(b *fives, l int) float64 {
	return (float64(a[0][l]*b[0][l]) + float64(a[1][l]*b[1][l])) + (float64(a[2][l]*b[2][l]) + float64(a[3][l]*b[3][l])) + float64(a[4][l]*b[4][l])
}

// of is f in lane l.
func (f *linears) of(g *calmLanes, l int) float64 {
	return f.x.dot(&g.x, l) + float64(f.shell[l]*g.shell[l]) - float64(f.draw[l]*g.draw[l])
}

// sum adds the lanes up.
func (a *Lanes) sum() float64 { return (a[0] + a[1]) + (a[2] + a[3]) }

// polynomial is the polynomial c at s in lane l, as [water.Piece] has it.
func polynomial(c *[6]Lanes, l int, s float64) float64 {
	square := float64(s * s)
	v := float64((float64(c[5][l]*s)+c[4][l])*square) + (float64(c[3][l]*s) + c[2][l])
	return float64(v*square) + (float64(c[1][l]*s) + c[0][l])
}

// wet gives the water of lane l a temperature in °C.
func (g *calmLanes) wet(l int, t float64) {
	h, cp := water.HAndCP(t)
	g.water[l], g.enthalpy[l], g.inverseCP[l] = t, h, 1/cp
	g.meet(l, t)
}

// meet takes the piece of the water's properties in which t °C lies into lane l.
func (g *calmLanes) meet(l int, t float64) {
	p, ok := water.PieceAt(t)
	if !ok {
		p.Place = math.NaN() // so that no temperature is in it
	}
	g.place[l], g.start[l] = p.Place, p.Start
	for i := range p.CP {
		g.integral[i][l], g.cp[i][l], g.hfg[i][l] = p.Integral[i], p.CP[i], p.Hfg[i]
	}
}

// leave finishes the window for a water that has left its piece: the second step
// of Newton's method.
func (g *calmLanes) leave(l int) (t float64) {
	t = g.guess[l]
	h, cp := water.HAndCP(t)
	g.inverseCP[l] = 1 / cp
	g.meet(l, t)
	t += float64((g.enthalpy[l] - h) * g.inverseCP[l])
	g.water[l] = t
	return t
}
