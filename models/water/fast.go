package water

import (
	"math"
	"sync"
	"sync/atomic"
)

// The fast functions hold from 0 degC to [MaxFastCelsius].
const (
	// MaxFastCelsius is the upper end, in degC, of the range in which the fast
	// functions agree with the formulas.
	MaxFastCelsius = 200.0

	pieceWidth = 2.0 // K; a power of two, so that dividing by it is exact
	pieces     = int(MaxFastCelsius / pieceWidth)
	degree     = 5
)

// polynomial holds c0 to c5 of c0 + c1 s + ... + c5 s^5, where s runs from 0 to
// 1 along a piece.
type polynomial [degree + 1]float64

// piece holds the fast forms over one of the pieces. Those of cp and hfg take the
// formula's value at both its ends, so neighbours meet.
type piece struct {
	start    float64    // H where it starts, J/kg
	integral polynomial // integral of cp from there, divided by s, J/kg
	cp       polynomial // J/(kg K)
	hfg      polynomial // J/kg
}

// Piece is what the fast functions are over the 2 K in which a temperature lies, for
// callers that take many temperatures at once: with s = tC/2 - Place, which runs from 0
// to below 1,
//
//	CP = p(CP, s),  Hfg = p(Hfg, s),  H = Start + s p(Integral, s),
//	p(c, s) = ((c5 s + c4) s^2 + (c3 s + c2)) s^2 + (c1 s + c0)
//
// to the last bit, where products are rounded before they are summed.
type Piece struct {
	Place, Start      float64 // Start in J/kg
	Integral, CP, Hfg [degree + 1]float64
}

// PieceAt returns the piece in which tC degC lies; there is none outside the range
// from 0 to [MaxFastCelsius], ends included.
func PieceAt(tC float64) (p Piece, ok bool) {
	if !(tC > 0 && tC < MaxFastCelsius) {
		return Piece{}, false
	}
	k, _ := place(tC)
	of := &fast().pieces[k]
	return Piece{float64(k), of.start, of.integral, of.cp, of.hfg}, true
}

// h is H at s of the piece.
func (p *piece) h(s float64) float64 { return p.start + float64(s*p.integral.at(s)) }

// table holds the fast forms.
type table struct {
	pieces            [pieces]piece
	end               float64 // H at the upper end, J/kg
	cpLow, cpHigh     float64 // cp at both ends of the range, J/(kg K)
	hfgLow, hfgHigh   float64 // hfg there, J/kg
	kelvinPerEnthalpy float64 // MaxFastCelsius / H(MaxFastCelsius), K kg/J
}

// fast returns the table, made from the formulas alone at the first call.
func fast() *table {
	if tab := made.Load(); tab != nil {
		return tab
	}
	return first()
}

var (
	made  atomic.Pointer[table]
	first = sync.OnceValue(func() *table {
		tab := newTable()
		made.Store(tab)
		return tab
	})
)

func newTable() *table {
	tab := new(table)
	for k := range tab.pieces {
		p, start := &tab.pieces[k], zeroCelsius+float64(k)*pieceWidth
		p.start = tab.end
		p.cp = interpolate(saturatedHeatCapacity, start)
		p.hfg = interpolate(latentHeat, start)
		for i, c := range p.cp {
			p.integral[i] = pieceWidth * c / float64(i+1)
		}
		tab.end += p.integral.at(1)
	}
	low, high := &tab.pieces[0], &tab.pieces[pieces-1]
	tab.cpLow, tab.hfgLow = low.cp.at(0), low.hfg.at(0)
	tab.cpHigh, tab.hfgHigh = high.cp.at(1), high.hfg.at(1)
	tab.kelvinPerEnthalpy = MaxFastCelsius / tab.end
	return tab
}

// interpolate returns the polynomial through f of T at the six Chebyshev-Lobatto
// points (1 - cos(j pi/5))/2 of the piece that starts at T K: Newton's divided
// differences, then multiplied out. L. N. Trefethen, "Approximation Theory and
// Approximation Practice", SIAM 2013, chapter 2, has the points.
func interpolate(f func(T float64) float64, T float64) polynomial {
	r := math.Sqrt(5)
	node := polynomial{0, (3 - r) / 8, (5 - r) / 8, (3 + r) / 8, (5 + r) / 8, 1}
	var d polynomial
	for j, s := range node {
		x := pieceWidth * s
		d[j] = f(T + x)
	}
	for i := 1; i <= degree; i++ {
		for j := degree; j >= i; j-- {
			d[j] = (d[j] - d[j-1]) / (node[j] - node[j-i])
		}
	}
	var c polynomial
	for j := degree; j >= 0; j-- { // c = c (s - node j) + d j
		for i := degree; i > 0; i-- {
			c[i] = c[i-1] - float64(c[i]*node[j])
		}
		c[0] = d[j] - float64(c[0]*node[j])
	}
	return c
}

