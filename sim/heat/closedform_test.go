package heat

import (
	"math"
	"testing"

	"boilwright/models"
	"boilwright/models/water"

	q "boilwright/models/quantity"
)

// lumped is a board of one channel in which nothing is connected to anything:
// element, shell, probe, link, lid and pocket of 100 J/K each, and 0.5 kg of
// water, all at 20 °C. Its element is half wet, with conductances of zero.
func lumped() *models.Board {
	var ch models.Channel
	ch.Name = "only"
	ch.Element.Capacity = 100
	ch.Link = models.ThermalLink{Functions: q.Celsius(math.Inf(1)), Capacity: 100}
	ch.Probe.Capacity = 100
	ch.Boiler = models.Boiler{
		Open: true, Water: 0.5, Wetted: 1, Floor: 0.1, Start: 20, Inlet: 20, Scale: 1, ShellCapacity: 100,
	}
	return &models.Board{
		Ambient: 20, AmbientPressure: 101325, Channels: []models.Channel{ch},
		Lid: models.Lid{Capacity: 100, Start: 20}, Pocket: models.Pocket{Capacity: 100, Start: 20},
	}
}

func mustNew(t testing.TB, b *models.Board) *Machine {
	t.Helper()
	m, err := New(b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// constant plans one piece.
func constant(dt float64, p Powers) func(*Outlook) []Piece {
	pieces := []Piece{{dt, p}}
	return func(*Outlook) []Piece { return pieces }
}

// advance takes m from t0 to t1 in windows of at most a second.
func advance(t testing.TB, m *Machine, t0, t1 float64, p Powers) []Event {
	t.Helper()
	var events []Event
	for n, k := math.Ceil(t1-t0), 0.0; k < n; k++ {
		dt := (t1 - t0) / n
		r, err := m.Window(t0+k*dt, dt, constant(dt, p))
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, r.Events...)
	}
	return events
}

func near(t testing.TB, what string, found, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(found-want) <= tolerance) {
		t.Errorf("%s: found %.13g, expected %.13g within %g", what, found, want, tolerance)
	}
}

// A body in a stream of 200 °C: the bead of a thermocouple.
func TestFirstOrderResponse(t *testing.T) {
	bead := func(start, capacity, conductance float64) *models.Board {
		b := lumped()
		b.Ambient = 200
		b.Pocket = models.Pocket{Capacity: q.JoulePerKelvin(capacity), ToAir: q.WattPerKelvin(conductance), Start: q.Celsius(start)}
		return b
	}
	sphere := func(d, density, c, h float64) (capacity, conductance float64) {
		return density * c * math.Pi * d * d * d / 6, h * math.Pi * d * d
	}
	// J. H. Lienhard IV and V, "A Heat Transfer Textbook", chapter 1,
	// example: τ = ρcD/(6h) = 1.116 s; inputs from memory.
	c, g := sphere(1e-3, 9300, 180, 250)
	near(t, "time constant", c/g, 1.116, 1e-12)
	m := mustNew(t, bead(20, c, g))
	advance(t, m, 0, 1.116, Powers{})
	near(t, "after one time constant", m.State().Pocket, 200-180*math.Exp(-1), 1e-10)

	// Y. A. Çengel, "Heat Transfer", example 4-1: 99 % in about 10 s.
	c, g = sphere(1e-3, 8500, 320, 210)
	m = mustNew(t, bead(20, c, g))
	advance(t, m, 0, 9.94131976658, Powers{})
	near(t, "after the time to 99 %", m.State().Pocket, 200-0.01*180, 1e-9)

	// F. P. Incropera and D. P. DeWitt, "Fundamentals of Heat and Mass
	// Transfer", example 5.1: 0.706 mm, 25 to 199 °C in 5.2 s.
	c, g = sphere(0.705882352941e-3, 8500, 400, 400)
	m = mustNew(t, bead(25, c, g))
	advance(t, m, 0, 5.16478597392, Powers{})
	near(t, "bead of 0.706 mm", m.State().Pocket, 199, 1e-9)

	// 1 − exp(−k), k = 1 to 5; closed form.
	m = mustNew(t, bead(0, 7, 7))
	for k, want := range []float64{0.632120558829, 0.864664716763, 0.950212931632, 0.981684361111, 0.993262053001} {
		advance(t, m, float64(k), float64(k+1), Powers{})
		near(t, "first-order response", m.State().Pocket/200, want, 1e-12)
	}
}

