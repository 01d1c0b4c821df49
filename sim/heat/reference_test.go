package heat

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"testing"

	"boilwright/models"
	"boilwright/models/water"

	q "boilwright/models/quantity"
)

// fixedDuty is testdata/fixed-duty.reference.json: three boilers at fixed
// duty for 20 minutes, one that boils until its element lies half dry, one
// closed with a steam draw whose thermal link opens. Provenance: independent
// integration of the same equations with an 8th-order Runge-Kutta method,
// rtol 1e-11.
type fixedDuty struct {
	Case struct {
		Supply struct {
			V, F float64
		}
		Ambient  float64 `json:"T_ambient"`
		Pressure float64 `json:"p_ambient"`
		Control  struct{ N int }
		Lid      struct {
			C   float64
			Gka float64 `json:"G_ka"`
		}
		Pocket struct {
			C   float64
			Gkb float64 `json:"G_kb"`
			Gba float64 `json:"G_ba"`
		}
		Boilers []struct {
			Kind    string
			R20     float64
			Alpha   float64
			RSeries float64 `json:"R_series"`
			Ce      float64 `json:"C_e"`
			Gew     float64 `json:"G_ew"`
			Scale   float64
			M       float64
			Mmin    float64 `json:"m_min"`
			Cs      float64 `json:"C_s"`
			Gws     float64 `json:"G_ws"`
			Gsk     float64 `json:"G_sk"`
			Gsa     float64 `json:"G_sa"`
			Cp      float64 `json:"C_p"`
			Gwp     float64 `json:"G_wp"`
			Cl      float64 `json:"C_l"`
			Gsl     float64 `json:"G_sl"`
			Tf      float64 `json:"T_f"`
			VT0     float64 `json:"V_T0"`
			RT      float64 `json:"r_T"`
			Relief  float64 `json:"p_relief"`
			Draws   []struct {
				From, To, Flow float64
			}
			Ctrl struct{ Duty float64 }
		}
		Run struct {
			End float64 `json:"t_end"`
		}
	}
	Snapshots []struct {
		T       float64
		Lid     float64 `json:"T_lid"`
		Pocket  float64 `json:"T_pocket"`
		Boilers []struct {
			Te, Tw, Ts, Tp, Tl, M float64
			PkPa                  float64 `json:"p_kPa"`
			Hold                  bool
			LinkOpen              bool `json:"link_open"`
		}
	}
	Events []struct {
		T      float64
		Boiler int
		What   string
	}
	Energy struct {
		In      float64
		Stored  float64
		Ambient float64
		Carried float64 `json:"carried_out"`
	} `json:"energy_J"`
}

func readFixedDuty(t testing.TB) *fixedDuty {
	data, err := os.ReadFile("testdata/fixed-duty.reference.json")
	if err != nil {
		t.Fatal(err)
	}
	r := new(fixedDuty)
	if err := json.Unmarshal(data, r); err != nil {
		t.Fatal(err)
	}
	return r
}

// board makes the case's board; what the case leaves out is zero.
func (r *fixedDuty) board() *models.Board {
	c := &r.Case
	b := &models.Board{
		Ambient: q.Celsius(c.Ambient), AmbientPressure: q.Pascal(c.Pressure),
		Lid: models.Lid{Capacity: q.JoulePerKelvin(c.Lid.C), ToPocket: q.WattPerKelvin(c.Pocket.Gkb),
			ToAir: q.WattPerKelvin(c.Lid.Gka), Start: q.Celsius(c.Ambient)},
		Pocket: models.Pocket{Capacity: q.JoulePerKelvin(c.Pocket.C), ToAir: q.WattPerKelvin(c.Pocket.Gba), Start: q.Celsius(c.Ambient)},
	}
	for _, v := range c.Boilers {
		var ch models.Channel
		ch.Element = models.Element{Resistance: q.Ohm(v.R20), Coefficient: q.PerKelvin(v.Alpha), Capacity: q.JoulePerKelvin(v.Ce)}
		ch.Link = models.ThermalLink{Functions: q.Celsius(v.Tf), Capacity: q.JoulePerKelvin(v.Cl), ToShell: q.WattPerKelvin(v.Gsl)}
		ch.Probe = models.Probe{Capacity: q.JoulePerKelvin(v.Cp), ToWater: q.WattPerKelvin(v.Gwp)}
		ch.Boiler = models.Boiler{
			Open: v.Kind == "open", Water: q.Kilogram(v.M), Wetted: q.Kilogram(v.Mmin), Floor: 0.01,
			Start: q.Celsius(c.Ambient), Scale: q.Ratio(v.Scale), Inlet: 15,
			ElementToWater: q.WattPerKelvin(v.Gew), WaterToShell: q.WattPerKelvin(v.Gws),
			ShellToLid: q.WattPerKelvin(v.Gsk), ShellToAir: q.WattPerKelvin(v.Gsa), ShellCapacity: q.JoulePerKelvin(v.Cs),
			Relief: q.Pascal(v.Relief), Reseat: q.Pascal(v.Relief * 0.9),
		}
		for _, d := range v.Draws {
			ch.Boiler.Draws = append(ch.Boiler.Draws, models.Draw{From: seconds(d.From), To: seconds(d.To), Flow: q.KilogramPerSecond(d.Flow), Steam: true})
		}
		b.Channels = append(b.Channels, ch)
	}
	return b
}

