package heat

import (
	"math"
	"time"

	"boilwright/models"
	"boilwright/models/water"

	"pgregory.net/rapid"

	q "boilwright/models/quantity"
)

// drawBoard draws a board with everything in plausible ranges.
func drawBoard(t *rapid.T, channels int) *models.Board {
	num := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	b := &models.Board{
		Ambient: q.Celsius(num("ambient", 5, 35)), AmbientPressure: q.Pascal(num("ambient pressure", 75e3, 105e3)),
		Lid: models.Lid{Capacity: q.JoulePerKelvin(num("lid capacity", 300, 3000)), ToPocket: q.WattPerKelvin(num("lid to pocket", 0.05, 1)),
			ToAir: q.WattPerKelvin(num("lid to air", 0.1, 3)), Start: q.Celsius(num("lid start", 5, 60))},
		Pocket: models.Pocket{Capacity: q.JoulePerKelvin(num("pocket capacity", 50, 500)), ToAir: q.WattPerKelvin(num("pocket to air", 0.1, 2)),
			Start: q.Celsius(num("pocket start", 5, 60))},
	}
	for i := range channels {
		var ch models.Channel
		bo := &ch.Boiler
		ch.Element.Capacity = q.JoulePerKelvin(num("element capacity", 60, 300))
		ch.Link = models.ThermalLink{Functions: 1000, Capacity: q.JoulePerKelvin(num("link capacity", 2, 10)), ToShell: q.WattPerKelvin(num("link to shell", 0.1, 0.6))}
		ch.Probe = models.Probe{Capacity: q.JoulePerKelvin(num("probe capacity", 5, 30)), ToWater: q.WattPerKelvin(num("probe to water", 0.2, 3))}
		mass := num("water", 0.3, 2)
		*bo = models.Boiler{
			Open: rapid.Bool().Draw(t, "open"), Water: q.Kilogram(mass), Wetted: q.Kilogram(mass * num("wetted", 0.2, 1.1)),
			Floor: q.Kilogram(mass * num("floor", 0.05, 0.18)), Start: q.Celsius(num("start", 10, 85)), Inlet: q.Celsius(num("inlet", 5, 25)),
			Scale: q.Ratio(num("scale", 1, 4)), Feed: rapid.Bool().Draw(t, "feed"),
			ElementToWater: q.WattPerKelvin(num("element to water", 8, 40)), ElementToShell: q.WattPerKelvin(num("element to shell", 0, 6)),
			WaterToShell: q.WattPerKelvin(num("water to shell", 20, 100)), ShellToLid: q.WattPerKelvin(num("shell to lid", 0.05, 0.5)),
			ShellToAir: q.WattPerKelvin(num("shell to air", 0.2, 2)), ShellCapacity: q.JoulePerKelvin(num("shell capacity", 200, 900)),
			Relief: q.Pascal(num("relief", 120e3, 350e3)),
		}
		bo.Reseat = bo.Relief * q.Pascal(num("reseat", 0.8, 1))
		for range rapid.IntRange(0, 2).Draw(t, "draws") {
			d := models.Draw{From: seconds(num("from", 0, 60)), Steam: rapid.Bool().Draw(t, "steam"), Refill: -1}
			d.To = d.From + seconds(num("length", 0.1, 40))
			if rapid.Bool().Draw(t, "repeated") {
				d.Every = d.To - d.From + seconds(num("pause", 0.1, 30))
			}
			if d.Steam {
				d.Flow = q.KilogramPerSecond(num("steam flow", 1e-6, 1e-4))
			} else {
				d.Flow = q.KilogramPerSecond(num("flow", 1e-5, 0.02))
				if j := rapid.IntRange(-1, channels-1).Draw(t, "refill"); j != i {
					d.Refill = j
				}
			}
			bo.Draws = append(bo.Draws, d)
		}
		b.Channels = append(b.Channels, ch)
	}
	if channels > 1 && rapid.Bool().Draw(t, "coupled") {
		b.Couplings = []models.Coupling{{A: 0, B: 1, Conductance: q.WattPerKelvin(num("coupling", 0.1, 3))}}
	}
	if rapid.Bool().Draw(t, "upstream") {
		b.Upstream = &models.ThermalLink{Functions: 1000, Capacity: 6, ToShell: 0.4}
	}
	return b
}

// drawPieces returns the pieces of one second: random powers over random
// lengths.
func drawPieces(t *rapid.T, b *models.Board) []Piece {
	n := len(b.Channels)
	pieces := make([]Piece, rapid.IntRange(1, 4).Draw(t, "pieces"))
	left := 1.0
	for k := range pieces {
		p := &pieces[k]
		p.Duration = left
		if k < len(pieces)-1 {
			p.Duration = left * rapid.Float64Range(0, 1).Draw(t, "length")
		}
		left -= p.Duration
		p.Element, p.Link = make([]float64, n), make([]float64, n)
		for i := range n {
			if rapid.Bool().Draw(t, "on") {
				p.Element[i] = rapid.Float64Range(100, 2000).Draw(t, "power")
				p.Link[i] = 0.2
				p.Pocket += 5
			}
		}
		if b.Upstream != nil {
			p.Upstream = 0.5
		}
	}
	return pieces
}

