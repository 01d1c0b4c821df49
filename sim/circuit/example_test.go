package circuit_test

import (
	"fmt"
	"log"
	"math"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
)

// oneChannel is a board with one channel of round invented values.
func oneChannel() *models.Board {
	inf := math.Inf(1)
	none := q.Kelvin(inf)
	b := &models.Board{Ambient: 25}
	b.Supply = models.Supply{Voltage: 230, Frequency: 50, LineResistance: 0.4, LineInductance: 0.8e-3, Damping: 50}
	b.Earth.Resistance = 0.1
	b.Channels = []models.Channel{{
		Drive: models.Drive{On: 12, Saturation: 0.2, Resistance: 820},
		Opto: models.Opto{Forward: 1.1, LEDSlope: 5, Trigger: 5e-3, Threshold: 1.2, Slope: 5, Off: 2e-9,
			Inhibit: 20, Latching: 0.6e-3, Holding: 0.3e-3, TriggerScale: none},
		GateResistance: 330, GateShunt: 330,
		Triac: models.Triac{Threshold: 0.9, Slope: 20e-3, Off: 50e-9, GateThreshold: 0.8, GateSlope: 10,
			Trigger: [4]q.Ampere{25e-3, 30e-3, 25e-3, 50e-3}, Latching: 40e-3, Holding: 30e-3,
			StaticRate: q.VoltPerSecond(inf), Breakover: q.Volt(inf),
			TriggerScale: none, LatchingScale: none, HoldingScale: none, RateScale: none},
		Snubber: models.Snubber{Resistance: 100, Capacitance: 10e-9},
		Wire:    20e-3,
		Link:    models.ThermalLink{Resistance: 5e-3, Stray: 5e-12},
		Element: models.Element{Resistance: 44, Split: 0.5, Insulation: 1e9},
	}}
	return b
}

// A board becomes a network of named nodes and branches. What cannot be solved
// is refused with the name of the part.
func ExampleNew() {
	s, err := circuit.New(oneChannel())
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(len(s.Branches()), "branches, the first of them:", s.Branches()[:3])

	b := oneChannel()
	b.Supply.AcrossCapacitance = 100e-9
	b.Supply.LineResistance, b.Supply.LineInductance = 0, 0
	_, err = circuit.New(b)
	fmt.Println(err)
	// Output:
	// 18 branches, the first of them: [source line resistance line inductance]
	// across capacitor: found it across an ideal source or another capacitor with no resistance between, expected some resistance in that loop
}

// The energies of a half-cycle drive a heat solution. They balance: what the
// source gives is lost somewhere or stored.
func ExampleSolver_HalfCycle() {
	s, err := circuit.New(oneChannel())
	if err != nil {
		log.Fatal(err)
	}
	for _, drive := range []float64{0, 12, 12} {
		r, err := s.HalfCycle(circuit.Input{Factor: 1, Drive: []float64{drive}})
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("drive %2g V: element %7.4f J, triac %6.4f J, balance within 1e-9: %v\n",
			drive, r.Element[0], r.Triac[0], math.Abs(r.Source-r.Dissipated()-r.Stored) < 1e-9)
		for _, e := range r.Events {
			if e.Kind == circuit.Fired || e.Kind == circuit.Extinguished {
				fmt.Printf("  %v at %.3f°\n", e.Kind, e.Degrees)
			}
		}
	}
	// Output:
	// drive  0 V: element  0.0000 J, triac 0.0000 J, balance within 1e-9: true
	// drive 12 V: element 11.6991 J, triac 0.0471 J, balance within 1e-9: true
	//   fired at 2.324°
	//   extinguished at 179.931°
	// drive 12 V: element 11.6991 J, triac 0.0471 J, balance within 1e-9: true
	//   fired at 2.325°
	//   extinguished at 179.931°
}

// A recording keeps the exact solution, to be sampled and measured. A meter is
// a bridge between two nodes: this one, on an open load in standby, shows
// nearly the whole supply, a "ghost" that comes through the snubber.
//
// A reading of next to nothing is no proof that a part is dead: find out what
// your meter responds to, and prove it on a known live source before and after.
func ExampleSolver_Record() {
	b := oneChannel()
	b.Channels[0].Element.Open = true
	out, n := models.At(models.Output, 0), models.At(models.Neutral, 0)
	b.Bridges = []models.Bridge{{Name: "meter", From: out, To: n, Resistance: 10e6}}
	s, err := circuit.New(b)
	if err != nil {
		log.Fatal(err)
	}
	r, err := s.Record(2, func(int64) circuit.Input { return circuit.Input{Factor: 1, Drive: []float64{0}} })
	if err != nil {
		log.Fatal(err)
	}
	v, err := s.Voltage(out, n)
	if err != nil {
		log.Fatal(err)
	}
	m := r.Moments(v)
	for _, d := range []models.Detector{models.AverageFullWave, models.RMSDirect, models.Direct} {
		fmt.Printf("%-8v %6.1f V\n", d, d.Indicated(m)+0)
	}
	times, volts := r.Sample(v, 0, r.Duration()/2, 5)
	for i := range times {
		fmt.Printf("%4.1f ms %6.1f V\n", times[i]*1e3, volts[i])
	}
	// Output:
	// average   229.8 V
	// rms       229.8 V
	// direct      0.0 V
	//  0.0 ms   10.4 V
	//  2.5 ms  237.0 V
	//  5.0 ms  324.8 V
	//  7.5 ms  222.3 V
	// 10.0 ms  -10.4 V
}
