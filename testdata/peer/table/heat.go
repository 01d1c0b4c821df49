package main

import (
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/heat"
)

// heatCase is a recorded heat case; keys as in the file.
type heatCase struct {
	Supply struct {
		V float64 `json:"rms_V"`
		F float64 `json:"frequency_Hz"`
	}
	Ambient  float64 `json:"ambient_degC"`
	Initial  float64 `json:"initial_degC"`
	Pressure float64 `json:"ambient_Pa"`
	Cold     float64 `json:"cold_supply_degC"`
	Control  struct {
		N int `json:"window_half_cycles"`
	}
	Lid struct {
		C   float64 `json:"C_J_per_K"`
		Gka float64 `json:"G_ka_W_per_K"`
		Gkb float64 `json:"G_kb_W_per_K"`
	}
	Pocket struct {
		C   float64 `json:"C_J_per_K"`
		Gba float64 `json:"G_ba_W_per_K"`
	}
	Neighbours []struct {
		Between [2]int
		G       float64 `json:"G_W_per_K"`
	}
	Boilers []boilerCase
	Run     struct {
		End float64 `json:"end_s"`
	}

	want struct {
		Snapshots []struct {
			T       float64 `json:"t_s"`
			Lid     float64 `json:"T_lid"`
			Pocket  float64 `json:"T_pocket"`
			Boilers []struct {
				Element float64 `json:"T_element"`
				Water   float64 `json:"T_water"`
				Shell   float64 `json:"T_shell"`
				Probe   float64 `json:"T_probe"`
				Link    float64 `json:"T_link"`
			}
		}
		Energy struct {
			In       float64 `json:"electrical_in"`
			Elements []float64
		} `json:"energy_J"`
	}
}

type boilerCase struct {
	Name, Kind string
	R20        float64  `json:"R20_ohm"`
	Alpha      float64  `json:"alpha_per_K"`
	RSeries    float64  `json:"R_series_ohm"`
	VT0        float64  `json:"V_T0_V"`
	RT         float64  `json:"r_T_ohm"`
	M          float64  `json:"mass_kg"`
	Mmin       float64  `json:"mass_min_kg"`
	Scale      float64  `json:"scale"`
	Ce         float64  `json:"C_e_J_per_K"`
	Cs         float64  `json:"C_s_J_per_K"`
	Cp         float64  `json:"C_p_J_per_K"`
	Cl         float64  `json:"C_l_J_per_K"`
	Gew        float64  `json:"G_ew_W_per_K"`
	Ges0       float64  `json:"G_es0_W_per_K"`
	Gws        float64  `json:"G_ws_W_per_K"`
	Gwp        float64  `json:"G_wp_W_per_K"`
	Gsk        float64  `json:"G_sk_W_per_K"`
	Gsl        float64  `json:"G_sl_W_per_K"`
	Gsa        float64  `json:"G_sa_W_per_K"`
	Tf         float64  `json:"link_degC"`
	Relief     *float64 `json:"p_relief_Pa"`
	Reset      *float64 `json:"p_reset_Pa"`
	Draws      []struct {
		Kind   string
		From   float64  `json:"from_s"`
		To     float64  `json:"to_s"`
		Flow   float64  `json:"flow_kg_per_s"`
		Feed   *float64 `json:"feed_degC"`
		Refill *int     `json:"refill_from_boiler"`
	}
	Control struct {
		Cycles [][2]float64 `json:"cycles_from_s"`
	}
}

func readHeat(folder string) (*heatCase, error) {
	c := new(heatCase)
	name := filepath.Join(folder, "heat-two-hours")
	if err := readJSON(name+".case.json", c); err != nil {
		return nil, err
	}
	return c, readJSON(name+".expected.json", &c.want)
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }

