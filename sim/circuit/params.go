package circuit

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"boilwright/models"
)

// Temperatures are what the circuit's parameters depend on, in °C, by channel.
type Temperatures struct {
	Element, Junction []float64
	// Leakage is where the triacs' off-state conductances are taken; nil is at
	// Junction.
	Leakage []float64
	Board   float64
}

// leakage returns the temperature at which channel k leaks.
func (t *Temperatures) leakage(k int) float64 {
	if t.Leakage != nil {
		return t.Leakage[k]
	}
	return t.Junction[k]
}

// equals reports whether two are the same.
func (t *Temperatures) equals(o *Temperatures) bool {
	return t.Board == o.Board && (t.Leakage == nil) == (o.Leakage == nil) && slices.Equal(t.Element, o.Element) &&
		slices.Equal(t.Junction, o.Junction) && slices.Equal(t.Leakage, o.Leakage)
}

// copyFrom makes t equal to another.
func (t *Temperatures) copyFrom(o *Temperatures) {
	t.Element, t.Junction, t.Board = append(t.Element[:0], o.Element...), append(t.Junction[:0], o.Junction...), o.Board
	if t.Leakage = append(t.Leakage[:0], o.Leakage...); o.Leakage == nil {
		t.Leakage = nil
	}
}

// Uniform returns the temperatures of a board of n channels all at t °C.
func Uniform(n int, t float64) Temperatures {
	x := Temperatures{Element: make([]float64, n), Junction: make([]float64, n), Board: t}
	for i := range x.Element {
		x.Element[i], x.Junction[i] = t, t
	}
	return x
}

// params are the branch values at one set of temperatures, with the
// combinations already built for them.
type params struct {
	net     *netlist
	ohms    []float64
	siemens []float64
	combos  map[key]*combination
	blocks  []map[key]*reduced // by block of the netlist and its levels
	work    *workspace
	bases   *bases
	lender  *lender   // of blocks and bases, or nil
	still   []product // what does not change in its losses
	groupOf []int     // branch to loss group
	groups  int
	lossy   []int // sums that have forms of losses
	formOf  []int // sum to its form
	direct  bool  // direct current: capacitors carry none
}

// maxSets bounds how many parameter sets keep their combinations.
const maxSets = 512

func (p *params) combination(k key) (*combination, error) {
	if c, ok := p.combos[k]; ok {
		return c, nil
	}
	if m, ok := p.combos[p.net.mirror(k)]; ok && p.net.symmetric(k) {
		c := m.mirrored(k, p.work)
		for i := range p.net.blocks {
			if !p.net.biased {
				break // its losses are those of its original
			}
			r, err := p.reduce(i, k)
			if err != nil {
				return nil, err
			}
			c.blocks = append(c.blocks, r)
		}
		p.combos[k] = c
		return c, nil
	}
	c, err := p.assemble(k)
	if err != nil {
		return nil, err
	}
	p.combos[k] = c
	return c, nil
}

// limits are the thresholds of one channel at its temperatures.
type limits struct {
	ledTrigger          float64 // A
	inhibit             float64 // V
	optoLatch, optoHold float64 // A
	trigger             [4]float64
	latch, hold         float64
	static              float64 // V/s
	turnOff             float64
	breakover           float64
	open                bool
	fires               int
}

func newLimits(c *models.Channel, tj, board float64) limits {
	t, o := &c.Triac, &c.Opto
	l := limits{
		ledTrigger: o.TriggerAt(board), inhibit: float64(o.Inhibit),
		optoLatch: float64(o.Latching), optoHold: float64(o.Holding), fires: o.Fires,
		latch: t.LatchingAt(tj), hold: t.HoldingAt(tj), static: t.StaticRateAt(tj),
		turnOff: float64(t.TurnOffTime), breakover: float64(t.Breakover), open: t.Open,
	}
	for q := range l.trigger {
		l.trigger[q] = t.TriggerAt(models.Quadrant(q), tj)
	}
	return l
}

// set returns the parameter set for temperatures, made once for the same branch
// values.
func (s *Solver) set(t Temperatures) *params {
	id := s.values(t)
	if p, ok := s.sets[string(id)]; ok {
		return p
	}
	if len(s.sets) >= maxSets {
		clear(s.sets)
		s.net.kept, s.net.wasted = nil, nil
	}
	p := s.newSet(t)
	if s.par != nil { // most likely as many are met
		p.combos = make(map[key]*combination, len(s.par.combos))
	}
	p.shareBlocks()
	s.sets[string(id)] = p
	return p
}

