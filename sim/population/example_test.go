package population_test

import (
	"context"
	"fmt"
	"log"
	"strings"

	"boilwright/sim/boardfile"
	"boilwright/sim/population"
)

// How a triac that is shorted shows on boards of all tolerances, each measured
// with a meter of its own calibration.
func Example() {
	b := boardfile.Default()
	p, err := population.New(b, population.DefaultSpec(b), 1)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := p.Readings(population.ReadingsJob{Points: []string{"supply", "dye:output"}, Meters: []string{"rms"}})
	if err != nil {
		log.Fatal(err)
	}
	dye := b.ChannelIndex("dye")
	work := func(_ context.Context, i uint64) (population.Measured, error) {
		m, err := p.Given(i, population.Place{Fault: "triac-shorted", Channel: dye})
		return plan.Measure(m), err
	}
	err = population.Each(context.Background(), 0, 4, population.Workers{}, work, func(i uint64, m population.Measured) error {
		supply, output := m.Values[plan.Index(0, 0, 0)], m.Values[plan.Index(0, 1, 0)]
		fmt.Printf("board %d: severity %.2f, supply %.1f V, output in standby %.1f V\n", i, m.Member.Faults[0].Severity, supply.Shown, output.Shown)
		return nil
	})
	if err != nil {
		log.Fatal(err)
	}
	// Output:
	// board 0: severity 0.92, supply 238.6 V, output in standby 237.6 V
	// board 1: severity 0.61, supply 229.7 V, output in standby 26.2 V
	// board 2: severity 0.72, supply 233.8 V, output in standby 145.0 V
	// board 3: severity 0.95, supply 213.5 V, output in standby 213.1 V
}

// Members of a population with the default rates, some of them healthy.
func ExamplePopulation_Member() {
	b := boardfile.Default()
	p, err := population.New(b, population.DefaultSpec(b), 1)
	if err != nil {
		log.Fatal(err)
	}
	names := []string{b.Channels[0].Name, b.Channels[1].Name, b.Channels[2].Name}
	for i := range uint64(4) {
		m, err := p.Member(1000 + i)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("board %d on %.1f V:", m.Index, m.Board.Supply.Voltage)
		for _, j := range m.Faults {
			fmt.Print(" ", j.Text(names))
		}
		fmt.Println()
	}
	// Output:
	// board 1000 on 227.2 V:
	// board 1001 on 217.6 V: soak:film-triac,severity=79.73 %
	// board 1002 on 236.1 V: steam:link-wrong-rating,severity=86.33 %
	// board 1003 on 225.2 V: dye:film-triac,severity=72.14 %
}

// The parameters of which the bounds are more than assumptions.
func ExampleParameters() {
	for _, x := range population.Parameters() {
		if strings.HasPrefix(x.Source, "bounds: ") {
			fmt.Printf("%s, %v, %v: %s\n", x.Name, x.Kind, x.Default, x.Source)
		}
	}
	// Output:
	// supply.voltage, factor, normal 0.9 to 1.1: bounds: IEC 60038 and EN 50160, ±10 % of the nominal voltage; law: assumption
	// supply.frequency, factor, normal 0.99 to 1.01: bounds: EN 50160, ±1 % for 99.5 % of a year; law: assumption
	// protection.residual.threshold, value, uniform 0.5 to 1: bounds: IEC 61008-1, between half and the whole of the rated residual current (from memory); law: assumption
	// drive.led-resistance, factor, normal 0.95 to 1.05: bounds: tolerance letter J of IEC 60062, ±5 % (from memory); law: assumption
	// gate.resistance, factor, normal 0.95 to 1.05: bounds: tolerance letter J of IEC 60062, ±5 % (from memory); law: assumption
	// gate.shunt, factor, normal 0.95 to 1.05: bounds: tolerance letter J of IEC 60062, ±5 % (from memory); law: assumption
	// snubber.resistance, factor, normal 0.9 to 1.1: bounds: tolerance letter K of IEC 60062, ±10 % (from memory); law: assumption
	// snubber.capacitance, factor, normal 0.8 to 1.2: bounds: tolerance letter M of IEC 60062, ±20 % (from memory); law: assumption
	// link.functions, difference, normal -10 to 0: bounds: IEC 60691, +0/−10 K of the rated functioning temperature; law: assumption
	// element.resistance, factor, normal 0.9524 to 1.111: bounds: power +5/−10 % at the rated voltage, the input deviation of heating appliances in IEC 60335-1 clause 10.1 (from memory); law: assumption
}
