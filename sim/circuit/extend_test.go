package circuit

import (
	"reflect"
	"slices"
	"testing"

	"boilwright/models"
)

// TestExtend compares the blocks of a network to which a meter is added with
// those into which the whole is divided.
func TestExtend(t *testing.T) {
	b := refBoard()
	b.Channels = append(b.Channels, b.Channels[0], b.Channels[0])
	base, err := newNetlist(b)
	if err != nil {
		t.Fatal(err)
	}
	base.partition()
	var nodes []models.Node
	for _, n := range base.nodes {
		if n.Place >= 0 {
			nodes = append(nodes, n)
		}
	}
	extended := 0
	for _, from := range nodes {
		for _, to := range nodes {
			br := models.Bridge{Name: "meter", From: from, To: to, Resistance: 3000, Capacitance: 1e-10}
			n := base.clone(newWorkspace())
			if err := n.bridge(b, &br); err != nil {
				t.Fatal(err)
			}
			if !n.extend(base) {
				if a, z := base.owner[base.node(from)], base.owner[base.node(to)]; a < 0 || z < 0 || a == z {
					t.Errorf("%v to %v: found no extension, expected one but from block to block", from, to)
				}
				continue
			}
			extended++
			whole := n.clone(newWorkspace())
			whole.partition()
			if !reflect.DeepEqual(n.blocks, whole.blocks) || !slices.Equal(n.trunk, whole.trunk) || !slices.Equal(n.shared, whole.shared) || !slices.Equal(n.owner, whole.owner) || !slices.Equal(n.local, whole.local) {
				t.Errorf("%v to %v: found blocks %+v, expected %+v", from, to, n.blocks, whole.blocks)
			}
		}
	}
	if extended < len(nodes) {
		t.Errorf("found %d extensions of %d nodes", extended, len(nodes))
	}
}