// Cooling and heating of a body with losses, closed forms:
//
//	t = τ ln(ΔT_0/ΔT),  t = −(C/G) ln(1 − G ΔT/P)
func TestLumpedBody(t *testing.T) {
	b := lumped()
	b.Pocket = models.Pocket{Capacity: 2500, ToAir: 0.5, Start: 93}
	m := mustNew(t, b)
	advance(t, m, 0, 3007.89993517, Powers{})
	near(t, "cooling from 93 °C", m.State().Pocket, 60, 1e-9)

	b.Pocket = models.Pocket{Capacity: 1465.20256505, ToAir: 0.5, Start: 20}
	m = mustNew(t, b)
	advance(t, m, 0, 90.516853393, Powers{Pocket: 1200})
	near(t, "heating at 1200 W", m.State().Pocket, 93, 1e-8)
}

// Two nodes, element 150 J/K and boiler 2500 J/K, 6 W/K between them, 0.5 W/K
// to a room of 20 °C, 1200 W: the eigenvalues of the 2×2 system give
//
//	rise of the element 2600 − 2422.1440623 e^(l1 t) − 177.855937702 e^(l2 t)
//	rise of the boiler  2400 − 2410.72191779 e^(l1 t) + 10.7219177858 e^(l2 t)
//
// with l1, l2 = −0.0001886286565747, −0.04241137134343 1/s (roots of
// l² + 0.0426 l + 8e-6, closed form). The boiler is the shell here, with
// G_es = (1 − w)·12 W/K at w = 1/2.
func TestTwoNodes(t *testing.T) {
	b := lumped()
	ch := &b.Channels[0]
	ch.Element.Capacity = 150
	ch.Boiler.ShellCapacity = 2500
	ch.Boiler.ElementToShell = 12
	ch.Boiler.ShellToAir = 0.5
	on := Powers{Element: []float64{1200}}
	m := mustNew(t, b)
	at := 0.0
	for _, c := range []struct{ t, element, boiler float64 }{
		{1, 27.84223756, 20.00946511},
		{5, 56.26829508, 20.22382638},
		{10, 86.04055067, 20.83698972},
		{30, 161.6930285, 25.88550562},
		{60, 211.1532076, 37.2497906},
		{120, 250.9704416, 63.29894941},
		{180, 278.628873, 89.76092453},
		{300, 331.1150932, 141.9093849},
		{600, 457.0437286, 267.243617},
	} {
		advance(t, m, at, c.t, on)
		at = c.t
		near(t, "element", m.State().Element[0], c.element, 1e-9*c.element+5e-8)
		near(t, "boiler", m.State().Shell[0], c.boiler, 1e-9*c.boiler+5e-8)
		tr, det := -0.0426, 8e-6
		root := math.Sqrt(tr*tr - 4*det)
		l1, l2 := (tr+root)/2, (tr-root)/2
		// C dT/dt of the boiler at 0 is 0: a l1 + b l2 = 0 and a + b = −2400.
		a2 := 2400 * l1 / (l2 - l1)
		a1 := -2400 - a2
		near(t, "boiler, closed form", m.State().Shell[0], 20+2400+a1*math.Exp(l1*c.t)-(-a2)*math.Exp(l2*c.t), 1e-10*c.boiler)
		if c.t == 180 { // C1 x1 + C2 x2 + ∫ Ga x2 dt = P t
			e := m.Balance()
			near(t, "energy in", e.In, 216000, 1e-6)
			near(t, "energy stored and lost", e.Stored+e.Ambient, 216000, 1e-6)
		}
	}

	m = mustNew(t, b)
	advance(t, m, 0, 187.377358199, on)
	near(t, "boiler at the time it reaches 93 °C", m.State().Shell[0], 93, 1e-8)
	near(t, "element then", m.State().Element[0], 281.907808258, 1e-8)
	advance(t, m, 187.377358199, 187.377358199+79.5749401702, Powers{})
	peak := m.State().Shell[0]
	near(t, "peak after the power is cut", peak, 102.104093104, 1e-8)
	near(t, "element then", m.State().Element[0], 108.946100862, 1e-7)
	advance(t, m, 266.95, 267.95, Powers{})
	if m.State().Shell[0] >= peak {
		t.Errorf("found %g after the peak of %g, expected less", m.State().Shell[0], peak)
	}
}

