package plots

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// checkLabels fails where two texts of a sheet overlap, leave the page or are
// smaller than 8 pt, at the given widths or else at several.
func checkLabels(t testing.TB, s *Sheet, widths ...float64) {
	t.Helper()
	if widths == nil {
		widths = []float64{minWidth, defaultWidth, 777, 1500}
	}
	for _, w := range widths {
		checkScene(t, s.layout(w), w)
	}
}

// checkScene is checkLabels of one layout.
func checkScene(t testing.TB, sc *scene, w float64) {
	t.Helper()
	var texts []*item
	for i := range sc.items {
		if it := &sc.items[i]; it.kind == textItem {
			texts = append(texts, it)
		}
	}
	if len(texts) < 5 {
		t.Fatalf("width %g: found %d texts, want labels", w, len(texts))
	}
	for i, a := range texts {
		if a.size < 8 {
			t.Errorf("width %g: found %q at %g pt, want at least 8", w, a.text, a.size)
		}
		if a.box.x0 < 0 || a.box.x1 > sc.w || a.box.y0 < 0 || a.box.y1 > sc.h {
			t.Errorf("width %g: found %q at %+v outside the page of %g × %g", w, a.text, a.box, sc.w, sc.h)
		}
		for _, b := range texts[:i] {
			if a.box.overlaps(b.box) {
				t.Errorf("width %g: found %q at %+v over %q at %+v", w, a.text, a.box, b.text, b.box)
			}
		}
	}
	for i := range sc.items {
		for _, p := range sc.items[i].pts {
			if math.IsNaN(p.x) || math.IsNaN(p.y) || p.x < -0.5 || p.x > sc.w+0.5 || p.y < -0.5 || p.y > sc.h+0.5 {
				t.Fatalf("width %g: found a point at %v outside the page of %g × %g", w, p, sc.w, sc.h)
			}
		}
	}
}

func TestLabelsStandApart(t *testing.T) {
	for _, f := range figures() {
		t.Run(f.name, func(t *testing.T) {
			s, err := f.build()
			checkLabels(t, must(t, s, err))
		})
	}
}

// TestOverlapSees makes sure that the check above can fail.
func TestOverlapSees(t *testing.T) {
	var sc scene
	a := sc.text(100, 50, left, regular, 8, ink, "fires")
	if b := sc.text(101, 53, left, regular, 8, ink, "ends"); !a.overlaps(b) {
		t.Errorf("found %+v and %+v apart, want an overlap", a, b)
	}
	if b := sc.text(100, 60, left, regular, 8, ink, "ends"); a.overlaps(b) {
		t.Errorf("found %+v and %+v to overlap, want them apart", a, b)
	}
	if b := sc.upright(104, 50, regular, 8, ink, "volts"); !a.overlaps(b) {
		t.Errorf("found upright %+v and %+v apart, want an overlap", b, a)
	}
}

const longName = "the third boiler from the left, for madder, weld and indigo – Färbebottich №3"

func TestWaveformLabelsExtreme(t *testing.T) {
	for name, change := range map[string]func(*WaveformInput){
		"long names": func(in *WaveformInput) {
			in.Title, in.Subtitle, in.Caption = longName+longName, longName, longName
			in.Supply.Name = strings.Repeat(longName, 5)
			for k := range in.Channels {
				in.Channels[k].Name, in.Channels[k].Note = longName, longName
			}
		},
		"great values": func(in *WaveformInput) {
			for _, p := range in.traces() {
				scaled(p.trace, 2e6)
			}
		},
		"small values": func(in *WaveformInput) {
			for _, p := range in.traces() {
				scaled(p.trace, 1e-7)
			}
		},
		"many marks": func(in *WaveformInput) {
			for i := range 200 {
				d := float64(i) / 200 * 720
				in.Channels[0].Marks = append(in.Channels[0].Marks, Mark{MarkKind(i % 2), d / 18000, math.Mod(d, 180)})
			}
		},
		"marks on one spot": func(in *WaveformInput) {
			in.Channels[1].Marks = nil
			for i := range 9 {
				in.Channels[1].Marks = append(in.Channels[1].Marks, Mark{Firing, 0.04, -719.5}, Mark{Extinction, float64(i) * 1e-6, 359.9})
			}
		},
		"three cycles": func(in *WaveformInput) { in.Frequency = 75 },
		"half a cycle": func(in *WaveformInput) { in.Frequency = 12.5 },
		"part of a cycle, late": func(in *WaveformInput) {
			in.Frequency = 1
			for i := range in.Supply.Time { // shared by all traces
				in.Supply.Time[i] += 33.123456
			}
		},
		"seven channels": func(in *WaveformInput) {
			in.OwnScales = true
			for len(in.Channels) < maxChannels {
				in.Channels = append(in.Channels, in.Channels[0])
			}
		},
		"gate alone": func(in *WaveformInput) {
			for k := range in.Channels {
				in.Channels[k].Voltage, in.Channels[k].Current = Trace{}, Trace{}
			}
		},
		"no supply, odd units": func(in *WaveformInput) {
			in.Supply = Trace{}
			in.Channels[0].Voltage.Unit = "furlongs"
			scaled(&in.Channels[0].Voltage, 300)
		},
	} {
		t.Run(name, func(t *testing.T) {
			in := demoWaveforms()
			change(&in)
			s, err := Waveforms(in)
			checkLabels(t, must(t, s, err))
		})
	}
}

