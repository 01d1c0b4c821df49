package circuit

import (
	"fmt"
	"math"
	"strconv"

	"boilwright/models"
)

// kind is what a branch of the network is.
type kind uint8

const (
	resistor kind = iota
	source        // the ideal supply
	inductor
	capacitor
	mainPath // triac MT2–MT1
	junction // gate G–MT1
	optoPath // opto output MT2–P
	linkPath // thermal link: a resistance closed, a stray capacitance open
	diode    // a bridge with a threshold
)

// level is the discrete state of a valve in a combination.
type level uint8

const (
	off      level = iota // blocking, open junction; a link: closed
	positive              // conducting with positive threshold; a link: open
	negative              // conducting with negative threshold
)

func (l level) sign() float64 {
	switch l {
	case positive:
		return 1
	case negative:
		return -1
	}
	return 0
}

func levelOf(s float64) level {
	if s < 0 {
		return negative
	}
	return positive
}

// branch is one two-terminal part of the network; its current flows from a to
// b. Node −1 is the supply-end neutral.
type branch struct {
	name    string
	kind    kind
	a, b    int
	ohms    float64 // resistance, or on-state slope of a valve
	siemens float64 // blocking conductance of a valve
	volts   float64 // threshold of a valve
	store   float64 // farads or henries
	oneWay  bool
	lifted  bool // taken out of circuit for a test
	channel int  // −1 for what belongs to no channel
	part    models.Part
	state   int // index in the state vector, −1 for none
	valve   int // index among the valves, −1 for none
}

// stiff is the resistance in ohms below which a branch keeps its current as
// an unknown of its own, so that no digits are lost between milliohms and
// gigohms.
const stiff = 10

// sourceBranch is the index of the ideal source.
const sourceBranch = 0

// maxValves is how many valves fit the key of a combination.
const maxValves = 32

// netlist is the network of a board: its nodes, branches, valves and states.
type netlist struct {
	nodes    []models.Node // index to name; internal nodes have place −1
	index    nodeIndex
	branches []branch
	valves   []int // valve to branch
	states   []int // state to branch
	channels []channelParts
	earth    int         // branch of the protective earth conductor, −1 if missing
	line     int         // node L
	neutral  int         // node N
	zero     models.Node // the reference of potential
	oneWays  uint64      // the valves that are paths with a threshold
	mains    key         // the bits of the triacs' main paths
	polar    key         // and of the paths that conduct one way alone
	blocks   []block
	shared   []int     // nodes that belong to no block
	trunk    []int     // branches between such nodes
	owner    []int     // node to block, −1
	local    []int     // node to its place in its block, or among the shared ones
	order    []int     // branch to its place in its block, or in the trunk
	home     []int     // branch to block, −1 in the trunk
	strands  []strand  // branch to its place in a chain, found by power
	ends     [][2]end  // of the branches of the trunk, in the equations
	probes   []int     // the valves' branches but those of contacts
	scale    []float64 // root of the store, by state
	work     *workspace
	// kept are the blocks reduced so far, by the values of their parts that
	// follow temperatures, and by the levels of their valves.
	kept     []map[string]map[key]*reduced
	wasted   map[*reduced][]loss // see lossesOf
	rowOf    []int               // signal to its row among those at hand in a combination, or −1
	atHand   int                 // how many those are
	biased   bool                // the supply has a direct component
	bases    *bases              // those used last
	common   key                 // the bits of all valves by which bases differ
	linkMask key                 // the bits of the thermal links, which change the set of states
	severed  uint64              // channels that an open link cuts off, by bit
}

// channelParts are the branch indices of one channel's parts; −1 if absent.
type channelParts struct {
	main, junction, opto, link  int
	thermostat                  int
	shunt, gateRes, snubR, snub int
	wire, elemA, elemB          int
	mt1, mt2, gate, optoNode    int
}

func finite(x float64) bool { return !math.IsInf(x, 0) }

// places is how many places a channel or the board can have.
const places = int(models.Base) + 1

// nodeIndex tells the index of a named node, by channel and place; two more than
// it, so that zero is none and one the reference.
type nodeIndex []int

