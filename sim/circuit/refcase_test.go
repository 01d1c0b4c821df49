package circuit

import (
	"strconv"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// The reference runs were computed by implementations that share no code with
// this package: exact modes with a root finder, general-purpose integrators
// of SciPy, one case with CVODE. Their files say how far two methods agree.

type refCase struct {
	Name   string
	Supply struct {
		V1        float64 `json:"fundamental_rms_V"`
		F         float64 `json:"frequency_Hz"`
		Harmonics []struct {
			Order int
			RMS   float64 `json:"rms_V"`
			Phase float64 `json:"phase_deg"`
		}
		DC  float64  `json:"dc_V"`
		Rs  float64  `json:"line_R_ohm"`
		Ls  float64  `json:"line_L_H"`
		Rp  *float64 `json:"line_R_parallel_ohm"`
		Rn  float64  `json:"neutral_R_ohm"`
		Ln  float64  `json:"neutral_L_H"`
		Rpn *float64 `json:"neutral_R_parallel_ohm"`
		Rpe *float64 `json:"protective_earth_R_ohm"`
	}
	Topology struct {
		Side string `json:"triac_side"`
		MT1  string `json:"mt1_toward"`
	}
	Channels []refChannel
	Meters   []struct {
		Name, Positive, Negative string
		R                        float64 `json:"R_ohm"`
	}
	Run struct {
		Cycles, ReportCycles int
		Report               int `json:"report_cycles"`
	}
}

type refChannel struct {
	VT0         float64      `json:"V_T0_V"`
	RT          float64      `json:"r_T_ohm"`
	GOff        float64      `json:"g_off_S"`
	IL          float64      `json:"I_L_A"`
	IH          float64      `json:"I_H_A"`
	IGT1        float64      `json:"I_GT1_A"`
	IGT3        float64      `json:"I_GT3_A"`
	RSn         float64      `json:"R_snubber_ohm"`
	CSn         float64      `json:"C_snubber_F"`
	VG0         float64      `json:"V_G0_V"`
	RGate       float64      `json:"r_G_ohm"`
	RGK         float64      `json:"R_GK_ohm"`
	RG          float64      `json:"R_G_ohm"`
	VP0         float64      `json:"V_P0_V"`
	RP          float64      `json:"r_P_ohm"`
	GP          float64      `json:"g_p_S"`
	VIH         *float64     `json:"V_IH_V"`
	IHP         float64      `json:"I_HP_A"`
	ILP         float64      `json:"I_LP_A"`
	IFT         float64      `json:"I_FT_A"`
	RLED        float64      `json:"R_LED_ohm"`
	VF0         float64      `json:"V_F0_V"`
	RF          float64      `json:"r_F_ohm"`
	VSat        float64      `json:"V_sat_V"`
	Wire        float64      `json:"R_wire_ohm"`
	Link        float64      `json:"R_link_ohm"`
	Element     float64      `json:"R_element_ohm"`
	Split       float64      `json:"insulation_split_fraction"`
	Insulation  *float64     `json:"R_insulation_ohm"`
	OpenAtLink  bool         `json:"element_open_at_link_end"`
	OptoDiode   int          `json:"opto_diode_polarity"`
	TriacDiode  int          `json:"triac_diode_polarity"`
	TriacShort  float64      `json:"triac_shorted_ohm"`
	OptoShort   float64      `json:"opto_shorted_ohm"`
	Drive       [][2]float64 // half-cycle from which, drive voltage
	CriticalDvD *float64     `json:"critical_dvdt_V_per_s"`
	Breakover   *float64     `json:"breakover_V"`
}

type refExpected struct {
	Angles []map[string]struct {
		Firing     *float64 `json:"firing_deg"`
		Extinction *float64 `json:"extinction_deg"`
		Firings    int
	}
	Energy    map[string][]float64          `json:"energy_J"`
	Readings  map[string]map[string]float64 `json:"readings_V"`
	LastCycle map[string]struct {
		Mean, RMS float64
		MeanAbs   float64 `json:"mean_abs"`
	} `json:"last_cycle"`
	Grid struct {
		T        []float64            `json:"t_s"`
		Nodes    map[string][]float64 `json:"node_voltages"`
		Snubbers map[string][]float64 `json:"snubber_voltages"`
		Currents map[string][]float64 `json:"branch_currents"`
	} `json:"last_cycle_grid"`
}

func orInf(x *float64) float64 {
	if x == nil {
		return inf
	}
	return *x
}

// board builds the board of a reference case.
func (rc *refCase) board(t *testing.T) *models.Board {
	b := &models.Board{Name: rc.Name, Ambient: 25}
	s := &rc.Supply
	b.Supply = models.Supply{Voltage: q.Volt(s.V1), Frequency: q.Hertz(s.F), DC: q.Volt(s.DC),
		LineResistance: q.Ohm(s.Rs), LineInductance: q.Henry(s.Ls),
		NeutralResistance: q.Ohm(s.Rn), NeutralInductance: q.Henry(s.Ln), Damping: q.Ohm(orInf(s.Rp))}
	if s.Ln != 0 && orInf(s.Rp) != orInf(s.Rpn) {
		t.Fatal("line and neutral are damped differently, expected the same resistance")
	}
	for _, h := range s.Harmonics {
		b.Supply.Harmonics = append(b.Supply.Harmonics, models.Harmonic{Order: h.Order, Voltage: q.Volt(h.RMS), Phase: q.Degree(h.Phase)})
	}
	b.Earth.Resistance = q.Ohm(orInf(s.Rpe))
	for k, x := range rc.Channels {
		c := healthyChannel(x.Element)
		if rc.Topology.Side == "neutral" {
			c.Side = models.NeutralSide
		}
		if rc.Topology.MT1 == "load" {
			c.MT1 = models.MT1Load
		}
		c.Drive.Saturation, c.Drive.Resistance = q.Volt(x.VSat), q.Ohm(x.RLED)
		c.Opto = models.Opto{Forward: q.Volt(x.VF0), LEDSlope: q.Ohm(x.RF), Trigger: q.Ampere(x.IFT), Threshold: q.Volt(x.VP0), Slope: q.Ohm(x.RP),
			Off: q.Siemens(x.GP), Inhibit: q.Volt(orInf(x.VIH)), Latching: q.Ampere(x.ILP), Holding: q.Ampere(x.IHP), TriggerScale: q.Kelvin(inf)}
		c.GateResistance, c.GateShunt = q.Ohm(x.RG), q.Ohm(x.RGK)
		tr := &c.Triac
		tr.Threshold, tr.Slope, tr.Off = q.Volt(x.VT0), q.Ohm(x.RT), q.Siemens(x.GOff)
		tr.GateThreshold, tr.GateSlope = q.Volt(x.VG0), q.Ohm(x.RGate)
		tr.Trigger = [4]q.Ampere{q.Ampere(x.IGT1), q.Ampere(inf), q.Ampere(x.IGT3), q.Ampere(inf)}
		tr.Latching, tr.Holding = q.Ampere(x.IL), q.Ampere(x.IH)
		tr.StaticRate, tr.Breakover = q.VoltPerSecond(orInf(x.CriticalDvD)), q.Volt(orInf(x.Breakover))
		c.Snubber = models.Snubber{Resistance: q.Ohm(x.RSn), Capacitance: q.Farad(x.CSn)}
		c.Wire, c.Link.Resistance = q.Ohm(x.Wire), q.Ohm(x.Link)
		c.Element.Split, c.Element.Insulation = q.Ratio(x.Split), q.Ohm(orInf(x.Insulation))
		rail, far := models.At(models.Rail, 0), models.At(models.Neutral, 0)
		if c.Side == models.NeutralSide {
			rail, far = far, rail
		}
		mt1, mt2 := rail, models.At(models.Output, k)
		if c.MT1 == models.MT1Load {
			mt1, mt2 = mt2, mt1
		}
		number := strconv.Itoa(k + 1)
		if x.OpenAtLink { // broken at its link end; the rest still leaks
			c.Element.Resistance = q.Ohm(inf)
			if x.Insulation != nil {
				b.Bridges = append(b.Bridges, models.Bridge{Name: "rest" + number, From: models.At(models.Midpoint, k), To: far,
					Resistance: q.Ohm((1 - x.Split) * x.Element), Part: models.ElementPart, Channel: k})
			}
		}
		if x.TriacShort != 0 {
			tr.Off, tr.Open = 0, true
			b.Bridges = append(b.Bridges, models.Bridge{Name: "short" + number, From: mt2, To: mt1, Resistance: q.Ohm(x.TriacShort), Part: models.TriacPart, Channel: k})
		}
		diode := func(sign int, a, z models.Node, volts, ohms float64, part models.Part) {
			if sign < 0 {
				a, z = z, a
			}
			b.Bridges = append(b.Bridges, models.Bridge{Name: "diode" + number, From: a, To: z, Resistance: q.Ohm(ohms), Threshold: q.Volt(volts), OneWay: true, Part: part, Channel: k})
		}
		if x.TriacDiode != 0 {
			diode(x.TriacDiode, mt2, mt1, x.VT0, x.RT, models.TriacPart)
		}
		if x.OptoDiode != 0 {
			diode(x.OptoDiode, mt2, models.At(models.OptoOutput, k), x.VP0, x.RP, models.GatePart)
		}
		if x.OptoShort != 0 {
			c.Opto.Off = 0
			b.Bridges = append(b.Bridges, models.Bridge{Name: "opto" + number, From: mt2, To: models.At(models.OptoOutput, k), Resistance: q.Ohm(x.OptoShort), Part: models.GatePart, Channel: k})
		}
		b.Channels = append(b.Channels, c)
	}
	for _, m := range rc.Meters {
		b.Bridges = append(b.Bridges, models.Bridge{Name: m.Name, From: refNode(t, m.Positive), To: refNode(t, m.Negative), Resistance: q.Ohm(m.R)})
	}
	return b
}

func refNode(t *testing.T, name string) models.Node {
	places := map[string]models.Place{"E": models.Source, "L": models.Line, "N": models.Neutral, "PE": models.ProtectiveEarth,
		"OUT": models.Output, "W": models.Wire, "X": models.Load, "H": models.Midpoint, "G": models.Gate, "P": models.OptoOutput, "S": models.SnubberTap}
	base := strings.TrimRight(name, "0123456789")
	p, ok := places[base]
	if !ok {
		t.Fatalf("found node %q, expected a known one", name)
	}
	k := 1
	if base != name {
		k, _ = strconv.Atoi(name[len(base):])
	}
	return models.At(p, k-1)
}

func (rc *refCase) drive(half int64) Input {
	in := Input{Factor: 1, Drive: make([]float64, len(rc.Channels))}
	for k, c := range rc.Channels {
		for _, d := range c.Drive {
			if float64(half) >= d[0] {
				in.Drive[k] = d[1]
			}
		}
	}
	return in
}

// weighted is a signed sum of branch signals, for what the reference counts as
// one part and the network as two.
type weighted struct {
	sig  Signal
	sign float64
}

// series returns the signals whose sum the reference calls by a name in its
// grid or its last-cycle table.
func (rc *refCase) series(t *testing.T, s *Solver, name string) []weighted {
	base := strings.TrimRight(name, "0123456789")
	k := 0
	if base != name {
		k, _ = strconv.Atoi(name[len(base):])
	}
	n := strconv.Itoa(k)
	cur := func(branch string) weighted { return weighted{ampOf(t, s, branch), 1} }
	add := func(w []weighted, branch string, sign float64) []weighted {
		if sig, err := s.Current(branch); err == nil {
			w = append(w, weighted{sig, sign})
		}
		return w
	}
	volt := func(a, b models.Node) []weighted { return []weighted{{voltOf(t, s, a, b), 1}} }
	rail, far := models.At(models.Rail, 0), models.At(models.Neutral, 0)
	if rc.Topology.Side == "neutral" {
		rail, far = far, rail
	}
	mt1, mt2 := rail, models.At(models.Output, k-1)
	if rc.Topology.MT1 == "load" {
		mt1, mt2 = mt2, mt1
	}
	ch := refChannel{}
	if k > 0 && k <= len(rc.Channels) {
		ch = rc.Channels[k-1]
	}
	switch base {
	case "v_L":
		return volt(models.At(models.Line, 0), models.Node{})
	case "v_L_N":
		return volt(models.At(models.Line, 0), models.At(models.Neutral, 0))
	case "v_el":
		return volt(models.At(models.Load, k-1), far)
	case "v_T":
		return volt(mt2, mt1)
	case "v_C":
		return volt(models.At(models.SnubberTap, k-1), mt1)
	case "i_e", "i_src":
		w := cur("source")
		w.sign = -1
		return []weighted{w}
	case "i_Rs":
		return []weighted{cur("line resistance")}
	case "i_Ls":
		return []weighted{cur("line inductance")}
	case "i_Rn":
		return []weighted{cur("neutral resistance")}
	case "i_Ln":
		return []weighted{cur("neutral inductance")}
	case "i_pe":
		return []weighted{cur("earth")}
	case "i_T":
		w := []weighted{cur("triac" + n)}
		return add(w, "bridge short"+n, 1)
	case "i_O":
		if ch.OptoShort != 0 {
			return []weighted{cur("bridge opto" + n)}
		}
		return []weighted{cur("opto" + n)}
	case "i_D":
		w := cur("bridge diode" + n)
		w.sign = float64(ch.OptoDiode + ch.TriacDiode)
		return []weighted{w}
	case "i_J":
		return []weighted{cur("junction" + n)}
	case "i_GK":
		return []weighted{cur("gate-shunt" + n)}
	case "i_RG":
		return []weighted{cur("gate-resistor" + n)}
	case "i_sn":
		return []weighted{cur("snubber-resistor" + n)}
	case "i_W":
		return []weighted{cur("wire" + n)}
	case "i_link":
		return []weighted{cur("link" + n)}
	case "i_el":
		return add(nil, "element-near"+n, 1) // none where the element is open
	case "i_ins":
		return []weighted{cur("insulation" + n)}
	}
	if m, ok := strings.CutPrefix(name, "i_meter_"); ok {
		return []weighted{cur("bridge " + m)}
	}
	t.Fatalf("found series %q, expected a known one", name)
	return nil
}

// node returns the potential of a node of the reference's grid.
func (rc *refCase) node(t *testing.T, s *Solver, name string) []weighted {
	zero := models.Node{}
	across := func(n models.Node, branch string) []weighted {
		v, err := s.BranchVoltage(branch)
		if err != nil {
			t.Fatal(err)
		}
		return []weighted{{voltOf(t, s, n, zero), 1}, {v, -1}}
	}
	switch name {
	case "M": // between the line's resistance and inductance
		return across(models.At(models.Source, 0), "line resistance")
	case "MN":
		return across(models.At(models.Neutral, 0), "neutral resistance")
	}
	return []weighted{{voltOf(t, s, refNode(t, name), zero), 1}}
}