// at is the polynomial at s by Estrin's rule, Horner's in pairs, which waits less
// for one product before the next. The conversions keep a compiler from fusing
// product and sum, so that every machine gives the same bits.
func (c *polynomial) at(s float64) float64 {
	square := s * s
	v := float64(square*(float64(c[5]*s)+c[4])) + (float64(c[3]*s) + c[2])
	return float64(square*v) + (float64(c[1]*s) + c[0])
}

// place returns the piece in which tC lies and how far along it, 0 to 1. tC is
// above 0 and below MaxFastCelsius.
func place(tC float64) (k int, s float64) {
	u := tC / pieceWidth
	k = int(u)
	return k, u - float64(k)
}

// CP returns the isobaric heat capacity of saturated liquid in J/(kg K) at tC
// degC. It is the fast form of [State.CP] of [SaturatedLiquid], within 1e-10
// relative from 0 to 200 degC. Outside it keeps the value of the nearer end: 4220
// or 4494 J/(kg K).
func CP(tC float64) float64 {
	tab := fast()
	if tC > 0 && tC < MaxFastCelsius {
		k, s := place(tC)
		return tab.pieces[k].cp.at(s)
	}
	return beyond(tC, tab.cpLow, tab.cpHigh)
}

// H returns the integral of [CP] from 0 degC to tC degC in J/kg. It is that
// integral to round-off, for the polynomials of CP are integrated term by term: a
// balance that stores CP dT and moves water with H closes. It is the fast
// form of [EnthalpyIntegral], within 1e-10 relative from 0 to 200 degC. Outside it goes
// on along a straight line.
func H(tC float64) float64 {
	tab := fast()
	if tC > 0 && tC < MaxFastCelsius {
		k, s := place(tC)
		return tab.pieces[k].h(s)
	}
	if tC >= MaxFastCelsius {
		return tab.end + float64(tab.cpHigh*(tC-MaxFastCelsius))
	}
	return tab.cpLow * tC
}

// HAndCP returns [H] and [CP] at tC degC, the same to the last bit, in one go.
func HAndCP(tC float64) (h, cp float64) {
	if tC > 0 && tC < MaxFastCelsius {
		tab := fast()
		k, s := place(tC)
		p := &tab.pieces[k]
		return p.h(s), p.cp.at(s)
	}
	return H(tC), CP(tC)
}

// TemperatureOfH returns the temperature in degC at which [H] is h J/kg: the
// inverse of H, to round-off, for any h.
func TemperatureOfH(h float64) float64 {
	tab := fast()
	end := tab.end
	if !(h > 0) {
		return h / tab.cpLow
	}
	if h >= end {
		return MaxFastCelsius + (h-end)/tab.cpHigh
	}
	// Newton's rule from the chord. cp changes by 7 percent over the range, so
	// the first error of some 3 K becomes millikelvins, then nothing.
	t := h * tab.kelvinPerEnthalpy
	for range 4 {
		t -= (H(t) - h) / CP(t)
	}
	return t
}

// Hfg returns the latent heat of evaporation in J/kg at tC degC. It is the fast
// form of [LatentHeat], within 1e-10 relative from 0 to 200 degC. Outside it keeps
// the value of the nearer end: 2500.9 or 1939.7 kJ/kg.
func Hfg(tC float64) float64 {
	tab := fast()
	if tC > 0 && tC < MaxFastCelsius {
		k, s := place(tC)
		return tab.pieces[k].hfg.at(s)
	}
	return beyond(tC, tab.hfgLow, tab.hfgHigh)
}

// beyond returns the end value on the side on which tC lies, or NaN for NaN.
func beyond(tC, low, high float64) float64 {
	switch {
	case tC >= MaxFastCelsius:
		return high
	case tC <= 0:
		return low
	default:
		return tC
	}
}