func (x nodeIndex) find(m models.Node) (int, bool) {
	if m.Place < 0 || int(m.Place) >= places || m.Channel < 0 || m.Channel >= len(x)/places {
		return 0, false
	}
	i := x[m.Channel*places+int(m.Place)]
	return i - 2, i > 0
}

func (x *nodeIndex) set(m models.Node, i int) {
	for len(*x) < (m.Channel+1)*places {
		*x = append(*x, make([]int, places)...)
	}
	(*x)[m.Channel*places+int(m.Place)] = i + 2
}

func (n *netlist) node(m models.Node) int {
	if m == n.zero {
		return -1
	}
	if i, ok := n.index.find(m); ok {
		return i
	}
	n.nodes = append(n.nodes, m)
	n.index.set(m, len(n.nodes)-1)
	return len(n.nodes) - 1
}

// named returns the index of a branch by its name.
func (n *netlist) named(name string) (int, bool) {
	for i := range n.branches {
		if n.branches[i].name == name {
			return i, true
		}
	}
	return 0, false
}

// internal adds a node that has no written name.
func (n *netlist) internal() int {
	n.nodes = append(n.nodes, models.Node{Place: -1})
	return len(n.nodes) - 1
}

func (n *netlist) add(b branch) int {
	b.state, b.valve = -1, -1
	i := len(n.branches)
	switch b.kind {
	case inductor, capacitor, linkPath:
		b.state = len(n.states)
		n.states = append(n.states, i)
	}
	switch b.kind {
	case mainPath, junction, optoPath, linkPath, diode:
		b.valve = len(n.valves)
		if b.kind == linkPath && b.valve < maxValves {
			n.linkMask |= 3 << (2 * b.valve)
		}
		if b.kind == mainPath && b.valve < maxValves {
			n.mains |= 3 << (2 * b.valve)
		}
		if b.kind == diode && b.valve < maxValves {
			n.oneWays |= 1 << b.valve
			if b.oneWay {
				n.polar |= 3 << (2 * b.valve)
			}
		}
		n.valves = append(n.valves, i)
	}
	n.branches = append(n.branches, b)
	return i
}

// resist adds a resistance; +Inf adds nothing and returns −1.
func (n *netlist) resist(name string, a, b int, ohms float64, ch int, part models.Part) int {
	if !finite(ohms) {
		return -1
	}
	return n.add(branch{name: name, kind: resistor, a: a, b: b, ohms: ohms, channel: ch, part: part})
}

// series adds a resistance and an inductance in series, the inductance
// shunted by a damping resistance.
func (n *netlist) series(name string, a, b int, ohms, henries, damping float64) {
	if henries <= 0 {
		n.resist(name+" resistance", a, b, ohms, -1, models.WiringPart)
		return
	}
	mid := a
	if ohms > 0 {
		mid = n.internal()
		n.resist(name+" resistance", a, mid, ohms, -1, models.WiringPart)
	}
	n.add(branch{name: name + " inductance", kind: inductor, a: mid, b: b, store: henries, channel: -1})
	n.resist(name+" damping", mid, b, damping, -1, models.WiringPart)
}

// newNetlist assembles the network of b from its parts. Resistances of the
// elements and off-state conductances are placeholders until a parameter set
// gives them their temperatures.
func newNetlist(b *models.Board) (*netlist, error) {
	// Room for the parts of a supply and of channels with everything fitted.
	size := 12 + 16*len(b.Channels) + len(b.Bridges)
	n := &netlist{
		index: make(nodeIndex, 0, places*len(b.Channels)),
		nodes: make([]models.Node, 0, size), branches: make([]branch, 0, size),
		valves: make([]int, 0, 5*len(b.Channels)+1), states: make([]int, 0, 3*len(b.Channels)+3), channels: make([]channelParts, 0, len(b.Channels)),
		zero: models.Node{Place: models.SupplyNeutral}, earth: -1,
	}
	n.supply(b)
	return n, n.board(b)
}

