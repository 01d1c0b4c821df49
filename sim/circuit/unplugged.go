package circuit

import (
	"fmt"
	"math"

	"boilwright/models"
)

// Unplugged is a board away from its supply: source, supply impedances and the
// bond from earth to neutral are gone, capacitors carry no steady current, and
// a test instrument drives a direct current through the network between its
// two leads. Parallel paths through the board take part.
type Unplugged struct {
	par *params
	key key
	net *netlist
}

// leads names the test current's branch.
const leads = "test leads"

// NewUnplugged prepares a board for a direct-current test from node plus to
// node minus. Junctions and elements are at the temperatures t. Named
// branches in lifted (see Solver.Branches) are taken out of circuit.
func NewUnplugged(b *models.Board, t Temperatures, plus, minus models.Node, lifted ...string) (*Unplugged, error) {
	for _, nd := range []models.Node{plus, minus} {
		if _, err := models.ParseNode(nd.String(), len(b.Channels)); err != nil {
			return nil, fmt.Errorf("test lead: %w", err)
		}
		if nd.Place == models.SupplyNeutral || nd.Place == models.Source {
			return nil, fmt.Errorf("found test lead at %v, expected a node of the unplugged board", nd)
		}
		if nd.Place == models.Rail && b.Upstream == nil {
			return nil, fmt.Errorf("found test lead at rail of a board without an upstream link, expected L")
		}
	}
	if plus == minus {
		return nil, fmt.Errorf("found both test leads at %v, expected two nodes", plus)
	}
	n := &netlist{index: map[models.Node]int{}, byName: map[string]int{}, zero: minus, earth: -1}
	if err := n.board(b); err != nil {
		return nil, err
	}
	for _, name := range lifted {
		i, ok := n.byName[name]
		if !ok {
			return nil, fmt.Errorf("lifted part: found %q, expected one of %v", name, names(n))
		}
		n.branches[i].lifted = true
	}
	n.add(branch{name: leads, kind: inductor, a: -1, b: n.node(plus), store: 1, channel: -1})
	u := &Unplugged{net: n}
	u.par = newParams(n, b, t)
	u.par.direct = true
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
	k := u.key
	for range 400 {
		c, err := u.par.combination(k)
		if err != nil {
			return 0, false, err
		}
		if c.apart {
			return math.Inf(1), true, nil
		}
		next, ok := u.net.consistent(c, k, []float64{amps, 0, 1}, everyValve)
		if ok {
			row := c.row(u.net.sigVolt(u.net.byName[leads]))
			return -(row[0]*amps + row[2]), false, nil
		}
		k = next
	}
	return 0, false, fmt.Errorf("junctions and one-way paths do not come to rest at a test current of %g A", amps)
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
