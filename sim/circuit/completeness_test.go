package circuit

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// judge reads the switching rules off the table of the model, without the
// solver's search: it looks at one instant of a segment and says what is
// demanded there.
type judge struct {
	s *Solver
	x []float64
	z []float64
}

// margins by which a demand must be met to count: far above the rounding of
// the solution, far below anything that matters.
const (
	marginA = 1e-9
	marginV = 1e-6
)

func (j *judge) at(g *Segment, t float64) {
	j.x = resize(j.x, len(j.s.net.states))
	g.state(t, j.x)
	j.z = j.z[:0]
	for _, st := range g.c.active {
		j.z = append(j.z, j.x[st])
	}
	j.z = append(j.z, g.Source(t), 1)
}

func (j *judge) volt(c *combination, branch int) float64 {
	return dot(c.row(j.s.net.sigVolt(branch)), j.z)
}

func (j *judge) amp(c *combination, branch int) float64 {
	if branch < 0 {
		return 0
	}
	return dot(c.row(j.s.net.sigCurrent(branch)), j.z)
}

// resolved tries all levels of channel p's junction and of all one-way paths
// in key k, and returns the combination in which they are consistent.
func (j *judge) resolved(k key, p *channelParts) *combination {
	var free []int // branches
	for _, i := range j.s.net.valves {
		if b := &j.s.net.branches[i]; b.kind == diode || i == p.junction {
			free = append(free, i)
		}
	}
	var try func(k key, rest []int) *combination
	try = func(k key, rest []int) *combination {
		if len(rest) > 0 {
			for _, l := range []level{off, positive, negative} {
				if c := try(k.with(j.s.net.branches[rest[0]].valve, l), rest[1:]); c != nil {
					return c
				}
			}
			return nil
		}
		c, err := j.s.par.combination(k)
		if err != nil {
			panic(err)
		}
		for _, i := range free {
			b := &j.s.net.branches[i]
			v, a := j.volt(c, i), j.amp(c, i)
			switch l := k.level(b.valve); {
			case l == negative && b.oneWay,
				l != off && l.sign()*a < -2*tolAmpere,
				l == off && v > b.volts+2*tolVolt,
				l == off && !b.oneWay && -v > b.volts+2*tolVolt:
				return nil
			}
		}
		return c
	}
	return try(k, free)
}

// smoothRate is the rate of change of a signal without the modes that die out
// faster than 10⁷/s: to a triac they are jumps.
func smoothRate(g *Segment, sig int, t float64) float64 {
	w, d, phi := make([]float64, g.size()), make([]float64, g.size()), make([]float64, g.size())
	g.weights(g.c.row(sig), w)
	for k := range g.c.n {
		if real(g.c.lambda[k]) < -1e7 {
			w[k] = 0
		}
	}
	g.derive(w, d)
	g.basis(t, phi)
	return dot(d, phi)
}