// supply adds the source, its impedances and the earth.
func (n *netlist) supply(b *models.Board) {
	at := func(p models.Place) int { return n.node(models.At(p, 0)) }
	s := &b.Supply
	n.biased = s.DC != 0
	e, l, neutral, pe := at(models.Source), at(models.Line), at(models.Neutral), at(models.ProtectiveEarth)
	n.line, n.neutral = l, neutral
	// The source is branch sourceBranch.
	n.add(branch{name: "source", kind: source, a: e, b: -1, channel: -1})
	if s.Exchanged {
		l, neutral = neutral, l
	}
	n.series("line", e, l, float64(s.LineResistance), float64(s.LineInductance), float64(s.Damping))
	n.series("neutral", neutral, -1, float64(s.NeutralResistance), float64(s.NeutralInductance), float64(s.Damping))
	n.earth = n.resist("earth", pe, -1, float64(b.Earth.Resistance), -1, models.NoPart)
}

// board adds everything on the board's side of the supply lead.
func (n *netlist) board(b *models.Board) error {
	at := func(p models.Place) int { return n.node(models.At(p, 0)) }
	l, neutral, pe := at(models.Line), at(models.Neutral), at(models.ProtectiveEarth)
	if c := float64(b.Supply.AcrossCapacitance); c > 0 {
		n.add(branch{name: "across capacitor", kind: capacitor, a: l, b: neutral, store: c, channel: -1})
	}
	rail := l
	if b.Upstream == nil {
		n.index.set(models.At(models.Rail, 0), l)
	} else {
		rail = at(models.Rail)
		n.add(branch{name: "upstream link", kind: linkPath, a: l, b: rail, ohms: float64(b.Upstream.Resistance), store: float64(b.Upstream.Stray), channel: -1, part: models.WiringPart})
	}
	for k := range b.Channels {
		n.channel(b, k, rail, neutral, pe)
	}
	for i := range b.Bridges {
		if err := n.bridge(b, &b.Bridges[i]); err != nil {
			return err
		}
	}
	for k := range n.channels {
		if n.cutOff(b, k) {
			n.severed |= 1 << k
		}
	}
	if err := n.checkValues(0); err != nil {
		return err
	}
	if len(n.valves) > maxValves {
		return fmt.Errorf("found %d switching parts, expected at most %d", len(n.valves), maxValves)
	}
	return nil
}

// numbered is the name of a part of the channel of a number.
func numbered(part string, channel int) string {
	if names, ok := partNames[part]; ok && channel < len(names) {
		return names[channel]
	}
	return part + strconv.Itoa(channel)
}

// partNames are the names of parts that most boards have.
var partNames = func() map[string]*[7]string {
	m := map[string]*[7]string{}
	for _, part := range []string{"triac", "opto", "gate-resistor", "junction", "gate-shunt", "snubber-resistor", "snubber-capacitor", "wire", "link", "element-near", "element-far", "insulation"} {
		var names [7]string
		for i := range names {
			names[i] = part + strconv.Itoa(i)
		}
		m[part] = &names
	}
	return m
}()

