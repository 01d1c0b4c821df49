package circuit

import (
	"flag"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"

	"pgregory.net/rapid"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// The random tests start from the same numbers every time; -rapid.seed=0
// draws others.
func init() {
	for _, f := range [][2]string{{"rapid.seed", "1"}, {"rapid.checks", "50"}, {"rapid.nofailfile", "true"}, {"rapid.shrinktime", "5s"}} {
		if err := flag.Set(f[0], f[1]); err != nil {
			panic(err)
		}
	}
}

// draw makes choices by rapid, which it shrinks, and numbers within a range
// evenly by a stream of their own: a number depends on its name alone and
// stays as it is while choices shrink.
type draw struct {
	t    *rapid.T
	seed uint64
	used map[string]int
}

func newDraw(t *rapid.T) *draw {
	return &draw{t, rapid.Uint64().Draw(t, "seed"), map[string]int{}}
}

// in draws from [lo, hi].
func (d *draw) in(lo, hi float64, name string) float64 {
	h := fnv.New64a()
	h.Write([]byte(name + strconv.Itoa(d.used[name])))
	d.used[name]++
	return lo + (hi-lo)*rand.New(rand.NewPCG(d.seed, h.Sum64())).Float64()
}

// log draws from [lo, hi], evenly in the logarithm.
func (d *draw) log(lo, hi float64, name string) float64 {
	return lo * math.Pow(hi/lo, d.in(0, 1, name))
}

func (d *draw) int(lo, hi int, name string) int { return rapid.IntRange(lo, hi).Draw(d.t, name) }

func (d *draw) oneIn(n int, name string) bool { return d.int(1, n, name) == n }

func pick[T any](d *draw, from []T, name string) T { return from[d.int(0, len(from)-1, name)] }

// boardKind says what a random board may have.
type boardKind struct {
	channels  int  // 0: one to three
	symmetric bool // the same in both polarities, no direct component
	plain     bool // no bridges, no limits on voltage and its rate
}

// drawBoard draws a board of parts in wide ranges: any side and orientation,
// distorted supplies, open and shorted parts, films, one-way paths.
func drawBoard(d *draw, kind boardKind) *models.Board {
	b := &models.Board{Ambient: 25}
	s := &b.Supply
	s.Voltage = q.Volt(d.in(90, 260, "V1"))
	s.Frequency = q.Hertz(pick(d, []float64{50, 60, 47.3}, "f"))
	s.Damping = 50
	s.LineResistance = q.Ohm(d.log(0.01, 2, "Rs"))
	if !d.oneIn(4, "no Ls") {
		s.LineInductance = q.Henry(d.log(1e-6, 2e-3, "Ls"))
	}
	if !d.oneIn(4, "no neutral impedance") {
		s.NeutralResistance = q.Ohm(d.log(0.01, 2, "Rn"))
		if !d.oneIn(4, "no Ln") {
			s.NeutralInductance = q.Henry(d.log(1e-6, 1e-3, "Ln"))
		}
	}
	if d.oneIn(4, "Cx") {
		s.AcrossCapacitance = q.Farad(d.log(1e-9, 1e-6, "C_x"))
	}
	if !kind.symmetric && d.oneIn(4, "DC") {
		s.DC = q.Volt(d.in(-3, 3, "Vdc"))
	}
	for i := range d.int(0, 3, "harmonics") {
		order := d.int(2, 40, "order")
		if kind.symmetric {
			order |= 1
		}
		s.Harmonics = append(s.Harmonics, models.Harmonic{Order: order,
			Voltage: s.Voltage * q.Volt(d.in(0, 0.06, "Vn"+strconv.Itoa(i))),
			Phase:   q.Degree(d.in(-180, 180, "phase"))})
	}
	b.Earth.Resistance = q.Ohm(inf)
	if !d.oneIn(4, "no earth") {
		b.Earth.Resistance = q.Ohm(d.log(0.01, 10, "Rpe"))
	}
	if d.oneIn(4, "upstream link") {
		b.Upstream = &models.ThermalLink{Resistance: 0.005, Stray: 5e-12}
	}
	s.Exchanged = d.oneIn(6, "line and neutral exchanged")
	n := kind.channels
	if n == 0 {
		n = d.int(1, 3, "channels")
	}
	for range n {
		b.Channels = append(b.Channels, drawChannel(d, kind))
	}
	if !kind.plain {
		for i := range d.int(0, 3, "bridges") {
			b.Bridges = append(b.Bridges, drawBridge(d, b, kind, i))
		}
	}
	return b
}

func drawChannel(d *draw, kind boardKind) models.Channel {
	c := healthyChannel(d.log(8, 200, "R20"))
	c.Side = models.TriacSide(d.int(0, 1, "side"))
	c.MT1 = models.MT1Side(d.int(0, 1, "MT1"))
	o := &c.Opto
	o.Threshold, o.Slope = q.Volt(d.in(0.9, 1.5, "V_P0")), q.Ohm(d.in(1, 20, "r_P"))
	o.Off = q.Siemens(d.log(1e-11, 1e-6, "g_p"))
	o.Inhibit = q.Volt(d.log(5, 60, "V_IH"))
	if d.oneIn(3, "random phase") {
		o.Inhibit = q.Volt(inf)
	}
	o.Holding = q.Ampere(d.log(5e-5, 2e-3, "I_HP"))
	o.Latching = 2 * o.Holding
	c.GateResistance = q.Ohm(d.log(50, 1500, "R_G"))
	c.GateShunt = q.Ohm(d.log(50, 2000, "R_GK"))
	tr := &c.Triac
	tr.Threshold, tr.Slope = q.Volt(d.in(0.7, 1.1, "V_T0")), q.Ohm(d.in(0, 0.02, "r_T"))
	tr.Off = q.Siemens(d.log(1e-9, 1e-4, "g_off"))
	tr.GateThreshold, tr.GateSlope = q.Volt(d.in(0.6, 1, "V_G0")), q.Ohm(d.in(0, 30, "r_G"))
	g := d.log(5e-3, 5e-2, "I_GT")
	tr.Trigger = [4]q.Ampere{q.Ampere(g), q.Ampere(1.2 * g), q.Ampere(g), q.Ampere(2 * g)}
	if !kind.symmetric {
		tr.Trigger[models.QuadrantIII] *= q.Ampere(d.in(0.5, 2, "I_GT3/I_GT1"))
		o.Fires = pick(d, []int{0, 0, 0, 0, 1, -1}, "fires")
	} else {
		tr.Trigger[models.QuadrantIV] = tr.Trigger[models.QuadrantII]
	}
	tr.Latching = q.Ampere(d.log(5e-3, 0.1, "I_L"))
	tr.Holding = tr.Latching * q.Ampere(d.in(0.3, 0.95, "I_H/I_L"))
	if !kind.plain && d.oneIn(3, "dv/dt") {
		tr.StaticRate = q.VoltPerSecond(d.log(5e7, 1e9, "static"))
		tr.CommutatingRate = q.VoltPerSecond(d.log(5e6, 5e7, "commutating"))
		tr.CommutatingFall, tr.TurnOffTime = 2000, 50e-6
	}
	if !kind.plain && d.oneIn(6, "breakover") {
		tr.Breakover = q.Volt(d.in(150, 400, "V_BO"))
	}
	c.Snubber.Resistance, c.Snubber.Capacitance = q.Ohm(d.log(10, 500, "R_sn")), q.Farad(d.log(1e-9, 1e-7, "C_sn"))
	if d.oneIn(4, "no snubber") {
		c.Snubber = models.Snubber{}
	}
	if d.oneIn(5, "thermostat") {
		c.Thermostat = models.Thermostat{Fitted: true, Resistance: q.Ohm(d.log(1e-3, 0.05, "contact")), Stray: 5e-12}
	}
	c.Element.Split = q.Ratio(d.in(0.1, 0.9, "split"))
	if !d.oneIn(3, "no insulation path") {
		c.Element.Insulation = q.Ohm(d.log(1e5, 1e9, "R_ins"))
	}
	switch d.int(0, 15, "part broken") {
	case 0:
		c.Element.Open = true
	case 1:
		c.Link.Open = true
	case 2:
		c.Wire = q.Ohm(inf)
	case 3:
		tr.Open = true
	case 4:
		tr.GateOpen = true
	case 5:
		c.GateResistance = q.Ohm(inf)
	}
	return c
}

func drawBridge(d *draw, b *models.Board, kind boardKind, i int) models.Bridge {
	k := d.int(0, len(b.Channels)-1, "channel")
	br := models.Bridge{Name: strconv.Itoa(i), Channel: k, Part: models.Part(d.int(0, int(models.WiringPart), "part"))}
	c := &b.Channels[k]
	rail := models.At(models.Rail, 0)
	if c.Side == models.NeutralSide {
		rail = models.At(models.Neutral, 0)
	}
	mt1, mt2 := rail, models.At(models.Output, k)
	if c.MT1 == models.MT1Load {
		mt1, mt2 = mt2, mt1
	}
	nodes := []models.Node{models.At(models.Line, 0), models.At(models.Neutral, 0), models.At(models.ProtectiveEarth, 0),
		mt1, mt2, models.At(models.Gate, k), models.At(models.OptoOutput, k), models.At(models.Load, k), models.At(models.Midpoint, k),
		models.At(models.Output, len(b.Channels)-1)}
	name := func(n models.Node) models.Node { // without an upstream link the rail is L
		if n.Place == models.Rail && b.Upstream == nil {
			return models.At(models.Line, 0)
		}
		return n
	}
	ends := func() {
		i, j := d.int(0, len(nodes)-1, "from"), d.int(0, len(nodes)-1, "to")
		for name(nodes[i]) == name(nodes[j]) {
			j = (j + 1) % len(nodes)
		}
		br.From, br.To = nodes[i], nodes[j]
	}
	sort := d.int(0, 4, "kind of bridge")
	for _, other := range b.Bridges {
		if sort == 1 && other.Capacitance > 0 {
			sort = 0 // one at most: no loops of capacitors
		}
	}
	switch sort {
	case 0: // a film or a meter
		ends()
		// A film that alone drives I_GT from the other rail makes a triac with
		// nothing but a stray capacitance for a load fire every nanosecond.
		lo := 300.0
		for _, n := range []models.Node{br.From, br.To} {
			if n.Place == models.Gate || n.Place == models.OptoOutput {
				lo = 3e5
			}
		}
		br.Resistance = q.Ohm(d.log(lo, 1e8, "film"))
	case 1: // a capacitance with resistance across it
		// A capacitance right at a triac, an opto or a gate makes it fire again
		// every nanosecond.
		nodes = nodes[:3]
		if b.Supply.AcrossCapacitance > 0 {
			nodes = nodes[1:] // nor one with C_x
		}
		ends()
		br.Resistance, br.Capacitance = q.Ohm(d.log(1e4, 1e8, "beside")), q.Farad(d.log(1e-9, 1e-7, "capacitance"))
	case 2: // a short of the triac
		br.From, br.To, br.Resistance = mt2, mt1, q.Ohm(d.log(0.005, 50, "short"))
	case 3: // across the opto output
		br.From, br.To = mt2, models.At(models.OptoOutput, k)
		br.Resistance, br.Threshold = q.Ohm(d.log(1, 5000, "leak")), q.Volt(d.in(0, 1.5, "threshold"))
		br.OneWay = !kind.symmetric && d.oneIn(2, "one-way")
	case 4: // a diode across the triac
		br.From, br.To = mt2, mt1
		br.Resistance, br.Threshold = q.Ohm(d.log(0.005, 1, "slope")), q.Volt(d.in(0.5, 1.1, "threshold"))
		br.OneWay = !kind.symmetric
	}
	if br.OneWay && d.oneIn(2, "reversed") {
		br.From, br.To = br.To, br.From
	}
	return br
}

// drawDrive draws a drive pattern: for each half-cycle and channel on or off,
// now and then changed within the half-cycle.
func drawDrive(d *draw, b *models.Board, halves int) func(int64) Input {
	pattern := make([]Input, halves)
	T := b.Supply.HalfCycle()
	for h := range pattern {
		in := Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
		for k := range in.Drive {
			if !d.oneIn(3, "off") {
				in.Drive[k] = 12
			}
		}
		if d.oneIn(3, "change") {
			k := d.int(0, len(b.Channels)-1, "changed channel")
			in.Changes = []DriveChange{{After: T * d.in(0.01, 0.99, "after"), Channel: k, Volts: 12 - in.Drive[k]}}
		}
		pattern[h] = in
	}
	return func(half int64) Input { return pattern[half%int64(halves)] }
}

// drawStaggered draws a drive pattern in which no two channels are driven from
// the same instant on.
func drawStaggered(d *draw, b *models.Board, halves int) func(int64) Input {
	pattern := make([]Input, halves)
	T := b.Supply.HalfCycle()
	for h := range pattern {
		in := Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
		for k := range b.Channels {
			at := (float64(k) + d.in(0.1, 0.9, "after")) / float64(len(b.Channels))
			in.Changes = append(in.Changes, DriveChange{After: T * at * at, Channel: k, Volts: 12})
		}
		pattern[h] = in
	}
	return func(half int64) Input { return pattern[half%int64(halves)] }
}