// kettle has no losses and an element that stores next to nothing.
func kettle(kg, start, boiling float64) *models.Board {
	p, err := water.SaturationPressure(boiling)
	if err != nil {
		panic(err)
	}
	b := lumped()
	b.AmbientPressure = q.Pascal(p)
	ch := &b.Channels[0]
	ch.Element.Capacity = 0.02
	ch.Boiler.ElementToWater = 10
	ch.Boiler.Water, ch.Boiler.Wetted = q.Kilogram(kg), 0.2
	ch.Boiler.Start = q.Celsius(start)
	return b
}

// Heat and loss-free time to warm water, from differences of enthalpy at
// 0.101325 MPa, IAPWS R7-97(2012) region 1. The machine warms along the
// saturation line, which makes 4e-5 of difference.
func TestWarmingWater(t *testing.T) {
	for _, c := range []struct{ kg, start, watts, joules, seconds float64 }{
		{1, 20, 1000, 305599.39216, 305.599392},
		{1, 20, 1200, 305599.39216, 254.666160},
		{1, 20, 1500, 305599.39216, 203.732928},
		{1, 20, 2000, 305599.39216, 152.799696},
		{0.35, 20, 1200, 0.35 * 305599.39216, 89.133156},
		{1, 15, 1000, 326533.41874, 326.53341874},
	} {
		m := mustNew(t, kettle(c.kg, c.start, 93))
		on := Powers{Element: []float64{c.watts}}
		for at := 0.0; ; at++ {
			r, err := m.Window(at, 1, constant(1, on))
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Events) > 0 {
				if k := r.Events[0].Kind; k != BoilStart {
					t.Fatalf("found %v, expected %v", k, BoilStart)
				}
				at := r.Events[0].Time
				near(t, "time to 93 °C", at, c.seconds, 1e-4*c.seconds)
				near(t, "heat to 93 °C", at*c.watts, c.joules, 1e-4*c.joules)
				// Along the saturation line exactly; the element's 0.02 J/K
				// at up to 200 K above the water is left.
				want := c.kg * (water.H(93) - water.H(c.start))
				near(t, "heat to 93 °C with H(T)", at*c.watts, want, 1e-7*want+0.02*(c.watts/10+93-c.start))
				break
			}
			if at > 400 {
				t.Fatal("found no boiling in 400 s")
			}
		}
	}
}

// 1 g/s of steam at 120 °C from feed of 20 °C takes 2621.82958 W: enthalpy of
// saturated vapour less that of feed water, IAPWS R7-97(2012). With H(T) in
// place of the liquid's enthalpy it is 6e-5 less.
func TestSteamPower(t *testing.T) {
	b := kettle(1, 20, 120)
	bo := &b.Channels[0].Boiler
	bo.Open, bo.Relief, bo.Reseat = false, b.AmbientPressure, 0.9*b.AmbientPressure
	bo.Feed = true
	b.AmbientPressure = 101325
	m := mustNew(t, b)
	on := Powers{Element: []float64{2621.82958}}
	events := advance(t, m, 0, 200, on)
	if len(events) != 1 || events[0].Kind != ReliefOpen {
		t.Fatalf("found events %v, expected the relief valve to open", events)
	}
	start := m.State().Steam[0]
	advance(t, m, 200, 300, on)
	near(t, "steam in 100 s", m.State().Steam[0]-start, 0.1, 0.1*1e-4)
	near(t, "pressure", m.State().Pressure(0), 198665.4, 1)
	near(t, "mass", m.State().Mass[0], 1, 0)
}