// rates is the model written down as on paper, heat capacity and all else
// taken at the very instant, without boiling: the slow way that anyone can
// read. The state is x as in State, then the masses.
func rates(b *models.Board, t float64, y []float64, p *Powers) []float64 {
	n := len(b.Channels)
	d := make([]float64, len(y))
	lid, pocket, up := 5*n, 5*n+1, 5*n+2
	mass := y[5*n+3:]
	ambient := float64(b.Ambient)
	draw := make([]float64, n) // W out of the water
	at := time.Duration(math.Round(t * 1e9))
	for i := range b.Channels {
		bo := &b.Channels[i].Boiler
		tw := y[n+i]
		for _, dr := range bo.Draws {
			f := float64(dr.Flow)
			if active, _ := dr.Active(at); !active {
				continue
			}
			cold := func(bo *models.Boiler) float64 { return water.H(float64(bo.Inlet)) }
			switch {
			case dr.Steam && bo.Feed:
				draw[i] += f * (water.Hfg(tw) + water.H(tw) - cold(bo))
			case dr.Steam:
				draw[i] += f * water.Hfg(tw)
				d[5*n+3+i] -= f
			case dr.Refill < 0:
				draw[i] += f * (water.H(tw) - cold(bo))
			default:
				j := dr.Refill
				draw[i] += f * (water.H(tw) - water.H(y[n+j]))
				draw[j] += f * (water.H(y[n+j]) - cold(&b.Channels[j].Boiler))
			}
		}
	}
	for i := range b.Channels {
		ch := &b.Channels[i]
		bo := &ch.Boiler
		te, tw, ts, tp, tl := y[i], y[n+i], y[2*n+i], y[3*n+i], y[4*n+i]
		wet := math.Min(1, mass[i]/float64(bo.Wetted))
		ew := wet * float64(bo.ElementToWater) / float64(bo.Scale) * (te - tw)
		es := (1 - wet) * float64(bo.ElementToShell) * (te - ts)
		ws := float64(bo.WaterToShell) * (tw - ts)
		wp := float64(ch.Probe.ToWater) * (tw - tp)
		sl := float64(ch.Link.ToShell) * (ts - tl)
		sk := float64(bo.ShellToLid) * (ts - y[lid])
		sa := float64(bo.ShellToAir) * (ts - ambient)
		d[i] = (p.Element[i] - ew - es) / float64(ch.Element.Capacity)
		d[n+i] = (ew - ws - wp - draw[i]) / (mass[i] * water.CP(tw))
		d[2*n+i] += (es + ws - sl - sk - sa) / float64(bo.ShellCapacity)
		d[3*n+i] = wp / float64(ch.Probe.Capacity)
		d[4*n+i] = (sl + p.Link[i]) / float64(ch.Link.Capacity)
		d[lid] += sk / float64(b.Lid.Capacity)
		if u := b.Upstream; u != nil {
			g := float64(u.ToShell) / float64(n) * (ts - y[up])
			d[up] += g / float64(u.Capacity)
			d[2*n+i] -= g / float64(bo.ShellCapacity)
		}
	}
	if u := b.Upstream; u != nil {
		d[up] += p.Upstream / float64(u.Capacity)
	}
	for _, c := range b.Couplings {
		g := float64(c.Conductance) * (y[2*n+c.A] - y[2*n+c.B])
		d[2*n+c.A] -= g / float64(b.Channels[c.A].Boiler.ShellCapacity)
		d[2*n+c.B] += g / float64(b.Channels[c.B].Boiler.ShellCapacity)
	}
	kb := float64(b.Lid.ToPocket) * (y[lid] - y[pocket])
	d[lid] -= (kb + float64(b.Lid.ToAir)*(y[lid]-ambient)) / float64(b.Lid.Capacity)
	d[pocket] = (kb + p.Pocket - float64(b.Pocket.ToAir)*(y[pocket]-ambient)) / float64(b.Pocket.Capacity)
	return d
}

// rungeKutta takes y through dt seconds by the classical method of order four.
func rungeKutta(b *models.Board, t, dt float64, y []float64, p *Powers) {
	add := func(k []float64, h float64) []float64 {
		z := make([]float64, len(y))
		for i := range z {
			z[i] = y[i] + h*k[i]
		}
		return z
	}
	// Draws change between steps only: look a little inside.
	k1 := rates(b, t+1e-6, y, p)
	k2 := rates(b, t+dt/2, add(k1, dt/2), p)
	k3 := rates(b, t+dt/2, add(k2, dt/2), p)
	k4 := rates(b, t+dt-1e-6, add(k3, dt), p)
	for i := range y {
		y[i] += dt / 6 * (k1[i] + 2*k2[i] + 2*k3[i] + k4[i])
	}
}
