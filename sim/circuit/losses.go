package circuit

import (
	"boilwright/models"
)

// power builds, once, the quadratic forms of the loss groups: the power of
// group g is zᵀ·groups[g]·z with z = (x, e, 1).
func (c *combination) power(net *netlist, groupOf []int, groups int) {
	if c.groupOK {
		return
	}
	w := c.width
	c.groups = make([][]float64, groups)
	all := make([]float64, groups*w*w)
	for g := range c.groups {
		c.groups[g] = all[g*w*w : (g+1)*w*w]
	}
	for i, g := range groupOf {
		if g < 0 {
			continue
		}
		if b := &net.branches[i]; b.kind == linkPath && c.key.level(b.valve) != off {
			continue // open, it is a stray capacitance: it stores
		}
		q, v, cur := c.groups[g], c.row(net.sigVolt(i)), c.row(net.sigCurrent(i))
		for r, x := range v {
			if x == 0 {
				continue
			}
			for s, y := range cur {
				q[r*w+s] += x * y
			}
		}
	}
	c.groupOK = true
}

// partOf names the loss group of each branch.
func (n *netlist) groupOf() (of []int, count int) {
	per := int(models.WiringPart) // parts that a channel owns
	of = make([]int, len(n.branches))
	for i := range n.branches {
		b := &n.branches[i]
		of[i] = -1
		switch {
		case b.kind == source:
			of[i] = groupSource
		case b.kind == inductor, b.kind == capacitor:
		case b.part == models.NoPart:
			of[i] = groupOutside
		case b.kind == linkPath && b.channel < 0:
			of[i] = groupUpstream
		case b.channel < 0:
			of[i] = groupWiring
		default:
			of[i] = groupFixed + b.channel*per + int(b.part) - 1
		}
	}
	return of, groupFixed + len(n.channels)*per
}

// Loss groups that belong to no channel; the groups of channel k follow.
const (
	groupSource = iota
	groupWiring
	groupOutside
	groupUpstream
	groupFixed
)
