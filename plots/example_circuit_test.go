package plots_test

import (
	"bytes"
	"context"
	"fmt"

	"boilwright/plots"
)

// A circuit diagram with a fault: laid out from the structure, drawn in any
// form, and told in words.
func ExampleSchematic() {
	s, err := plots.Schematic(plots.SchematicInput{
		Channel: "dye",
		Values:  map[plots.SchematicPart]string{plots.ElementPart: "35.3 Ω", plots.GateResistorPart: "330 Ω"},
		Faults:  []plots.SchematicFault{{Kind: plots.Gap, Part: plots.ElementPart, Text: "element-open"}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	var svg bytes.Buffer
	if err := s.Encode(&svg, "svg", plots.Size{}); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(s.Title())
	fmt.Println(s.Alt())
	// Output:
	// Circuit of channel dye
	// Circuit diagram: Circuit of channel dye. From line to neutral: triac, load wire, thermal link, heating element 35.3 Ω. Main terminal 1 of the triac points to the supply. From main terminal 2 to the gate: optotriac, gate resistor 330 Ω. No snubber. Fault 1: element-open, heating element.
}

// A machine in two frames: water that warms, an indicator that changes, and
// what the monitor shows.
func ExampleMachine() {
	a, err := plots.Machine(plots.MachineInput{
		Rate: 1, Time: []float64{0, 600}, Display: []string{"0 W", "1500 W"}, DisplayName: "monitor",
		Channels: []plots.MachineChannel{{
			Name: "dye", Set: 85, Link: 126, Fill: 2,
			Water: []float64{20, 84}, Element: []float64{20, 96}, Mass: []float64{2, 2}, Drive: []float64{0, 1}, Power: []float64{0, 1500},
			Indicator: []plots.Indicator{plots.IndicatorHeating, plots.IndicatorInBand}, LinkOpen: []bool{false, false},
		}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	var gif bytes.Buffer
	if err := a.WriteGIF(context.Background(), &gif, plots.FrameSize{Width: 320, Height: 180}); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(a.Count(), "frames,", string(gif.Bytes()[:6]))
	fmt.Println(a.Alt())
	// Output:
	// 2 frames, GIF89a
	// Animation of a machine: A machine over time. 2 frames at 1 a second, from 0.0 min to 10.0 min. dye: water from 20.0 to 84.0 °C, highest 84.0 °C. Indicator: heating from 0.0 min, in band from 10.0 min.
}
