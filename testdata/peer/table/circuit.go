package main

import (
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
)

// circuitCase is the part of a recorded circuit case that a healthy board on
// a sine needs; keys as in the file.
type circuitCase struct {
	Supply struct {
		V1  float64 `json:"fundamental_rms_V"`
		F   float64 `json:"frequency_Hz"`
		Rs  float64 `json:"line_R_ohm"`
		Ls  float64 `json:"line_L_H"`
		Rp  float64 `json:"line_R_parallel_ohm"`
		Rn  float64 `json:"neutral_R_ohm"`
		Ln  float64 `json:"neutral_L_H"`
		Rpe float64 `json:"protective_earth_R_ohm"`
	}
	Channels []struct {
		VT0     float64 `json:"V_T0_V"`
		RT      float64 `json:"r_T_ohm"`
		GOff    float64 `json:"g_off_S"`
		IL      float64 `json:"I_L_A"`
		IH      float64 `json:"I_H_A"`
		IGT1    float64 `json:"I_GT1_A"`
		IGT3    float64 `json:"I_GT3_A"`
		RSn     float64 `json:"R_snubber_ohm"`
		CSn     float64 `json:"C_snubber_F"`
		VG0     float64 `json:"V_G0_V"`
		RGate   float64 `json:"r_G_ohm"`
		RGK     float64 `json:"R_GK_ohm"`
		RG      float64 `json:"R_G_ohm"`
		VP0     float64 `json:"V_P0_V"`
		RP      float64 `json:"r_P_ohm"`
		GP      float64 `json:"g_p_S"`
		VIH     float64 `json:"V_IH_V"`
		IHP     float64 `json:"I_HP_A"`
		ILP     float64 `json:"I_LP_A"`
		IFT     float64 `json:"I_FT_A"`
		RLED    float64 `json:"R_LED_ohm"`
		VF0     float64 `json:"V_F0_V"`
		RF      float64 `json:"r_F_ohm"`
		VSat    float64 `json:"V_sat_V"`
		Wire    float64 `json:"R_wire_ohm"`
		Link    float64 `json:"R_link_ohm"`
		Element float64 `json:"R_element_ohm"`
		Split   float64 `json:"insulation_split_fraction"`
		Film    float64 `json:"R_insulation_ohm"`
		Drive   [][2]float64
	}

	want struct {
		Angles []map[string]struct {
			Firing     float64  `json:"firing_deg"`
			Extinction *float64 `json:"extinction_deg"`
		}
		Energy map[string][]float64 `json:"energy_J"`
	}
}

func readCircuit(folder string) (*circuitCase, error) {
	c := new(circuitCase)
	name := filepath.Join(folder, "circuit-230-three-driven")
	if err := readJSON(name+".case.json", c); err != nil {
		return nil, err
	}
	return c, readJSON(name+".expected.json", &c.want)
}

func (c *circuitCase) board() *models.Board {
	none, inf := q.Kelvin(math.Inf(1)), math.Inf(1)
	s := &c.Supply
	b := &models.Board{Name: "peer", Ambient: 25}
	b.Supply = models.Supply{Voltage: q.Volt(s.V1), Frequency: q.Hertz(s.F), LineResistance: q.Ohm(s.Rs), LineInductance: q.Henry(s.Ls),
		NeutralResistance: q.Ohm(s.Rn), NeutralInductance: q.Henry(s.Ln), Damping: q.Ohm(s.Rp)}
	b.Earth.Resistance = q.Ohm(s.Rpe)
	for _, x := range c.Channels {
		b.Channels = append(b.Channels, models.Channel{
			Drive: models.Drive{On: q.Volt(x.Drive[0][1]), Saturation: q.Volt(x.VSat), Resistance: q.Ohm(x.RLED)},
			Opto: models.Opto{Forward: q.Volt(x.VF0), LEDSlope: q.Ohm(x.RF), Trigger: q.Ampere(x.IFT), Threshold: q.Volt(x.VP0),
				Slope: q.Ohm(x.RP), Off: q.Siemens(x.GP), Inhibit: q.Volt(x.VIH), Latching: q.Ampere(x.ILP),
				Holding: q.Ampere(x.IHP), TriggerScale: none},
			GateResistance: q.Ohm(x.RG), GateShunt: q.Ohm(x.RGK),
			Triac: models.Triac{Threshold: q.Volt(x.VT0), Slope: q.Ohm(x.RT), Off: q.Siemens(x.GOff),
				GateThreshold: q.Volt(x.VG0), GateSlope: q.Ohm(x.RGate),
				Trigger:  [4]q.Ampere{q.Ampere(x.IGT1), q.Ampere(inf), q.Ampere(x.IGT3), q.Ampere(inf)},
				Latching: q.Ampere(x.IL), Holding: q.Ampere(x.IH), StaticRate: q.VoltPerSecond(inf), Breakover: q.Volt(inf),
				TriggerScale: none, LatchingScale: none, HoldingScale: none, RateScale: none},
			Snubber: models.Snubber{Resistance: q.Ohm(x.RSn), Capacitance: q.Farad(x.CSn)},
			Wire:    q.Ohm(x.Wire),
			Link:    models.ThermalLink{Resistance: q.Ohm(x.Link), Stray: 5e-12},
			Element: models.Element{Resistance: q.Ohm(x.Element), Split: q.Ratio(x.Split), Insulation: q.Ohm(x.Film)},
		})
	}
	// The meters of the case, each 10 MΩ.
	b.Bridges = []models.Bridge{
		{Name: "out1", From: models.At(models.Output, 0), To: models.At(models.Neutral, 0), Resistance: 1e7},
		{Name: "triac2", From: models.At(models.Output, 1), To: models.At(models.Line, 0), Resistance: 1e7},
		{Name: "neutral", From: models.At(models.Neutral, 0), To: models.At(models.ProtectiveEarth, 0), Resistance: 1e7},
	}
	return b
}

