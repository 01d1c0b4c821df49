package plots

import (
	"bytes"
	"flag"
	"math"
	"strings"
	"testing"
)

// update rewrites the goldens: go test ./plots -update.
var update = flag.Bool("update", false, "rewrite the golden files")

// demoWaveforms is one channel fired at 40° into 40 Ω, one fired at the zeros
// into 30 Ω and one that is off, on a sine of 325 V, 50 Hz: two cycles of
// closed forms.
func demoWaveforms() WaveformInput {
	const (
		points = 1600
		peak   = 325.0
	)
	in := WaveformInput{Frequency: 50}
	in.Title, in.Subtitle = "Two firing angles", "325 V peak, 50 Hz"
	time := make([]float64, points+1)
	for i := range time {
		time[i] = 0.04 * float64(i) / points
	}
	trace := func(name, unit string, f func(degrees float64) float64) Trace {
		t := Trace{Name: name, Unit: unit, Time: time, Value: make([]float64, len(time))}
		for i := range time {
			t.Value[i] = f(360 * 2 * float64(i) / points)
		}
		return t
	}
	sine := func(d float64) float64 { return peak * math.Sin(d*math.Pi/180) }
	in.Supply = trace("between L and N", "V", sine)
	for k, c := range []struct {
		name, note string
		fires      float64 // beyond 180 for never
		ohms       float64
	}{{"soak", "delayed", 40, 40}, {"dye", "driven", 0, 30}, {"steam", "off", 200, 50}} {
		v := func(d float64) float64 {
			if math.Mod(d, 180) < c.fires {
				return 0
			}
			return sine(d)
		}
		ch := WaveformChannel{Name: c.name, Note: c.note}
		ch.Voltage = trace("voltage from OUT to N", "V", v)
		ch.Current = trace("element current", "A", func(d float64) float64 { return v(d) / c.ohms })
		ch.Gate = trace("gate current", "A", func(d float64) float64 {
			if a := math.Mod(d, 180); k < 2 && a >= c.fires && a < c.fires+5 {
				return math.Copysign(0.03, math.Sin((d+0.1)*math.Pi/180))
			}
			return 0
		})
		if k < 2 {
			for h := range 4 {
				ch.Marks = append(ch.Marks,
					Mark{Firing, (float64(h) + c.fires/180) * 0.01, c.fires},
					Mark{Extinction, (float64(h) + 179.5/180) * 0.01, 179.5})
			}
		}
		in.Channels = append(in.Channels, ch)
	}
	return in
}

// demoTemperatures is two boilers that approach their set points
// exponentially, one of which goes on to lose its link, sampled every 10 s
// for an hour.
func demoTemperatures() TemperatureInput {
	in := TemperatureInput{}
	in.Title = "A link opens"
	n := 361
	soak := TemperatureChannel{Name: "soak", Levels: []Level{{"set", 55, 3}}}
	dye := TemperatureChannel{Name: "dye", Levels: []Level{{"set", 85, 3}}}
	for i := range n {
		t := 10 * float64(i)
		in.Time = append(in.Time, t)
		soak.Water = append(soak.Water, 55-35*math.Exp(-t/200))
		soak.Element = append(soak.Element, 60-35*math.Exp(-t/150))
		d, p := 20+t/12, 1500.0
		if t > 1260 {
			d, p = 25+100*math.Exp(-(t-1260)/2000), 0
		}
		dye.Water = append(dye.Water, d)
		dye.Element = append(dye.Element, d+30*p/1500)
		in.Lid = append(in.Lid, 20+15*(1-math.Exp(-t/1500)))
		in.Power = append(in.Power, p+100)
	}
	soak.Indicator = []Change{{0, IndicatorHeating}, {490, IndicatorInBand}}
	dye.Indicator = []Change{{0, IndicatorHeating}, {744, IndicatorInBand}, {816, IndicatorDrifted}, {900, IndicatorOver}, {2400, IndicatorDrifted}, {3000, IndicatorOff}}
	in.Channels = []TemperatureChannel{soak, dye}
	in.Events = []Event{{1260, 1, "link opened"}, {1300, -1, "board changed"}, {600, 0, "draw begins"}, {1200, 0, "draw begins"}, {1800, 0, "draw begins"}}
	return in
}

// demoMultiples is a sine and three cases of it.
func demoMultiples() MultiplesInput {
	w := demoWaveforms()
	in := MultiplesInput{Frequency: 50, Point: "out1 to N", Reference: w.Supply}
	half := w.Supply
	half.Value = make([]float64, len(half.Time))
	for i, v := range w.Supply.Value {
		half.Value[i] = math.Max(0, v)
	}
	in.Cells = []Cell{{"opto-half-wave", "", half}, {"fires late", "dimmed", w.Channels[0].Voltage}, {"opto-open", "", w.Channels[2].Voltage}}
	return in
}

// demoReadings is three meters in two cases.
func demoReadings() ReadingsInput {
	return ReadingsInput{Quantity: "voltage", Unit: "V", Point: "out1 to N",
		Meters: []string{"average, 2 kΩ/V", "true rms, 10 MΩ", "half-wave"},
		Rows: []Row{
			{"healthy", []Reading{{Value: 229.8, Uncertainty: 4}, {Value: 230.1, Uncertainty: 1.5}, {Value: 230, Uncertainty: 9}}},
			{"opto-half-wave", []Reading{{Value: 114.9, Uncertainty: 2}, {Value: 162.6, Uncertainty: 1.2}, {Over: true}}},
			{"opto-open", []Reading{{Value: 0.2}, {Value: 31.07, Uncertainty: 0.2}, {Missing: true}}},
		}}
}

// figure is a figure of the package with demonstration data.
type figure struct {
	name  string
	build func() (*Sheet, error)
}

func figures() []figure {
	return []figure{
		{"waveforms", func() (*Sheet, error) { return Waveforms(demoWaveforms()) }},
		{"temperatures", func() (*Sheet, error) { return Temperatures(demoTemperatures()) }},
		{"multiples", func() (*Sheet, error) { return Multiples(demoMultiples()) }},
		{"readings", func() (*Sheet, error) { return Readings(demoReadings()) }},
		{"curves", func() (*Sheet, error) { return Curves(demoCurves()) }},
		{"bands", func() (*Sheet, error) { return Bands(demoBands()) }},
		{"detectors", func() (*Sheet, error) { return Detectors(demoDetectors()) }},
		{"pair", func() (*Sheet, error) { return Pair(demoPair()) }},
		{"circuit", func() (*Sheet, error) { return Schematic(demoSchematic()) }},
		{"circuit-neutral", func() (*Sheet, error) { return Schematic(demoSchematicNeutral()) }},
		{"disturbance", func() (*Sheet, error) { return Disturbance(demoDisturbance()) }},
		{"confusion", func() (*Sheet, error) { return Confusion(demoConfusion()) }},
		{"shares", func() (*Sheet, error) { return Shares(demoShares()) }},
	}
}

func must(t testing.TB, s *Sheet, err error) *Sheet {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func encoded(t testing.TB, s *Sheet, format string, size Size) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := s.Encode(&b, format, size); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// contains fails unless every text is part of got.
func contains(t testing.TB, what, got string, texts ...string) {
	t.Helper()
	for _, x := range texts {
		if !strings.Contains(got, x) {
			t.Errorf("%s: found no %q in: %s", what, x, got)
		}
	}
}