// demanded names a change that the rules demand at t in a segment, or "".
func (j *judge) demanded(g *Segment, t float64) string {
	j.at(g, t)
	s, c, net := j.s, g.c, j.s.net
	key := c.key
	for _, i := range net.valves {
		b := &net.branches[i]
		if b.kind != junction && b.kind != diode {
			continue
		}
		v, a := j.volt(c, i), j.amp(c, i)
		switch l := key.level(b.valve); {
		case l != off && l.sign()*a < -marginA:
			return b.name + " with reverse current"
		case l == off && (v > b.volts+marginV || !b.oneWay && -v > b.volts+marginV):
			return b.name + " above its threshold"
		}
	}
	for k := range s.chans {
		ch, l, p := &s.chans[k], &s.lim[k], &net.channels[k]
		name := func(what string) string { return fmt.Sprintf("channel %d: %s", k+1, what) }
		opto, main := net.branches[p.opto].valve, net.branches[p.main].valve
		i, v, ig, io := j.amp(c, p.main), j.volt(c, p.main), j.amp(c, p.junction), j.amp(c, p.opto)
		vo := j.volt(c, p.opto)
		trigger := func(v, ig float64) float64 { return l.trigger[models.QuadrantOf(v, ig)] }
		if key.level(opto) != off && math.Abs(io) < l.optoHold-marginA {
			return name("opto off")
		}
		switch ch.triac {
		case gated:
			if math.Abs(i) >= l.latch+marginA {
				return name("gated to latched")
			}
			if key.level(main).sign()*i < -marginA {
				return name("gated with reverse current")
			}
			if math.Abs(ig) < trigger(key.level(main).sign(), ig)-marginA {
				return name("gate lost")
			}
		case latched:
			if key.level(main).sign()*i < l.hold-marginA {
				return name("below holding current")
			}
		}
		if key.level(opto) == off && ch.led && math.Abs(vo) <= l.inhibit-marginV && math.Abs(vo) > marginV && (l.fires == 0 || float64(l.fires)*vo > 0) {
			if hc := j.resolved(key.with(opto, levelOf(vo)), p); hc != nil && math.Copysign(1, vo)*j.amp(hc, p.opto) >= l.optoLatch+marginA {
				return name("opto on")
			}
		}
		if ch.triac != blocking || l.open || math.Abs(v) < marginV {
			continue
		}
		sign := math.Copysign(1, v)
		on := key.with(main, levelOf(v))
		if math.Abs(ig) >= trigger(v, ig)+marginA {
			if hc := j.resolved(on.with(opto, off), p); hc != nil && sign*j.amp(hc, p.main) >= l.latch+marginA {
				return name("fire and latch")
			}
			if hc := j.resolved(on, p); hc != nil {
				hg := j.amp(hc, p.junction)
				forward := sign*j.amp(hc, p.main) >= marginA
				if forward && math.Abs(hg) >= trigger(v, hg)+marginA && math.Abs(j.amp(hc, p.opto)) >= l.optoHold+marginA {
					return name("fire, gated")
				}
			}
		}
		over := math.Abs(v) > l.breakover+marginV
		if limit := s.rateLimit(k, t); !over && !math.IsInf(limit, 1) {
			over = math.Abs(smoothRate(g, net.sigVolt(p.main), t)) > limit*(1+1e-6)
		}
		if over {
			if hc := j.resolved(on, p); hc != nil && sign*j.amp(hc, p.main) >= l.latch+marginA {
				return name("break over")
			}
		}
	}
	return ""
}

// scan judges a segment at points a part of a half-cycle apart, and at many
// more just after its start, where fast modes are at work.
func (j *judge) scan(g *Segment, points int) (looked int, found string) {
	const apart = 3e-12 // switching instants are found to 1e-12 s
	look := func(t float64) bool {
		if t <= g.T0+apart || t >= g.T1-apart {
			return false
		}
		looked++
		if d := j.demanded(g, t); d != "" {
			found = fmt.Sprintf("%s at %.15g s in the segment from %.15g to %.15g s of half-cycle %d", d, t, g.T0, g.T1, g.Half)
		}
		return found != ""
	}
	step := j.s.board.Supply.HalfCycle() / float64(points)
	for d := 4e-12; d < step; d *= 1.1 {
		if look(g.T0 + d) {
			return
		}
	}
	for n := math.Ceil(g.T0 / step); n*step < g.T1; n++ {
		if look(n * step) {
			return
		}
	}
	for d := 4e-12; d < step; d *= 1.3 {
		if look(g.T1 - d) {
			return
		}
	}
	return
}

// complete runs a board with a judge looking at every segment.
func complete(t testing.TB, b *models.Board, halves, points int, in func(int64) Input, skip func(string)) int {
	s, err := New(b)
	if err != nil {
		t.Fatal(err)
	}
	j := &judge{s: s}
	looked, segments := 0, 0
	s.OnSegment(func(g *Segment) {
		if segments++; segments > 500 {
			skip("fired again and again")
		}
		n, d := j.scan(g, points)
		looked += n
		if d != "" {
			t.Fatal(d)
		}
	})
	for range halves {
		if _, err := s.HalfCycle(in(s.Half())); err != nil {
			skip(err.Error())
			break
		}
	}
	return looked
}