// Times are the least of some repetitions.
const repetitions = 7

// run solves every half-cycle of two seconds in full, from the state at rest,
// and returns the second second, in which the networks of all combinations are
// known as they are to the peers, and the first, which has to work them out.
func (c *circuitCase) run() ([]*result, error) {
	best := make([]*result, 2)
	drive := make([]float64, len(c.Channels))
	for k, x := range c.Channels {
		drive[k] = x.Drive[0][1]
	}
	halves := int(2 * c.Supply.F)
	for range repetitions {
		s, err := circuit.New(c.board())
		if err != nil {
			return nil, err
		}
		for second := range best {
			r, err := c.second(s, drive, second*halves, halves)
			if err != nil {
				return nil, err
			}
			if best[second] == nil || r.Wall < best[second].Wall {
				best[second] = r
			}
		}
	}
	best[0].Solver, best[1].Solver = "boilwright, networks to be found", "boilwright, networks known"
	return []*result{best[1], best[0]}, nil
}

// second takes a solver through some half-cycles.
func (c *circuitCase) second(s *circuit.Solver, drive []float64, first, halves int) (*result, error) {
	r := &result{Case: "circuit", First: first, Simulated: float64(halves) / (2 * c.Supply.F), Energy: map[string][]float64{}}
	kept := make([]float64, 0, halves*(1+2*len(drive)))
	var events []circuit.Event
	start := time.Now()
	for range halves {
		rec, err := s.HalfCycle(circuit.Input{Factor: 1, Drive: drive})
		if err != nil {
			return nil, err
		}
		kept = append(kept, rec.Source)
		kept = append(kept, rec.Element...)
		kept = append(kept, rec.Triac...)
		events = append(events, rec.Events...)
	}
	r.Wall = time.Since(start).Seconds()
	names := []string{"source"}
	for _, part := range []string{"element", "triac"} {
		for k := range drive {
			names = append(names, part+strconv.Itoa(k+1))
		}
	}
	for i, e := range kept {
		name := names[i%len(names)]
		r.Energy[name] = append(r.Energy[name], e)
	}
	for k := range drive {
		for _, a := range circuit.Conduction(events, k) {
			if a.Half < int64(first) || math.IsNaN(a.Firing) {
				continue // fired before the first of these half-cycles
			}
			end := a.Extinction
			if math.IsNaN(end) {
				end = -1
			}
			r.Angles = append(r.Angles, angle{k, int(a.Half), a.Firing, end})
		}
	}
	return r, nil
}

// compare returns the largest relative deviation of any energy of any
// half-cycle and the largest deviation of any angle in degrees. The record has 20 half-cycles
// and is periodic by then; later ones are held against the last of their sign.
func (c *circuitCase) compare(r *result) (energy, degrees float64, err error) {
	recorded := func(h int) int {
		if n := len(c.want.Energy["source"]); h >= n {
			return n - 2 + h%2
		}
		return h
	}
	for name, want := range c.want.Energy {
		got := r.Energy[name]
		if len(got) == 0 {
			return 0, 0, fmt.Errorf("found no energies of %s, expected one for each half-cycle", name)
		}
		for h, g := range got {
			w := want[recorded(r.First+h)]
			energy = math.Max(energy, math.Abs(g/w-1))
		}
	}
	if len(r.Angles) < len(c.Channels)*len(r.Energy["source"]) {
		return 0, 0, errors.New("some channel did not fire in some half-cycle")
	}
	for _, a := range r.Angles {
		if a.Channel < 0 || a.Channel >= len(c.want.Angles) {
			return 0, 0, fmt.Errorf("found an angle of channel %d, expected 0 to %d", a.Channel, len(c.want.Angles)-1)
		}
		w := c.want.Angles[a.Channel][strconv.Itoa(recorded(a.Half))]
		degrees = math.Max(degrees, math.Abs(a.Firing-w.Firing))
		if w.Extinction != nil && a.Extinction >= 0 {
			degrees = math.Max(degrees, math.Abs(a.Extinction-*w.Extinction))
		}
	}
	return energy, degrees, nil
}