func (c *heatCase) board() *models.Board {
	b := &models.Board{
		Ambient: q.Celsius(c.Ambient), AmbientPressure: q.Pascal(c.Pressure),
		Lid: models.Lid{Capacity: q.JoulePerKelvin(c.Lid.C), ToPocket: q.WattPerKelvin(c.Lid.Gkb),
			ToAir: q.WattPerKelvin(c.Lid.Gka), Start: q.Celsius(c.Initial)},
		Pocket: models.Pocket{Capacity: q.JoulePerKelvin(c.Pocket.C), ToAir: q.WattPerKelvin(c.Pocket.Gba), Start: q.Celsius(c.Initial)},
	}
	for _, n := range c.Neighbours {
		b.Couplings = append(b.Couplings, models.Coupling{A: n.Between[0] - 1, B: n.Between[1] - 1, Conductance: q.WattPerKelvin(n.G)})
	}
	for i := range c.Boilers {
		b.Channels = append(b.Channels, c.Boilers[i].channel(c))
	}
	return b
}

func (v *boilerCase) channel(c *heatCase) models.Channel {
	ch := models.Channel{Name: v.Name}
	ch.Element = models.Element{Resistance: q.Ohm(v.R20), Coefficient: q.PerKelvin(v.Alpha), Capacity: q.JoulePerKelvin(v.Ce)}
	ch.Link = models.ThermalLink{Functions: q.Celsius(v.Tf), Capacity: q.JoulePerKelvin(v.Cl), ToShell: q.WattPerKelvin(v.Gsl)}
	ch.Probe = models.Probe{Capacity: q.JoulePerKelvin(v.Cp), ToWater: q.WattPerKelvin(v.Gwp)}
	ch.Boiler = models.Boiler{
		Open: v.Kind == "open", Water: q.Kilogram(v.M), Wetted: q.Kilogram(v.Mmin), Floor: 0.01,
		Start: q.Celsius(c.Initial), Scale: q.Ratio(v.Scale), Inlet: q.Celsius(c.Cold),
		ElementToWater: q.WattPerKelvin(v.Gew), ElementToShell: q.WattPerKelvin(v.Ges0), WaterToShell: q.WattPerKelvin(v.Gws),
		ShellToLid: q.WattPerKelvin(v.Gsk), ShellToAir: q.WattPerKelvin(v.Gsa), ShellCapacity: q.JoulePerKelvin(v.Cs),
	}
	if v.Relief != nil {
		ch.Boiler.Relief, ch.Boiler.Reseat = q.Pascal(*v.Relief), q.Pascal(*v.Reset)
	}
	for _, d := range v.Draws {
		m := models.Draw{From: seconds(d.From), To: seconds(d.To), Flow: q.KilogramPerSecond(d.Flow), Steam: d.Kind == "steam", Refill: -1}
		if d.Refill != nil {
			m.Refill = *d.Refill - 1
		}
		ch.Boiler.Draws = append(ch.Boiler.Draws, m)
	}
	return ch
}

// plant is a machine under recorded duties: the model's machine, and what of
// its circuit the case states as a formula.
type plant struct {
	c       *heatCase
	board   *models.Board
	machine *heat.Machine
	cycles  []int
	edges   []float64
	pieces  []heat.Piece

	calm          *heat.Calm
	rhythms       map[[3]int]*rhythm
	element, link heat.Lanes
}

// rhythm is a window of one set of duties with the elements at 20 °C.
type rhythm struct {
	*heat.Rhythm
	energy []float64 // J into the pocket from each channel
	pocket float64   // their sum
}

func newPlant(c *heatCase) (*plant, error) {
	p := &plant{c: c, board: c.board(), rhythms: map[[3]int]*rhythm{}}
	m, err := heat.New(p.board)
	if err != nil {
		return nil, err
	}
	n := len(c.Boilers)
	if n != 3 {
		return nil, fmt.Errorf("found %d boilers, expected 3", n)
	}
	p.machine, p.cycles, p.edges = m, make([]int, n), make([]float64, n+1)
	p.pieces = make([]heat.Piece, n+1)
	for k := range p.pieces {
		p.pieces[k].Element, p.pieces[k].Link = make([]float64, n), make([]float64, n)
	}
	return p, nil
}

// power returns the power in W of the element of channel i at ohms, and the
// loss in W of its triac.
func (p *plant) power(i int, ohms float64) (element, triac float64) {
	b := &p.c.Boilers[i]
	amps := p.c.Supply.V / (ohms + b.RSeries)
	return ohms * amps * amps, b.VT0*2*math.Sqrt2/math.Pi*amps + b.RT*amps*amps
}

