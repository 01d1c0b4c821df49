package pages_test

import (
	"strings"
	"testing"

	"boilwright/faults"
	"boilwright/plots/pages"
	"boilwright/sim/readings"
)

// TestFirst: of the tests that tell two boards apart the safest is named:
// unplugged before live, with small voltages before 500 V, the monitor and the
// control side before leads at mains voltage (the order of advice for work on
// live boards, common practice, no source).
func TestFirst(t *testing.T) {
	r := reference()
	control := point()
	control.Name, control.Control, control.Live = "vat:drive", true, false
	r.Points = append(r.Points, control)
	board := func() *pages.Study {
		s := study("opto-shorted", [2]float64{229, 0}, [2]float64{229, 0}, 330, 990)
		s.Dead = append(s.Dead, pages.Dead{Point: "insulation", Dead: readings.Dead{Test: readings.Insulation, Ohms: 300e6}})
		for _, table := range []*[][]readings.Value{&s.Standby, &s.Heating} {
			row := []readings.Value{(*table)[0][0], (*table)[0][1]}
			for i := range row {
				row[i].Point, row[i].Shown, row[i].Low, row[i].High = control, 0, 0, 0
			}
			*table = append(*table, row)
		}
		v := s.Standby[0][0]
		v.Shown, v.Low, v.High, v.Varies = 0, 0, 229, true
		s.Holding = [][]readings.Value{{v}}
		return s
	}
	a, b, gone := board(), board(), r.Faults[3]
	f, _ := faults.Find("triac-shorted")
	a.Fault, r.Healthy, r.Faults = &f, board(), []*pages.Study{a, b, gone}
	r.Healthy.Fault = nil
	set := func(v *readings.Value, volts float64) { v.Shown, v.Low, v.High = volts, volts, volts }
	// From the last to the first: each new difference takes precedence.
	for _, x := range []struct {
		want   pages.Separation
		text   string
		differ func()
	}{
		{pages.Inseparable, "none of these", func() {}},
		{pages.Inseparable, "none of these", func() { b.Holding[0][0].High = 215 }}, // nobody reads that off a display that jumps
		{pages.ByHolding, "holding, `vat:output`, meter `rms`: 0.0 to 229.0 V / 0.0 to 115.0 V", func() { b.Holding[0][0].High = 115 }},
		{pages.ByHeating, "heating, `vat:output`, meter `rms`: 229.0 V / 226.0 V", func() { set(&b.Heating[0][0], 226) }},
		{pages.ByStandby, "standby, `vat:output`, meter `direct`: 0.0 V / −2.0 V", func() { set(&b.Standby[0][1], -2) }},
		{pages.ByControl, "heating, `vat:drive`, meter `direct`: 0.0 V / 12.0 V", func() { set(&b.Heating[1][1], 12) }},
		{pages.ByMonitor, "energy monitor, standby: 990.0 W / 900.0 W", func() { b.Plug[0].Watts = 900 }},
		{pages.ByInsulation, "insulation, line and neutral joined, to earth: 300 MΩ / 1.00 MΩ", func() { b.Dead[2].Ohms = 1e6 }},
		{pages.ByUnplugged, "ohmmeter at `vat:output`, + on out1: 330 Ω / 10.0 Ω", func() { b.Dead[0].Ohms, b.Dead[1].Ohms = 10, 10 }},
	} {
		x.differ()
		if got := r.First(a, b); got != x.want || r.First(b, a) != x.want {
			t.Errorf("found %d, expected %d: %s", got, x.want, x.text)
		}
		if text := page(t, r, 0); !strings.Contains(text, x.text) {
			t.Errorf("found no %q in\n%s", x.text, text)
		}
	}
	// 330 Ω and 400 Ω can be told apart, 0.4 V and 0.9 V more plainly.
	a, b = board(), board()
	for _, s := range []*pages.Study{a, b} {
		s.Dead[1].Test, s.Dead[1].Volts = readings.DiodeTest, 0.4
	}
	a.Fault, r.Faults = &f, []*pages.Study{a, b}
	b.Dead[0].Ohms = 400
	if text := page(t, r, 0); !strings.Contains(text, "| ohmmeter at `vat:output`, + on out1: 330 Ω / 400 Ω | none |") {
		t.Errorf("found no ohmmeter in\n%s", text)
	}
	b.Dead[1].Volts = 0.9
	if text := page(t, r, 0); !strings.Contains(text, "| diode at `vat:output`, + on out1: 0.400 V / 0.900 V | ohmmeter at ") {
		t.Errorf("found no diode test first in\n%s", text)
	}
	a, b = board(), board()
	a.Holding = nil
	b.Holding[0][0].High = 115
	if got := r.First(a, b); got != pages.Inseparable {
		t.Errorf("found %d of a board that was not measured in holding", got)
	}
	if got := r.First(a, gone); got != pages.Inseparable {
		t.Errorf("found %d of a board that was not simulated", got)
	}
}
