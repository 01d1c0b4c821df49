package circuit

// key packs the level of every valve, two bits each.
type key uint64

func (k key) level(valve int) level { return level(k >> (2 * valve) & 3) }

func (k key) with(valve int, l level) key {
	return k&^(3<<(2*valve)) | key(l)<<(2*valve)
}

// hash spreads keys that differ in few bits.
func (k key) hash() uint64 { return uint64(k) * 0x9e3779b97f4a7c15 >> 40 }

// mirror returns the key with every conducting sign exchanged.
func (n *netlist) mirror(k key) key {
	const low = 0x5555555555555555
	swapped := k&low<<1 | k>>1&low // positive is 01, negative 10
	return swapped&^n.linkMask | k&n.linkMask
}

// symmetric reports whether the mirror image of k is a combination too: no
// one-way path conducts in it.
func (n *netlist) symmetric(k key) bool { return k&n.polar == 0 }
