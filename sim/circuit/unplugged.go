package circuit

import (
	"fmt"
	"math"
	"slices"

	"boilwright/models"
)

// Unplugged is a board away from its supply: source, supply impedances and the
// bond from earth to neutral are gone, capacitors carry no steady current, and
// a test instrument drives a direct current through the network between its
// two leads. Parallel paths through the board take part.
//
// The control plugs are pulled off. Leads may go on the control side as well;
// with one lead there and one on the mains side they are apart, since the
// optos insulate.
type Unplugged struct {
	par *params
	key key
	net *netlist
	// seek is the same network with the instrument's own leak across its
	// leads. It finds the junctions that conduct where without it nothing
	// leads from one lead to the other.
	seek *params
	// apart tells that the leads are on the two sides of the insulation.
	apart bool
}

// The branches of the instrument: the test current, and the leak in seek with
// its resistance in ohms.
const (
	leads    = "test leads"
	leadLeak = "leak between the test leads"

	leakOhms = 1e15
)

// NewUnplugged prepares a board for a direct-current test from node plus to
// node minus. Junctions and elements are at the temperatures t. Named
// branches in lifted (see Solver.Branches and ControlBranches) are taken out
// of circuit.
func NewUnplugged(b *models.Board, t Temperatures, plus, minus models.Node, lifted ...string) (*Unplugged, error) {
	for _, nd := range []models.Node{plus, minus} {
		if err := checkLead(b, nd); err != nil {
			return nil, err
		}
	}
	if plus == minus {
		return nil, fmt.Errorf("found both test leads at %v, expected two nodes", plus)
	}
	n := &netlist{zero: minus, earth: -1}
	if err := n.board(b); err != nil {
		return nil, err
	}
	control, err := newControlSide(b, minus)
	if err != nil {
		return nil, err
	}
	for _, name := range lifted {
		switch i, ok := n.named(name); {
		case ok:
			n.branches[i].lifted = true
		default:
			i, ok := control.named(name)
			if !ok {
				return nil, fmt.Errorf("lifted part: found %q, expected one of %v", name, append(names(n), names(control)...))
			}
			control.branches[i].lifted = true
		}
	}
	values := b
	if plus.Place.Control() {
		n, values = control, &models.Board{} // nothing there depends on temperature
	}
	u := &Unplugged{net: n, apart: plus.Place.Control() != minus.Place.Control()}
	if u.apart {
		return u, nil
	}
	n.add(branch{name: leads, kind: inductor, a: -1, b: n.node(plus), store: 1, channel: -1})
	u.par = newParams(n, values, t, newWorkspace())
	u.par.direct = true
	leaky := *n
	leaky.branches = slices.Clone(n.branches)
	leaky.owner = nil // divided into blocks anew
	leaky.add(branch{name: leadLeak, kind: resistor, a: n.node(plus), b: -1, ohms: leakOhms, channel: -1})
	u.seek = newParams(&leaky, values, t, u.par.work)
	u.seek.direct = true
	for v, i := range n.valves {
		br := &n.branches[i]
		if br.kind != linkPath {
			continue
		}
		if n.startsOpen(b, br, i) {
			u.key = u.key.with(v, positive)
		}
	}
	return u, nil
}

// checkLead rejects a node at which the unplugged board has nothing to touch.
func checkLead(b *models.Board, nd models.Node) error {
	if nd.Place.Control() {
		if nd.Channel < 0 || nd.Channel >= len(b.Channels) {
			return fmt.Errorf("test lead: found node %v, expected one of channel 1 to %d", nd, len(b.Channels))
		}
		return nil
	}
	if _, err := models.ParseNode(nd.String(), len(b.Channels)); err != nil {
		return fmt.Errorf("test lead: %w", err)
	}
	if nd.Place == models.SupplyNeutral || nd.Place == models.Source {
		return fmt.Errorf("found test lead at %v, expected a node of the unplugged board", nd)
	}
	if nd.Place == models.Rail && b.Upstream == nil {
		return fmt.Errorf("found test lead at rail of a board without an upstream link, expected L")
	}
	return nil
}

func names(n *netlist) []string {
	s := make([]string, len(n.branches))
	for i := range s {
		s[i] = n.branches[i].name
	}
	return s
}

// Voltage returns the voltage in volts between the leads when the current
// amps flows in at the positive one; open is true where nothing connects the
// leads.
func (u *Unplugged) Voltage(amps float64) (volts float64, open bool, err error) {
	if u.apart {
		return math.Inf(1), true, nil
	}
	c, z, err := rest(u.par, u.key, amps)
	if err != nil {
		return 0, false, err
	}
	if c.apart { // as long as every junction blocks
		if c, z, err = rest(u.seek, u.key, amps); err != nil {
			return 0, false, err
		}
		if c, err = u.par.combination(c.key); err != nil {
			return 0, false, err
		}
		if c.apart {
			return math.Inf(1), true, nil
		}
	}
	across, _ := u.net.named(leads)
	return -dot(c.row(u.net.sigVolt(across)), z), false, nil
}

// rest finds the junctions and one-way paths that conduct at a test current,
// from those of key k, and returns the combination with its inputs, or one in
// which the leads are apart.
func rest(p *params, k key, amps float64) (c *combination, z []float64, err error) {
	z = []float64{amps, 0, 1}
	for range 400 {
		if c, err = p.combination(k); err != nil || c.apart {
			return c, z, err
		}
		next, ok := p.net.consistent(c, k, z, everyValve)
		if ok {
			return c, z, nil
		}
		k = next
	}
	return nil, nil, fmt.Errorf("junctions and one-way paths do not come to rest at a test current of %g A", amps)
}

// Current returns the current in amperes at which the voltage between the
// leads is volts, by bisection on the rising characteristic of a passive
// network, to 1e-12 relative; limit bounds it.
func (u *Unplugged) Current(volts, limit float64) (float64, error) {
	v, open, err := u.Voltage(math.Copysign(limit, volts))
	if err != nil || open {
		return 0, err
	}
	if math.Abs(v) <= math.Abs(volts) {
		return math.Copysign(limit, volts), nil
	}
	lo, hi := 0.0, limit
	for range 200 {
		mid := (lo + hi) / 2
		if lo > 0 && hi < 4*lo {
			mid = math.Sqrt(lo * hi)
		}
		v, _, err := u.Voltage(math.Copysign(mid, volts))
		if err != nil {
			return 0, err
		}
		if math.Abs(v) < math.Abs(volts) {
			lo = mid
		} else {
			hi = mid
		}
		if hi-lo <= 1e-12*hi {
			break
		}
	}
	return math.Copysign((lo+hi)/2, volts), nil
}