// plan cuts a window where channels stop; ohms is the element's resistance in
// a piece.
func (p *plant) plan(ohms func(piece, ch int) float64) []heat.Piece {
	f := p.c.Supply.F
	for i, n := range p.cycles {
		p.edges[i] = float64(n) / f
	}
	p.edges[len(p.cycles)] = float64(p.c.Control.N) / (2 * f)
	slices.Sort(p.edges)
	t := 0.0
	for k := range p.pieces {
		e := &p.pieces[k]
		e.Duration, e.Pocket = p.edges[k]-t, 0
		for i, n := range p.cycles {
			e.Element[i] = 0
			if float64(n)/f <= t || p.board.Channels[i].Link.Open {
				continue
			}
			element, triac := p.power(i, ohms(k, i))
			e.Element[i] = element
			e.Pocket += triac
		}
		t = p.edges[k]
	}
	return p.pieces
}

// paces is the same for quiet windows, whose beats are cycles.
func (p *plant) paces(ohms func(piece, ch int) float64) []heat.Pace {
	pieces := p.plan(ohms)
	paces := make([]heat.Pace, len(pieces))
	for k := range pieces {
		from, to := &pieces[k], &paces[k]
		to.Beats, to.Pocket = int(math.Round(from.Duration*p.c.Supply.F)), from.Pocket
		copy(to.Element[:], from.Element)
		copy(to.Link[:], from.Link)
	}
	return paces
}

// follow is a plan whose resistances are those of the pieces' mean
// temperatures.
func (p *plant) follow(o *heat.Outlook) []heat.Piece {
	return p.plan(func(k, i int) float64 { return p.board.Channels[i].Element.ResistanceAt(o.ElementMean(k, i)) })
}

// quiet takes the machine through a window of dt seconds in which nothing
// happens, or reports that something may.
func (p *plant) quiet(at, dt float64) bool {
	if p.calm == nil {
		return false
	}
	key := [3]int(p.cycles)
	r := p.rhythms[key]
	if r == nil || !p.calm.Fits(r.Rhythm) {
		cold := func(_, i int) float64 { return p.board.Channels[i].Element.ResistanceAt(20) }
		r = &rhythm{Rhythm: p.calm.Rhythm(p.paces(cold)), energy: make([]float64, len(p.cycles))}
		for i, n := range p.cycles {
			if p.board.Channels[i].Link.Open {
				continue
			}
			_, triac := p.power(i, cold(0, i))
			r.energy[i] = triac * float64(n) / p.c.Supply.F
			r.pocket += r.energy[i]
		}
		p.rhythms[key] = r
	}
	if !p.calm.Begin(at, r.Rhythm, 1.1) {
		return false
	}
	pocket := 0.0
	p.element = heat.Lanes{1, 1, 1, 1}
	means := p.calm.Means(r.Rhythm, &p.element)
	for i := range p.cycles {
		e := &p.board.Channels[i].Element
		if r.energy[i] == 0 {
			continue
		}
		coldElement, coldTriac := p.power(i, e.ResistanceAt(20))
		element, triac := p.power(i, e.ResistanceAt(means[i]))
		p.element[i] = element / coldElement
		pocket += r.energy[i] * triac / coldTriac
	}
	share := 1.0
	if r.pocket > 0 {
		share = pocket / r.pocket
	}
	p.calm.Advance(r.Rhythm, &p.element, &p.link, share)
	return true
}

// window takes the machine through one second, in parts where a link opens.
func (p *plant) window(at, dt float64) error {
	r, err := p.machine.Window(at, dt, p.follow)
	if err != nil || !r.Early {
		return err
	}
	for _, e := range r.Events {
		if e.Kind == heat.LinkReached {
			p.board.Channels[e.Channel].Link.Open = true
		}
	}
	if err := p.machine.Rebuild(p.board); err != nil {
		return err
	}
	clear(p.rhythms)
	done := r.Advanced
	_, err = p.machine.Window(at+done, dt-done, func(o *heat.Outlook) []heat.Piece {
		var rest []heat.Piece
		skip := done
		for _, e := range p.follow(o) {
			d := min(skip, e.Duration)
			e.Duration -= d
			skip -= d
			rest = append(rest, e)
		}
		return rest
	})
	return err
}

