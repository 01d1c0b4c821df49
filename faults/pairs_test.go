package faults_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// pairTolerance bounds what Kirchhoff's current law and the electrical energy
// balance may miss, relative to their scales.
const pairTolerance = 1e-9

// pairs lists every pair of faults of the catalogue, on one channel or on two
// by turns, and each fault of a channel on two of them. short takes a sample
// in which every fault still comes twice or more.
func pairs(short bool) []faults.Set {
	catalogue := faults.Catalogue()
	var sets []faults.Set
	for i := range catalogue {
		for j := i; j < len(catalogue); j++ {
			a, b := i%3, i%3
			if (i+j)%2 == 0 {
				b = (a + 1 + j%2) % 3
			}
			one, two := faults.New(catalogue[i].Name, a), faults.New(catalogue[j].Name, b)
			if catalogue[i].Scope == faults.PerBoard {
				one.Channel = faults.WholeBoard
			}
			if catalogue[j].Scope == faults.PerBoard {
				two.Channel = faults.WholeBoard
			}
			if i == j && one.Channel == faults.WholeBoard || short && (i*7+j*3)%23 != 0 {
				continue
			}
			sets = append(sets, faults.Set{one, two})
		}
	}
	return sets
}

// pairBoards are the demonstration boards with every part that a fault needs,
// warm and with short control windows.
func pairBoards(t *testing.T) []*models.Board {
	t.Helper()
	var boards []*models.Board
	for _, name := range boardfile.EmbeddedNames() {
		f, err := boardfile.Embedded(name)
		if err != nil {
			t.Fatal(err)
		}
		b := f.Board
		b.Upstream = &models.ThermalLink{Resistance: 5e-3, Stray: 5e-12, Functions: 200, Capacity: 5, ToShell: 0.1}
		b.Controller.Window = 6
		for k := range b.Channels {
			c := &b.Channels[k]
			c.Thermostat = models.Thermostat{Fitted: true, Opens: 200, Closes: 190, Resistance: 10e-3, Stray: 5e-12}
			c.Boiler.Start = c.Control.SetPoint - 3
		}
		boards = append(boards, b)
	}
	return boards
}

// TestEveryPair: whatever two faults a board has, the currents at each node
// sum to zero (Kirchhoff), what the source gives is lost or stored, the heat
// balance closes by its own ledger, and nothing is infinite or no number.
func TestEveryPair(t *testing.T) {
	boards := pairBoards(t)
	names := []string{"1", "2", "3"}
	worst := struct{ node, energy float64 }{}
	for i, set := range pairs(testing.Short()) {
		text := set[0].Text(names) + " and " + set[1].Text(names)
		base := boards[i%len(boards)]
		b, err := set.Applied(base)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		node, energy, err := laws(b)
		switch {
		case err != nil:
			t.Errorf("%s on %s: %v", text, base.Name, err)
		case !(node <= pairTolerance):
			t.Errorf("%s on %s: found %.2g of the largest current missing at a node, expected at most %g", text, base.Name, node, pairTolerance)
		case !(energy <= pairTolerance):
			t.Errorf("%s on %s: found %.2g of the energy missing, expected at most %g", text, base.Name, energy, pairTolerance)
		}
		worst.node, worst.energy = math.Max(worst.node, node), math.Max(worst.energy, energy)
		if err := heated(base, set); err != nil {
			t.Errorf("%s on %s: %v", text, base.Name, err)
		}
		if err := unplugged(b, max(0, set[0].Channel)); err != nil {
			t.Errorf("%s on %s: %v", text, base.Name, err)
		}
	}
	t.Logf("worst of all: %.2g at a node, %.2g of the energy", worst.node, worst.energy)
}

// pairStates are what the drives do in the half-cycles that are solved.
var pairStates = [...]bool{false, true, true, true, false}

// laws solves half-cycles in standby, driven, and after the drive has gone,
// and returns what is missing at a node relative to the largest current, and
// in the energy balance of a half-cycle relative to what it turned over.
func laws(b *models.Board) (node, energy float64, err error) {
	s, err := circuit.New(b)
	if err != nil {
		return 0, 0, err
	}
	s.SetTemperatures(circuit.Uniform(len(b.Channels), 60))
	k, err := newNodes(s)
	if err != nil {
		return 0, 0, err
	}
	s.OnSegment(k.look)
	// What the capacitors take and give back, or a ten-thousandth of what a
	// load of 200 Ω takes, is the least scale.
	square := float64(b.Supply.Voltage * b.Supply.Voltage)
	farads := float64(b.Supply.AcrossCapacitance)
	for i := range b.Channels {
		farads += float64(b.Channels[i].Snubber.Capacitance)
	}
	scale, rest := math.Max(farads*square, 1e-4*square/200*b.Supply.HalfCycle()), 0.0
	in := circuit.Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
	for _, on := range pairStates {
		for i := range in.Drive {
			d := &b.Channels[i].Drive
			in.Drive[i] = float64(d.Off)
			if on {
				in.Drive[i] = float64(d.On)
			}
		}
		r, err := s.HalfCycle(in)
		if err != nil {
			return 0, 0, err
		}
		scale = math.Max(scale, math.Max(math.Abs(r.Source), math.Max(r.Dissipated(), math.Abs(r.Stored))))
		rest = math.Max(rest, math.Abs(r.Source-r.Dissipated()-r.Stored))
	}
	return k.rest / math.Max(k.peakI, 1e-4*k.peakV), rest / scale, nil
}

