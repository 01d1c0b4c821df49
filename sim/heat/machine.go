package heat

import (
	"fmt"

	"boilwright/models"
	"boilwright/models/water"
)

// Machine is the boilers, lid and board pocket of one board with their
// temperatures and masses. It isn't safe for concurrent use.
type Machine struct {
	par *parameters
	net *network

	now *State // the truth
	try *State // where the predictor goes; then where the window started

	frozen []frozen
	base   []float64 // drive without a piece's powers, W
	power  float64   // of the piece, W
	draws  []drawn   // by channel

	look    Outlook
	hits    []hit
	poly    [maxOrder + 2]float64
	events  []Event
	pending []Event // of an edit, told by the next window; Time is set then

	total     Balance
	reference float64 // content at the start, shifted by edits, J
	coast     [1]Piece
	span      float64 // window that Coast tries next, s
	visits    int     // counts what moved the machine other than Calm
}

// New returns the machine of board b at its start temperatures. The board is
// read, not kept. The error names every field that can't be, with what was
// found and what was expected.
func New(b *models.Board) (*Machine, error) {
	par, err := read(b)
	if err != nil {
		return nil, err
	}
	n := len(par.vessels)
	nodes := kinds*n + single
	m := &Machine{
		par: par, net: newNetwork(n),
		now: newState(n, par.draws), try: newState(n, par.draws),
		frozen: make([]frozen, n), base: make([]float64, nodes), draws: make([]drawn, n),
		look: Outlook{State: *newState(n, par.draws)},
		span: maxCoast,
	}
	copy(m.now.x, par.begin)
	for i := range par.vessels {
		v := &par.vessels[i]
		if m.now.Water[i] > v.boiling {
			return nil, fmt.Errorf("heat: channel %q: start: found %g °C, expected at most the boiling point %.2f °C",
				b.Channels[i].Name, m.now.Water[i], v.boiling)
		}
		m.now.Mass[i] = v.start
	}
	m.adopt(par)
	m.now.sync()
	m.reference = m.content()
	return m, nil
}

// Rebuild takes over the parameters of an edited board and keeps
// temperatures, masses, and what has happened so far. Where the edit changes
// a boiler's Water, the difference is poured in or out at the temperature of
// the water there, but never below the floor. Water that the edit leaves
// above its boiling point (a valve that opens earlier) flashes: as much
// evaporates at once as brings the rest to the boiling point. An edit can't
// add channels or fit an upstream link. On an error nothing has changed.
func (m *Machine) Rebuild(b *models.Board) error {
	par, err := read(b)
	if err != nil {
		return err
	}
	if found, want := len(par.vessels), len(m.par.vessels); found != want {
		return fmt.Errorf("heat: edit of the board: found %d channels, expected %d as before", found, want)
	}
	if par.fitted != m.par.fitted {
		return fmt.Errorf("heat: edit of the board: found an upstream link fitted: %t, expected %t as before", par.fitted, m.par.fitted)
	}
	old, stored := m.par, m.content()
	p := m.now
	drawing := make([]bool, par.draws)
	for i := range par.vessels {
		was, v := &old.vessels[i], &par.vessels[i]
		if v.start != was.start {
			p.Mass[i] = max(p.Mass[i]+v.start-was.start, min(v.floor, p.Mass[i]))
		}
		for k, d := range was.draws {
			if p.drawing[was.first+k] && !carry(d, v, drawing) {
				m.pending = append(m.pending, Event{Channel: i, Kind: DrawStop})
			}
		}
	}
	p.drawing = drawing
	m.try = newState(len(par.vessels), par.draws)
	m.look.drawing = make([]bool, par.draws)
	m.adopt(par)
	m.reference += m.content() - stored
	for i := range par.vessels {
		m.flash(i)
	}
	m.span = maxCoast
	m.visits++
	return nil
}

// carry marks the draw equal to d among those of v as running.
func carry(d models.Draw, v *vessel, drawing []bool) bool {
	for k, e := range v.draws {
		if e == d && !drawing[v.first+k] {
			drawing[v.first+k] = true
			return true
		}
	}
	return false
}

// adopt makes par the parameters in force and brings what depends on them
// into line.
func (m *Machine) adopt(par *parameters) {
	m.par = par
	copy(m.net.chains, par.chains)
	m.net.bridge, m.net.edges = par.bridge, par.edges
	p := m.now
	p.vessels = par.vessels
	for i := range par.vessels {
		v := &par.vessels[i]
		p.Dry[i] = !v.feed && p.Mass[i] <= v.floor
		p.low[i] = p.Mass[i] < v.wetted
		p.Holding[i] = p.Holding[i] && !p.Dry[i] && p.Water[i] >= v.boiling
		p.Venting[i] = p.Venting[i] && !v.open
		p.opened[i] = p.opened[i] && p.Link[i] >= v.link
		p.Cut[i] = v.stays || v.moves && p.Cut[i]
	}
	up := len(p.x) - 1
	p.opened[len(par.vessels)] = p.opened[len(par.vessels)] && p.x[up] >= par.upstream
	for i, c := range par.capacity {
		if c > 0 {
			m.net.inverse[i] = 1 / c
		}
	}
}

// flash brings the water of channel i from above its boiling point to it:
//
//	m H(T) = (m − Δm) H(T_b) + Δm (H(T_b) + h_fg)
//
// as far as the floor allows; with a feed Δm is replaced at the same time.
func (m *Machine) flash(i int) {
	p, v := m.now, &m.par.vessels[i]
	if p.Dry[i] || p.Water[i] <= v.boiling {
		return
	}
	content := p.Mass[i] * water.H(p.Water[i])
	steam := (content - p.Mass[i]*v.hBoiling) / v.latent
	carried := steam * v.latent
	if !v.feed {
		steam = min(steam, p.Mass[i]-v.floor)
		carried = steam * (v.hBoiling + v.latent)
		p.Mass[i] -= steam
	}
	p.Steam[i] += steam
	p.Water[i] = v.boiling
	if !v.feed && p.Mass[i] <= v.floor {
		p.Water[i] = water.TemperatureOfH((content - carried) / p.Mass[i])
		p.Dry[i] = true
		m.pending = append(m.pending, Event{Channel: i, Kind: RanDry})
	} else if !p.Holding[i] {
		p.Holding[i] = true
		if v.open {
			m.pending = append(m.pending, Event{Channel: i, Kind: BoilStart})
		} else if !p.Venting[i] {
			m.pending = append(m.pending, Event{Channel: i, Kind: ReliefOpen})
		}
	}
	p.Venting[i] = p.Venting[i] || !v.open
	m.total.Carried += carried
	m.total.Stored -= carried
}

// State returns the machine as it is now: a view, valid until the next call.
func (m *Machine) State() *State { return m.now }
