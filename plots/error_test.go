package plots

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestWaveformErrors(t *testing.T) {
	for want, change := range map[string]func(*WaveformInput){
		`supply: between L and N: found NaN at index 3, expected a finite number`:         func(in *WaveformInput) { in.Supply.Value[3] = math.NaN() },
		`channel "dye": element current: found +Inf at index 0, expected a finite number`: func(in *WaveformInput) { in.Channels[1].Current.Value[0] = math.Inf(1) },
		`channel "soak": gate current: found 5 values for 1601 times, expected as many`:   func(in *WaveformInput) { in.Channels[0].Gate.Value = make([]float64, 5) },
		`supply: between L and N: found 1 time, expected at least 2`:                      func(in *WaveformInput) { in.Supply = Trace{"between L and N", "V", []float64{0}, []float64{0}} },
		`supply: between L and N: found 0 times, expected at least 2`:                     func(in *WaveformInput) { in.Supply.Time = nil },
		`channel 1: x: found unit "", expected one of 1 to 8 characters`: func(in *WaveformInput) {
			in.Channels[0].Name, in.Channels[0].Voltage.Name, in.Channels[0].Voltage.Unit = "", "x", ""
		},
		`supply frequency: found 0 Hz, expected 1 Hz to 1000 Hz`:                               func(in *WaveformInput) { in.Frequency = 0 },
		`supply frequency: found NaN Hz, expected 1 Hz to 1000 Hz`:                             func(in *WaveformInput) { in.Frequency = math.NaN() },
		`found 16 cycles, expected at most 3 in one figure`:                                    func(in *WaveformInput) { in.Frequency = 400 },
		`found 8 channels, expected at most 7 in one figure`:                                   func(in *WaveformInput) { in.Channels = make([]WaveformChannel, 8) },
		`found no trace, expected a supply voltage or a channel's`:                             func(in *WaveformInput) { *in = WaveformInput{Frequency: 50} },
		`channel "soak": mark 0: angle: found NaN at index 0, expected a finite number`:        func(in *WaveformInput) { in.Channels[0].Marks[0].Degrees = math.NaN() },
		`supply: between L and N: found 1e+10 at index 2, expected at most 1e+09 in magnitude`: func(in *WaveformInput) { in.Supply.Value[2] = 1e10 },
		`supply: found time 0 s at index 2 after 1 s, expected times that do not fall`: func(in *WaveformInput) {
			in.Supply = Trace{"", "V", []float64{0, 1, 0}, []float64{0, 0, 0}}
		},
		`supply: found times from 1 s to 1 s, expected a span of time`: func(in *WaveformInput) {
			in.Supply = Trace{"", "V", []float64{1, 1}, []float64{0, 0}}
		},
		`channel "soak": mark 1: found kind 7, expected a firing or an extinction`: func(in *WaveformInput) { in.Channels[0].Marks[1].Kind = 7 },
	} {
		in := demoWaveforms()
		change(&in)
		checkError(t, want, func() (*Sheet, error) { return Waveforms(in) })
	}
}

func TestTemperatureErrors(t *testing.T) {
	for want, change := range map[string]func(*TemperatureInput){
		`temperatures: found 0 times, expected at least 2`:                                                 func(in *TemperatureInput) { in.Time = nil },
		`temperatures: found no channel and no lid, expected a temperature`:                                func(in *TemperatureInput) { in.Channels, in.Lid = nil, nil },
		`channel "soak": water: found 3 values for 361 times, expected as many`:                            func(in *TemperatureInput) { in.Channels[0].Water = make([]float64, 3) },
		`channel "dye": element: found NaN at index 1, expected a finite number`:                           func(in *TemperatureInput) { in.Channels[1].Element[1] = math.NaN() },
		`channel "dye": set: found -Inf at index 0, expected a finite number`:                              func(in *TemperatureInput) { in.Channels[1].Levels[0].Value = math.Inf(-1) },
		`channel "dye": set: found a band of -1 K to each side, expected 0 or more`:                        func(in *TemperatureInput) { in.Channels[1].Levels[0].Half = -1 },
		`lid: found 0 values for 361 times, expected as many`:                                              func(in *TemperatureInput) { in.Lid = []float64{} },
		`power: found NaN at index 0, expected a finite number`:                                            func(in *TemperatureInput) { in.Power[0] = math.NaN() },
		`event 0: found channel index 2, expected −1 to 1`:                                                 func(in *TemperatureInput) { in.Events[0].Channel = 2 },
		`event 1: found no text, expected what happened`:                                                   func(in *TemperatureInput) { in.Events[1].Text = " \n" },
		`event 1: time: found NaN at index 0, expected a finite number`:                                    func(in *TemperatureInput) { in.Events[1].Time = math.NaN() },
		`channel "soak": indicator: found 9 at index 1, expected 0 to 4`:                                   func(in *TemperatureInput) { in.Channels[0].Indicator[1].Indicator = 9 },
		`channel "soak": indicator: found time -1 s at index 1 after 0 s, expected times that do not fall`: func(in *TemperatureInput) { in.Channels[0].Indicator[1].Time = -1 },
		`found 8 channels, expected at most 7 in one figure`:                                               func(in *TemperatureInput) { in.Channels = make([]TemperatureChannel, 8) },
	} {
		in := demoTemperatures()
		change(&in)
		checkError(t, want, func() (*Sheet, error) { return Temperatures(in) })
	}
}

