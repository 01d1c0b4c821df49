package plots

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
)

func TestWaveformAlternative(t *testing.T) {
	s, err := Waveforms(demoWaveforms())
	must(t, s, err)
	// 325 V peak is 325/√2 = 229.8 V rms; fired at α = 40° it is
	// 325·√(1/2 − α/2π + sin 2α/4π) V (textbook result) = 222.2 V, and that
	// through 40 Ω 5.555 A.
	contains(t, "text alternative", s.Alt(),
		"Waveform figure: Two firing angles.", "time from 0 ms to 40 ms, 2 cycles at 50 Hz",
		"Supply voltage: −325 V to 325 V, rms 229.8 V",
		"Channel soak (delayed): voltage from OUT to N −325 V to 325 V, rms 222.", "element current −8.125 A to 8.125 A, rms 5.55",
		"gate current −30 mA to 30 mA", "fires 4 times at 40.0°", "stops conducting 4 times at 179.5°",
		"Channel steam (off): voltage from OUT to N steady at 0 V", "no firing")
	contains(t, "caption", s.Caption(), "Simulated", "invented for demonstration", "mains voltage", "local codes", "half-cycle of the firing")
	if s.Title() != "Two firing angles" {
		t.Errorf("found title %q", s.Title())
	}
}

func TestTemperatureAlternative(t *testing.T) {
	s, err := Temperatures(demoTemperatures())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(),
		"time from 0.0 min to 60.0 min", "values from 20 °C to 155 °C",
		"soak: water from 20.0 °C to 55.0 °C", "element at most 60 °C", "set 55 °C ± 3 K", "indicator heating from 0.0 min, in band from 8.2 min",
		"dye: water from 20.0 °C to 56.0 °C, highest 125.0 °C at 21.0 min", "2 further changes; in all off 17 %, heating 21 %",
		"Lid from 20.0 °C", "Power through the plug: 100 W to 1600 W",
		"Events: dye: link opened, 21.0 min; board changed, 21.7 min; soak: draw begins, 3 times from 10.0 min to 30.0 min.")
	contains(t, "caption", s.Caption(), "Thick lines with markers: water.", "invented for demonstration")
	in := demoTemperatures()
	in.Events, in.Source, in.Caption = nil, "From a recording.", "See the link."
	s, err = Temperatures(in)
	must(t, s, err)
	contains(t, "text alternative", s.Alt(), "No events.")
	if !strings.HasPrefix(s.Caption(), "See the link. ") || !strings.HasSuffix(s.Caption(), " From a recording.") || strings.Contains(s.Caption(), "invented") {
		t.Errorf("found caption %q, want the input's own words at both ends", s.Caption())
	}
}

func TestUnlabelledEventsAreTold(t *testing.T) {
	in := demoTemperatures()
	in.Events = nil
	for i := range maxGroups + 3 {
		in.Events = append(in.Events, Event{1000, 0, "event " + strings.Repeat("x", i+1)})
	}
	s, err := Temperatures(in)
	must(t, s, err)
	contains(t, "caption", s.Caption(), "3 further events are listed in the data only.")
}

func TestOtherAlternatives(t *testing.T) {
	s, err := Multiples(demoMultiples())
	must(t, s, err)
	contains(t, "multiples", s.Alt(), "3 panels over time from 0 ms to 40 ms", "For comparison, healthy: −325 V to 325 V, rms 229.8 V.",
		"opto-half-wave: 0 V to 325 V, rms 162.5 V.", "rms 222.2 V; dimmed.", "opto-open: steady at 0 V.")
	s, err = Readings(demoReadings())
	must(t, s, err)
	contains(t, "readings", s.Alt(), "voltage from 0 V to 239 V", "healthy: average, 2 kΩ/V 229.8 ± 4.0 V; true rms, 10 MΩ 230.1 ± 1.5 V",
		"half-wave overload", "half-wave not measured", "average, 2 kΩ/V 0.2 V")
	contains(t, "readings", s.Caption(), Caution)
}

func TestData(t *testing.T) {
	for _, f := range figures() {
		s, err := f.build()
		for _, table := range must(t, s, err).Data() {
			var b bytes.Buffer
			if err := table.WriteCSV(&b); err != nil {
				t.Fatal(err)
			}
			rows, err := csv.NewReader(&b).ReadAll()
			if err != nil {
				t.Fatalf("%s, %s: %v", f.name, table.Name, err)
			}
			if len(rows) != table.Rows()+1 || len(rows[0]) != len(table.Columns) || table.Rows() == 0 {
				t.Errorf("%s, %s: found %d rows of %d, want %d of %d", f.name, table.Name, len(rows), len(rows[0]), table.Rows()+1, len(table.Columns))
			}
		}
	}
	s, err := Temperatures(demoTemperatures())
	tables := must(t, s, err).Data()
	var names []string
	for _, x := range tables {
		names = append(names, x.Name)
	}
	if got := strings.Join(names, " "); got != "temperatures levels indicators events" {
		t.Errorf("found tables %s", got)
	}
	if h := tables[0].Columns[1].Heading(); h != "soak water (°C)" {
		t.Errorf("found heading %q", h)
	}
	// One table as long as all traces share their times, two if one does not.
	in := demoWaveforms()
	in.Channels[0].Gate.Time = append([]float64(nil), in.Channels[0].Gate.Time...)
	if w := must1(t, in); len(w.Data()) != 2 || len(w.Data()[0].Columns) != 11 {
		t.Errorf("found %d tables, want traces and marks", len(w.Data()))
	}
	in.Channels[0].Gate.Time[1] *= 1.5
	if w := must1(t, in); len(w.Data()) != 3 || len(w.Data()[1].Columns) != 2 {
		t.Errorf("found %d tables, want traces, traces 2 and marks", len(w.Data()))
	}
	if err := (Table{Columns: []Column{{Name: "x", Number: []float64{1}}}}).WriteCSV(fullDisk{}); err == nil {
		t.Error("found no error of a full disk")
	}
}

func must1(t *testing.T, in WaveformInput) *Sheet {
	t.Helper()
	s, err := Waveforms(in)
	return must(t, s, err)
}
