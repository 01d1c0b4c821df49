package heat

import "boilwright/models/water"

// State is the machine at one instant. Temperatures are in °C, masses in kg;
// slices go by channel. What [Machine.State] returns is a view: read it, and
// copy what must outlive the next call.
type State struct {
	Element, Water, Shell, Probe, Link []float64

	Lid, Pocket float64
	// Upstream is the thermal link ahead of all channels; zero without one.
	Upstream float64

	Mass  []float64 // of water in the boiler
	Steam []float64 // that has left so far, drawn or boiled off

	// Holding tells that the water is kept at its boiling point, a surplus
	// of heat evaporating. Venting tells that a closed boiler's relief valve
	// has opened and not reseated; it lets steam out only while Holding.
	Holding, Venting []bool
	// Dry tells that the mass has come down to the floor, where nothing
	// evaporates any more.
	Dry []bool
	// Cut tells that a channel's thermostat is open.
	Cut []bool

	x       []float64 // all temperatures; the slices above are parts of it
	vessels []vessel
	boiled  []float64 // kg that has evaporated while Holding
	drawing []bool    // by draw, channel after channel
	low     []bool    // LowLevel has been told, or was so from the start
	opened  []bool    // LinkReached has been told; the last is upstream
}

func newState(channels, draws int) *State {
	numbers, flags := cut(make([]float64, (kinds+3)*channels+single)), cut(make([]bool, 6*channels+1+draws))
	s := &State{
		x:    numbers(kinds*channels + single),
		Mass: numbers(channels), Steam: numbers(channels), boiled: numbers(channels),
		Holding: flags(channels), Venting: flags(channels), Dry: flags(channels), Cut: flags(channels),
		low: flags(channels), opened: flags(channels + 1), drawing: flags(draws),
	}
	part := func(kind int) []float64 { return s.x[kind*channels : (kind+1)*channels : (kind+1)*channels] }
	s.Element, s.Water, s.Shell, s.Probe, s.Link = part(elementNode), part(waterNode), part(shellNode), part(probeNode), part(linkNode)
	return s
}

// sync copies the nodes that exist once into their fields.
func (s *State) sync() {
	i := kinds * len(s.Mass)
	s.Lid, s.Pocket, s.Upstream = s.x[i+lidNode], s.x[i+pocketNode], s.x[i+upstreamNode]
}

// copyFrom makes s equal to o, of the same size.
func (s *State) copyFrom(o *State) {
	copy(s.x, o.x)
	copy(s.Mass, o.Mass)
	copy(s.Steam, o.Steam)
	copy(s.boiled, o.boiled)
	copy(s.Holding, o.Holding)
	copy(s.Venting, o.Venting)
	copy(s.Dry, o.Dry)
	copy(s.drawing, o.drawing)
	copy(s.low, o.low)
	copy(s.opened, o.opened)
	copy(s.Cut, o.Cut)
	s.Lid, s.Pocket, s.Upstream = o.Lid, o.Pocket, o.Upstream
	s.vessels = o.vessels
}

// Pressure returns the absolute pressure in Pa over the water of channel ch:
// ambient pressure in an open boiler; in a closed one saturation at the
// water's temperature (IAPWS R7-97(2012), eq. 30), at most the relief
// pressure, which only a boiler that has run dry would exceed.
func (s *State) Pressure(ch int) float64 {
	v := &s.vessels[ch]
	if v.open || s.Holding[ch] || s.Water[ch] >= v.boiling {
		return v.pressure
	}
	p, err := water.SaturationPressure(max(s.Water[ch], 0))
	if err != nil { // above the critical point, so above any relief pressure
		return v.pressure
	}
	return min(p, v.pressure)
}

// Powers is heat in W put into the nodes, by channel. A nil slice is all
// zero.
type Powers struct {
	Element []float64
	Link    []float64 // r_link·i²
	// Pocket is the loss of triacs, gate resistors and snubbers.
	Pocket   float64
	Upstream float64 // r_link·i² of the upstream link
}

// Piece is a stretch of constant power.
type Piece struct {
	Duration float64 // s
	Powers
}

// Outlook is what a plan can go by: the machine in the middle of the window.
// In the first pass that isn't known yet, and all of it is the start.
type Outlook struct {
	State
	Pass int // 0, then 1

	element []float64 // by piece of the first pass and channel, °C
}

// ElementMean returns the mean temperature in °C of the element of channel ch
// over the given piece of the first pass's plan: at it the element's power is
// that of the piece as a whole, where the temperature in the middle of the
// window would be off by a kelvin or more. In the first pass, and for a piece
// that it didn't have, it is that of Element.
func (o *Outlook) ElementMean(piece, ch int) float64 {
	if i := piece*len(o.Element) + ch; o.Pass > 0 && piece >= 0 && i < len(o.element) {
		return o.element[i]
	}
	return o.Element[ch]
}

// begin makes room for the sums ∫ T dt of a piece.
func (o *Outlook) begin(p *State) {
	for range p.Element {
		o.element = append(o.element, 0)
	}
}

// end turns the sums of a piece that lasted dt seconds into means.
func (o *Outlook) end(p *State, dt float64) {
	means := o.element[len(o.element)-len(p.Element):]
	for i := range means {
		if dt > 0 {
			means[i] /= dt
		} else {
			means[i] = p.Element[i]
		}
	}
}