// plan gives the pieces of a window with the case's fixed duty.
func (r *fixedDuty) plan(b *models.Board, at temperature) func(*Outlook) []Piece {
	p := newBurst(b, r.Case.Supply.V, r.Case.Supply.F, r.Case.Control.N, at)
	for i, v := range r.Case.Boilers {
		p.cycles[i] = int(math.Floor(v.Ctrl.Duty*float64(r.Case.Control.N)/2 + 0.5))
		p.series[i], p.threshold[i], p.slope[i] = v.RSeries, v.VT0, v.RT
	}
	return p.plan
}

// The reference has heat capacity and resistance vary continuously. Windows
// of one second that freeze them differ from it by 5 µK in the water; the
// element that lies half dry, whose conductance changes by a thousandth in a
// window, differs by 0.5 mK at a window's end. Taking the resistance at the
// temperature in the middle of the window rather than at the piece's mean
// makes the powers wrong by 1e-4 and the temperatures by up to 26 mK.
func TestFixedDutyReference(t *testing.T) {
	r := readFixedDuty(t)
	for _, c := range []struct {
		name          string
		at            temperature
		kelvin, water float64 // tolerances on all temperatures, and on water alone
		seconds       float64
		energy        float64
	}{
		{"resistance at the mean of the piece", (*Outlook).ElementMean, 1e-3, 2e-5, 1e-3, 1e-6},
		{"resistance at the middle of the window", func(o *Outlook, _, ch int) float64 { return o.Element[ch] }, 5e-2, 2e-2, 0.1, 2e-4},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := r.board()
			m, err := New(b)
			if err != nil {
				t.Fatal(err)
			}
			plan := r.plan(b, c.at)
			var events []Event
			snap := 0
			for at := 0.0; at < r.Case.Run.End; at++ {
				rep, err := m.Window(at, 1, plan)
				if err != nil {
					t.Fatal(err)
				}
				events = append(events, rep.Events...)
				if rep.Early {
					for _, e := range rep.Events {
						if e.Kind == LinkReached {
							b.Channels[e.Channel].Link.Open = true
						}
					}
					if err := m.Rebuild(b); err != nil {
						t.Fatal(err)
					}
					rest := func(o *Outlook) []Piece { return after(plan(o), rep.Advanced) }
					if _, err := m.Window(at+rep.Advanced, 1-rep.Advanced, rest); err != nil {
						t.Fatal(err)
					}
				}
				if snap < len(r.Snapshots) && at+1 == r.Snapshots[snap].T {
					want, s := r.Snapshots[snap], m.State()
					for i, w := range want.Boilers {
						at := fmt.Sprintf("%g s, boiler %d, ", want.T, i+1)
						near(t, at+"element", s.Element[i], w.Te, c.kelvin)
						near(t, at+"water", s.Water[i], w.Tw, c.water)
						near(t, at+"shell", s.Shell[i], w.Ts, c.water)
						near(t, at+"probe", s.Probe[i], w.Tp, c.water)
						near(t, at+"link", s.Link[i], w.Tl, c.water)
						near(t, at+"mass", s.Mass[i], w.M, c.energy)
						p, err := water.SaturationPressure(s.Water[i])
						if err != nil {
							t.Fatal(err)
						}
						near(t, at+"pressure", p, 1000*w.PkPa, 5000*c.water)
						if s.Holding[i] != w.Hold {
							t.Errorf("%sfound holding %t, expected %t", at, s.Holding[i], w.Hold)
						}
					}
					near(t, "lid", s.Lid, want.Lid, c.water)
					near(t, "pocket", s.Pocket, want.Pocket, c.water)
					snap++
				}
				if err := m.Check(); err != nil {
					t.Fatal(err)
				}
			}
			if snap != len(r.Snapshots) {
				t.Errorf("found %d snapshots, expected %d", snap, len(r.Snapshots))
			}
			kinds := map[string]Kind{"reach": BoilStart, "link": LinkReached}
			for _, w := range r.Events {
				k := slices.IndexFunc(events, func(e Event) bool { return e.Kind == kinds[w.What] && e.Channel == w.Boiler-1 })
				if k < 0 {
					t.Errorf("found no %v of boiler %d", kinds[w.What], w.Boiler)
					continue
				}
				near(t, events[k].String(), events[k].Time, w.T, c.seconds)
			}
			e, scale := m.Balance(), r.Energy.In*c.energy
			near(t, "energy in", e.In, r.Energy.In, scale)
			near(t, "energy stored", e.Enthalpy, r.Energy.Stored, scale)
			near(t, "energy lost to the room", e.Ambient, r.Energy.Ambient, scale)
			near(t, "energy carried out", e.Carried, r.Energy.Carried, scale)
		})
	}
}
