package heat_test

import (
	"fmt"
	"log"

	"boilwright/models"
	"boilwright/sim/heat"
)

// One open boiler of invented values, at 1200 W until it boils.
func ExampleMachine_Window() {
	b := &models.Board{
		Ambient: 20, AmbientPressure: 101325,
		Lid:    models.Lid{Capacity: 1500, ToPocket: 0.4, ToAir: 1.2, Start: 20},
		Pocket: models.Pocket{Capacity: 300, ToAir: 0.6, Start: 20},
		Channels: []models.Channel{{
			Name:    "vat",
			Element: models.Element{Resistance: 44, Coefficient: 1.7e-4, Capacity: 150},
			Link:    models.ThermalLink{Functions: 172, Capacity: 5, ToShell: 0.25},
			Probe:   models.Probe{Capacity: 15, ToWater: 1.5},
			Boiler: models.Boiler{
				Open: true, Water: 1.2, Wetted: 0.48, Floor: 0.05, Start: 20, Scale: 1, Inlet: 15,
				ElementToWater: 20, WaterToShell: 60, ShellToLid: 0.15, ShellToAir: 0.8, ShellCapacity: 400,
			},
		}},
	}
	m, err := heat.New(b)
	if err != nil {
		log.Fatal(err)
	}
	power := make([]float64, 1)
	pieces := []heat.Piece{{Duration: 1, Powers: heat.Powers{Element: power}}}
	plan := func(o *heat.Outlook) []heat.Piece {
		// 230 V at the element's resistance in this window.
		power[0] = 230 * 230 / b.Channels[0].Element.ResistanceAt(o.ElementMean(0, 0))
		return pieces
	}
	for t := 0.0; t < 600; t++ {
		r, err := m.Window(t, 1, plan)
		if err != nil {
			log.Fatal(err)
		}
		for _, e := range r.Events {
			fmt.Printf("after %.1f s: %v\n", e.Time, e.Kind)
		}
	}
	if err := m.Check(); err != nil {
		log.Fatal(err)
	}
	s := m.State()
	fmt.Printf("element %.1f °C, shell %.1f °C, %.3f kg of water left\n", s.Element[0], s.Shell[0], s.Mass[0])
	// Output:
	// after 396.8 s: water begins to boil
	// element 158.7 °C, shell 98.7 °C, 1.101 kg of water left
}

// A channel stuck on with the controls off, until its thermal link has to
// open: the caller then changes the circuit and goes on.
func ExampleMachine_Coast() {
	b := &models.Board{
		Ambient: 20, AmbientPressure: 101325,
		Lid:    models.Lid{Capacity: 1500, ToPocket: 0.4, ToAir: 1.2, Start: 20},
		Pocket: models.Pocket{Capacity: 300, ToAir: 0.6, Start: 20},
		Channels: []models.Channel{{
			Name:    "soak",
			Element: models.Element{Capacity: 150},
			Link:    models.ThermalLink{Functions: 112, Capacity: 5, ToShell: 0.25},
			Probe:   models.Probe{Capacity: 15, ToWater: 1.5},
			Boiler: models.Boiler{
				Water: 1.2, Wetted: 0.48, Floor: 0.05, Start: 55, Scale: 1, Inlet: 15, Relief: 4e5, Reseat: 3.7e5,
				ElementToWater: 20, WaterToShell: 60, ShellToLid: 0.15, ShellToAir: 0.8, ShellCapacity: 400,
			},
		}},
	}
	m, err := heat.New(b)
	if err != nil {
		log.Fatal(err)
	}
	stuck := heat.Powers{Element: []float64{1200}}
	r, err := m.Coast(0, 3600, stuck)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%v; water %.1f °C at %.2f bar\n", r.Events[0], m.State().Water[0], m.State().Pressure(0)/1e5)

	b.Channels[0].Link.Open = true
	if err := m.Rebuild(b); err != nil {
		log.Fatal(err)
	}
	if _, err := m.Coast(r.Advanced, 3600-r.Advanced, heat.Powers{}); err != nil {
		log.Fatal(err)
	}
	fmt.Printf("after an hour: water %.1f °C\n", m.State().Water[0])
	// Output:
	// 320.761986 s: channel 1: thermal link reaches its functioning temperature; water 118.7 °C at 1.91 bar
	// after an hour: water 78.4 °C
}