// values identifies the branch values at temperatures t.
func (s *Solver) values(t Temperatures) []byte {
	n := len(s.board.Channels)
	id := make([]byte, 0, n*16)
	put := func(x float64) { id = binary.NativeEndian.AppendUint64(id, math.Float64bits(x)) }
	for k := range s.board.Channels {
		c := &s.board.Channels[k]
		put(c.Element.ResistanceAt(t.Element[k]))
		put(c.Triac.OffAt(t.leakage(k)))
	}
	return id
}

// newSet gives the solver's network its values at temperatures t.
func (s *Solver) newSet(t Temperatures) *params {
	p := newParams(s.net, s.board, t, s.net.work)
	p.groupOf, p.groups, p.lossy, p.formOf = s.groupOf, s.groups, s.lossy, s.formOf
	return p
}

// shareBlocks takes over the bases and the blocks that have been reduced for another set of
// temperatures at which their own parts have the same values.
func (p *params) shareBlocks() {
	net := p.net
	if net.kept == nil {
		net.kept = make([]map[string]map[key]*reduced, len(net.blocks))
		for i := range net.kept {
			net.kept[i] = map[string]map[key]*reduced{}
		}
	}
	if net.bases == nil || !net.bases.serve(p) {
		net.bases = p.newBases()
	}
	p.bases = net.bases
	p.blocks = make([]map[key]*reduced, len(net.blocks))
	var id []byte
	for i := range net.blocks {
		id = id[:0]
		for _, at := range net.blocks[i].branches {
			if b := &net.branches[at]; b.kind == mainPath || b.part == models.ElementPart {
				id = binary.NativeEndian.AppendUint64(id, math.Float64bits(p.ohms[at]))
				id = binary.NativeEndian.AppendUint64(id, math.Float64bits(p.siemens[at]))
			}
		}
		if net.kept[i][string(id)] == nil {
			net.kept[i][string(id)] = map[key]*reduced{}
		}
		p.blocks[i] = net.kept[i][string(id)]
	}
}

// newParams gives the branches of a network their values at temperatures t. A nil
// workspace does for those who put no combination together.
func newParams(net *netlist, b *models.Board, t Temperatures, w *workspace) *params {
	net.work = w
	if net.owner == nil {
		net.partition()
	}
	p := w.newParams()
	p.net, p.work = net, w
	p.ohms, p.siemens = w.take(len(net.branches)), w.take(len(net.branches))
	for i := range net.branches {
		p.ohms[i], p.siemens[i] = net.branches[i].ohms, net.branches[i].siemens
	}
	for k := range b.Channels {
		c := &b.Channels[k]
		parts := &net.channels[k]
		r := c.Element.ResistanceAt(t.Element[k])
		x := float64(c.Element.Split)
		if parts.elemA >= 0 {
			p.ohms[parts.elemA] = r * x
		}
		if parts.elemB >= 0 {
			p.ohms[parts.elemB] = r * (1 - x)
		}
		p.siemens[parts.main] = c.Triac.OffAt(t.leakage(k))
	}
	return p
}

// newParams returns a parameter set without values.
func (w *workspace) newParams() *params {
	if w == nil || w.params == nil {
		return &params{combos: map[key]*combination{}}
	}
	p := w.params
	w.params = nil
	return p
}

// forget leaves a parameter set nothing but its room.
func (p *params) forget() {
	clear(p.combos)
	for _, m := range p.blocks {
		clear(m)
	}
	*p = params{combos: p.combos, blocks: p.blocks[:0]}
}

// checkPaths rejects a board in which an inductance has no path below
// 1 megohm for its current while everything blocks.
func (s *Solver) checkPaths() error {
	c, err := s.par.combination(s.key)
	if err != nil {
		return err
	}
	for col, st := range c.active {
		i := s.net.states[st]
		b := &s.net.branches[i]
		if b.kind != inductor {
			continue
		}
		var buf [32]float64
		row := room(buf[:], c.width)
		c.write(s.net.sigVolt(i), row)
		seen := -row[col]
		if math.IsNaN(seen) || seen > 1e6 || c.apart {
			return fmt.Errorf("%s: found no path below 1 MΩ for its current with every triac blocking, expected a damping resistance or a snubber", b.name)
		}
	}
	return nil
}
