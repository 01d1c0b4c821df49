package plots

import (
	"math"
	"strings"
	"testing"
)

// demoCurves is two falling exponentials, one of which ends, and a straight
// line in a second panel, over a logarithmic axis.
func demoCurves() CurvesInput {
	in := CurvesInput{Quantity: "leak resistance", Unit: "Ω", Log: true}
	in.Title = "Delay against leak"
	var a, b, c Curve
	a.Name, b.Name, c.Name = "positive half-cycle", "negative half-cycle", "loss"
	for i := range 61 {
		x := math.Pow(10, 1+float64(i)/20)
		a.X, a.Y = append(a.X, x), append(a.Y, 2+60*math.Exp(-float64(i)/12))
		y := 3 + 80*math.Exp(-float64(i)/12)
		if i < 8 {
			y = math.NaN()
		}
		b.X, b.Y = append(b.X, x), append(b.Y, y)
		c.X, c.Y = append(c.X, x), append(c.Y, 0.9-float64(i)/100)
	}
	in.Panels = []CurvePanel{
		{Quantity: "firing delay", Unit: "°", Zero: true, Curves: []Curve{a, b}, Limits: []Level{{Name: "visible from", Value: 10}}},
		{Quantity: "loss", Unit: "W", Curves: []Curve{c}},
	}
	return in
}

func demoBands() BandsInput {
	in := BandsInput{Rows: []string{"nothing conducts", "steam", "soak", "dye"}}
	in.Title = "Standby: which boiler is on?"
	in.Columns = []BandColumn{
		{"power", "W", []Band{{0, 0, 0}, {980, 880, 1040}, {1170, 1050, 1240}, {1460, 1300, 1550}}},
		{"current", "A", []Band{{0, 0, 0}, {4.3, 3.8, 4.6}, {5.1, 4.5, 5.5}, {6.4, 5.7, 6.8}}},
	}
	return in
}

func demoDetectors() DetectorsInput {
	w := demoWaveforms()
	in := DetectorsInput{Frequency: 50, Point: "dye:output", Trace: w.Channels[0].Voltage, Mean: 0, RMS: 222.2, Average: 203.0}
	in.Readings = []DetectorReading{{Meter: "average", Rule: "mean of |v| × 1.11", Value: 203.0, Uncertainty: 3}, {Meter: "rms", Rule: "root of the mean square", Value: 222.2, Uncertainty: 2},
		{Meter: "direct", Rule: "mean of v", Value: -0.1}, {Meter: "old", Rule: "mean of v", Over: true}}
	return in
}

func demoPair() PairInput {
	w, d := demoWaveforms(), demoTemperatures()
	in := PairInput{Names: [2]string{"healthy", "dye:film-gate"}, Frequency: 50, Point: "dye:output"}
	in.Traces = [2]Trace{w.Supply, w.Channels[0].Voltage}
	in.Meters = []string{"average", "rms", "direct"}
	in.Readings = [2][]Reading{{{Value: 229.8}, {Value: 229.9}, {Value: 0}}, {{Value: 203}, {Value: 222.2}, {Over: true}}}
	for i := range in.Water {
		for _, c := range d.Channels {
			y := c.Water
			if i == 0 {
				y = d.Channels[0].Water
			}
			in.Water[i] = append(in.Water[i], Curve{c.Name, d.Time, y})
		}
	}
	return in
}

func TestTeachingLabelsExtreme(t *testing.T) {
	long := strings.Repeat(longName+" ", 3)
	for _, scale := range []float64{1, 6e5, 1e-6} {
		c := demoCurves()
		c.Title, c.Quantity = long, long
		for i := range c.Panels {
			p := &c.Panels[i]
			p.Quantity = long
			for k := range p.Curves {
				p.Curves[k].Name = long
				for j := range p.Curves[k].Y {
					if p.Unit == "W" {
						p.Curves[k].Y[j] *= scale
					}
				}
			}
			for k := range p.Limits {
				p.Limits[k].Name = long
			}
		}
		s, err := Curves(c)
		checkLabels(t, must(t, s, err))
		c = demoCurves()
		c.Panels[0].NamesFirst, c.Log = true, false
		s, err = Curves(c)
		checkLabels(t, must(t, s, err))
		b := demoBands()
		for i := range b.Rows {
			b.Rows[i] = long
		}
		for i := range b.Columns {
			b.Columns[i].Quantity = long
			for k, x := range b.Columns[i].Bands {
				b.Columns[i].Bands[k] = Band{x.Nominal * scale, x.Low * scale, x.High * scale}
			}
		}
		s, err = Bands(b)
		checkLabels(t, must(t, s, err))
		d := demoDetectors()
		d.Point = long
		scaled(&d.Trace, scale)
		d.RMS, d.Average = d.RMS*scale, d.Average*scale
		for i := range d.Readings {
			r := &d.Readings[i]
			r.Meter, r.Rule, r.Value, r.Uncertainty = long, long, r.Value*scale, r.Uncertainty*scale
		}
		s, err = Detectors(d)
		checkLabels(t, must(t, s, err))
		p := demoPair()
		p.Names, p.Point = [2]string{long, long}, long
		for i := range p.Traces {
			p.Traces[i].Value = append([]float64(nil), p.Traces[i].Value...)
			scaled(&p.Traces[i], scale)
			for k := range p.Readings[i] {
				p.Readings[i][k].Value *= scale
			}
			for k := range p.Water[i] {
				p.Water[i][k].Name = long
			}
		}
		for i := range p.Meters {
			p.Meters[i] = long
		}
		s, err = Pair(p)
		checkLabels(t, must(t, s, err))
	}
}

