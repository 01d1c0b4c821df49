package circuit

// key packs the level of every valve, two bits each.
type key uint64

func (k key) level(valve int) level { return level(k >> (2 * valve) & 3) }

func (k key) with(valve int, l level) key {
	return k&^(3<<(2*valve)) | key(l)<<(2*valve)
}
