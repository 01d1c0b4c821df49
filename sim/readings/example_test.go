package readings_test

import (
	"fmt"
	"log"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// What the board's meters show at an output of which the opto conducts in one
// polarity, in standby: seven meters, six answers.
func ExampleAt() {
	b := boardfile.Default()
	b.Bridges = append(b.Bridges, models.Bridge{
		Name: "one-way opto", From: models.At(models.Output, 0), To: models.At(models.OptoOutput, 0),
		Threshold: 1.2, Resistance: 5, OneWay: true, Part: models.GatePart,
	})
	p, err := readings.FindPoint(b, "soak:output")
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(readings.LiveCaution)
	values, err := readings.At(b, p, b.Meters, readings.Conditions{State: readings.Standby, Temps: circuit.Uniform(3, 20)})
	if err != nil {
		log.Fatal(err)
	}
	for _, v := range values {
		fmt.Printf("%-15s %6.1f V ± %.1f V\n", v.Meter, v.Shown, v.Uncertainty)
	}
	// Output:
	// live test: only by someone competent and, where local rules ask for it, licensed; on a supply protected by a residual-current device (it does not protect between line and neutral); meter of the right category, proved before and after; one lead clipped on before power; the board is live in standby
	// average          113.4 V ± 1.4 V
	// average-coupled  125.2 V ± 1.6 V
	// rms-coupled      123.9 V ± 1.5 V
	// rms              160.5 V ± 1.9 V
	// low-impedance    160.5 V ± 1.9 V
	// one-diode          0.0 V ± 0.0 V
	// direct          -102.1 V ± 1.3 V
}

// Clamp ammeters round the lead of an element whose opto fires in one polarity
// only: the current transformers lose the direct component.
func ExampleAround() {
	b := boardfile.Default()
	b.Channels[0].Opto.Fires = 1
	lead, err := readings.FindLead(b, "soak:element-lead")
	if err != nil {
		log.Fatal(err)
	}
	values, err := readings.Around(b, lead, b.Clamps, readings.Conditions{State: readings.Heating, Temps: circuit.Uniform(3, 20)})
	if err != nil {
		log.Fatal(err)
	}
	for _, v := range values {
		fmt.Printf("%-14s %.2f A ± %.2f A\n", v.Meter, v.Shown, v.Uncertainty)
	}
	// Output:
	// clamp-average  2.79 A ± 0.11 A
	// clamp-rms      2.76 A ± 0.11 A
	// clamp-hall     3.57 A ± 0.12 A
}

// The whole table of a board: test points by meters.
func ExampleTable() {
	b := boardfile.Default()
	points := readings.Points(b)[:6]
	table, err := readings.Table(b, points, b.Meters[3:5], readings.Conditions{State: readings.Standby, Temps: circuit.Uniform(3, 20)})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%-18s%8s%15s\n", "V", b.Meters[3].Name, b.Meters[4].Name)
	for _, row := range table {
		fmt.Printf("%-18s%8.1f%15.1f\n", row[0].Point.Name, row[0].Shown, row[1].Shown)
	}
	// Output:
	// V                      rms  low-impedance
	// supply               230.0          230.0
	// line-earth           230.0          230.0
	// neutral-earth          0.0            0.0
	// soak:output            0.0            0.0
	// soak:output-earth      0.0            0.0
	// soak:triac           230.0          226.6
}

// What a plug-in energy monitor shows with the first channel fully on, and
// which other combinations of channels it could as well be.
func ExampleMonitorTable() {
	b := boardfile.Default()
	rows, err := readings.MonitorTable(b, circuit.Uniform(3, 20), readings.DefaultTolerance)
	if err != nil {
		log.Fatal(err)
	}
	for _, r := range rows {
		if r.Name() != "on off off" {
			continue
		}
		fmt.Printf("%s: %.0f W, %.0f W to %.0f W; %.2f A\n", r.Name(), r.Power.Nominal, r.Power.Low, r.Power.High, r.Current.Nominal)
		for _, j := range r.Same {
			fmt.Printf("or %s: %.0f W, %.2f A\n", rows[j].Name(), rows[j].Power.Nominal, rows[j].Current.Nominal)
		}
	}
	// Output:
	// on off off: 1173 W, 1047 W to 1243 W; 5.15 A
	// or off half reversed: 1220 W, 5.46 A
	// or half off reversed: 1077 W, 4.74 A
	// or half reversed off: 1316 W, 5.82 A
}

// Resistance of an element at the output of the unplugged board, and the
// diode test of a triac that is shorted in one direction.
func ExampleUnplugged() {
	b := boardfile.Default()
	out, line, neutral := models.At(models.Output, 0), models.At(models.Line, 0), models.At(models.Neutral, 0)
	b.Bridges = append(b.Bridges, models.Bridge{Name: "one way", From: out, To: line, Threshold: 0.9, Resistance: 0.02, OneWay: true, Part: models.TriacPart})
	test := func(t readings.Test, plus, minus models.Node) readings.Dead {
		d, err := readings.Unplugged(b, circuit.Uniform(3, 20), t, plus, minus)
		if err != nil {
			log.Fatal(err)
		}
		return d
	}
	fmt.Println(readings.UnpluggedCaution)
	fmt.Printf("element %.1f Ω\n", test(readings.Ohmmeter, out, neutral).Ohms)
	fmt.Printf("triac, one way %.2f V\n", test(readings.DiodeTest, out, line).Volts)
	fmt.Printf("the other way, open: %v\n", test(readings.DiodeTest, line, out).Open)
	// Output:
	// unplug, lock off and prove dead first; let capacitors discharge; boilers stay hot and under pressure
	// element 44.1 Ω
	// triac, one way 0.90 V
	// the other way, open: true
}