// turn sets the duties and the feed of the window that starts at a time.
func (p *plant) turn(at float64) error {
	for i, v := range p.c.Boilers {
		for _, f := range v.Control.Cycles {
			if f[0] <= at {
				p.cycles[i] = int(f[1])
			}
		}
		// The record has a feed for one draw, a board for a boiler.
		for _, d := range v.Draws {
			if d.Feed != nil && (at == d.From || at == math.Ceil(d.To)) {
				p.board.Channels[i].Boiler.Feed = at == d.From
				if err := p.machine.Rebuild(p.board); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// run simulates the whole record, every window with its events looked for or
// those in which nothing happens at once.
func (c *heatCase) run(calm bool) (*result, error) {
	var best *result
	for range repetitions {
		p, err := newPlant(c)
		if err != nil {
			return nil, err
		}
		r := &result{Solver: "boilwright, every window in full", Simulated: c.Run.End}
		dt := float64(c.Control.N) / (2 * c.Supply.F)
		if calm {
			p.calm = p.machine.Calm(dt, c.Control.N/2)
			if p.calm == nil {
				return nil, errors.New("the machine has no solution for quiet windows")
			}
		}
		shots, quiet, windows := c.want.Snapshots, 0, 0
		start := time.Now()
		for k := 0; float64(k)*dt < c.Run.End; k++ {
			windows++
			at := float64(k) * dt
			if err := p.turn(at); err != nil {
				return nil, err
			}
			if p.quiet(at, dt) {
				quiet++
			} else {
				if err := p.window(at, dt); err != nil {
					return nil, err
				}
			}
			if len(shots) > 0 && float64(k+1)*dt == shots[0].T {
				r.Snapshots = append(r.Snapshots, p.snapshot(shots[0].T))
				shots = shots[1:]
			}
		}
		r.Wall = time.Since(start).Seconds()
		if calm {
			r.Solver = fmt.Sprintf("boilwright, the quiet %.0f %% of windows at once", 100*float64(quiet)/float64(windows))
		}
		r.In = p.machine.Balance().In
		if err := p.machine.Check(); err != nil {
			return nil, err
		}
		if best == nil || r.Wall < best.Wall {
			best = r
		}
	}
	return best, nil
}

func (p *plant) snapshot(t float64) snapshot {
	s := p.machine.State()
	out := snapshot{T: t}
	for i := range p.cycles {
		out.Temperatures = append(out.Temperatures, s.Element[i], s.Water[i], s.Shell[i], s.Probe[i], s.Link[i])
	}
	out.Temperatures = append(out.Temperatures, s.Lid, s.Pocket)
	return out
}

// compare returns the relative deviation of the electrical energy, NaN for a
// run shorter than the record, and the largest deviation of any temperature of
// any snapshot in kelvin.
func (c *heatCase) compare(r *result) (energy, kelvin float64, err error) {
	if len(r.Snapshots) == 0 {
		return 0, 0, errors.New("found no snapshot, expected one at least")
	}
	for i, s := range r.Snapshots {
		if i >= len(c.want.Snapshots) || math.Abs(c.want.Snapshots[i].T-s.T) > 1e-9 {
			return 0, 0, fmt.Errorf("found a snapshot at %g s, expected those of the record in order", s.T)
		}
		w := &c.want.Snapshots[i]
		var want []float64
		for _, b := range w.Boilers {
			want = append(want, b.Element, b.Water, b.Shell, b.Probe, b.Link)
		}
		want = append(want, w.Lid, w.Pocket)
		if len(want) != len(s.Temperatures) {
			return 0, 0, fmt.Errorf("found %d temperatures, expected %d", len(s.Temperatures), len(want))
		}
		for k, x := range want {
			kelvin = math.Max(kelvin, math.Abs(s.Temperatures[k]-x))
		}
	}
	if r.Simulated < c.Run.End {
		return math.NaN(), kelvin, nil
	}
	if len(r.Elements) > len(c.want.Energy.Elements) {
		return 0, 0, fmt.Errorf("found %d elements, expected %d", len(r.Elements), len(c.want.Energy.Elements))
	}
	energy = math.Abs(r.In/c.want.Energy.In - 1)
	for i, e := range r.Elements {
		energy = math.Max(energy, math.Abs(e/c.want.Energy.Elements[i]-1))
	}
	return energy, kelvin, nil
}
