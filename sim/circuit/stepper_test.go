package circuit

import (
	"math"
	"testing"

	"boilwright/models"
)

// stepper integrates one channel in small steps (Heun's method), on equations
// written down by hand for this one circuit:
//
//	e – Rs – Ls – L –[triac, snubber, gate path]– OUT – R – N
//
// with MT1 on L. What it knows of is u = v(MT2) − v(MT1), the line's current
// iL and the snubber's capacitor voltage vC. Everything between MT2 and MT1
// carries −iL together:
//
//	main(u) + (u − vC)/R_sn + gate(u) = −iL
//	Ls·diL/dt = e − (Rs + R)·iL + u,  R_sn·C_sn·dvC/dt = u − vC
type stepper struct {
	emf                func(t float64) float64
	rs, ls, load       float64
	rsn, csn           float64
	goff, vt0, rt      float64
	vg0, rg, rgk, gate float64 // gate: the resistor R_G
	vp0, rp, gp        float64
	igt, il, ih        float64
	ilp, ihp, inhibit  float64
	led                bool

	iL, vC       float64
	triac        float64 // sign of conduction, 0 blocking
	latched      bool
	opto         float64
	heat         float64 // energy of the load
	fired, ended []float64
}

// point is the circuit at one instant.
type point struct{ u, main, gate, junction, opto float64 }

// solve finds u by trying the junction open, + and −.
func (s *stepper) solve(triac, opto float64) point {
	ro := 1 / s.gp
	if opto != 0 {
		ro = s.rp
	}
	for _, j := range []float64{0, 1, -1} {
		// The gate and what is in parallel with it as a source behind a
		// resistance.
		r, v := s.rgk, 0.0
		if j != 0 {
			r = 1 / (1/s.rgk + 1/s.rg)
			v = j * s.vg0 / s.rg * r
		}
		path := ro + s.gate + r
		conductance := 1/s.rsn + 1/path
		current := -s.iL + s.vC/s.rsn + (opto*s.vp0+v)/path
		if triac != 0 {
			conductance += 1 / s.rt
			current += triac * s.vt0 / s.rt
		} else {
			conductance += s.goff
		}
		p := point{u: current / conductance}
		p.gate = (p.u - opto*s.vp0 - v) / path
		vg := v + r*p.gate
		p.main = s.goff * p.u
		if triac != 0 {
			p.main = (p.u - triac*s.vt0) / s.rt
		}
		p.opto = p.u - s.gate*p.gate - vg
		if j != 0 {
			p.junction = (vg - j*s.vg0) / s.rg
		}
		if j == 0 && math.Abs(vg) <= s.vg0 || j*p.junction > 0 {
			return p
		}
	}
	panic("no state of the junction fits")
}

// rules carries out the changes that are demanded, one after the other, in the
// order opto off, latch or unlatch, loss of gate, opto on, fire.
func (s *stepper) rules(t float64) point {
	for range 50 {
		p := s.solve(s.triac, s.opto)
		switch {
		case s.opto != 0 && s.opto*p.gate < s.ihp:
			s.opto = 0
			continue
		case s.triac != 0 && !s.latched && s.triac*p.main >= s.il:
			s.latched = true
			continue
		case s.triac != 0 && s.latched && s.triac*p.main < s.ih,
			s.triac != 0 && !s.latched && math.Abs(p.junction) < s.igt:
			s.triac = 0
			s.ended = append(s.ended, t)
			continue
		}
		sign := math.Copysign(1, p.opto)
		if s.opto == 0 && s.led && math.Abs(p.opto) <= s.inhibit && sign*s.solve(s.triac, sign).gate >= s.ilp {
			s.opto = sign
			continue
		}
		sign = math.Copysign(1, p.u)
		if s.triac == 0 && math.Abs(p.junction) >= s.igt {
			latch := sign*s.solve(sign, 0).main >= s.il
			kept := s.solve(sign, s.opto)
			if latch || math.Abs(kept.junction) >= s.igt && math.Abs(kept.gate) >= s.ihp {
				s.triac, s.latched = sign, latch
				s.fired = append(s.fired, t)
				continue
			}
		}
		return p
	}
	panic("the rules do not come to rest")
}

func (s *stepper) rates(t, u float64) (diL, dvC float64) {
	return (s.emf(t) - (s.rs+s.load)*s.iL + u) / s.ls, (u - s.vC) / (s.rsn * s.csn)
}

// step goes on by dt.
func (s *stepper) step(t, dt float64) {
	p := s.rules(t)
	s.heat += s.iL * s.iL * s.load * dt
	i0, v0 := s.iL, s.vC
	a, b := s.rates(t, p.u)
	s.iL, s.vC = i0+a*dt, v0+b*dt
	c, d := s.rates(t+dt, s.solve(s.triac, s.opto).u)
	s.iL, s.vC = i0+(a+c)/2*dt, v0+(b+d)/2*dt
}