// nodes sums the currents at every node of a network.
type nodes struct {
	from, to           []int // of each branch
	amps, volts        []circuit.Signal
	sums               []float64
	seen               int
	rest, peakI, peakV float64
}

func newNodes(s *circuit.Solver) (*nodes, error) {
	k := &nodes{peakV: 1}
	index := map[string]int{}
	number := func(n models.Node, branch string) int {
		name := n.String()
		if n.Place < 0 { // inside an impedance, whose parts share its name
			name, _, _ = strings.Cut(branch, " ")
		}
		if _, ok := index[name]; !ok {
			index[name] = len(index)
		}
		return index[name]
	}
	for _, branch := range s.Branches() {
		a, b, err := s.Ends(branch)
		if err != nil {
			return nil, err
		}
		amps, err := s.Current(branch)
		if err != nil {
			return nil, err
		}
		volts, err := s.BranchVoltage(branch)
		if err != nil {
			return nil, err
		}
		k.from, k.to = append(k.from, number(a, branch)), append(k.to, number(b, branch))
		k.amps, k.volts = append(k.amps, amps), append(k.volts, volts)
	}
	k.sums = make([]float64, len(index))
	return k, nil
}

// look sums within a segment and at its end: the first segments, then one in
// so many.
func (k *nodes) look(g *circuit.Segment) {
	if k.seen++; k.seen > 16 && k.seen%16 != 0 {
		return
	}
	for _, t := range [...]float64{g.T0 + 0.4*(g.T1-g.T0), g.T1} {
		clear(k.sums)
		for i := range k.amps {
			a := g.Value(k.amps[i], t)
			k.sums[k.from[i]] += a
			k.sums[k.to[i]] -= a
			k.peakI = math.Max(k.peakI, math.Abs(a))
			k.peakV = math.Max(k.peakV, math.Abs(g.Value(k.volts[i], t)))
		}
		for _, x := range k.sums {
			k.rest = math.Max(k.rest, math.Abs(x)) // no number stays one
		}
	}
}

// unplugged tests the triac and the control side of a channel of the unplugged
// board, both ways round.
func unplugged(b *models.Board, channel int) error {
	t := circuit.Uniform(len(b.Channels), 25)
	for _, name := range []string{"triac", "drive"} {
		p, err := readings.FindUnpluggedPoint(b, b.Channels[channel].Name+":"+name)
		if err != nil {
			return err
		}
		for _, leads := range [][2]models.Node{{p.Plus, p.Minus}, {p.Minus, p.Plus}} {
			diode, err := readings.Unplugged(b, t, readings.DiodeTest, leads[0], leads[1])
			if err != nil {
				return err
			}
			ohms, err := readings.Unplugged(b, t, readings.Ohmmeter, leads[0], leads[1])
			if err != nil {
				return err
			}
			if !(diode.Volts >= 0 && ohms.Ohms >= 0) || math.IsInf(diode.Volts, 1) != diode.Open || math.IsInf(ohms.Ohms, 1) != ohms.Open {
				return fmt.Errorf("unplugged, %s: found %+v and %+v, expected a drop and a resistance, or open", p.Name, diode, ohms)
			}
		}
	}
	return nil
}

// heated runs circuit and heat together for some control windows with the
// faults from the start.
func heated(b *models.Board, set faults.Set) error {
	edits, err := set.Start(1)
	if err != nil {
		return err
	}
	r, err := sim.Run(context.Background(), b, sim.Options{Duration: 100 * time.Millisecond, Every: 50 * time.Millisecond, Edits: edits})
	if err != nil {
		return err
	}
	if len(r.Samples) < 2 {
		return fmt.Errorf("found %d samples, expected at least 2", len(r.Samples))
	}
	for _, s := range r.Samples {
		sum := s.Lid + s.Pocket + s.Power + s.Current
		for _, c := range s.Channels {
			sum += c.Element + c.Water + c.Shell + c.Link + c.Junction + c.Probe + c.Reading + c.Mass + c.Pressure + c.Drive + c.Power
		}
		if math.IsNaN(sum) || math.IsInf(sum, 0) {
			return fmt.Errorf("found a value at %v that is no number", s.Time)
		}
	}
	return r.Heat.Check()
}