// TestNothingMissed scans the healthy and some broken boards at 20000 points a
// half-cycle: at none of them is a change demanded before the instant at which
// the solver switches.
func TestNothingMissed(t *testing.T) {
	fail := func(s string) { t.Fatal(s) }
	for _, c := range []struct {
		name string
		edit func(*models.Board)
	}{
		{"healthy", func(*models.Board) {}},
		{"leak across an opto", func(b *models.Board) {
			b.Bridges = []models.Bridge{{Name: "leak", From: models.At(models.Output, 1), To: models.At(models.OptoOutput, 1), Resistance: 4000}}
		}},
		{"breakover and rate", func(b *models.Board) {
			b.Channels[0].Triac.Breakover = 290
			b.Channels[1].Triac.StaticRate = 5e7
			b.Channels[1].Triac.CommutatingRate, b.Channels[1].Triac.CommutatingFall, b.Channels[1].Triac.TurnOffTime = 5e6, 3000, 5e-5
		}},
		{"open element and distorted supply", func(b *models.Board) {
			b.Channels[2].Element.Open = true
			b.Supply.Harmonics = []models.Harmonic{{Order: 5, Voltage: 14, Phase: 180}, {Order: 7, Voltage: 11.5, Phase: 0}, {Order: 40, Voltage: 1.2, Phase: 90}}
		}},
	} {
		b := refBoard()
		c.edit(b)
		n := complete(t, b, 4, 20000, func(half int64) Input {
			d := []float64{0, 12, 12}
			if half >= 2 {
				d[0], d[1] = 12, 0
			}
			return Input{Factor: 1, Drive: d, Changes: []DriveChange{{After: 0.0037, Channel: 2, Volts: 0}, {After: 0.0081, Channel: 2, Volts: 12}}}
		}, fail)
		if n < 60000 {
			t.Errorf("%s: looked at %d points only", c.name, n)
		}
	}
}

// TestNothingMissedAnywhere does the same on random boards, less densely.
func TestNothingMissedAnywhere(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := newDraw(rt)
		b := drawBoard(d, boardKind{})
		in := drawDrive(d, b, 3)
		complete(failer{t, rt}, b, 3, 1000, in, func(s string) { rt.Skip(s) })
	})
}

// failer fails a random test in such a way that it is shrunk.
type failer struct {
	testing.TB
	rt *rapid.T
}

func (f failer) Fatal(args ...any) { f.rt.Fatal(args...) }

// TestMonotone: what makes a channel fire later in practice does so here: a
// less sensitive triac, more gate resistance, less voltage, a heavier leak
// from gate to MT1, more resistance of a leak across the opto.
func TestMonotone(t *testing.T) {
	for _, c := range []struct {
		name string
		edit func(b *models.Board, x float64) // x from 0 to 1
	}{
		{"trigger current", func(b *models.Board, x float64) {
			i := q.Ampere(0.005 + 0.05*x)
			b.Channels[0].Triac.Trigger = [4]q.Ampere{i, i, i, i}
		}},
		{"gate resistance", func(b *models.Board, x float64) { b.Channels[0].GateResistance = q.Ohm(100 + 900*x) }},
		{"falling voltage", func(b *models.Board, x float64) { b.Supply.Voltage = q.Volt(260 - 170*x) }},
		{"leak from gate to MT1", func(b *models.Board, x float64) { b.Channels[0].GateShunt = q.Ohm(1000 * math.Pow(0.02, x)) }},
		{"load resistance", func(b *models.Board, x float64) { b.Channels[0].Element.Resistance = q.Ohm(20 + 500*x) }},
	} {
		last := 0.0
		for i := range 12 {
			b := healthyBoard(44)
			b.Supply.LineResistance, b.Supply.LineInductance = 0, 0
			b.Channels[0].Opto.Inhibit = 40
			c.edit(b, float64(i)/11)
			a := firstFiring(t, b, 3, drives(12), 0, 2)
			if !(a > last) {
				t.Errorf("%s, step %d: fired at %v°, expected later than %v°", c.name, i, a, last)
			}
			last = a
		}
	}
}
