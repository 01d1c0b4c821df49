package plots_test

import (
	"bytes"
	"fmt"
	"math"
	"os"

	"boilwright/plots"
)

// A waveform sheet of one channel, from plain data.
func ExampleWaveforms() {
	var time, volts, amps []float64
	for i := range 1001 {
		t := float64(i) * 20e-6 // one cycle of 50 Hz
		v := 325 * math.Sin(2*math.Pi*50*t)
		time, volts, amps = append(time, t), append(volts, v), append(amps, v/44)
	}
	sheet, err := plots.Waveforms(plots.WaveformInput{
		Heading:   plots.Heading{Title: "A resistive load"},
		Frequency: 50,
		Channels: []plots.WaveformChannel{{
			Name:    "soak",
			Voltage: plots.Trace{Unit: "V", Time: time, Value: volts},
			Current: plots.Trace{Unit: "A", Time: time, Value: amps},
			Marks:   []plots.Mark{{Kind: plots.Firing, Time: 0.2e-3, Degrees: 3.6}},
		}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	var picture bytes.Buffer
	if err := sheet.Encode(&picture, "png", plots.Size{}); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(sheet.Alt())
	// Output:
	// Waveform figure: A resistive load. Horizontal axis: time from 0 ms to 20 ms, 1 cycle at 50 Hz. Channel soak: voltage −325 V to 325 V, rms 229.8 V; current −7.386 A to 7.386 A, rms 5.223 A; fires 1 time at 3.6°.
}

// The data behind a figure, as comma-separated values.
func ExampleTable_WriteCSV() {
	sheet, err := plots.Readings(plots.ReadingsInput{
		Quantity: "voltage", Unit: "V", Point: "out1 to N",
		Meters: []string{"true rms"},
		Rows: []plots.Row{
			{Name: "healthy", Readings: []plots.Reading{{Value: 230, Uncertainty: 2}}},
			{Name: "opto-open", Readings: []plots.Reading{{Value: 31.5, Uncertainty: 0.5}}},
		},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, table := range sheet.Data() {
		if err := table.WriteCSV(os.Stdout); err != nil {
			fmt.Println(err)
		}
	}
	// Output:
	// case,meter,voltage (V),uncertainty (V),remark
	// healthy,true rms,230,2,
	// opto-open,true rms,31.5,0.5,
}