func TestTeachingAlternatives(t *testing.T) {
	s, err := Curves(demoCurves())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(), "Horizontal axis: leak resistance from 10 Ω to 10 kΩ.", "firing delay, positive half-cycle: 62 ° at 10 Ω", "Below 25.12 Ω there is no value.", "Line across: visible from 10 °.")
	contains(t, "caption", s.Caption(), "A line that ends", "logarithmic")
	if d := s.Data(); len(d) != 3 || d[1].Rows() != 53 {
		t.Errorf("found %d tables, the second of %d rows, want 3 and 53", len(d), d[1].Rows())
	}
	s, err = Bands(demoBands())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(), "soak: power 1170 W, between 1050 W and 1240 W; current 5.1 A, between 4.5 A and 5.5 A.", "nothing conducts: power 0 W")
	if strings.Contains(s.Alt(), "dye: power 1460 W, between 1300 W and 1550 W; current 6.4 A, between 5.7 A and 6.8 A. Not told") {
		t.Errorf("found dye to be like another: %s", s.Alt())
	}
	in := demoBands()
	in.Columns[0].Bands[1].High = 1100 // steam reaches soak in power, and in current already
	s, err = Bands(in)
	must(t, s, err)
	contains(t, "text alternative", s.Alt(), "Not told apart from soak.", "Not told apart from steam.")
	s, err = Detectors(demoDetectors())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(), "The waveform: −325 V to 325 V, rms 222.", "Meter average (mean of |v| × 1.11): 203 V.", "Meter old (mean of v): overload.")
	s, err = Pair(demoPair())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(), "dye:film-gate beside healthy", "Meters: average 203 V, rms 222.2 V, direct overload.", "dye: water from 20.0 to 56.0 °C, highest 125.0 °C.")
	if d := s.Data(); d[len(d)-1].Name != "meters" || d[len(d)-1].Columns[4].Text[2] != "overload" {
		t.Errorf("found data %v", d[len(d)-1])
	}
}

func TestTeachingErrors(t *testing.T) {
	for want, change := range map[string]func(*CurvesInput){
		"found 0 panels, expected 1 to 3":                                                          func(in *CurvesInput) { in.Panels = nil },
		`horizontal axis: found unit "", expected one of 1 to 8 characters`:                        func(in *CurvesInput) { in.Unit = "" },
		"panel 1: found 0 curves, expected 1 to 7":                                                 func(in *CurvesInput) { in.Panels[0].Curves = nil },
		`curve "positive half-cycle": found 3 values for 61 places, expected as many, at least 2`:  func(in *CurvesInput) { in.Panels[0].Curves[0].Y = []float64{1, 2, 3} },
		`curve "positive half-cycle": found 0 on a logarithmic axis, expected more than 0`:         func(in *CurvesInput) { in.Panels[0].Curves[0].X[0] = 0 },
		`curve "positive half-cycle": found 1 after 10, expected places that do not fall`:          func(in *CurvesInput) { in.Panels[0].Curves[0].X[1] = 1 },
		`curve "positive half-cycle": found +Inf at index 0, expected at most 100000 in magnitude`: func(in *CurvesInput) { in.Panels[0].Curves[0].Y[0] = math.Inf(1) },
		"panel 2: found no value at all, expected one": func(in *CurvesInput) {
			for i := range in.Panels[1].Curves[0].Y {
				in.Panels[1].Curves[0].Y[i] = math.NaN()
			}
		},
		`limit "visible from": found NaN at index 0, expected a finite number`: func(in *CurvesInput) { in.Panels[0].Limits[0].Value = math.NaN() },
	} {
		in := demoCurves()
		change(&in)
		checkError(t, want, func() (*Sheet, error) { return Curves(in) })
	}
	for want, change := range map[string]func(*BandsInput){
		"found 0 rows, expected 1 to 24":                                    func(in *BandsInput) { in.Rows = nil },
		"found 0 columns, expected 1 or 2":                                  func(in *BandsInput) { in.Columns = nil },
		"power: found 1 band for 4 rows, expected as many":                  func(in *BandsInput) { in.Columns[0].Bands = in.Columns[0].Bands[:1] },
		`power: row "dye": found 1 between 2 and 3, expected rising values`: func(in *BandsInput) { in.Columns[0].Bands[3] = Band{1, 2, 3} },
		`power: row "dye": found NaN at index 0, expected a finite number`:  func(in *BandsInput) { in.Columns[0].Bands[3].Nominal = math.NaN() },
	} {
		in := demoBands()
		change(&in)
		checkError(t, want, func() (*Sheet, error) { return Bands(in) })
	}
	for want, change := range map[string]func(*DetectorsInput){
		"found 0 meters, expected 1 to 12":                            func(in *DetectorsInput) { in.Readings = nil },
		"found 4 cycles, expected at most 3 in one figure":            func(in *DetectorsInput) { in.Frequency = 100 },
		`meter "rms": found NaN at index 0, expected a finite number`: func(in *DetectorsInput) { in.Readings[1].Value = math.NaN() },
	} {
		in := demoDetectors()
		change(&in)
		checkError(t, want, func() (*Sheet, error) { return Detectors(in) })
	}
	for want, change := range map[string]func(*PairInput){
		"found 0 meters, expected 1 to 7":                                             func(in *PairInput) { in.Meters = nil },
		`"healthy": found 1 reading for 3 meters, expected as many`:                   func(in *PairInput) { in.Readings[0] = in.Readings[0][:1] },
		`"dye:film-gate": found 1 boiler, expected 1 to 7 and the same in both cases`: func(in *PairInput) { in.Water[1] = in.Water[1][:1] },
		`"dye:film-gate": found unit "A", expected "V" as in the other case`:          func(in *PairInput) { in.Traces[1].Unit = "A" },
	} {
		in := demoPair()
		change(&in)
		checkError(t, want, func() (*Sheet, error) { return Pair(in) })
	}
}
