package faults

import (
	"fmt"
	"math"
	"reflect"
	"testing"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// healthyBoard is an invented board with every part that a fault can need.
func healthyBoard(side models.TriacSide, mt1 models.MT1Side) *models.Board {
	inf := math.Inf(1)
	b := &models.Board{
		Name: "bench unit", Note: "invented", Ambient: 20, AmbientPressure: 101325,
		Supply: models.Supply{Voltage: 230, Frequency: 50,
			Harmonics:      []models.Harmonic{{Order: 3, Voltage: 2}},
			LineResistance: 0.24, LineInductance: 0.5e-3, NeutralResistance: 0.16, NeutralInductance: 0.3e-3, Damping: 50},
		Earth:    models.Earth{Resistance: 0.1},
		Upstream: &models.ThermalLink{Resistance: 0.005, Stray: 5e-12, Functions: 180, Capacity: 5, ToShell: 0.1},
		Lid:      models.Lid{Capacity: 400, ToPocket: 0.2, ToAir: 0.5, Start: 20},
		Pocket:   models.Pocket{Capacity: 100, ToAir: 0.5, Start: 20},
		Controller: models.Controller{
			Window: 100,
		},
	}
	for _, name := range []string{"soak", "dye", "steam"} {
		b.Channels = append(b.Channels, models.Channel{
			Name: name, Side: side, MT1: mt1,
			Drive: models.Drive{On: 12, Saturation: 0.2, Resistance: 820},
			Opto: models.Opto{Forward: 1.1, LEDSlope: 5, Trigger: 5e-3, Threshold: 1.2, Slope: 5, Off: 1e-8,
				Inhibit: 20, Latching: 400e-6, Holding: 200e-6, TriggerScale: 300},
			GateResistance: 330, GateShunt: 1000,
			Triac: models.Triac{Threshold: 0.9, Slope: 0.025, Off: 5e-8, GateThreshold: 0.7, GateSlope: 5,
				Trigger: [4]q.Ampere{0.025, 0.025, 0.025, 0.05}, Latching: 0.05, Holding: 0.03,
				StaticRate: 200e6, CommutatingRate: 10e6, CommutatingFall: 5e3, TurnOffTime: 50e-6, Breakover: q.Volt(inf),
				TriggerScale: 110, LatchingScale: 150, HoldingScale: 150, RateScale: 60,
				Foster: []models.FosterStage{{Resistance: 0.6, Time: 0.05}, {Resistance: 20, Time: 60}}},
			Snubber:    models.Snubber{Resistance: 100, Capacitance: 10e-9},
			Wire:       0.01,
			Thermostat: models.Thermostat{Fitted: true, Opens: 105, Closes: 95, Resistance: 0.01, Stray: 5e-12},
			Link:       models.ThermalLink{Resistance: 0.005, Stray: 5e-12, Functions: 126, Capacity: 5, ToShell: 0.2},
			Element:    models.Element{Resistance: 36, Coefficient: 1.7e-4, Split: 0.5, Insulation: 1e9, Capacity: 150},
			Boiler: models.Boiler{Water: 2, Wetted: 0.8, Floor: 0.05, Start: 20, Scale: 1, Inlet: 15,
				ElementToWater: 30, ElementToShell: 0.5, WaterToShell: 20, ShellToLid: 0.2, ShellToAir: 1, ShellCapacity: 400,
				Relief: 401325, Reseat: 351325,
				Draws: []models.Draw{{From: time.Minute, To: 2 * time.Minute, Flow: 0.01, Refill: -1}}},
			Probe: models.Probe{R25: 10e3, Beta: 3950, Top: 10e3, Bits: 12, Capacity: 5, ToWater: 1},
		})
	}
	return b
}

// orientation is one way in which a triac can sit on a board.
type orientation struct {
	side models.TriacSide
	mt1  models.MT1Side
}

func (o orientation) String() string { return fmt.Sprintf("side=%s/mt1=%s", o.side, o.mt1) }

var orientations = []orientation{
	{models.LineSide, models.MT1Supply}, {models.LineSide, models.MT1Load},
	{models.NeutralSide, models.MT1Supply}, {models.NeutralSide, models.MT1Load},
}

// numbers flattens a board into its numbers, flags as 0 and 1, by path.
func numbers(b *models.Board) map[string]float64 {
	out := map[string]float64{}
	flatten(out, "board", reflect.ValueOf(*b))
	return out
}

func flatten(out map[string]float64, path string, v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			flatten(out, path, v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			flatten(out, path+"."+v.Type().Field(i).Name, v.Field(i))
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			flatten(out, fmt.Sprintf("%s[%d]", path, i), v.Index(i))
		}
	case reflect.Float64:
		out[path] = v.Float()
	case reflect.Int, reflect.Int64:
		out[path] = float64(v.Int())
	case reflect.Bool:
		out[path] = 0
		if v.Bool() {
			out[path] = 1
		}
	}
}

// valid fails the test where the board is none that could be computed.
func valid(t testing.TB, b *models.Board) {
	t.Helper()
	for path, x := range numbers(b) {
		if math.IsNaN(x) {
			t.Errorf("%s: found NaN", path)
		}
	}
	names := map[string]bool{}
	for _, p := range b.Bridges {
		if names[p.Name] {
			t.Errorf("bridge %s: the name is there twice", p.Name)
		}
		names[p.Name] = true
		if p.From == p.To {
			t.Errorf("bridge %s: both ends at %s", p.Name, p.From)
		}
		for _, n := range []models.Node{p.From, p.To} {
			if back, err := models.ParseNode(n.String(), len(b.Channels)); err != nil || back != n {
				t.Errorf("bridge %s: found node %v, expected one of the board: %v", p.Name, n, err)
			}
		}
		if !(p.Resistance > 0) || p.Threshold < 0 || p.Channel < 0 || p.Channel >= len(b.Channels) {
			t.Errorf("bridge %s: found %+v, expected a path that conducts on a channel of the board", p.Name, p)
		}
	}
	if b.Supply.Voltage < leastSupply || b.Supply.Voltage > mostSupply {
		t.Errorf("found a supply of %v", b.Supply.Voltage)
	}
	for i := range b.Channels {
		c := &b.Channels[i]
		for _, r := range []q.Ohm{c.GateResistance, c.GateShunt, c.Wire, c.Element.Resistance, c.Element.Insulation, c.Drive.Resistance} {
			if !(r > 0) {
				t.Errorf("channel %d: found a resistance of %v", i+1, r)
			}
		}
		if c.Opto.Latching <= c.Opto.Holding || c.Triac.Latching <= c.Triac.Holding {
			t.Errorf("channel %d: found a latching current at or below the holding current", i+1)
		}
		if c.Opto.Inhibit <= 0 || c.Opto.Off < 0 || c.Triac.Off < 0 || c.Snubber.Capacitance < 0 {
			t.Errorf("channel %d: found a parameter of the switch below its least", i+1)
		}
		if c.Element.Split <= 0 || c.Element.Split >= 1 || c.Boiler.Water <= 0 || c.Boiler.Scale < 1 || c.Probe.ToWater <= 0 {
			t.Errorf("channel %d: found a parameter of the load below its least", i+1)
		}
	}
}