func (n *netlist) channel(b *models.Board, k, rail, neutral, pe int) {
	c := &b.Channels[k]
	at := func(p models.Place) int { return n.node(models.At(p, k)) }
	name := func(s string) string { return numbered(s, k+1) }
	near, far := rail, neutral // the triac's rail, and the load's
	if c.Side == models.NeutralSide {
		near, far = neutral, rail
	}
	out := at(models.Output)
	mt1, mt2 := near, out
	if c.MT1 == models.MT1Load {
		mt1, mt2 = out, near
	}
	g, p := at(models.Gate), at(models.OptoOutput)
	t, o := &c.Triac, &c.Opto
	var parts channelParts
	parts.mt1, parts.mt2, parts.gate, parts.optoNode = mt1, mt2, g, p
	parts.main = n.add(branch{name: name("triac"), kind: mainPath, a: mt2, b: mt1, ohms: float64(t.Slope), siemens: float64(t.Off), volts: float64(t.Threshold), channel: k, part: models.TriacPart})
	parts.opto = n.add(branch{name: name("opto"), kind: optoPath, a: mt2, b: p, ohms: float64(o.Slope), siemens: float64(o.Off), volts: float64(o.Threshold), channel: k, part: models.GatePart})
	parts.gateRes = n.resist(name("gate-resistor"), p, g, float64(c.GateResistance), k, models.GatePart)
	parts.junction = -1
	if !t.GateOpen {
		parts.junction = n.add(branch{name: name("junction"), kind: junction, a: g, b: mt1, ohms: float64(t.GateSlope), volts: float64(t.GateThreshold), channel: k, part: models.GatePart})
	}
	parts.shunt = n.resist(name("gate-shunt"), g, mt1, float64(c.GateShunt), k, models.GatePart)
	parts.snubR, parts.snub = -1, -1
	if c.Snubber.Fitted() {
		tap := at(models.SnubberTap)
		parts.snubR = n.resist(name("snubber-resistor"), mt2, tap, float64(c.Snubber.Resistance), k, models.SnubberPart)
		parts.snub = n.add(branch{name: name("snubber-capacitor"), kind: capacitor, a: tap, b: mt1, store: float64(c.Snubber.Capacitance), channel: k})
	}
	w, x, mid := at(models.Wire), at(models.Load), at(models.Midpoint)
	parts.wire = n.resist(name("wire"), out, w, float64(c.Wire), k, models.WiringPart)
	contact := w
	parts.thermostat = -1
	if th := &c.Thermostat; th.Fitted {
		contact = at(models.Contact)
		parts.thermostat = n.add(branch{name: name("thermostat"), kind: linkPath, a: w, b: contact, ohms: float64(th.Resistance), store: float64(th.Stray), channel: k, part: models.WiringPart})
	} else {
		n.index.set(models.At(models.Contact, k), w)
	}
	parts.link = n.add(branch{name: name("link"), kind: linkPath, a: contact, b: x, ohms: float64(c.Link.Resistance), store: float64(c.Link.Stray), channel: k, part: models.WiringPart})
	split := float64(c.Element.Split)
	r := float64(c.Element.Resistance)
	parts.elemA = n.resist(name("element-near"), x, mid, r*split, k, models.ElementPart)
	rb := r * (1 - split)
	if c.Element.Open {
		rb = math.Inf(1)
	}
	parts.elemB = n.resist(name("element-far"), mid, far, rb, k, models.ElementPart)
	n.resist(name("insulation"), mid, pe, float64(c.Element.Insulation), k, models.NoPart)
	n.channels = append(n.channels, parts)
}

func (n *netlist) bridge(b *models.Board, br *models.Bridge) error {
	for _, nd := range []models.Node{br.From, br.To} {
		if nd.Place < 0 || nd.Place > models.Contact || nd.Channel < 0 || (nd.Place.PerChannel() && nd.Channel >= len(b.Channels)) {
			return fmt.Errorf("bridge %q: found node %v, expected a node of this board", br.Name, nd)
		}
	}
	if err := checkOwner(b, br); err != nil {
		return err
	}
	from, to := n.node(br.From), n.node(br.To)
	name := "bridge " + br.Name
	for i := 2; ; i++ { // several films may carry one name
		if _, taken := n.named(name); !taken {
			break
		}
		name = fmt.Sprintf("bridge %s %d", br.Name, i)
	}
	ch := br.Channel
	if br.Part == models.NoPart || br.Part == models.WiringPart {
		ch = -1
	}
	if r := float64(br.Resistance); finite(r) {
		if br.Threshold == 0 && !br.OneWay {
			n.resist(name, from, to, r, ch, br.Part)
		} else {
			n.add(branch{name: name, kind: diode, a: from, b: to, ohms: r, volts: float64(br.Threshold), oneWay: br.OneWay, channel: ch, part: br.Part})
		}
	}
	if br.Capacitance > 0 {
		for i := range n.branches { // capacitors in parallel are one
			c := &n.branches[i]
			if c.kind == capacitor && (c.a == from && c.b == to || c.a == to && c.b == from) {
				c.store += float64(br.Capacitance)
				return nil
			}
		}
		n.add(branch{name: name + " capacitance", kind: capacitor, a: from, b: to, store: float64(br.Capacitance), channel: -1})
	}
	return nil
}

// nodeName is the written name of node i.
func (n *netlist) nodeName(i int) string {
	if i < 0 {
		return n.zero.String()
	}
	if n.nodes[i].Place < 0 {
		return fmt.Sprintf("internal%d", i)
	}
	return n.nodes[i].String()
}