func TestOtherErrors(t *testing.T) {
	for want, change := range map[string]func(*MultiplesInput){
		`found 0 cells, expected 1 to 64`:                                            func(in *MultiplesInput) { in.Cells = nil },
		`found 65 cells, expected 1 to 64`:                                           func(in *MultiplesInput) { in.Cells = make([]Cell, 65) },
		`supply frequency: found 0 Hz, expected 1 Hz to 1000 Hz`:                     func(in *MultiplesInput) { in.Frequency = 0 },
		`cell "fires late": found unit "A", expected "V" as in the first`:            func(in *MultiplesInput) { in.Cells[1].Trace.Unit = "A" },
		`reference: found unit "A", expected "V" as in the cells`:                    func(in *MultiplesInput) { in.Reference.Unit = "A" },
		`found 4 cycles, expected at most 3 in one figure`:                           func(in *MultiplesInput) { in.Frequency = 100 },
		`cell "opto-half-wave": between L and N: found 0 times, expected at least 2`: func(in *MultiplesInput) { in.Cells[0].Trace.Time = nil },
		`reference: between L and N: found NaN at index 0, expected a finite number`: func(in *MultiplesInput) { in.Reference.Value[0] = math.NaN() },
	} {
		in := demoMultiples()
		change(&in)
		checkError(t, want, func() (*Sheet, error) { return Multiples(in) })
	}
	for want, change := range map[string]func(*ReadingsInput){
		`found 0 meters, expected 1 to 7`:                                       func(in *ReadingsInput) { in.Meters = nil },
		`found 0 rows of readings, expected 1 to 24`:                            func(in *ReadingsInput) { in.Rows = nil },
		`readings: found no quantity, expected one`:                             func(in *ReadingsInput) { in.Quantity = "" },
		`readings: found unit "volts or so", expected one of 1 to 8 characters`: func(in *ReadingsInput) { in.Unit = "volts or so" },
		`row "healthy": found 2 readings for 3 meters, expected as many`:        func(in *ReadingsInput) { in.Rows[0].Readings = in.Rows[0].Readings[:2] },
		`row "healthy": found NaN at index 1, expected a finite number`:         func(in *ReadingsInput) { in.Rows[0].Readings[0].Uncertainty = math.NaN() },
		`row "healthy": found an uncertainty of -4 V, expected 0 or more`:       func(in *ReadingsInput) { in.Rows[0].Readings[0].Uncertainty = -4 },
	} {
		in := demoReadings()
		change(&in)
		checkError(t, want, func() (*Sheet, error) { return Readings(in) })
	}
}

func checkError(t *testing.T, want string, build func() (*Sheet, error)) {
	t.Helper()
	s, err := build()
	if err == nil || err.Error() != want || s != nil {
		t.Errorf("found error %v, want %s", err, want)
	}
	if err != nil && (strings.HasSuffix(err.Error(), ".") || strings.Contains(err.Error(), "\n")) {
		t.Errorf("found error %q, want one line without a full stop", err)
	}
}

// TestAnyNames gives any text for names: figures come out, as well-formed
// documents, with every label apart.
func TestAnyNames(t *testing.T) {
	try := func(t testing.TB, name, words string) {
		in := demoTemperatures()
		in.Title, in.Subtitle, in.Caption = words, name, name+words
		in.Channels[0].Name, in.Channels[1].Name = name, words
		in.Channels[0].Levels[0].Name = words
		in.Events[0].Text = "x" + name
		in.Events[1].Text = "y" + words
		s, err := Temperatures(in)
		checkLabels(t, must(t, s, err), defaultWidth)
		wellFormed(t, encoded(t, s, "svg", Size{}))
		if len(words) == 3000 || strings.Contains(words, "ﬃ") { // slower
			encoded(t, s, "pdf", Size{})
		}
	}
	for _, c := range [][2]string{
		{"soak", "link opened"},
		{"\x00\xff\u2028<&>\U0001F525", strings.Repeat("w", 3000)},
		{"\u202eעברית", "€ → ∞ ﬃ\ufffe"},
	} {
		try(t, c[0], c[1])
	}
	rapid.Check(t, func(r *rapid.T) {
		name, words := rapid.String().Draw(r, "name"), rapid.String().Draw(r, "words")
		try(t, name, words)
	})
}
