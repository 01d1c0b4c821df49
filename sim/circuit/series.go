package circuit

// strand is a branch's place in a chain of branches in series, through which one
// current flows.
type strand struct {
	leads bool    // it stands for the others
	sign  float64 // of its current in that of the one that leads
	next  int     // branch of the chain, −1 at its end
}

// leads reports whether branch i stands for those in series with it.
func (n *netlist) leads(i int) bool { return n.strands[i].leads }

// chain finds the branches in series: two that meet at a node where nothing else
// ends, both in one block or in the trunk.
func (n *netlist) chain() {
	const none = -1
	meet := make([][2]int, len(n.nodes)) // the branches at a node
	count := make([]int, len(n.nodes))
	for i := range n.branches {
		for _, e := range [2]int{n.branches[i].a, n.branches[i].b} {
			if e < 0 {
				continue
			}
			if count[e] < 2 {
				meet[e][count[e]] = i
			}
			count[e]++
		}
	}
	n.strands = make([]strand, len(n.branches))
	for i := range n.strands {
		n.strands[i].next = none
	}
	// follow returns what goes on with branch i behind one of its nodes.
	follow := func(i, node int) int {
		if node < 0 || count[node] != 2 {
			return none
		}
		other := meet[node][0] + meet[node][1] - i
		if other == i || n.home[other] != n.home[i] || n.strands[other].sign != 0 {
			return none
		}
		return other
	}
	begin := func(i int) {
		n.strands[i].leads, n.strands[i].sign = true, 1
		last := i
		for _, node := range [2]int{n.branches[i].b, n.branches[i].a} {
			at := i
			for next := follow(at, node); next != none; next = follow(at, node) {
				b, sign := &n.branches[next], n.strands[at].sign
				if (n.branches[at].b == node) == (b.b == node) {
					sign = -sign
				}
				n.strands[next].sign, n.strands[last].next = sign, next
				if b.a == node {
					node = b.b
				} else {
					node = b.a
				}
				at, last = next, next
			}
		}
	}
	// The current of a large resistance is found to more digits than that of what
	// is in series with it.
	for _, large := range [2]bool{true, false} {
		for i := range n.branches {
			if b := &n.branches[i]; n.strands[i].sign == 0 && (!large || b.kind == resistor && b.ohms >= 1000) {
				begin(i)
			}
		}
	}
}