func scaled(t *Trace, f float64) {
	v := make([]float64, len(t.Value))
	for i := range v {
		v[i] = f * t.Value[i]
	}
	t.Value = v
}

func TestTemperatureLabelsExtreme(t *testing.T) {
	stretched := func(f float64) func(*TemperatureInput) {
		return func(in *TemperatureInput) {
			for i := range in.Time {
				in.Time[i] *= f
			}
			for i := range in.Events {
				in.Events[i].Time *= f
			}
			for k := range in.Channels {
				for i := range in.Channels[k].Indicator {
					in.Channels[k].Indicator[i].Time *= f
				}
			}
		}
	}
	for name, change := range map[string]func(*TemperatureInput){
		"long names": func(in *TemperatureInput) {
			for k := range in.Channels {
				in.Channels[k].Name = longName
			}
			for i := range in.Events {
				in.Events[i].Text = longName + in.Events[i].Text
			}
		},
		"events at once": func(in *TemperatureInput) {
			for i := range 60 {
				in.Events = append(in.Events, Event{[]float64{0, 1800, 3600}[i%3], i%3 - 1, fmt.Sprintf("event number %d of its own kind", i)})
			}
		},
		"events all along": func(in *TemperatureInput) {
			for i := range 24 {
				in.Events = append(in.Events, Event{float64(i) * 150, i % 2, fmt.Sprintf("something that happened %d", i)})
			}
		},
		"events without end": func(in *TemperatureInput) {
			for i := range 20000 {
				in.Events = append(in.Events, Event{float64(i) * 0.18, i % 2, "relief valve opens"})
			}
		},
		"a flickering indicator": func(in *TemperatureInput) {
			c := &in.Channels[0]
			c.Indicator = nil
			for i := range 20000 {
				c.Indicator = append(c.Indicator, Change{float64(i) * 0.18, Indicator(i % 5)})
			}
		},
		"seven channels": func(in *TemperatureInput) {
			for len(in.Channels) < maxChannels {
				c := in.Channels[0]
				c.Levels = []Level{{"set", 55, 3}, {"over temperature", 70, 0}, {"link", 112, 1}}
				in.Channels = append(in.Channels, c)
			}
		},
		"steady": func(in *TemperatureInput) {
			for k := range in.Channels {
				c := &in.Channels[k]
				c.Water, c.Element, c.Levels = make([]float64, len(in.Time)), nil, nil
			}
			in.Lid, in.Power = nil, make([]float64, len(in.Time))
		},
		"hot": func(in *TemperatureInput) {
			in.Channels[0].Element[200] = 1e5
			in.Channels[0].Element[201] = -1e5
			in.Power[100] = 1e9
		},
		"lid alone":   func(in *TemperatureInput) { in.Channels, in.Events, in.Power = nil, nil, nil },
		"short":       stretched(1e-6),
		"seconds":     stretched(0.02),
		"days":        stretched(200),
		"centuries":   stretched(2e5),
		"five hours":  stretched(5),
		"four and ¾":  stretched(4.75),
		"two samples": func(in *TemperatureInput) { cut(in, 2) },
	} {
		t.Run(name, func(t *testing.T) {
			in := demoTemperatures()
			change(&in)
			s, err := Temperatures(in)
			checkLabels(t, must(t, s, err))
		})
	}
}

// cut keeps the first n samples.
func cut(in *TemperatureInput, n int) {
	in.Time, in.Lid, in.Power = in.Time[:n], in.Lid[:n], in.Power[:n]
	for k := range in.Channels {
		c := &in.Channels[k]
		c.Water, c.Element = c.Water[:n], c.Element[:n]
	}
}

func TestMultiplesLabelsExtreme(t *testing.T) {
	for _, n := range []int{1, 2, 3, 4, 5, 7, 24, 64} {
		for _, f := range []float64{0, 1e-9, 1e-5, 1, 1e6} {
			in := demoMultiples()
			in.ReferenceName = longName
			cell := in.Cells[0]
			cell.Name, cell.Note = longName+longName, longName
			in.Cells = nil
			scaled(&in.Reference, f)
			scaled(&cell.Trace, f)
			for range n {
				in.Cells = append(in.Cells, cell)
			}
			s, err := Multiples(in)
			checkLabels(t, must(t, s, err))
		}
	}
}

func TestReadingsLabelsExtreme(t *testing.T) {
	for _, unit := range []string{"V", "Hz", "furlongs"} {
		for _, f := range []float64{0, -1, 1e-9, 1e-4, 1, 300} {
			in := demoReadings()
			in.Unit, in.Quantity = unit, longName
			for i := range in.Meters {
				in.Meters[i] = longName
			}
			for i := range in.Rows {
				r := &in.Rows[i]
				r.Name = longName + longName + longName
				for j := range r.Readings {
					r.Readings[j].Value *= f
					r.Readings[j].Uncertainty *= math.Abs(f)
				}
			}
			in.Rows[0].Readings[0].Value = -in.Rows[0].Readings[0].Value
			s, err := Readings(in)
			checkLabels(t, must(t, s, err))
		}
	}
}
