package sim

import "boilwright/sim/arena"

// planKey tells windows of a class apart: the place in which they begin, the
// bits of the supply level, and the cycles given to each channel, 16 bits each.
type planKey struct{ from, factor, counts uint64 }

// planTable finds the plans of a class by their keys. It is looked into once a
// window, and so has open addressing instead of a map's care for all cases.
type planTable struct {
	slots []planSlot // a power of two of them, at most half taken
	many  int
	room  *arena.Of[planSlot] // they come from
}

type planSlot struct {
	key  planKey
	plan *plan // nil where the slot is free
}

// slot returns that of a key, or the one in which it belongs.
func (t *planTable) slot(key planKey) *planSlot {
	const golden = 0x9E3779B97F4A7C15 // 2⁶⁴ over the golden ratio: multiples spread evenly (Knuth 1973)
	h := ((key.from*golden^key.factor)*golden ^ key.counts) * golden
	h ^= h >> 32
	for last := uint64(len(t.slots) - 1); ; h++ {
		s := &t.slots[h&last]
		if s.plan == nil || s.key == key {
			return s
		}
	}
}

// find returns the plan of a key, nil if there is none.
func (t *planTable) find(key planKey) *plan {
	if t.many == 0 {
		return nil
	}
	return t.slot(key).plan
}

// add makes p the plan of a key.
func (t *planTable) add(key planKey, p *plan) {
	if 2*(t.many+1) > len(t.slots) {
		old := t.slots
		many := max(64, 4*len(old))
		t.slots = t.room.Take(many, 1024)
		for i := range old {
			if s := &old[i]; s.plan != nil {
				*t.slot(s.key) = *s
			}
		}
	}
	s := t.slot(key)
	if s.plan == nil {
		t.many++
	}
	*s = planSlot{key, p}
}

// drop forgets all plans.
func (t *planTable) drop() {
	clear(t.slots)
	t.many = 0
}
