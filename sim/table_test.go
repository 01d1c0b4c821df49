package sim

import (
	"testing"

	"pgregory.net/rapid"

	"boilwright/sim/arena"
)

// A table of plans finds what a map finds, whatever is put into it: few keys and
// many, keys alike but for a bit, plans put again.
func TestPlanTableAgainstMap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := planTable{room: new(arena.Of[planSlot])}
		known := map[planKey]*plan{}
		near := rapid.Uint64Range(0, 7)
		key := rapid.Custom(func(t *rapid.T) planKey {
			shift := rapid.SampledFrom([]int{0, 1, 16, 32, 61}).Draw(t, "shift")
			return planKey{near.Draw(t, "from") << shift, near.Draw(t, "factor") << shift, near.Draw(t, "counts") << shift}
		})
		for range rapid.IntRange(0, 300).Draw(t, "steps") {
			k := key.Draw(t, "key")
			if rapid.IntRange(0, 99).Draw(t, "drop") == 0 {
				table.drop()
				clear(known)
			}
			if p := table.find(k); p != known[k] {
				t.Fatalf("key %v: found %p, expected %p", k, p, known[k])
			}
			p := &plan{}
			table.add(k, p)
			known[k] = p
			if table.many != len(known) {
				t.Fatalf("found %d plans, expected %d", table.many, len(known))
			}
		}
		for k, p := range known {
			if table.find(k) != p {
				t.Fatalf("key %v is lost", k)
			}
		}
	})
}