// newStepper takes the values of a board with one channel.
func newStepper(b *models.Board) *stepper {
	c := &b.Channels[0]
	t, o := &c.Triac, &c.Opto
	return &stepper{
		emf: func(t float64) float64 { return b.Supply.EMF(2 * math.Pi * float64(b.Supply.Frequency) * t) },
		rs:  float64(b.Supply.LineResistance), ls: float64(b.Supply.LineInductance),
		load: float64(c.Element.Resistance + c.Wire + c.Link.Resistance),
		rsn:  float64(c.Snubber.Resistance), csn: float64(c.Snubber.Capacitance),
		goff: float64(t.Off), vt0: float64(t.Threshold), rt: float64(t.Slope),
		vg0: float64(t.GateThreshold), rg: float64(t.GateSlope), rgk: float64(c.GateShunt), gate: float64(c.GateResistance),
		vp0: float64(o.Threshold), rp: float64(o.Slope), gp: float64(o.Off),
		igt: float64(t.Trigger[0]), il: float64(t.Latching), ih: float64(t.Holding),
		ilp: float64(o.Latching), ihp: float64(o.Holding), inhibit: float64(o.Inhibit),
	}
}

// TestTinySteps compares the exact solution with steps of 20 ns on equations
// that anyone can read, for a healthy channel and for one whose opto leaks.
func TestTinySteps(t *testing.T) {
	for _, c := range []struct {
		name  string
		drive float64
		edit  func(*models.Board)
	}{
		{"driven", 12, func(*models.Board) {}},
		{"leaking opto, no drive", 0, func(b *models.Board) { b.Channels[0].Opto.Off = 1 / 5000.0 }},
		{"distorted supply", 12, func(b *models.Board) {
			b.Supply.Harmonics = []models.Harmonic{{Order: 3, Voltage: 11, Phase: 180}, {Order: 5, Voltage: 14, Phase: 20}}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := healthyBoard(44)
			c.edit(b)
			s := mustNew(t, b)
			in := drives(c.drive)
			const halves = 3
			r := mustRecord(t, s, halves, in)
			out := voltOf(t, s, models.At(models.Output, 0), models.At(models.Neutral, 0))
			line := ampOf(t, s, "line inductance")

			x := newStepper(b)
			T := b.Supply.HalfCycle()
			// Two idle half-cycles bring the stepper to the periodic state in
			// which the solver starts.
			const steps = 500000 // a half-cycle
			dt := T / steps
			for i := -2 * steps; i < 0; i++ {
				if c.drive == 0 && i < -steps/1000 {
					// The leak would fire it: hold it off until just before.
					x.triac, x.fired, x.ended = 0, nil, nil
				}
				x.step(float64(i)*dt, dt)
			}
			x.heat, x.fired, x.ended = 0, nil, nil
			x.led = c.drive > 0
			var times []float64
			var volts, amps []float64
			for i := range halves * steps {
				if i%(steps/50) == steps/100 {
					times = append(times, float64(i)*dt)
					volts = append(volts, x.iL*x.load)
					amps = append(amps, x.iL)
				}
				x.step(float64(i)*dt, dt)
			}
			for i, v := range r.At(out, times) {
				near(t, "OUT", volts[i], v, 325, 1e-4)
			}
			for i, v := range r.At(line, times) {
				near(t, "line current", amps[i], v, 7.4, 1e-4)
			}
			// Firings and extinctions within two steps.
			var fired, ended []float64
			for _, e := range r.Events {
				at := (float64(e.Half-r.first) + e.Degrees/180) * T
				switch e.Kind {
				case Fired:
					fired = append(fired, at)
				case Extinguished:
					ended = append(ended, at)
				}
			}
			for _, w := range []struct {
				what      string
				got, want []float64
			}{{"fired", x.fired, fired}, {"extinguished", x.ended, ended}} {
				if len(w.got) != len(w.want) || len(w.want) < halves-1 {
					t.Fatalf("%s at %v in steps, at %v exactly", w.what, w.got, w.want)
				}
				for i := range w.got {
					near(t, w.what, w.got[i], w.want[i], 1, 2*dt)
				}
			}
			s = mustNew(t, b)
			heat := 0.0
			for range halves {
				rec, err := s.HalfCycle(in(0))
				if err != nil {
					t.Fatal(err)
				}
				heat += rec.Element[0] + rec.Wire[0]
			}
			near(t, "energy of the load", x.heat, heat, heat, 1e-5)
		})
	}
}
